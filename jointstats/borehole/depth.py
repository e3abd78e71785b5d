"""Depths of one log brought to those of another: stretch of the cable, offsets, tie points."""

from __future__ import annotations

import numpy as np

from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike


def stretched_depth(
    depth_m: ArrayLike, *, stretch_mm_per_m: float = 0.0, offset_m: float = 0.0
) -> Array:
    """True depths from those of a cable that stretches, and of a run that started off zero.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths as logged, metres.
    stretch_mm_per_m : float
        By how much each metre of cable was longer than it measured, mm.
    offset_m : float
        What is to be added to every depth of the run, metres.

    Returns
    -------
    ndarray, shape (n,)
        depth (1 + stretch) + offset.

    Raises
    ------
    InputError
        If an argument is not finite.

    Examples
    --------
    >>> stretched_depth([10.0, 50.0], stretch_mm_per_m=2.0, offset_m=-0.1)
    array([ 9.92, 50.  ])
    """
    depth = np.atleast_1d(np.asarray(depth_m, dtype=np.float64))
    if not (np.isfinite(depth).all() and np.isfinite([stretch_mm_per_m, offset_m]).all()):
        raise InputError("depth_m, stretch_mm_per_m and offset_m must be finite")
    # A cable under load is longer than its counter says, in proportion to what hangs out.
    return depth * (1.0 + stretch_mm_per_m / 1000.0) + offset_m


def tied_depth(depth_m: ArrayLike, logged_m: ArrayLike, true_m: ArrayLike) -> Array:
    """True depths from tie points: features found in two logs.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths as logged, metres.
    logged_m, true_m : array_like, shape (m,)
        Depth of each tie point in this log, rising, and its true depth, rising.

    Returns
    -------
    ndarray, shape (n,)
        Between tie points the difference changes evenly; above the first and below the last it
        stays, so one tie point is a plain offset.

    Raises
    ------
    InputError
        If there is no tie point, lengths differ, or the depths do not rise.

    Examples
    --------
    >>> tied_depth([5.0, 15.0, 30.0], logged_m=[10, 20], true_m=[10.0, 20.2])
    array([ 5. , 15.1, 30.2])
    """
    depth = np.atleast_1d(np.asarray(depth_m, dtype=np.float64))
    logged = np.atleast_1d(np.asarray(logged_m, dtype=np.float64))
    true = np.atleast_1d(np.asarray(true_m, dtype=np.float64))
    if not len(logged) or logged.shape != true.shape:
        raise InputError(
            f"tie points need a logged and a true depth each; got {len(logged)} and {len(true)}"
        )
    if not (np.isfinite(depth).all() and np.isfinite(logged).all() and np.isfinite(true).all()):
        raise InputError("depth_m, logged_m and true_m must be finite")
    if (np.diff(logged) <= 0).any() or (np.diff(true) <= 0).any():
        raise InputError("tie points must rise in both logs; check for two that are swapped")
    # The shift, not the depth, is interpolated: beyond the outermost ties it stays, and no length is stretched there.
    return depth + np.interp(depth, logged, true - logged)
