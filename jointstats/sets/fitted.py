"""What the judgement of an analysis asks of it: plain attributes, so that neither imports the other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.exposure import LineExposure
    from jointstats.borehole.sampling import Sampling
    from jointstats.borehole.site import Site
    from jointstats.fit.hole_agreement import HoleAgreement
    from jointstats.fit.mixture import JointSetMixture
    from jointstats.fit.odds import Reading
    from jointstats.observed.observation import Observation
    from jointstats.sets.joint_set import JointSet


class Counts(Protocol):
    """How many fractures there are, and what became of them."""

    @property
    def total(self) -> int: ...
    @property
    def in_a_set(self) -> int: ...
    @property
    def unassigned(self) -> int: ...
    @property
    def not_oriented(self) -> int: ...


class Fitted(Protocol):
    """A site with its sets, its fractures and its sampling, as `SiteAnalysis` holds them."""

    @property
    def site(self) -> Site: ...
    @property
    def sets(self) -> tuple[JointSet, ...]: ...
    @property
    def fractures(self) -> pd.DataFrame: ...
    @property
    def counts(self) -> Counts: ...
    @property
    def sampling(self) -> Sampling: ...
    @property
    def exposure(self) -> LineExposure: ...
    @property
    def observation(self) -> Observation: ...
    @property
    def mixture(self) -> JointSetMixture: ...
    @property
    def agreement(self) -> HoleAgreement | None: ...
    @property
    def readings(self) -> tuple[Reading, ...]: ...
    @property
    def settings(self) -> Mapping[str, Any]: ...
    @property
    def notes(self) -> tuple[str, ...]: ...
