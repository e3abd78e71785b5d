"""Whether the lines of an analysis see one rock in orientation: one rock, domains, a hole out of line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import hole_directions
from jointstats.borehole.sampling import SampledLine, Sampling
from jointstats.borehole.site import Site
from jointstats.fit.hole_agreement import HoleAgreement, Stretch, hole_agreement
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import ShapedFit
from jointstats.types import Array, RandomState

#: Fractures of a line below which it says nothing of agreement, and pieces a line is offered cut in.
FEWEST, PIECES = 8, 3
_CUT_FROM = 45  # fractures of a line, from which it may be cut by depth
_READ_ROUND = ("alpha and beta", "image dip and azimuth", "trace")


def agreement_of(
    site: Site,
    fractures: Fractures,
    sampling: Sampling,
    fits: Sequence[ShapedFit],
    random_state: RandomState = 0,
) -> HoleAgreement | None:
    """The answer for the fitted fractures of a site; None where fewer than two lines can be compared.

    `fits` are the descriptions tried, the best first: the test knows round sets, and takes the best
    round description.
    """
    sets = _round_sets([one.rock for one in fits])
    hole = fractures.table["hole"].to_numpy()
    lines = [one for one in sampling.logged if np.count_nonzero(hole == one.name) >= FEWEST]
    if sets is None or len(lines) < 2:
        return None
    stretches, group = _stretches(lines, hole, fractures.depth_m)
    used = group >= 0
    table = fractures.table[used]
    read = table["oriented_from"].isin(_READ_ROUND).to_numpy()
    return hole_agreement(
        fractures.poles[used],
        group[used],
        stretches,
        sets,
        lines=hole_directions(site, table),
        beta_read=read if read.any() else None,
        declination_deg=site.settings.declination_deg or None,
        random_state=random_state,
    )


def _round_sets(rocks: Sequence[Rock]) -> RoundSets | None:
    """The best description of round sets alone; None if there is none with a set."""
    for rock in rocks:
        if rock.all_round and rock.sets:
            return RoundSets.of(rock)
    return None


def _stretches(
    lines: Sequence[SampledLine], hole: Array, depth: Array
) -> tuple[list[Stretch], Array]:
    """Lines, long logs cut into stretches of equal number, and the stretch of each fracture (−1: none)."""
    stretches: list[Stretch] = []
    group = np.full(len(hole), -1)
    for line in lines:
        own = hole == line.name
        pieces = PIECES if np.count_nonzero(own) >= _CUT_FROM else 1
        inner = np.quantile(depth[own], np.arange(1, pieces) / pieces)
        edges = [line.from_m, *inner.tolist(), line.to_m]
        for low, high in zip(edges[:-1], edges[1:], strict=True):
            part = line.clip(low, high)
            if not part.lengths:
                continue
            inside = own & (depth >= low) & (depth <= high) & (group < 0)
            group[inside] = len(stretches)
            stretches.append(Stretch(line.name, float(low), float(high), part.exposure))
    return stretches, group
