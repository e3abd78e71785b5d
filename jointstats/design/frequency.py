"""Frequency of fractures: counts with their intervals, and the rate along any line."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from jointstats.fit.rock import HasRock, Rock, as_rock
from jointstats.sphere.axes import as_axes
from jointstats.types import Array, ArrayLike


def frequency_by_set(rock: Rock | HasRock, directions: ArrayLike) -> Array:
    """Fractures of each set met per metre of line.

    `directions` (m, 3) or (3,): direction of each line, either end. Gives (K,
    m): 1/m: P32 times the mean of |n · d| over the set (Hudson & Priest 1983, with the mean
    cosine in place of the cosine of the mean, so that dispersion counts).
    """
    lines = as_axes(directions, "directions")
    rows = [one.p32_per_m * one.density.mean_cosines(lines) for one in as_rock(rock).sets]
    return np.array(rows).reshape(-1, len(lines))


def frequency_along(rock: Rock | HasRock, directions: ArrayLike) -> Array:
    """Fractures of all sets met per metre of line, dispersion included.

    Parameters
    ----------
    rock : Rock or SiteAnalysis
        Sets and background; a line meets half of the P32 of the background.
    directions : array_like, shape (m, 3) or (3,)
        Direction of each line, either end.

    Returns
    -------
    ndarray, shape (m,)
        1/m: Σ P32_k · mean of |n · d| over set k.

    Raises
    ------
    InputError
        If a direction is not an axis.

    References
    ----------
    Hudson J.A., Priest S.D. (1983), in Brady & Brown, Rock Mechanics for Underground Mining,
    pp. 61-62, for sets without dispersion.

    Examples
    --------
    One set of level fractures, one metre apart, along a vertical line and one inclined by 60°:

    >>> level = Rock.of_round([[0, 0, -1]], [1e4], [1.0])
    >>> frequency_along(level, [[0, 0, 1], [3**0.5, 0, 1]]).round(3)
    array([1. , 0.5])
    """
    background = as_rock(rock).background_per_m
    return frequency_by_set(rock, directions).sum(axis=0) + 0.5 * background


def frequency_interval(
    parts: Iterable[tuple[float, float, tuple[float, float]]],
) -> tuple[float, float]:
    """Interval of a frequency that several sets make up, from the intervals of their P32.

    The distance of each part from its limits is added in quadrature, the parts being taken as
    independent and their directions as known (the method of variance estimates recovery: Zou &
    Donner 2008, Stat. Med. 27:1693-1702; from memory).

    >>> frequency_interval([(1.0, 1.0, (0.7, 1.4)), (2.0, 2.0, (1.6, 2.3))])
    (2.5, 3.5)
    """
    total, squares = 0.0, np.zeros(2)
    for frequency, p32, ends in parts:
        total += frequency
        if p32 > 0:
            squares += (frequency * (np.array(ends) / p32 - 1.0)) ** 2
    low, high = total + np.array([-1.0, 1.0]) * np.sqrt(squares)
    return max(0.0, float(low)), float(high)
