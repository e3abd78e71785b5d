"""What is asked of a result: plain attributes, so that judge, picture and result don't import each other."""

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
    from jointstats.fit.rock import Rock
    from jointstats.observed.observation import Observation
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.on_faces import FaceBeside
    from jointstats.sets.oriented_set import OrientedSet
    from jointstats.sets.reliability import Caution, Evidence
    from jointstats.sets.unseen import BlindSpot


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


class HasSets(Protocol):
    """Fractures sorted into sets; what was sampled is not known of a table of poles."""

    @property
    def sets(self) -> tuple[OrientedSet, ...]: ...
    @property
    def fractures(self) -> pd.DataFrame: ...
    @property
    def counts(self) -> Counts: ...
    @property
    def sampling(self) -> Sampling | None: ...
    @property
    def exposure(self) -> LineExposure | None: ...
    @property
    def bedding(self) -> tuple[float, float] | None: ...
    @property
    def mixture(self) -> JointSetMixture: ...
    @property
    def rock(self) -> Rock: ...
    @property
    def readings(self) -> tuple[Reading, ...]: ...
    @property
    def settings(self) -> Mapping[str, Any]: ...
    @property
    def notes(self) -> tuple[str, ...]: ...


class Reported(HasSets, Protocol):
    """Sets with what is to be said of them, ready to be written."""

    @property
    def cautions(self) -> tuple[Caution, ...]: ...
    @property
    def evidence(self) -> tuple[Evidence, ...]: ...
    def confidence_in(self, name: str) -> str: ...
    def to_frame(self) -> pd.DataFrame: ...


class Fitted(HasSets, Protocol):
    """A site with its sets, its fractures and its sampling, as `SiteAnalysis` holds them."""

    @property
    def site(self) -> Site: ...
    @property
    def sets(self) -> tuple[JointSet, ...]: ...
    @property
    def sampling(self) -> Sampling: ...
    @property
    def exposure(self) -> LineExposure: ...
    @property
    def observation(self) -> Observation: ...
    @property
    def faces(self) -> tuple[FaceBeside, ...]: ...
    @property
    def agreement(self) -> HoleAgreement | None: ...
    @property
    def blind_spot(self) -> BlindSpot: ...
    @property
    def by_angle(self) -> pd.DataFrame: ...
    @property
    def unoriented(self) -> bool: ...
