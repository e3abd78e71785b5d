"""The fractures of a set beside the model: counts in rings, ordered angles, ordered directions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import Fractures
from jointstats.intervals import poisson_interval, uniform_order_limits
from jointstats.sphere.axes import (
    align_axes,
    axis_angles_deg,
    frame_about,
    hemisphere_grid,
)
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.sets.fitted import HasSets
    from jointstats.sets.oriented_set import OrientedSet

_GRID = 40_000


def ring_counts(result: HasSets, one: OrientedSet, edges_deg: Array) -> pd.DataFrame:
    """Fractures in rings about the mean of a set, beside what the fit expects there.

    `edges_deg` (m + 1,): limits of the rings, degrees. Gives one row a ring: from_deg, to_deg; n,
    fractures of the fit in it, with low and high of the Poisson interval; expected_of_set and
    expected, ∫ λ_k f_k(n) E(n) dn over the ring of the set alone and of the whole fit.
    """
    grid = hemisphere_grid(_GRID)
    seen = np.ones(len(grid)) if result.exposure is None else result.exposure.at(grid)
    exposure = seen * (2.0 * np.pi / len(grid))
    rates = {
        other.name: given.p32_per_m * np.exp(other.read_density.log_density(grid))
        for other, given in zip(result.sets, result.rock.sets, strict=True)
    }
    whole = sum(rates.values()) + result.rock.background_per_m / (2.0 * np.pi)
    angle = axis_angles_deg(grid, one.density.frame[0])
    alone, expected = (
        np.histogram(angle, edges_deg, weights=rate * exposure)[0]
        for rate in (rates[one.name], whole)
    )
    fitted = Fractures(result.fractures).fitted
    n = np.histogram(axis_angles_deg(fitted.poles, one.density.frame[0]), edges_deg)[0]
    limits = np.array([poisson_interval(int(k), one.confidence) for k in n]).reshape(-1, 2)
    return pd.DataFrame(
        {
            "from_deg": edges_deg[:-1],
            "to_deg": edges_deg[1:],
            "n": n,
            "low": limits[:, 0],
            "high": limits[:, 1],
            "expected_of_set": alone,
            "expected": expected,
        }
    )


def ordered_angles(result: HasSets, one: OrientedSet) -> pd.DataFrame:
    """Angles of the fractures of a set to their own mean, beside those of a Fisher set.

    1 − cos of the angle is close to exponential in a Fisher set (Fisher, Lewis & Embleton 1987,
    Statistical Analysis of Spherical Data, section 5.3.2; from memory).

    Gives in rising order, degrees: angle_deg, expected_deg, and low_deg and high_deg, the limits
    at the confidence of the analysis for each alone.
    """
    poles = Fractures(result.fractures).of_set(one.name).fitted.poles
    mean = one.statistics.mean
    drop = np.sort(1.0 - align_axes(poles, mean) @ mean)
    scale = float(drop.mean()) if len(drop) else 1.0
    low, centre, high = (
        _angle(-np.log1p(-share) * scale)
        for share in uniform_order_limits(len(drop), one.confidence)
    )
    columns = {"angle_deg": _angle(drop), "expected_deg": centre, "low_deg": low, "high_deg": high}
    return pd.DataFrame(columns)


def ordered_directions(result: HasSets, one: OrientedSet) -> pd.DataFrame:
    """Directions of the fractures of a set about their own mean, beside an even spread.

    A round set follows the diagonal; an elliptical one winds about it twice.

    Gives in rising order, degrees: direction_deg, expected_deg, low_deg, high_deg.
    """
    mean = one.statistics.mean
    frame = frame_about(mean)
    rows = align_axes(Fractures(result.fractures).of_set(one.name).fitted.poles, mean)
    turn = np.sort(np.degrees(np.arctan2(rows @ frame[1], rows @ frame[0])) % 360.0)
    low, centre, high = (360.0 * one for one in uniform_order_limits(len(turn), one.confidence))
    columns = {"direction_deg": turn, "expected_deg": centre, "low_deg": low, "high_deg": high}
    return pd.DataFrame(columns)


def _angle(drop: Array) -> Array:
    """Angle in degrees whose 1 − cos is given, at most 90."""
    return np.degrees(np.arccos(1.0 - np.clip(drop, 0.0, 1.0)))
