"""Frequency of fractures: counts with their intervals, and the rate along any line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

import numpy as np

from jointstats.checks import check_number
from jointstats.sphere.axes import as_axes
from jointstats.sphere.zonal import fisher_mean_of_cosine
from jointstats.types import Array, ArrayLike


class SetLike(Protocol):
    """Anything with a mean pole, a concentration and an intensity."""

    mean: Array
    kappa: float
    p32_per_m: float


def frequency_by_set(sets: Iterable[SetLike], directions: ArrayLike) -> Array:
    """Fractures of each set met per metre of line.

    `sets`: joint sets; `directions` (m, 3) or (3,): direction of each line, either end. Gives (K,
    m): 1/m: P32 times the mean of |n · d| over the set (Hudson & Priest 1983, with the mean
    cosine in place of the cosine of the mean, so that dispersion counts).
    """
    lines = as_axes(directions, "directions")
    rows = [
        one.p32_per_m * _mean_cosine(lines @ as_axes(one.mean, "mean")[0], float(one.kappa))
        for one in sets
    ]
    return np.array(rows).reshape(-1, len(lines))


def _mean_cosine(cosines: Array, kappa: float) -> Array:
    """Mean of |n · d| over a Fisher set; the series only where it is needed."""
    # Where no normal of the set lies beyond 90° of d, but by a chance below exp(−κ t² / 2) < 1e-17,
    # E|n · d| = |E n · d| = |t| (coth κ − 1/κ).
    clear = kappa * cosines**2 > 80.0
    mean = np.empty(len(cosines))
    if clear.any():
        mean[clear] = np.abs(cosines[clear]) * (1.0 / np.tanh(kappa) - 1.0 / kappa)
    if not clear.all():
        mean[~clear] = fisher_mean_of_cosine(cosines[~clear], kappa)
    return mean


def frequency_along(
    sets: Iterable[SetLike], directions: ArrayLike, *, background_per_m: float = 0.0
) -> Array:
    """Fractures of all sets met per metre of line, dispersion included.

    Parameters
    ----------
    sets : iterable of objects with ``mean`` (3,), ``kappa`` and ``p32_per_m``
        Joint sets.
    directions : array_like, shape (m, 3) or (3,)
        Direction of each line, either end.
    background_per_m : float
        P32 of fractures of any orientation, 1/m; a line meets half of it.

    Returns
    -------
    ndarray, shape (m,)
        1/m: Σ P32_k · mean of |n · d| over set k.

    Raises
    ------
    InputError
        If a direction is not an axis, or `background_per_m` is negative.

    References
    ----------
    Hudson J.A., Priest S.D. (1983), in Brady & Brown, Rock Mechanics for Underground Mining,
    pp. 61-62, for sets without dispersion.

    Examples
    --------
    One set of level fractures, one metre apart, along a vertical line and one inclined by 60°:

    >>> from types import SimpleNamespace as Set
    >>> level = Set(mean=[0, 0, -1], kappa=1e4, p32_per_m=1.0)
    >>> frequency_along([level], [[0, 0, 1], [3**0.5, 0, 1]]).round(3)
    array([1. , 0.5])
    """
    background = check_number(background_per_m, "background_per_m", low=0)
    return frequency_by_set(sets, directions).sum(axis=0) + 0.5 * background


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
