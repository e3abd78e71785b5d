"""Points on the ring-shaped picture of a camera that looks at a conical mirror.

Such a picture shows the wall as a ring: one edge of the ring is the upper end of the length that
the mirror sees, the other its lower end. A radius on the picture stands for a depth, by a
calibration; the angle round the picture is the angle round the wall.
"""

from __future__ import annotations

import numpy as np

from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth
from jointstats.types import Array, ArrayLike


def ring_points(
    radius: ArrayLike,
    angle_deg: ArrayLike,
    frame_depth_m: ArrayLike,
    *,
    calibration_radius: ArrayLike,
    calibration_offset_m: ArrayLike,
    roll_deg: ArrayLike = 0.0,
    counted: str = "clockwise",
) -> tuple[Array, Array]:
    """Angle round the wall and depth of points on a ring-shaped picture.

    Parameters
    ----------
    radius : array_like, shape (n,)
        Distance of each point from the centre of the picture, in its own unit (pixels).
    angle_deg : array_like, shape (n,)
        Angle of each point round the centre from the picture's zero mark, degrees.
    frame_depth_m : float or array_like, shape (n,)
        Depth of the camera's datum for the picture, metres.
    calibration_radius, calibration_offset_m : array_like, shape (m,)
        Radii at which the wall is seen at known distances below the datum, metres (above:
        negative): two for a linear picture (the inner and the outer edge), more for a table,
        which is followed by straight lines. Radii rise.
    roll_deg : float or array_like, shape (n,)
        Angle of the zero mark from the reference line of the hole, clockwise looking down it.
    counted : str
        "clockwise" where angles on the picture grow clockwise looking down the hole,
        "anticlockwise" where the mirror turns them round.

    Returns
    -------
    angle_deg : ndarray, shape (n,)
        From the reference line, clockwise looking down the hole, 0 up to 360.
    depth_m : ndarray, shape (n,)
        As `orient_trace` takes them.

    Raises
    ------
    InputError
        If the calibration is not one, or a radius lies outside it.

    Examples
    --------
    The inner edge, radius 100, shows the wall 40 mm below the datum, the outer edge the datum:

    >>> angle, depth = ring_points([100, 150], [0, 90], 12.0, calibration_radius=[100, 200],
    ...                            calibration_offset_m=[0.04, 0.0])
    >>> depth.round(6)
    array([12.04, 12.02])
    """
    known = np.atleast_1d(np.asarray(calibration_radius, dtype=np.float64))
    offset = np.atleast_1d(np.asarray(calibration_offset_m, dtype=np.float64))
    if len(known) < 2 or known.shape != offset.shape or not (np.diff(known) > 0).all():
        raise InputError(
            "a calibration needs two radii or more, rising, and an offset for each; "
            f"got {len(known)} radii and {len(offset)} offsets"
        )
    if counted not in ("clockwise", "anticlockwise"):
        raise InputError(f'counted must be "clockwise" or "anticlockwise"; got {counted!r}')
    radii = np.atleast_1d(np.asarray(radius, dtype=np.float64))
    wrong = ~((radii >= known[0]) & (radii <= known[-1]))
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise InputError(
            f"radius must lie within the calibration, {known[0]:g} to {known[-1]:g}; "
            f"value {at} is {radii[at]:g}"
        )
    sense = 1.0 if counted == "clockwise" else -1.0
    angle = as_azimuth(sense * np.asarray(angle_deg, dtype=np.float64) + np.asarray(roll_deg))
    depth = np.asarray(frame_depth_m, dtype=np.float64) + np.interp(radii, known, offset)
    return np.broadcast_to(angle, radii.shape) + 0.0, np.broadcast_to(depth, radii.shape) + 0.0
