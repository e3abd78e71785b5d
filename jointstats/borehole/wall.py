"""Planes fitted to points picked on the wall of a hole.

A plane cuts a hole of radius R in a curve that is a cosine on the unrolled wall: with φ the angle
round the wall from the reference line, clockwise looking down the hole, and z the depth,

    z = z₀ + R (A cos φ + B sin φ),      (A, B) = cot α (cos β, sin β),

and the normal in the frame (reference line, a quarter turn on, down the hole) is (−A, −B, 1) over
its length. The curve is linear in z₀, A and B, so the fit is one of linear least squares, whole
or partial trace alike, and the error of the normal follows from that of A and B.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import cosdg, sindg

from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth
from jointstats.types import Array

#: Error of a pick along the hole where the points themselves can't tell it, millimetres (two
#: pixels of a common wall picture; common practice, no source).
NOMINAL_PICK_ERROR_MM = 2.0
#: Points farther off than this many robust standard deviations fit no plane with the others.
FAR_OFF = 6.0
#: Fewest points among which one can be told to be off.
ENOUGH_TO_REJECT = 6
#: A trace that leaves a larger part of the wall unseen than this is called partial, degrees.
PARTIAL_GAP_DEG = 180.0


class WallFit(NamedTuple):
    """A plane in the frame of the hole, as fitted to points on the wall.

    Attributes
    ----------
    slope : ndarray, shape (2,)
        A and B.
    centre_m : float
        Depth at which the plane meets the axis.
    covariance : ndarray, shape (2, 2)
        Of A and B.
    residual_mm : float
        Root mean square of the residuals of the points used, along the hole.
    off : ndarray of bool, shape (n,)
        Points that fit no plane with the others.
    flags : tuple of str
        What the reader must know.
    """

    slope: Array
    centre_m: float
    covariance: Array
    residual_mm: float
    off: NDArray[np.bool_]
    flags: tuple[str, ...]


def _largest_gap_deg(angle_deg: Array) -> float:
    ordered = np.sort(as_azimuth(angle_deg))
    return float(np.diff(np.append(ordered, ordered[0] + 360.0)).max())


def _solve(design: Array, depth: Array, weights: Array) -> Array:
    root = np.sqrt(weights)[:, np.newaxis]
    return np.linalg.lstsq(design * root, depth * root[:, 0], rcond=None)[0]


def _points_off(design: Array, depth: Array, floor_m: float) -> NDArray[np.bool_]:
    """Points far from the plane of the least absolute deviations."""
    n = len(depth)
    if n < ENOUGH_TO_REJECT:
        return np.zeros(n, dtype=bool)
    # Iteratively reweighted least squares: weights of one over the residual give the least sum
    # of absolute residuals.
    # Metres of depth beside millimetres of radius: without a common size the normal equations lose digits.
    scaled = design / np.abs(design).max(axis=0)
    weights = np.ones(n)
    scale = max(float(np.ptp(depth)), 1e-9)
    for _ in range(30):
        moments = (scaled.T * weights) @ scaled
        residual = depth - scaled @ np.linalg.solve(moments, (scaled.T * weights) @ depth)
        weights = 1.0 / np.maximum(np.abs(residual), 1e-6 * scale)
    size = np.abs(residual)
    # Three of the residuals are zero in such a fit; the rest tell the spread.
    spread = 1.4826 * float(np.median(np.sort(size)[3:])) * np.sqrt(n / (n - 3.0))
    off = size > max(FAR_OFF * spread, 3.0 * floor_m, 1e-7 * scale)
    return off if (~off).sum() >= 4 else np.zeros(n, dtype=bool)


def fit_wall(
    angle_deg: Array,
    depth_m: Array,
    radius_mm: Array,
    *,
    pick_error_mm: float | None = None,
    radius_error_mm: float = 0.0,
) -> WallFit:
    """Fit a plane to points on the wall, in the frame of the hole.

    `angle_deg, depth_m, radius_mm` (n,); `pick_error_mm`: standard error of a depth;
    `radius_error_mm`: standard error of the radius, common to all points.
    """
    radius = radius_mm / 1000.0
    design = np.column_stack(
        [np.ones(len(depth_m)), radius * cosdg(angle_deg), radius * sindg(angle_deg)]
    )
    lines = np.unique(np.round(as_azimuth(angle_deg), 6))
    if len(lines) < 3:
        raise InputError(
            "a trace needs points at three different angles round the wall; "
            f"got {len(lines)} ({len(depth_m)} points)"
        )
    # About the middle, so that a depth of hundreds of metres costs the slope no digits.
    middle = float(depth_m.mean())
    local = depth_m - middle
    off = _points_off(design, local, (pick_error_mm or 0.0) / 1000.0)
    weights = (~off).astype(float)
    solution = _solve(design, local, weights)
    residual = (local - design @ solution)[~off]
    degrees = len(residual) - 3
    flags = []
    if pick_error_mm is not None:
        variance = (pick_error_mm / 1000.0) ** 2
    elif degrees > 0:
        variance = float(residual @ residual) / degrees
    else:
        variance = (NOMINAL_PICK_ERROR_MM / 1000.0) ** 2
    # Covariance of a least squares fit whose points have equal, independent errors along the hole.
    inverse = np.linalg.inv(design[~off].T @ design[~off])
    slope = solution[1:]
    # A radius off by a share makes both slopes off by that share, together.
    spread = (radius_error_mm / radius_mm.mean()) ** 2 * np.outer(slope, slope)
    flags += _flags(angle_deg[~off], residual, degrees, off, pick_error_mm)
    return WallFit(
        slope=slope,
        centre_m=middle + float(solution[0]),
        covariance=variance * inverse[1:, 1:] + spread,
        residual_mm=1000.0 * float(np.sqrt(np.mean(residual**2))),
        off=off,
        flags=tuple(flags),
    )


def _flags(
    angle_deg: Array,
    residual: Array,
    degrees: int,
    off: NDArray[np.bool_],
    pick_error_mm: float | None,
) -> list[str]:
    flags = []
    if degrees == 0 and pick_error_mm is None:
        flags.append(f"three points only: the error rests on {NOMINAL_PICK_ERROR_MM:g} mm a pick")
    if off.any():
        flags.append(f"{int(off.sum())} of {len(off)} points fit no plane with the others")
    gap = _largest_gap_deg(angle_deg)
    if gap > PARTIAL_GAP_DEG:
        flags.append(f"{gap:.0f}° of the wall without points")
    if pick_error_mm is not None and degrees > 0:
        # Mean square residual against its expectation; 3 is far outside chance for any count.
        ratio = float(residual @ residual) / degrees / (pick_error_mm / 1000.0) ** 2
        if ratio > 1.0 + 3.0 * np.sqrt(2.0 / degrees):
            flags.append("the points scatter more than the stated error of picking: not a plane")
    return flags


def normal_and_error(slope: Array, covariance: Array) -> tuple[Array, float]:
    """Normal in the frame of the hole, and its root mean square angular error.

    `slope` (2,): A and B; `covariance` (2, 2). Gives `normal` (3,): along reference line, quarter
    turn on, and hole; `error_rad`.
    """
    raw = np.array([-slope[0], -slope[1], 1.0])
    length = np.linalg.norm(raw)
    normal = raw / length
    # Only the part of an error square to the normal turns it.
    across = (np.eye(3) - np.outer(normal, normal)) / length
    # Carried to first order from the two slopes to the normal; the trace adds up both ways that it may turn.
    turn = across[:, :2] @ covariance @ across[:, :2].T
    return normal, float(np.sqrt(np.trace(turn)))
