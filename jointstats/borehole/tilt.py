"""Fractures relative to bedding: the bedding brought back to level, and plunging folds unfolded."""

from __future__ import annotations

import numpy as np
from scipy.special import cosdg, sindg

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth, lines_from_trend
from jointstats.sphere.axes import as_axes, lower_hemisphere
from jointstats.types import Array, ArrayLike


def _turned(rows: Array, axis: Array, angle_deg: Array) -> Array:
    """Rows turned about axes by the right-hand rule (Rodrigues' formula), row by row."""
    cosine, sine = cosdg(angle_deg)[:, np.newaxis], sindg(angle_deg)[:, np.newaxis]
    # Rotation about an axis by Rodrigues' formula.
    along = (rows * axis).sum(axis=1, keepdims=True)
    return cosine * rows + sine * np.cross(axis, rows) + (1.0 - cosine) * along * axis


def _levelling(dip_deg: Array, dip_direction_deg: Array) -> tuple[Array, Array]:
    """Axis and angle of the turn that lifts the down-dip side of a bed back to level."""
    # About the strike, by the right hand: what dips toward the dip direction comes up.
    strike = lines_from_trend(as_azimuth(dip_direction_deg + 90.0), np.zeros(len(dip_deg)))
    return strike, dip_deg


def _as_rows(values: Array, n: int, name: str) -> Array:
    if len(values) not in (1, n):
        raise InputError(f"{name} must have one value, or one a pole ({n}); got {len(values)}")
    return np.broadcast_to(values, (n,))


def tilt_correct(
    poles: ArrayLike,
    bedding_dip_deg: ArrayLike,
    bedding_dip_direction_deg: ArrayLike,
    *,
    fold_trend_deg: float | None = None,
    fold_plunge_deg: float | None = None,
) -> Array:
    """Poles turned so that the bedding becomes level.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of fractures, either end.
    bedding_dip_deg : array_like, shape (n,) or scalar
        Dip of the bedding, degrees; above 90, up to 180, for overturned beds, which dip the
        other way from the direction they once faced.
    bedding_dip_direction_deg : array_like, shape (n,) or scalar
        Dip direction of the bedding, degrees. One bedding, or one for each pole.
    fold_trend_deg, fold_plunge_deg : float or None
        Axis of a plunging fold, degrees: it is brought to level first, with beds and fractures,
        and the beds are brought to level from there.

    Returns
    -------
    ndarray, shape (n, 3)
        Poles on the lower hemisphere.

    Raises
    ------
    InputError
        If an angle is out of range, lengths differ, or a fold has only half an axis.

    Notes
    -----
    The turn is about the strike of the bed, by its dip: what is done with bedding in structural
    geology and paleomagnetism alike. A fold's axis is levelled about the level line square to it.

    Examples
    --------
    A joint square to a bed stands vertical once the bed is level:

    >>> import jointstats as js
    >>> bed, joint = js.poles_from_dip(30, 90), js.poles_from_dip(60, 270)
    >>> js.tilt_correct(bed, 30, 90).round(6) + 0.0
    array([[ 0.,  0., -1.]])
    >>> js.dip_from_poles(js.tilt_correct(joint, 30, 90))[0].round(6)
    array([90.])
    """
    rows = as_axes(poles)
    dip = as_numbers(bedding_dip_deg, "bedding_dip_deg", low=0, high=180)
    direction = as_numbers(bedding_dip_direction_deg, "bedding_dip_direction_deg", low=0, high=360)
    n = len(rows)
    dip = _as_rows(dip, n, "bedding_dip_deg")
    direction = _as_rows(direction, n, "bedding_dip_direction_deg")
    if (fold_trend_deg is None) != (fold_plunge_deg is None):
        raise InputError("the axis of a fold needs both fold_trend_deg and fold_plunge_deg")
    if n and fold_trend_deg is not None and fold_plunge_deg is not None:
        rows, dip, direction = _unplunged(rows, dip, direction, fold_trend_deg, fold_plunge_deg)
    axis, angle = _levelling(dip, direction)
    return lower_hemisphere(_turned(rows, axis, angle)) if n else rows


def _unplunged(
    rows: Array, dip: Array, direction: Array, trend_deg: float, plunge_deg: float
) -> tuple[Array, Array, Array]:
    """Fractures and beds after the axis of their fold is brought to level."""
    trend = as_numbers(trend_deg, "fold_trend_deg", low=0, high=360)
    plunge = as_numbers(plunge_deg, "fold_plunge_deg", low=-90, high=90)
    # First the fold axis is brought to level about the horizontal square to it, and only then the limb: in one turn
    # about the strike a plunging fold would come out twisted.
    square = lines_from_trend(as_azimuth(trend + 90.0), [0.0])
    axis = np.broadcast_to(square, rows.shape)
    angle = np.broadcast_to(plunge, dip.shape)
    # The upward normal of a bed; past 90° of dip it points down: the bed is overturned.
    up = np.column_stack([sindg(dip) * sindg(direction), sindg(dip) * cosdg(direction), cosdg(dip)])
    up = _turned(up, axis, angle)
    level = np.hypot(up[:, 0], up[:, 1])
    new_dip = np.degrees(np.arctan2(level, up[:, 2]))
    new_direction = as_azimuth(np.degrees(np.arctan2(up[:, 0], up[:, 1])))
    return _turned(rows, axis, angle), new_dip, np.where(level > 0, new_direction, 0.0)
