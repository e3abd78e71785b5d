"""Frequency of fractures along any line: of a rock, or of a result with its interval."""

from __future__ import annotations

import numpy as np

from jointstats.design.estimates import of_rock
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import NamedRock
from jointstats.sphere.axes import as_axes, hemisphere_grid
from jointstats.types import Array, ArrayLike


def frequency_by_set(rock: Rock, directions: ArrayLike) -> Array:
    """Fractures of each set met per metre of line.

    `directions` (m, 3) or (3,): direction of each line, either end. Gives (K,
    m): 1/m: P32 times the mean of |n · d| over the set (Hudson & Priest 1983, with the mean
    cosine in place of the cosine of the mean, so that dispersion counts).
    """
    lines = as_axes(directions, "directions")
    rows = [one.p32_per_m * one.density.mean_cosines(lines) for one in rock.sets]
    return np.array(rows).reshape(-1, len(lines))


@of_rock()
def frequency_along(rock: Rock, directions: ArrayLike, *, of: str | None = None) -> Array:
    """Fractures met per metre of line, dispersion included.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
        Sets and background; a line meets half of the P32 of the background.
    directions : array_like, shape (m, 3) or (3,)
        Direction of each line, either end.
    of : str or None
        Name of the one set that counts; None counts all, and the background.

    Returns
    -------
    ndarray, shape (m,)
        1/m: Σ P32_k · mean of |n · d| over set k. Of a result, or rocks: an `Estimate` of it. nan
        where a drawn rock lacks the set.

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
    if of is not None:
        part = _only(rock, of)
        lines = as_axes(directions, "directions")
        return np.full(len(lines), np.nan) if part is None else frequency_by_set(part, lines)[0]
    return frequency_by_set(rock, directions).sum(axis=0) + 0.5 * rock.background_per_m


@of_rock()
def spacing_along(rock: Rock, directions: ArrayLike, *, of: str | None = None) -> Array:
    """Mean spacing of the fractures met along a line.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
    directions : array_like, shape (m, 3) or (3,)
    of : str or None
        As for `frequency_along`.

    Returns
    -------
    ndarray, shape (m,)
        Metres: the reciprocal of the frequency. Of a result, or rocks: an `Estimate` of it.

    Raises
    ------
    InputError
        If a direction is not an axis.

    Examples
    --------
    >>> level = Rock.of_round([[0, 0, -1]], [1e4], [2.0])
    >>> spacing_along(level, [[0, 0, 1], [3**0.5, 0, 1]]).round(2)
    array([0.5, 1. ])
    """
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / frequency_along(rock, directions, of=of))


@of_rock()
def intensity(rock: Rock, *, of: str | None = None) -> float:
    """P32 of the rock, or of one set: fracture area per volume.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
    of : str or None
        Name of a set; None adds up all sets and the random fractures.

    Returns
    -------
    float
        1/m. Of a result, or rocks: an `Estimate` of it. nan where a drawn rock lacks the set.

    Examples
    --------
    >>> intensity(Rock.of_round([[0, 0, -1]], [40.0], [2.0], background=0.5))
    2.5
    """
    part = rock if of is None else _only(rock, of)
    return np.nan if part is None else float(part.intensities.sum() + part.background_per_m)


def _only(rock: Rock, name: str) -> Rock | None:
    """The rock of one set alone; None where a drawn rock lacks it."""
    if not isinstance(rock, NamedRock):
        raise InputError(f"this rock's sets have no names, so there is no {name!r}; use Rock.take")
    found = rock.find(name)
    return None if found is None else NamedRock((found,), 0.0, (name,))


def frequency_range(rock: Rock) -> tuple[Array, float, Array, float]:
    """Directions along which a line meets fewest and most, with the frequency along each.

    Gives `least, least_per_m, most, most_per_m`: lower hemisphere; 1/m; on a grid of 2000
    directions.
    """
    grid = hemisphere_grid(2000)
    rate = frequency_along(rock, grid)
    low, high = int(np.argmin(rate)), int(np.argmax(rate))
    return grid[low], float(rate[low]), grid[high], float(rate[high])
