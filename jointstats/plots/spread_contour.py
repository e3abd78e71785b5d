"""The edge of the smallest region that holds a share of the poles of a set."""

from __future__ import annotations

import numpy as np

from jointstats.sphere.axes import hemisphere_grid
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array

_GRID, _TURNS, _HALVINGS = 20_000, 181, 40


def spread_contours(density: SetDensity, share: float = 0.95) -> list[Array]:
    """Lines on the sphere, (n, 3) unit vectors each, that bound the region of most density.

    About the mean the line is one; along a girdle there is one on either side of its great circle,
    or one round each part of it that has poles. Either end of an axis may stand for it.
    """
    level = _level(density, share)
    p, q, r = density.frame
    turn = np.linspace(0.0, 2.0 * np.pi, _TURNS)
    around = np.outer(np.cos(turn), q) + np.outer(np.sin(turn), r)
    if density.mean is not None:
        reach = _reach(density, np.tile(p, (_TURNS, 1)), around, level)
        return [_at(p, around, reach)]
    reach = _reach(density, around, np.tile(p, (_TURNS, 1)), level)
    inside = reach > 0
    runs = np.split(np.arange(_TURNS), np.flatnonzero(inside[1:] != inside[:-1]) + 1)
    kept = [run for run in runs if inside[run[0]]]
    return [_at(around[run], side * p, reach[run]) for run in kept for side in (1.0, -1.0)]


def _level(density: SetDensity, share: float) -> float:
    """Log density at the edge of the smallest region that holds the share."""
    height = np.sort(density.log_density(hemisphere_grid(_GRID)))[::-1]
    held = np.cumsum(np.exp(height - height[0]))
    return float(height[np.searchsorted(held, share * held[-1])])


def _reach(density: SetDensity, starts: Array, ways: Array, level: float) -> Array:
    """Angle, radians, from each start along its way at which the density falls to the level."""
    low, high = np.zeros(len(starts)), np.full(len(starts), 0.5 * np.pi)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        above = density.log_density(_at(starts, ways, middle)) > level
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    none = density.log_density(starts) <= level
    return np.where(none, 0.0, low)


def _at(starts: Array, ways: Array, angles: Array) -> Array:
    return np.cos(angles)[:, np.newaxis] * starts + np.sin(angles)[:, np.newaxis] * ways
