"""What is compared: holes, or lengths of holes, each with its fractures and its exposure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.sampling import SampledLine
from jointstats.errors import InputError
from jointstats.fit.grouped import GroupedPoles, grouped_poles
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.site import Site
    from jointstats.sets.result import SiteAnalysis


#: Directions within this angle are gathered in the fits: an error below 2e-4 in |n · d|.
_GATHERED_DEG = 1.0


@dataclass(frozen=True, eq=False)
class SampledGroup:
    """A hole, or a length of one, that is compared with others.

    Attributes
    ----------
    name : str
        That of the hole, with its depths where it is a length of one.
    line : SampledLine
        It, or its length that counts.
    exposure : LineExposure
        Of what was logged of it.
    index : ndarray of int, shape (n,)
        Rows of its fractures in the table of the analysis: those in the fit.
    poles : ndarray, shape (n, 3)
        Their poles.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> [one.name for one in groups_of(result)]
    ['H1', 'H2', 'H3']
    """

    name: str
    line: SampledLine = field(repr=False)
    exposure: LineExposure
    index: NDArray[np.intp] = field(repr=False)
    poles: Array = field(repr=False)

    @property
    def n(self) -> int:
        """Number of fractures in the fit."""
        return len(self.poles)


def groups_of(
    result: SiteAnalysis, cuts_m: Mapping[str, Sequence[float]] | None = None
) -> tuple[SampledGroup, ...]:
    """Holes of an analysis, or lengths of them, that were logged.

    Gives in the order of the holes and of depth; lengths that nobody logged are left out.
    """
    site = result.site
    cuts = _checked_cuts(site, cuts_m or {})
    groups = []
    for line in result.sampling.logged:
        edges = [line.from_m, *cuts.get(line.name, []), line.to_m]
        for low, high in pairwise(edges):
            name = line.name if len(edges) == 2 else f"{line.name} {low:g}–{high:g} m"
            part = line.clip(low, high)
            if part.lengths:
                groups.append(_group(result, name, part, last=high >= line.to_m))
    return tuple(groups)


def _checked_cuts(site: Site, cuts_m: Mapping[str, Sequence[float]]) -> dict[str, list[float]]:
    cuts = {}
    for name, depths in cuts_m.items():
        length = site.hole(name).length_m
        for depth in depths:
            if not 0 < depth < length:
                raise InputError(
                    f"cuts_m of hole {name} must lie between 0 and its length, {length:g} m; "
                    f"got {depth!r}"
                )
        cuts[name] = sorted({float(depth) for depth in depths})
    return cuts


def _group(result: SiteAnalysis, name: str, line: SampledLine, *, last: bool) -> SampledGroup:
    table = result.fractures
    depth, hole = Fractures(table).depth_m, table["hole"].to_numpy()
    # A fracture on a cut belongs to the length below it.
    own = (hole == line.name) & (depth >= line.from_m) & ((depth < line.to_m) | last)
    own = own & Fractures(table).is_fitted
    return SampledGroup(
        name=name,
        line=line,
        exposure=line.exposure.merged(_GATHERED_DEG),
        index=np.flatnonzero(own),
        poles=Fractures(table[own]).poles,
    )


def together(groups: Sequence[SampledGroup]) -> GroupedPoles:
    """Poles and exposures of several groups, as the fits of `fit/` take them."""
    number = np.repeat(np.arange(len(groups)), [one.n for one in groups])
    poles = np.vstack([one.poles for one in groups])
    return grouped_poles(poles, number, [one.exposure for one in groups])
