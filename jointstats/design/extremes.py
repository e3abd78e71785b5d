"""Directions along which fractures are met most and least often."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.optimize import minimize

from jointstats.checks import check_number
from jointstats.design.estimates import centre_of, of_rock
from jointstats.design.frequency import frequency_along
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import HasRocks, Rocks
from jointstats.line.quality import rqd_from_frequency
from jointstats.results import Result
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.axes import frame_about, hemisphere_grid, lower_hemisphere
from jointstats.types import Array, ArrayLike, Interval


class FrequencyExtremes(Result):
    """Largest and smallest frequency over all directions, and the map they were found on.

    Attributes
    ----------
    largest_per_m, smallest_per_m : float
    largest_direction, smallest_direction : ndarray, shape (3,)
        Lower hemisphere.
    directions : ndarray, shape (m, 3)
        Even grid over the lower hemisphere, for a map on a stereonet.
    frequency_per_m : ndarray, shape (m,)
        Frequency along each.
    largest_interval, smallest_interval : (float, float) or None
        Interval of the frequency along those two directions; None of a rock alone.

    Examples
    --------
    >>> level = Rock.of_round([[0, 0, -1]], [1e3], [2.0])
    >>> frequency_extremes(level).largest_per_m.__round__(1)
    2.0
    """

    largest_per_m: float
    largest_direction: Array
    smallest_per_m: float
    smallest_direction: Array
    directions: Array
    frequency_per_m: Array
    largest_interval: Interval | None = None
    smallest_interval: Interval | None = None

    def to_frame(self) -> pd.DataFrame:
        """Two rows: largest and smallest, with interval, trend and plunge."""
        trend, plunge = trend_from_lines([self.largest_direction, self.smallest_direction])
        none = (None, None)
        low, high = zip(self.largest_interval or none, self.smallest_interval or none, strict=True)
        return pd.DataFrame(
            {
                "extreme": ["largest", "smallest"],
                "frequency_per_m": [self.largest_per_m, self.smallest_per_m],
                "frequency_low_per_m": low,
                "frequency_high_per_m": high,
                "trend_deg": trend,
                "plunge_deg": plunge,
            }
        )


def _refined(rock: Rock, start: Array, sign: float) -> tuple[float, Array]:
    """Climb from a direction (or descend, for sign −1) in the plane that touches the sphere."""
    frame = frame_about(start)

    def line(step: Array) -> Array:
        return start + step @ frame[:2]

    def loss(step: Array) -> float:
        return -sign * float(frequency_along(rock, line(step))[0])

    found = minimize(
        loss, np.zeros(2), method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-10}
    )
    return -sign * float(found.fun), lower_hemisphere(line(found.x))[0]


def frequency_extremes(
    rock: Rock | HasRocks | Rocks, *, n_grid: int = 2000
) -> FrequencyExtremes:
    """Directions of largest and smallest frequency, dispersion included.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
        At least one set, and a background.
    n_grid : int
        Directions of the grid, at least 100; the best three are refined.

    Returns
    -------
    FrequencyExtremes

    Raises
    ------
    InputError
        If there is no set, or an argument is out of range.

    References
    ----------
    Hudson J.A., Priest S.D. (1983), for sets without dispersion, in Brady & Brown, Rock Mechanics
    for Underground Mining, pp. 61-62.

    Examples
    --------
    Three equal sets at right angles are met most along the diagonal, √3 times:

    >>> cube = Rock.of_round(np.eye(3), np.full(3, 3e4), np.ones(3))
    >>> found = frequency_extremes(cube)
    >>> round(found.largest_per_m, 3), np.abs(found.largest_direction).round(3)
    (1.732, array([0.577, 0.577, 0.577]))
    """
    asked, rock = rock, centre_of(rock)
    if not rock.sets:
        raise InputError("the rock has no set, so no direction stands out")
    number = check_number(n_grid, "n_grid", low=100)
    grid = hemisphere_grid(int(number))
    frequency = frequency_along(rock, grid)
    order = np.argsort(frequency, kind="stable")
    high = max((_refined(rock, grid[i], 1.0) for i in order[-3:]), key=lambda p: p[0])
    low = min((_refined(rock, grid[i], -1.0) for i in order[:3]), key=lambda p: p[0])
    found = FrequencyExtremes(high[0], high[1], low[0], low[1], grid, frequency)
    if isinstance(asked, Rock):
        return found
    ends = frequency_along(asked, [high[1], low[1]])
    (most, least) = zip(ends.low.tolist(), ends.high.tolist(), strict=True)
    return replace(found, largest_interval=most, smallest_interval=least)


@of_rock()
def rqd_along(rock: Rock, directions: ArrayLike, *, threshold_m: float = 0.1) -> Array:
    """Theoretical rock quality designation along any direction.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
    directions : array_like, shape (m, 3) or (3,)
    threshold_m : float
        As for `frequency_along` and `rqd_from_frequency`.

    Returns
    -------
    ndarray, shape (m,)
        Percent. Holds where fractures stand at random along the line, which several sets together
        do more nearly than each alone. Of a result, or rocks: an `Estimate` of it.

    Raises
    ------
    InputError
        If an argument is out of range.

    Examples
    --------
    >>> level = Rock.of_round([[0, 0, -1]], [1e4], [10.0])
    >>> rqd_along(level, [[0, 0, 1], [3**0.5, 0, 1]]).round(1)
    array([73.6, 91. ])
    """
    frequency = frequency_along(rock, directions)
    return np.atleast_1d(rqd_from_frequency(frequency, threshold_m))
