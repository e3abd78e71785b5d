"""A mapped face: the window on its plane, and how planes cut it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.checks import as_numbers, check_number, real_array
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import as_azimuth, lines_from_trend, poles_from_dip
from jointstats.types import Array, ArrayLike

#: An end this near to the outline, metres, is where the window cut the trace.
ON_OUTLINE_M = 0.02
_NO_CORNER = 1e-9


class Face(Result):
    """A window on a plane of rock.

    Points of the plane are given in metres across (level, along the strike that has the dip to its
    right) and up (up the dip), from any origin.

    Parameters
    ----------
    name : str
    dip_deg, dip_direction_deg : float
        Attitude of the plane, degrees, from true north. An overhanging face is that of its plane.
    outline_m : ndarray, shape (m, 2)
        Corners of the window in order, across and up.
    origin : tuple of (float, float, float) or None
        Easting, northing and elevation of the origin, metres.

    Raises
    ------
    InputError
        If an angle is out of range, or the corners enclose nothing or cross.

    Examples
    --------
    >>> Face.rectangle("F1", 90, 0, 6.0, 2.5).area_m2
    15.0
    """

    _SHORT = "{name}, dip {dip_deg:.0f}, dip direction {dip_direction_deg:03.0f}"

    name: str
    dip_deg: float
    dip_direction_deg: float
    outline_m: Array
    origin: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        as_numbers([self.dip_deg], "dip_deg", low=0.0, high=90.0)
        check_number(self.dip_direction_deg, "dip_direction_deg")
        corners = real_array(self.outline_m, "outline_m")
        wrong = outline_rule(corners)
        if wrong is not None:
            raise InputError(f"outline_m {wrong}")
        object.__setattr__(self, "outline_m", corners if _doubled(corners) > 0 else corners[::-1])
        super().__post_init__()

    @classmethod
    def rectangle(
        cls, name: str, dip_deg: float, dip_direction_deg: float, width_m: float, height_m: float
    ) -> Face:
        """A rectangle of this width across and height up the dip, its corner at the origin."""
        width = check_number(width_m, "width_m", low=0.0, open_end=True)
        height = check_number(height_m, "height_m", low=0.0, open_end=True)
        corners = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
        return cls(name, dip_deg, dip_direction_deg, corners)

    @property
    def area_m2(self) -> float:
        """Area of the window, m²."""
        return 0.5 * _doubled(self.outline_m)

    @property
    def pole(self) -> Array:
        """Pole of the face, (3,)."""
        return poles_from_dip(self.dip_deg, self.dip_direction_deg)[0]

    @property
    def axes(self) -> Array:
        """Unit vectors across and up, (2, 3)."""
        strike = float(as_azimuth(self.dip_direction_deg - 90.0))
        across = lines_from_trend(strike, 0.0)[0]
        return np.array([across, -lines_from_trend(self.dip_direction_deg, self.dip_deg)[0]])

    @property
    def is_convex(self) -> bool:
        """Whether the window has no corner that points inward."""
        sides = np.roll(self.outline_m, -1, axis=0) - self.outline_m
        return bool((_cross(sides, np.roll(sides, -1, axis=0)) >= -_NO_CORNER).all())

    def sines(self, poles: ArrayLike) -> Array:
        """Sine of the angle between the face and planes of these poles (n, 3), shape (n,)."""
        cosines = np.asarray(poles, dtype=float) @ self.pole
        return np.sqrt(np.clip(1.0 - cosines**2, 0.0, 1.0))

    def trace_lines(self, poles: ArrayLike) -> Array:
        """Directions across and up of the traces that planes leave, unit vectors (n, 2)."""
        lines = np.cross(np.asarray(poles, dtype=float), self.pole) @ self.axes.T
        size = np.linalg.norm(lines, axis=1, keepdims=True)
        return lines / np.where(size > 0, size, 1.0)

    def breadths_m(self, lines: Array) -> Array:
        """Breadth of the window square to directions (n, 2) in its plane, metres (n,)."""
        square = np.column_stack([-lines[:, 1], lines[:, 0]])
        along = square @ self.outline_m.T
        return np.ptp(along, axis=1)

    def outline_distances_m(self, points: Array) -> Array:
        """Distance of points (n, 2) from the outline, metres (n,); negative outside of it."""
        start, side = self.outline_m, np.roll(self.outline_m, -1, axis=0) - self.outline_m
        offset = points[:, np.newaxis] - start
        share = np.clip((offset * side).sum(2) / (side**2).sum(1), 0.0, 1.0)
        away = np.linalg.norm(offset - share[..., np.newaxis] * side, axis=2).min(axis=1)
        # A ray to the right crosses the outline an odd number of times from within.
        above = start[:, 1] > points[:, 1:2]
        spans = above != np.roll(above, -1, axis=1)
        rise = np.where(side[:, 1] == 0, 1.0, side[:, 1])
        crossing = start[:, 0] + (points[:, 1:2] - start[:, 1]) * side[:, 0] / rise
        inside = (spans & (points[:, :1] < crossing)).sum(axis=1) % 2 == 1
        return np.where(inside, away, -away)


def outline_rule(corners: Array) -> str | None:
    """What is wrong with corners of an outline, in words; None if they enclose an area."""
    if corners.ndim != 2 or corners.shape[1] != 2 or len(corners) < 3:
        return f"needs three corners or more, each across and up; got shape {corners.shape}"
    if not np.isfinite(corners).all():
        return "must be finite"
    following = np.roll(corners, -1, axis=0)
    for first in range(len(corners)):
        for other in range(first + 1, len(corners)):
            if _sides_cross(corners[first], following[first], corners[other], following[other]):
                return f"crosses itself: side {first + 1} and side {other + 1}; give corners in order"
    if abs(_doubled(corners)) <= _NO_CORNER:
        return "encloses no area; give its corners in order"
    return None


def _cross(first: Array, second: Array) -> Array:
    return first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]


def _doubled(corners: Array) -> float:
    """Twice the area that corners enclose, negative where they run clockwise."""
    return float(_cross(corners, np.roll(corners, -1, axis=0)).sum())


def _sides_cross(a: Array, b: Array, c: Array, d: Array) -> bool:
    """Whether two sides cross inside of both."""
    sides: NDArray[np.float64] = np.array(
        [_cross(b - a, c - a), _cross(b - a, d - a), _cross(d - c, a - c), _cross(d - c, b - c)]
    )
    return bool(sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0)
