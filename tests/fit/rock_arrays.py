"""Simulated rock as plain arrays: poles, group of each, exposure of each group."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

import jointstats as js
from jointstats.fit.grouped import GroupedPoles, grouped_poles
from jointstats.fit.likelihood import RoundSets

Array = NDArray[np.float64]
Rock = tuple[tuple[float, float, float, float], ...]

#: Dip, dip direction, κ, P32.
ROCK: Rock = ((62.0, 135.0, 40.0, 1.2), (78.0, 20.0, 30.0, 0.8), (12.0, 300.0, 50.0, 0.6))
OTHER: Rock = ((35.0, 120.0, 40.0, 1.2), (60.0, 50.0, 30.0, 0.8), (40.0, 300.0, 50.0, 0.6))
#: Trend, plunge and length of four holes.
HOLES = ((0.0, 90.0, 50.0), (315.0, 55.0, 50.0), (200.0, 50.0, 50.0), (75.0, 60.0, 50.0))


class Arrays(NamedTuple):
    """Fractures that lie above the blind angle."""

    poles: Array
    group: NDArray[np.intp]
    exposures: list[js.LineExposure]
    lines: Array

    def grouped(self) -> GroupedPoles:
        """The same, gathered."""
        return grouped_poles(self.poles, self.group, self.exposures)


def truth(rock: Rock = ROCK, background: float = 0.2) -> RoundSets:
    """The parameters that a rock was made with."""
    dip, way, kappa, p32 = np.array(rock).T
    return RoundSets(js.poles_from_dip(dip, way), kappa, p32, background)


def simulated(
    seed: int,
    rocks: tuple[Rock, ...] = (ROCK,) * 4,
    uneven: float = 0.0,
    holes: Sequence[tuple[float, float, float]] = HOLES,
) -> Arrays:
    """One log a hole, each in its rock; `uneven` is the coefficient of variation of P32."""
    rng = np.random.default_rng(seed)
    poles, group, exposures, lines = [], [], [], []
    for g, (rock, hole) in enumerate(zip(rocks, holes, strict=True)):
        shape = uneven**-2 if uneven else np.inf
        factors = rng.gamma(shape, 1 / shape, len(rock)) if uneven else np.ones(len(rock))
        here = [(*one[:3], one[3] * f) for one, f in zip(rock, factors, strict=True)]
        table = js.simulate_site(here, [hole], random_state=rng).fractures
        rows = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
        line = js.lines_from_trend(*hole[:2])
        exposures.append(js.LineExposure(line, hole[2:]))
        rows = rows[exposures[-1].at(rows) > 0]
        poles.append(rows)
        group.append(np.full(len(rows), g))
        lines.append(np.repeat(line, len(rows), axis=0))
    return Arrays(np.vstack(poles), np.concatenate(group), exposures, np.vstack(lines))


def fitted_sets(arrays: Arrays) -> RoundSets:
    """Sets of all holes together, as an analysis would have them."""
    whole = js.LineExposure(
        np.vstack([one.directions for one in arrays.exposures]),
        np.concatenate([one.lengths_m for one in arrays.exposures]),
    )
    model = js.JointSetMixture(random_state=0).fit(arrays.poles, exposure=whole)
    return RoundSets(model.means_, model.kappas_, model.intensities_, model.background_)
