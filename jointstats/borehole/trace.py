"""The plane whose trace on the wall of a hole was picked as points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.frame import reference_lines
from jointstats.borehole.wall import WallFit, fit_wall, normal_and_error
from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import as_azimuth, dip_from_poles, lines_from_trend
from jointstats.sphere.axes import lower_hemisphere
from jointstats.types import Array, ArrayLike


class TracePlane(Result):
    """A plane found from its trace on the wall of a hole.

    Attributes
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

    _SHORT = (
        "{dip_deg:.1f}/{dip_direction_deg:05.1f} ± {angular_error_deg:.2g}°, residual "
        "{residual_mm:.2g} mm; {flags}"
    )

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

    def _row(self) -> dict[str, object]:
        plane = {"dip_deg": self.dip_deg, "dip_direction_deg": self.dip_direction_deg}
        points = {"points": len(self.off), "points_off": int(self.off.sum())}
        return plane | super()._row() | points | {"flags": "; ".join(self.flags)}


def _points(angle_deg: ArrayLike, depth_m: ArrayLike, diameter_mm: ArrayLike) -> tuple[Array, ...]:
    angle = as_numbers(angle_deg, "angle_deg", low=0, high=360)
    depth = as_numbers(depth_m, "depth_m")
    diameter = as_numbers(diameter_mm, "diameter_mm", low=0, open_end=True)
    if depth.shape != angle.shape:
        raise InputError(
            f"depth_m must have one value an angle ({len(angle)}); got shape {depth.shape}"
        )
    if len(diameter) not in (1, len(angle)):
        raise InputError(
            f"diameter_mm must be one value, or one a point ({len(angle)}); "
            f"got shape {diameter.shape}"
        )
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

    `direction` (3,): direction of the hole; `radial` (3,): from its axis to the reference line.
    """
    # In the frame of the hole (reference, across, down) the plane is z = c + p x + q y, so (−p, −q, 1) is square to it.
    normal, error = normal_and_error(fit.slope, fit.covariance)
    frame = np.array([radial, np.cross(direction, radial), direction])
    size = float(np.hypot(*fit.slope))
    return TracePlane(
        pole=lower_hemisphere(normal @ frame)[0],
        angular_error_deg=float(np.degrees(error)),
        residual_mm=fit.residual_mm,
        centre_m=fit.centre_m,
        # The steepest slope along the hole is |(p, q)| = cot α; it points to the down-hole end of the ellipse, which β names.
        alpha_deg=float(np.degrees(np.arctan2(1.0, size))),
        beta_deg=float(as_azimuth(np.degrees(np.arctan2(fit.slope[1], fit.slope[0]))))
        if size
        else 0.0,
        off=fit.off,
        flags=fit.flags,
    )
