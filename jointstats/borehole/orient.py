"""From what was read in the hole's own frame to true orientations.

A plane at the acute angle α to the core axis cuts the core in an ellipse. With d the direction of
the hole and u the direction, square to it, from the axis to the lowest (farthest down the hole)
point of the ellipse, the plane's normal on the side of d is

    n = sin α d − cos α u

because a point R w + z d of the wall lies in the plane where z = −R (n · w) / (n · d), which is
largest for w = u. With r the direction from the axis to the reference line, and β clockwise
looking down the hole, which is by the right-hand rule about d,

    u = cos β r + sin β (d × r)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import cosdg, sindg

from jointstats.borehole.rows import rows_of_holes
from jointstats.errors import InputError
from jointstats.sphere.angles import check_degrees, dip_from_poles, lines_from_trend, poles_from_dip
from jointstats.sphere.axes import as_axes, lower_hemisphere

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.site import Site

__all__ = ["REFERENCES", "orient_core", "orient_fractures", "reference_lines"]

Array = NDArray[np.float64]

#: Where the reference line may lie on the wall of the hole.
REFERENCES = ("low side", "high side", "north")
#: A hole this near to vertical has no low side that could be found on site, degrees.
VERTICAL_WITHIN_DEG = 0.1
#: North is a reference only in holes this near to vertical, degrees: farther off, the direction
#: that a compass finds on the wall is no longer that of north on the map.
NORTH_WITHIN_DEG = 10.0


def reference_fault(direction: ArrayLike, reference: str) -> str | None:
    """Why a reference line can't be used in a hole of this direction; None if it can.

    Parameters
    ----------
    direction : array_like, shape (3,)
        Direction of the hole.
    reference : str
        One of `REFERENCES`.

    Returns
    -------
    str or None

    Examples
    --------
    >>> reference_fault([0, 0, -1], "north") is None
    True
    """
    if reference not in REFERENCES:
        known = ", ".join(f'"{name}"' for name in REFERENCES)
        return f"reference must be one of {known}; got {reference!r}"
    x, y, z = as_axes(direction, "direction")[0]
    tilt = float(np.degrees(np.arctan2(np.hypot(x, y), abs(z))))
    if reference == "north" and tilt > NORTH_WITHIN_DEG:
        return (
            f"north is a reference only within {NORTH_WITHIN_DEG:g}° of vertical, and the hole is "
            f'{tilt:.1f}° from it; use "low side" or "high side"'
        )
    if reference != "north" and tilt < VERTICAL_WITHIN_DEG:
        return f'a vertical hole has no {reference}; use "north"'
    return None


def reference_lines(directions: ArrayLike, reference: str, *, north_deg: float = 0.0) -> Array:
    """Directions from the axis of a hole to the reference line on its wall.

    Parameters
    ----------
    directions : array_like, shape (n, 3)
        Directions of the hole, the way it was drilled.
    reference : str
        "low side", "high side", or "north" (holes within 10° of vertical).
    north_deg : float
        Bearing of the north that the reference means, degrees from true north: the declination
        where it is magnetic.

    Returns
    -------
    ndarray, shape (n, 3)
        Unit vectors square to the hole.

    Raises
    ------
    InputError
        If the reference is unknown, or is not defined in a hole of that direction.

    Examples
    --------
    The low side of a level hole is straight down:

    >>> reference_lines([[0, 1, 0]], "low side") + 0.0
    array([[ 0.,  0., -1.]])
    """
    lines = as_axes(directions, "directions")
    tilt = np.hypot(lines[:, 0], lines[:, 1])
    # One bad row stands for all: the steepest for a side, the flattest for north.
    if len(lines):
        worst = lines[np.argmax(tilt) if reference == "north" else np.argmin(tilt)]
        fault = reference_fault(worst, reference)
        if fault is not None:
            raise InputError(fault)
    toward = {
        "low side": [0.0, 0.0, -1.0],
        "high side": [0.0, 0.0, 1.0],
        "north": [sindg(north_deg), cosdg(north_deg), 0.0],
    }[reference]
    square = toward - (lines @ toward)[:, np.newaxis] * lines
    return square / np.linalg.norm(square, axis=1, keepdims=True)


def poles_in_hole(alpha_deg: Array, beta_deg: Array, directions: Array, references: Array) -> Array:
    """Poles of planes read in the frame of a hole; see the head of this module.

    Parameters
    ----------
    alpha_deg, beta_deg : ndarray, shape (n,)
        Angle to the axis, and angle round it to the lowest point, degrees.
    directions, references : ndarray, shape (n, 3)
        Direction of the hole, and from its axis to the reference line.

    Returns
    -------
    ndarray, shape (n, 3)
        Poles on the lower hemisphere.

    Examples
    --------
    >>> level, north = np.array([[0, 0, -1.0]]), np.array([[0, 1.0, 0]])
    >>> poles_in_hole(np.array([90.0]), np.array([0.0]), level, north) + 0.0
    array([[ 0.,  0., -1.]])
    """
    alpha, beta = alpha_deg[:, np.newaxis], beta_deg[:, np.newaxis]
    across = np.cross(directions, references)
    lowest = cosdg(beta) * references + sindg(beta) * across
    return lower_hemisphere(sindg(alpha) * directions - cosdg(alpha) * lowest)


def _as_long(values: ArrayLike, n: int, name: str) -> Array:
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if len(array) not in (1, n):
        raise InputError(f"{name} must have {n} values, or one; got {len(array)}")
    return np.broadcast_to(array, (n,))


def orient_core(
    alpha_deg: ArrayLike,
    beta_deg: ArrayLike,
    trend_deg: ArrayLike,
    plunge_deg: ArrayLike,
    reference: str = "low side",
) -> Array:
    """Poles of planes from the angles α and β measured on oriented core.

    Parameters
    ----------
    alpha_deg : array_like, shape (n,)
        Acute angle between core axis and plane, degrees, 0 to 90 (90: square to the core).
    beta_deg : array_like, shape (n,)
        Angle round the core, clockwise looking down the hole, from the reference line to the
        lower (down-hole) end of the long axis of the ellipse that the plane cuts, 0 to 360.
    trend_deg, plunge_deg : array_like, shape (n,)
        Direction of the hole there, degrees; plunge positive downward.
    reference : str
        Where the reference line lies: "low side", "high side", or "north" (holes within 10° of
        vertical). Vertical holes have no low or high side.

    Returns
    -------
    ndarray, shape (n, 3)
        Poles on the lower hemisphere.

    Raises
    ------
    InputError
        If an angle is out of range, lengths differ, or the reference is not defined there.

    Notes
    -----
    Derived from the geometry of the ellipse; checked against ellipses built point by point.

    Examples
    --------
    A vertical hole meets a plane that dips 60° to the east: 30° to the core, its lowest point
    on the east side of the wall. Looking down, east is clockwise of north:

    >>> import jointstats as js
    >>> dip, direction = js.dip_from_poles(js.orient_core(30, 90, 0, 90, "north"))
    >>> dip.round(6), direction.round(6)
    (array([60.]), array([90.]))
    """
    alpha = check_degrees(alpha_deg, "alpha_deg", 0, 90)
    beta = check_degrees(beta_deg, "beta_deg", 0, 360)
    lines = lines_from_trend(trend_deg, plunge_deg)
    n = max(len(alpha), len(beta), len(lines))
    if len(lines) not in (1, n):
        raise InputError(f"trend_deg and plunge_deg must have {n} values, or one; got {len(lines)}")
    lines = np.broadcast_to(lines, (n, 3))
    return poles_in_hole(
        _as_long(alpha, n, "alpha_deg"),
        _as_long(beta, n, "beta_deg"),
        lines,
        reference_lines(lines, reference),
    )


def _column(table: pd.DataFrame, name: str) -> Array:
    if name not in table:
        return np.full(len(table), np.nan)
    return table[name].to_numpy(dtype=np.float64)


def hole_directions(site: Site, table: pd.DataFrame) -> Array:
    """Direction of the hole at each row of a table with columns hole and depth_m.

    Parameters
    ----------
    site : Site
    table : pandas.DataFrame

    Returns
    -------
    ndarray, shape (n, 3)

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> hole_directions(site, site.fractures.head(1)).round(3) + 0.0
    array([[ 0.,  0., -1.]])
    """
    depth = table["depth_m"].to_numpy(dtype=np.float64)
    directions = np.empty((len(table), 3))
    names = [hole.name for hole in site.holes]
    rows = rows_of_holes(table["hole"].to_numpy(), names)
    for hole, own in zip(site.holes, rows, strict=True):
        directions[own] = hole.path.direction(depth[own])
    return directions


def orient_fractures(site: Site) -> pd.DataFrame:
    """Every fracture of a site with its true orientation, where it has one.

    Parameters
    ----------
    site : Site
        From `read_site`.

    Returns
    -------
    pandas.DataFrame
        The fractures of the site, in their order, and: true_dip_deg, true_dip_direction_deg,
        pole_east, pole_north, pole_up (empty where not oriented); oriented_from ("dip and dip
        direction", "alpha and beta", "not oriented"); hole_angle_deg, the acute angle between
        hole and plane there (90: the plane is square to the hole).

    Raises
    ------
    InputError
        If α and β are given and the reference line is not, or is not defined in a hole.

    Examples
    --------
    >>> import jointstats as js
    >>> table = js.orient_fractures(js.simulate_site(random_state=1))
    >>> bool((table["true_dip_deg"] - table["dip_deg"]).abs().max() < 1e-9)
    True
    """
    table = site.fractures
    directions = hole_directions(site, table)
    poles = np.full((len(table), 3), np.nan)
    source = np.full(len(table), "not oriented", dtype=object)
    dip, azimuth = _column(table, "dip_deg"), _column(table, "dip_direction_deg")
    true = ~np.isnan(dip) & (~np.isnan(azimuth) | (dip == 0))
    azimuth = (np.nan_to_num(azimuth) + site.settings.north_deg) % 360.0
    poles[true] = poles_from_dip(dip[true], azimuth[true])
    source[true] = "dip and dip direction"
    alpha, beta = _column(table, "alpha_deg"), _column(table, "beta_deg")
    core = ~true & ~np.isnan(alpha) & (~np.isnan(beta) | (alpha == 90))
    poles[core] = _core_poles(site, table[core], directions[core])
    source[core] = "alpha and beta"
    return _with_orientation(table, poles, source, directions, alpha)


def _core_poles(site: Site, table: pd.DataFrame, directions: Array) -> Array:
    alpha, beta = _column(table, "alpha_deg"), np.nan_to_num(_column(table, "beta_deg"))
    poles = np.empty((len(table), 3))
    references = site.references(table)
    for reference in dict.fromkeys(references):
        own = references == reference
        if not reference:
            raise InputError(
                "alpha_deg and beta_deg are given, but not where the reference line lies; "
                'set reference to "low side", "high side" or "north" in site.toml'
            )
        lines = reference_lines(directions[own], reference, north_deg=site.settings.north_deg)
        poles[own] = poles_in_hole(alpha[own], beta[own], directions[own], lines)
    return poles


def _with_orientation(
    table: pd.DataFrame, poles: Array, source: NDArray, directions: Array, alpha: Array
) -> pd.DataFrame:
    oriented = ~np.isnan(poles[:, 2])
    dip, direction = np.full((2, len(table)), np.nan)
    dip[oriented], direction[oriented] = dip_from_poles(poles[oriented])
    angle = alpha.copy()
    along = np.abs((poles[oriented] * directions[oriented]).sum(axis=1))
    across = np.linalg.norm(np.cross(poles[oriented], directions[oriented]), axis=1)
    angle[oriented] = np.degrees(np.arctan2(along, across))
    return table.assign(
        true_dip_deg=dip,
        true_dip_direction_deg=direction,
        pole_east=poles[:, 0],
        pole_north=poles[:, 1],
        pole_up=poles[:, 2],
        oriented_from=source,
        hole_angle_deg=angle,
    )
