"""The roll of a camera: where its zero mark stood on the wall, by depth."""

from __future__ import annotations

import numpy as np

from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike


def roll_at(depth_m: ArrayLike, known_depth_m: ArrayLike, roll_deg: ArrayLike) -> Array:
    """Roll at depths, between those at which it was measured.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths that are asked for, metres.
    known_depth_m : array_like, shape (m,)
        Depths of the measurements (marks, compass, gyroscope), metres, rising.
    roll_deg : array_like, shape (m,)
        Angle of the camera's zero mark from the reference line, clockwise looking down the
        hole, degrees. It is added to every angle read on the picture.

    Returns
    -------
    ndarray, shape (n,)
        Degrees. Between measurements the camera is taken to turn evenly, the short way; above
        the first and below the last the roll stays.

    Raises
    ------
    InputError
        If there is no measurement, lengths differ, depths do not rise, or a value is not finite.

    Examples
    --------
    From 350° to 10° the short way leads over 0°:

    >>> roll_at([5.0, 20.0], [0, 10], [350, 10]) % 360
    array([ 0., 10.])
    """
    depth = np.atleast_1d(np.asarray(depth_m, dtype=np.float64))
    known = np.atleast_1d(np.asarray(known_depth_m, dtype=np.float64))
    roll = np.atleast_1d(np.asarray(roll_deg, dtype=np.float64))
    if not len(known) or known.shape != roll.shape:
        raise InputError(
            f"roll_deg needs one value a measured depth, at least one; got {len(roll)} for "
            f"{len(known)} depths"
        )
    if not (np.isfinite(known).all() and np.isfinite(roll).all()):
        raise InputError("known_depth_m and roll_deg must be finite")
    if (np.diff(known) <= 0).any():
        raise InputError("known_depth_m must rise from measurement to measurement")
    return np.interp(depth, known, np.unwrap(roll, period=360.0))
