"""The one module that turns degrees into unit vectors and back: planes, poles and lines."""

from __future__ import annotations

import numpy as np
from scipy.special import cosdg, sindg

from jointstats.checks import as_numbers, check_lengths
from jointstats.sphere.axes import as_axes, lower_hemisphere
from jointstats.types import Array, ArrayLike


def _paired(first: Array, second: Array, names: str) -> tuple[Array, Array]:
    check_lengths(first, second, names)
    first, second = np.broadcast_arrays(first, second)
    return first, second


def as_azimuth(angle_deg: ArrayLike) -> Array:
    """Angles in degrees brought to 0 up to 360; same shape."""
    # The remainder of a tiny negative number rounds to 360 itself.
    turned = np.asarray(angle_deg, dtype=np.float64) % 360.0
    return np.where(turned >= 360.0, 0.0, turned) + 0.0


def _azimuth(x: Array, y: Array) -> Array:
    return as_azimuth(np.degrees(np.arctan2(x, y)))


def poles_from_dip(dip_deg: ArrayLike, dip_direction_deg: ArrayLike) -> Array:
    """Poles of planes: unit normals on the lower hemisphere.

    Parameters
    ----------
    dip_deg : array_like, shape (n,)
        Dip in degrees, 0 to 90.
    dip_direction_deg : array_like, shape (n,)
        Dip direction in degrees clockwise from north, 0 to 360.

    Returns
    -------
    ndarray, shape (n, 3)
        Unit normals, x east, y north, z up, with z ≤ 0.

    Raises
    ------
    InputError
        If an angle is out of range or the lengths differ.

    Examples
    --------
    A plane that dips 30° to the east has a pole that plunges 60° to the west:

    >>> np.round(poles_from_dip(30, 90), 4) + 0.0
    array([[-0.5  ,  0.   , -0.866]])
    """
    dip = as_numbers(dip_deg, "dip_deg", low=0, high=90)
    direction = as_numbers(dip_direction_deg, "dip_direction_deg", low=0, high=360)
    dip, direction = _paired(dip, direction, "dip_deg and dip_direction_deg")
    # sindg and cosdg are exact at multiples of 90°, so a vertical plane has z = 0 to the bit.
    level = -sindg(dip)
    poles = np.column_stack([level * sindg(direction), level * cosdg(direction), -cosdg(dip)])
    return lower_hemisphere(poles)


def dip_from_poles(poles: ArrayLike) -> tuple[Array, Array]:
    """Dip and dip direction of planes given by their poles.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Normals, either end.

    Returns
    -------
    dip_deg : ndarray, shape (n,)
        Dip, 0 to 90.
    dip_direction_deg : ndarray, shape (n,)
        Dip direction, 0 up to 360. A level plane has 0; a vertical plane, which dips both
        ways, has the one that belongs to its lower-hemisphere pole (180 up to 360).

    Raises
    ------
    InputError
        If `poles` are not axes.

    Examples
    --------
    >>> dip, direction = dip_from_poles([[0.5, 0, 0.75 ** 0.5]])
    >>> np.round(dip, 6), np.round(direction, 6)
    (array([30.]), array([90.]))
    """
    x, y, z = lower_hemisphere(as_axes(poles, "poles")).T
    level = np.hypot(x, y)
    dip = np.degrees(np.arctan2(level, -z))
    return dip, np.where(level > 0, _azimuth(-x, -y), 0.0)


def lines_from_trend(trend_deg: ArrayLike, plunge_deg: ArrayLike) -> Array:
    """Directions of lines: unit vectors from trend and plunge.

    Parameters
    ----------
    trend_deg : array_like, shape (n,)
        Trend in degrees clockwise from north, 0 to 360.
    plunge_deg : array_like, shape (n,)
        Plunge in degrees, −90 to 90, positive downward.

    Returns
    -------
    ndarray, shape (n, 3)
        Unit vectors, x east, y north, z up.

    Raises
    ------
    InputError
        If an angle is out of range or the lengths differ.

    Examples
    --------
    >>> lines_from_trend(0, 90) + 0.0
    array([[ 0.,  0., -1.]])
    """
    trend = as_numbers(trend_deg, "trend_deg", low=0, high=360)
    plunge = as_numbers(plunge_deg, "plunge_deg", low=-90, high=90)
    trend, plunge = _paired(trend, plunge, "trend_deg and plunge_deg")
    level = cosdg(plunge)
    return np.column_stack([level * sindg(trend), level * cosdg(trend), -sindg(plunge)])


def trend_from_lines(lines: ArrayLike) -> tuple[Array, Array]:
    """Trend and plunge of directed lines.

    Parameters
    ----------
    lines : array_like, shape (n, 3)
        Directions; the end matters, an upward line has a negative plunge.

    Returns
    -------
    trend_deg : ndarray, shape (n,)
        Trend, 0 up to 360; 0 for a vertical line.
    plunge_deg : ndarray, shape (n,)
        Plunge, −90 to 90.

    Raises
    ------
    InputError
        If `lines` are not axes.

    Examples
    --------
    >>> trend_from_lines([[0, 0, -1.0], [1.0, 0, 0]])
    (array([ 0., 90.]), array([90.,  0.]))
    """
    x, y, z = as_axes(lines, "lines").T
    level = np.hypot(x, y)
    plunge = np.degrees(np.arctan2(-z, level)) + 0.0
    return np.where(level > 0, _azimuth(x, y), 0.0), plunge


def plane_columns(pole: ArrayLike) -> dict[str, object]:
    """The plane of one pole (3,) as two columns of a table, degrees."""
    dip, direction = dip_from_poles(pole)
    return {"dip_deg": float(dip[0]), "dip_direction_deg": float(direction[0])}


def line_columns(lines: ArrayLike) -> dict[str, Array]:
    """Lines (n, 3) as two columns of a table, degrees."""
    trend, plunge = trend_from_lines(lines)
    return {"trend_deg": trend, "plunge_deg": plunge}


def ellipse_columns(semi_axes_deg: Array) -> dict[str, object]:
    """The half-angles (2,) of an ellipse as two columns of a table, degrees."""
    long, short = semi_axes_deg
    return {"ellipse_long_deg": float(long), "ellipse_short_deg": float(short)}


def plane_margins_deg(dip_deg: float, cone_deg: float) -> tuple[float, float]:
    """How far dip and dip direction may lie off within a cone about the pole of a plane, degrees.

    In dip the cone itself; in dip direction arcsin(sin cone / sin dip), for the pole stands at the
    dip from the vertical; 180 where the cone reaches over the vertical.

    >>> [round(one, 1) for one in plane_margins_deg(35.0, 1.7)], plane_margins_deg(5.0, 8.0)[1]
    ([1.7, 3.0], 180.0)
    """
    if cone_deg >= dip_deg:
        return cone_deg, 180.0
    return cone_deg, float(np.degrees(np.arcsin(sindg(cone_deg) / sindg(dip_deg))))


def turn_in_azimuth(turn_deg: float) -> Array:
    """Matrix that adds an angle to azimuths, which count clockwise."""
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])
