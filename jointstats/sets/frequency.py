"""Frequency along a line through the rock of an analysis: sets and random fractures together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.design.frequency import frequency_along, frequency_interval
from jointstats.sphere.axes import hemisphere_grid
from jointstats.types import Array, ArrayLike

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def rate_along(result: SiteAnalysis, lines: ArrayLike) -> Array:
    """Fractures per metre along lines, random fractures included.

    `lines` (m, 3): directions, either end. Gives (m,): 1/m.
    """
    return frequency_along(result, lines)


def rate_interval(result: SiteAnalysis, line: ArrayLike) -> tuple[float, float]:
    """Interval of the frequency along one line, at the confidence of the analysis.

    `line` (3,): direction, either end. Gives `low, high`: 1/m.
    """
    lines = np.reshape(line, (1, 3))
    parts = [
        (one.p32_per_m * float(one.density.mean_cosines(lines)[0]), one.p32_per_m, one.p32_interval)
        for one in result.sets
    ]
    # Random fractures of P32 λ cross any line λ/2 times a metre.
    random = result.background_per_m
    return frequency_interval([*parts, (0.5 * random, random, result.background_interval)])


def frequency_range(result: SiteAnalysis) -> tuple[Array, float, Array, float]:
    """Directions along which a line meets fewest and most, with the frequency along each.

    Gives `least, least_per_m, most, most_per_m`: lower hemisphere; 1/m; on a grid of 2000
    directions.
    """
    grid = hemisphere_grid(2000)
    rate = rate_along(result, grid)
    low, high = int(np.argmin(rate)), int(np.argmax(rate))
    return grid[low], float(rate[low]), grid[high], float(rate[high])
