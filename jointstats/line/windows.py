"""Fractures down a hole: counts in windows, a test of randomness, cumulative curves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import chdtrc
from scipy.stats import t as student

from jointstats.borehole.spans import Spans
from jointstats.checks import check_confidence, check_number
from jointstats.errors import InputError
from jointstats.intervals import gamma_limits, poisson_interval
from jointstats.line.spacing import checked_depths
from jointstats.results import Result
from jointstats.types import Array, ArrayLike, Interval

#: Expected number of fractures in a window of the test, and fewest windows that make a test.
WINDOW_COUNT = 5.0
FEWEST_WINDOWS = 5


class HoleFrequency(Result):
    """P10 of a hole with its intervals, and whether its fractures stand at random along it.

    Attributes
    ----------
    n : int
    logged_m : float
    p10_per_m : float
    p10_interval_per_m : (float, float)
        Exact Poisson interval: right if the fractures stand at random.
    dispersion : float or None
        Variance of the counts in windows over what random fractures would give; None where there
        are too few fractures for the test.
    n_windows : int
    pvalue : float or None
        Chance of so large a dispersion if they stood at random.
    p10_wide_interval_per_m : (float, float)
        Widened by the dispersion where that exceeds one; else the same as `p10_interval_per_m`.
    overdispersed : bool
        Whether the p-value is below 1 − confidence, so that the wide interval is the one to use.
    confidence : float

    Examples
    --------
    >>> hole_frequency([1, 3, 4.5, 8], [(0, 10)]).p10_per_m
    0.4
    """

    n: int
    logged_m: float
    p10_per_m: float
    p10_interval_per_m: Interval
    dispersion: float | None
    n_windows: int
    pvalue: float | None
    p10_wide_interval_per_m: Interval
    overdispersed: bool
    confidence: float

    @property
    def best_interval(self) -> Interval:
        """The interval to use: the wide one where the counts are overdispersed."""
        return self.p10_wide_interval_per_m if self.overdispersed else self.p10_interval_per_m


def _cut(lengths: Spans, window_m: float) -> list[tuple[float, float]]:
    """Each logged length cut into equal windows of about the length asked."""
    windows = []
    for low, high in lengths:
        number = max(round((high - low) / window_m), 1)
        edges = np.linspace(low, high, number + 1)
        windows += list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))
    return windows


def _counts(
    ordered: Array, windows: list[tuple[float, float]], ends: set[float]
) -> NDArray[np.intp]:
    """Fractures in each window; one at its lower end belongs to the next, but at the log's end."""
    above = [high if high not in ends else np.nextafter(high, np.inf) for _, high in windows]
    below = [low for low, _ in windows]
    return np.diff(np.searchsorted(ordered, [below, above]), axis=0)[0]


def _checked(depth_m: ArrayLike, logged: Sequence[tuple[float, float]]) -> tuple[Array, Spans]:
    lengths = Spans(logged)
    if not lengths:
        raise InputError("logged has no length, so there is no frequency")
    return np.sort(checked_depths(depth_m, lengths)), lengths


def hole_frequency(
    depth_m: ArrayLike,
    logged: Sequence[tuple[float, float]],
    *,
    window_m: float | None = None,
    confidence: float = 0.95,
) -> HoleFrequency:
    """P10 of a hole per logged metre, with an interval that holds where fractures cluster.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths, metres, any order.
    logged : sequence of (from_m, to_m)
        Lengths that were seen.
    window_m : float or None
        Length of the windows whose counts are compared; None takes one with about five fractures.
    confidence : float

    Returns
    -------
    HoleFrequency

    Raises
    ------
    InputError
        If nothing was logged, a depth lies outside it, or an argument is out of range.

    Notes
    -----
    Σ (nᵢ − λℓᵢ)² / (λℓᵢ) over windows ℓᵢ follows χ² with (windows − 1) degrees of freedom for
    random fractures (Fisher's index of dispersion; from memory). Clusters longer than a window
    make the counts vary more than this shows.

    Examples
    --------
    Fifty fractures evenly along ten metres, then fifty along ninety:

    >>> depth = np.concatenate([np.arange(0.1, 10, 0.2), np.arange(10.9, 100, 1.8)])
    >>> found = hole_frequency(depth, [(0, 100)])
    >>> found.p10_per_m, found.overdispersed
    (1.0, True)
    """
    ordered, lengths = _checked(depth_m, logged)
    level = check_confidence(confidence)
    metres, n = lengths.total_m, len(ordered)
    low, high = poisson_interval(n, level)
    interval = (low / metres, high / metres)
    if window_m is None:
        window_m = WINDOW_COUNT * metres / max(n, 1)
    windows = _cut(lengths, check_number(window_m, "window_m", low=0, open_end=True))
    if n == 0 or len(windows) < FEWEST_WINDOWS:
        return HoleFrequency(
            n, metres, n / metres, interval, None, len(windows), None, interval, False, level
        )
    counts = _counts(ordered, windows, {end for _, end in lengths})
    expected = np.diff(windows, axis=1)[:, 0] * n / metres
    freedom = len(windows) - 1
    statistic = float(((counts - expected) ** 2 / expected).sum())
    dispersion, pvalue = statistic / freedom, float(chdtrc(freedom, statistic))
    return HoleFrequency(
        n,
        metres,
        n / metres,
        interval,
        dispersion,
        len(windows),
        pvalue,
        _widened(n, metres, dispersion, freedom, level, interval),
        pvalue < 1.0 - level,
        level,
    )


def _widened(
    n: int, metres: float, dispersion: float, freedom: int, confidence: float, interval: Interval
) -> Interval:
    """Interval of a count whose variance is `dispersion` times its mean, itself estimated."""
    if dispersion <= 1.0:
        return interval
    tail = 0.5 * (1.0 - confidence)
    # A count n of variance φ n is worth n / φ Poisson ones; Student's factor (t / z)² allows for φ
    # being estimated from the windows.
    ratio = student.ppf(tail, freedom) / student.ppf(tail, 1e9)
    worth = n / (dispersion * ratio**2)
    low, high = gamma_limits(worth + 0.5, confidence) / worth * n / metres
    return min(float(low), interval[0]), max(float(high), interval[1])


def frequency_in_windows(
    depth_m: ArrayLike,
    logged: Sequence[tuple[float, float]],
    window_m: float = 5.0,
    *,
    confidence: float = 0.95,
) -> pd.DataFrame:
    """Frequency in windows down a hole.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths, metres, any order.
    logged : sequence of (from_m, to_m)
        Lengths that were seen; each is cut into equal windows of about `window_m`, so that no
        window reaches across a gap.
    window_m : float
    confidence : float

    Returns
    -------
    pandas.DataFrame
        One row a window: from_m, to_m, n, p10_per_m, and its exact interval p10_low_per_m,
        p10_high_per_m.

    Raises
    ------
    InputError
        If nothing was logged, a depth lies outside it, or an argument is out of range.

    Examples
    --------
    >>> frequency_in_windows([1, 2, 7], [(0, 10)])[["from_m", "to_m", "n"]].to_dict("list")
    {'from_m': [0.0, 5.0], 'to_m': [5.0, 10.0], 'n': [2, 1]}
    """
    ordered, lengths = _checked(depth_m, logged)
    windows = _cut(lengths, check_number(window_m, "window_m", low=0, open_end=True))
    counts = _counts(ordered, windows, {end for _, end in lengths})
    rows = []
    for (low, high), n in zip(windows, counts.tolist(), strict=True):
        limits = poisson_interval(n, confidence)
        metres = high - low
        rows.append((low, high, n, n / metres, limits[0] / metres, limits[1] / metres))
    columns = ["from_m", "to_m", "n", "p10_per_m", "p10_low_per_m", "p10_high_per_m"]
    return pd.DataFrame(rows, columns=columns)


def cumulative_fractures(
    depth_m: ArrayLike,
    sets: Sequence[str] | ArrayLike,
    logged: Sequence[tuple[float, float]],
) -> pd.DataFrame:
    """Cumulative number of the fractures of each set down a hole.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths, metres, any order.
    sets : sequence of str, length n
        Name of the set of each fracture.
    logged : sequence of (from_m, to_m)
        Lengths that were seen.

    Returns
    -------
    pandas.DataFrame
        By set and depth: set, depth_m, n (fractures of the set down to and with this one),
        logged_m (metres seen down to here), even_n (what n would be if they stood evenly along
        the logged metres).

    Raises
    ------
    InputError
        If nothing was logged, a depth lies outside it, or the lengths differ.

    Examples
    --------
    >>> table = cumulative_fractures([3, 1, 2], ["J1", "J1", "J2"], [(0, 4)])
    >>> table[["set", "depth_m", "n", "even_n"]].values.tolist()
    [['J1', 1.0, 1, 0.5], ['J1', 3.0, 2, 1.5], ['J2', 2.0, 1, 0.5]]
    """
    names = np.asarray(sets, dtype=object).ravel()
    _, lengths = _checked(depth_m, logged)
    depth = checked_depths(depth_m, lengths)
    if len(names) != len(depth):
        raise InputError(f"sets must name one set a fracture ({len(depth)}); got {len(names)}")
    seen, metres = lengths.metres_to(depth), lengths.total_m
    table = pd.DataFrame({"set": names, "depth_m": depth, "logged_m": seen})
    table = table.sort_values(["set", "depth_m"], kind="stable", ignore_index=True)
    groups = table.groupby("set", sort=False)
    table.insert(2, "n", groups.cumcount() + 1)
    table["even_n"] = table["logged_m"] / metres * groups["depth_m"].transform("size")
    return table
