"""Planes fitted to points picked on the wall of a hole.

A plane cuts a hole of radius R in a curve that is a cosine on the unrolled wall: with φ the angle
round the wall from the reference line, clockwise looking down the hole, and z the depth,

    z = z₀ + R (A cos φ + B sin φ),      (A, B) = cot α (cos β, sin β),

and the normal in the frame (reference line, a quarter turn on, down the hole) is (−A, −B, 1) over
its length. The curve is linear in z₀, A and B, so the fit is one of linear least squares, whole
or partial trace alike, and the error of the normal follows from that of A and B.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import cosdg, sindg

from jointstats.borehole.frame import reference_lines
from jointstats.errors import InputError
from jointstats.sphere.angles import check_degrees, dip_from_poles, lines_from_trend
from jointstats.sphere.axes import lower_hemisphere

__all__ = ["TracePlane", "WallFit", "fit_wall", "orient_trace"]

Array = NDArray[np.float64]

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


@dataclass(frozen=True)
class TracePlane:
    """A plane found from its trace on the wall of a hole.

    Parameters
    ----------
    pole : ndarray, shape (3,)
        On the lower hemisphere.
    angular_error_deg : float
        Standard error: root mean square of the angle between this pole and the true one,
        degrees, from the scatter of the points (or the stated error of picking) and the
        diameter.
    residual_mm : float
        Root mean square of the residuals along the hole, mm.
    centre_m : float
        Depth at which the plane meets the axis of the hole.
    alpha_deg, beta_deg : float
        The same plane in the frame of the hole.
    off : ndarray of bool, shape (n,)
        Points that fit no plane with the others; they were left out.
    flags : tuple of str
        What the reader must know of the fit; empty if nothing.

    Examples
    --------
    >>> plane = orient_trace([90, 180, 270, 0], [10.1, 10, 9.9, 10], 100, 0, 90, "north")
    >>> round(plane.alpha_deg, 3), round(plane.beta_deg, 3)
    (26.565, 90.0)
    """

    pole: Array
    angular_error_deg: float
    residual_mm: float
    centre_m: float
    alpha_deg: float
    beta_deg: float
    off: NDArray[np.bool_]
    flags: tuple[str, ...]

    @property
    def dip_deg(self) -> float:
        """Dip, degrees."""
        return float(dip_from_poles(self.pole)[0][0])

    @property
    def dip_direction_deg(self) -> float:
        """Dip direction, degrees."""
        return float(dip_from_poles(self.pole)[1][0])

    def __repr__(self) -> str:
        flags = f", {'; '.join(self.flags)}" if self.flags else ""
        return (
            f"TracePlane({self.dip_deg:.1f}/{self.dip_direction_deg:05.1f} ± "
            f"{self.angular_error_deg:.2g}°, residual {self.residual_mm:.2g} mm{flags})"
        )

    def to_frame(self) -> pd.DataFrame:
        """One row with the plane, its error and its flags."""
        return pd.DataFrame(
            {
                "dip_deg": [self.dip_deg],
                "dip_direction_deg": [self.dip_direction_deg],
                "angular_error_deg": [self.angular_error_deg],
                "residual_mm": [self.residual_mm],
                "depth_m": [self.centre_m],
                "alpha_deg": [self.alpha_deg],
                "beta_deg": [self.beta_deg],
                "points": [len(self.off)],
                "points_off": [int(self.off.sum())],
                "flags": ["; ".join(self.flags)],
            }
        )


def _largest_gap_deg(angle_deg: Array) -> float:
    ordered = np.sort(angle_deg % 360.0)
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

    Parameters
    ----------
    angle_deg, depth_m, radius_mm : ndarray, shape (n,)
        Angle round the wall, depth along the hole, and radius of the hole at each point; n ≥ 3.
    pick_error_mm : float or None
        Standard error of a depth; None takes it from the scatter of the points.
    radius_error_mm : float
        Standard error of the radius, common to all points.

    Returns
    -------
    WallFit

    Raises
    ------
    InputError
        If the points lie on fewer than three lines of the wall.

    Examples
    --------
    >>> fit = fit_wall(np.array([0.0, 90, 180]), np.array([1.05, 1.0, 0.95]), np.full(3, 50.0))
    >>> (fit.slope.round(6) + 0.0).tolist(), round(fit.centre_m, 6)
    ([1.0, 0.0], 1.0)
    """
    radius = radius_mm / 1000.0
    design = np.column_stack(
        [np.ones(len(depth_m)), radius * cosdg(angle_deg), radius * sindg(angle_deg)]
    )
    lines = np.unique(np.round(angle_deg % 360.0, 6))
    if len(lines) < 3:
        raise InputError(
            "a trace needs points at three different angles round the wall; "
            f"got {len(lines)} ({len(depth_m)} points)"
        )
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
    inverse = np.linalg.inv(design[~off].T @ design[~off])
    slope = solution[1:]
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

    Parameters
    ----------
    slope : ndarray, shape (2,)
        A and B.
    covariance : ndarray, shape (2, 2)

    Returns
    -------
    normal : ndarray, shape (3,)
        Along reference line, quarter turn on, and hole.
    error_rad : float

    Examples
    --------
    >>> round(normal_and_error(np.zeros(2), np.diag([0.01, 0.01]) ** 2)[1], 6)
    0.014142
    """
    raw = np.array([-slope[0], -slope[1], 1.0])
    length = np.linalg.norm(raw)
    normal = raw / length
    # Only the part of an error square to the normal turns it.
    across = (np.eye(3) - np.outer(normal, normal)) / length
    turn = across[:, :2] @ covariance @ across[:, :2].T
    return normal, float(np.sqrt(np.trace(turn)))


def _points(angle_deg: ArrayLike, depth_m: ArrayLike, diameter_mm: ArrayLike) -> tuple[Array, ...]:
    angle = check_degrees(angle_deg, "angle_deg", 0, 360)
    try:
        depth = np.atleast_1d(np.array(depth_m, dtype=np.float64))
        diameter = np.atleast_1d(np.array(diameter_mm, dtype=np.float64))
    except (TypeError, ValueError):
        raise InputError("depth_m and diameter_mm must be numbers") from None
    if depth.shape != angle.shape:
        raise InputError(
            f"depth_m must have one value an angle ({len(angle)}); got shape {depth.shape}"
        )
    if diameter.ndim != 1 or len(diameter) not in (1, len(angle)):
        raise InputError(
            f"diameter_mm must be one value, or one a point ({len(angle)}); "
            f"got shape {diameter.shape}"
        )
    if not (np.isfinite(diameter).all() and (diameter > 0).all()):
        raise InputError("diameter_mm must be finite and more than 0")
    if not np.isfinite(depth).all():
        raise InputError("depth_m must be finite")
    return angle, depth, np.broadcast_to(diameter, angle.shape) / 2.0


def orient_trace(
    angle_deg: ArrayLike,
    depth_m: ArrayLike,
    diameter_mm: ArrayLike,
    trend_deg: float,
    plunge_deg: float,
    reference: str = "low side",
    *,
    pick_error_mm: float | None = None,
    diameter_error_mm: float = 0.0,
) -> TracePlane:
    """The plane whose trace on the wall of a hole was picked as points.

    Parameters
    ----------
    angle_deg : array_like, shape (n,)
        Angle round the wall from the reference line, clockwise looking down the hole, degrees;
        three points or more, in any order, on the whole wall or a part of it.
    depth_m : array_like, shape (n,)
        Depth of each point along the hole, metres.
    diameter_mm : float or array_like, shape (n,)
        Diameter of the hole, or that of a caliper at each point, mm.
    trend_deg, plunge_deg : float
        Direction of the hole there, degrees.
    reference : str
        Where the reference line lies: "low side", "high side", or "north" (holes within 10° of
        vertical).
    pick_error_mm : float or None
        Standard error of a pick along the hole, mm; None takes it from the scatter of the
        points (from three points it can't be told, and 2 mm is assumed and flagged).
    diameter_error_mm : float
        Standard error of the diameter, mm.

    Returns
    -------
    TracePlane

    Raises
    ------
    InputError
        If there are fewer than three angles, or an argument is out of range.

    Notes
    -----
    Among six points or more, those farther from the plane of least absolute deviations than six
    robust standard deviations are left out and flagged; the rest is fitted by least squares.

    Examples
    --------
    In a vertical hole of 100 mm, a trace that is lowest in the east and 173.2 mm high belongs to
    a plane that dips 60° to the east:

    >>> import jointstats as js
    >>> angle = np.arange(0, 360, 30)
    >>> depth = 20 + 0.0866 * np.cos(np.radians(angle - 90))
    >>> plane = js.orient_trace(angle, depth, 100, 0, 90, "north")
    >>> round(plane.dip_deg, 2), round(plane.dip_direction_deg, 2)
    (60.0, 90.0)
    """
    angle, depth, radius = _points(angle_deg, depth_m, diameter_mm)
    line = lines_from_trend(trend_deg, plunge_deg)
    if len(line) != 1:
        raise InputError("trend_deg and plunge_deg must be one value each: one trace at a time")
    fit = fit_wall(
        angle,
        depth,
        radius,
        pick_error_mm=pick_error_mm,
        radius_error_mm=diameter_error_mm / 2.0,
    )
    return placed(fit, line[0], reference_lines(line, reference)[0])


def placed(fit: WallFit, direction: Array, radial: Array) -> TracePlane:
    """A fitted plane turned from the frame of the hole into that of the map.

    Parameters
    ----------
    fit : WallFit
    direction : ndarray, shape (3,)
        Direction of the hole.
    radial : ndarray, shape (3,)
        From its axis to the reference line.

    Returns
    -------
    TracePlane

    Examples
    --------
    >>> fit = fit_wall(np.array([0.0, 90, 180]), np.array([1.0, 1.0, 1.0]), np.full(3, 50.0))
    >>> placed(fit, np.array([0, 0, -1.0]), np.array([0, 1.0, 0])).alpha_deg
    90.0
    """
    normal, error = normal_and_error(fit.slope, fit.covariance)
    frame = np.array([radial, np.cross(direction, radial), direction])
    size = float(np.hypot(*fit.slope))
    return TracePlane(
        pole=lower_hemisphere(normal @ frame)[0],
        angular_error_deg=float(np.degrees(error)),
        residual_mm=fit.residual_mm,
        centre_m=fit.centre_m,
        alpha_deg=float(np.degrees(np.arctan2(1.0, size))),
        beta_deg=float(np.degrees(np.arctan2(fit.slope[1], fit.slope[0])) % 360.0) if size else 0.0,
        off=fit.off,
        flags=fit.flags,
    )
