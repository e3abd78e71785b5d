"""The path of a hole through the rock, from its survey, by minimum curvature.

Between two stations the hole is taken as an arc of a circle that leaves along the direction at
the first and arrives along the direction at the second; above the first station and below the
last it is straight. With θ the angle between the two directions, d₀ the first, t the unit vector
square to it in the plane of both, and f the share of the length L between them,

    direction = cos(fθ) d₀ + sin(fθ) t
    position  = (L/θ) [sin(fθ) d₀ + (1 − cos(fθ)) t]

which is the ratio-factor form of the drilling literature, written so that θ may be zero.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth, lines_from_trend, trend_from_lines
from jointstats.types import Array, ArrayLike


def _turns(directions: Array) -> tuple[Array, Array]:
    """Angle from each direction to the next, and the unit vector square to it that it turns to."""
    if len(directions) == 1:
        return np.empty(0), np.empty((0, 3))
    first, second = directions[:-1], directions[1:]
    # What of the next direction is square to this one: the arc turns toward it.
    across = second - (first * second).sum(axis=1, keepdims=True) * first
    # Once more, so that the normal stays square to a direction it nearly equals.
    across -= (across * first).sum(axis=1, keepdims=True) * first
    sine = np.linalg.norm(across, axis=1)
    # Not the arc cosine, which loses half of the digits for the small turns that surveys have.
    turn = np.arctan2(sine, (first * second).sum(axis=1))
    if (turn > np.radians(179.999)).any():
        at = int(np.flatnonzero(turn > np.radians(179.999))[0])
        raise InputError(
            f"stations {at} and {at + 1} point opposite ways, so the hole between them is not "
            "known; check the survey or add a station"
        )
    normal = np.divide(
        across, sine[:, np.newaxis], out=np.zeros_like(across), where=sine[:, np.newaxis] > 0
    )
    return turn, normal


class HolePath:
    """A hole as arcs between the stations of its survey (minimum curvature).

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths of the stations along the hole from the collar, metres, rising. One station makes
        a straight hole.
    trend_deg : array_like, shape (n,)
        Trend of the hole at each station, degrees clockwise from north, 0 to 360.
    plunge_deg : array_like, shape (n,)
        Plunge at each station, degrees, −90 to 90, positive downward.

    Attributes
    ----------
    depth_m : ndarray, shape (n,)
        Depths of the stations.
    directions : ndarray, shape (n, 3)
        Directions at the stations, east, north, up.

    Raises
    ------
    InputError
        If there is no station, depths do not rise, lengths differ, an angle is out of range, or
        two stations point opposite ways.

    Notes
    -----
    Minimum curvature: Taylor & Mason (1972), SPE 3362 (from memory).

    Examples
    --------
    A hole that turns evenly from vertical to level over a quarter circle of 90 m ends as far
    east as it is deep:

    >>> path = HolePath([0, 90], [90, 90], [90, 0])
    >>> path.position(90).round(3) + 0.0
    array([[ 57.296,   0.   , -57.296]])
    >>> path.direction(45).round(3) + 0.0
    array([[ 0.707,  0.   , -0.707]])
    """

    def __init__(self, depth_m: ArrayLike, trend_deg: ArrayLike, plunge_deg: ArrayLike) -> None:
        depths = as_numbers(depth_m, "depth_m", low=0)
        if len(depths) == 0:
            raise InputError("depth_m needs at least one station; give one for a straight hole")
        for name, values in (("trend_deg", trend_deg), ("plunge_deg", plunge_deg)):
            if np.size(values) != len(depths):
                raise InputError(
                    f"{name} must have one value a station ({len(depths)}); got {np.size(values)}"
                )
        if (np.diff(depths) <= 0).any():
            at = int(np.flatnonzero(np.diff(depths) <= 0)[0]) + 1
            raise InputError(
                f"depth_m must rise from station to station; station {at} stands at "
                f"{depths[at]:g} m after {depths[at - 1]:g} m"
            )
        self.depth_m = depths
        self.directions = lines_from_trend(trend_deg, plunge_deg)
        self._set_arcs()

    def _set_arcs(self) -> None:
        """Turn and normal of each arc, and position of each station.

        Arcs are padded with a straight one at either end, so that a look-up needs no cases.
        """
        turn, normal = _turns(self.directions)
        # Straight from the collar to the first station and on from the last: nothing was measured there.
        self._turn = np.concatenate([[0.0], turn, [0.0]])
        self._normal = np.vstack([np.zeros(3), normal, np.zeros(3)])
        self._start_m = np.concatenate([[0.0], self.depth_m])
        # The last piece has no end; a length of one keeps a division from failing, and its turn is zero.
        self._length_m = np.concatenate([np.diff(self._start_m), [1.0]])
        self._start_direction = np.vstack([self.directions[:1], self.directions])
        self._start = np.zeros((len(self._start_m), 3))
        ends = self._along(np.arange(len(self.depth_m)), self._length_m[:-1])
        self._start[1:] = np.cumsum(ends, axis=0)

    def _along(self, arc: NDArray[np.intp], metres: Array) -> Array:
        """Way made good from the start of an arc, `metres` along it."""
        length = self._length_m[arc]
        share = np.divide(metres, length, out=np.zeros_like(metres), where=length > 0)
        # A chord of an arc of angle x is the length times (sin x / x) forward and ((1 − cos x) / x) sideways.
        half = 0.5 * share * self._turn[arc]
        # sin(x)/x and (1 − cos x)/x at x = 2·half, without dividing by zero.
        forward = np.sinc(2.0 * half / np.pi)
        sideways = np.sin(half) * np.sinc(half / np.pi)
        return metres[:, np.newaxis] * (
            forward[:, np.newaxis] * self._start_direction[arc]
            + sideways[:, np.newaxis] * self._normal[arc]
        )

    def _arc_at(self, depths: Array) -> NDArray[np.intp]:
        return np.searchsorted(self._start_m[1:], depths, side="right")

    def __repr__(self) -> str:
        n = len(self.depth_m)
        last = f"{self.depth_m[-1]:g} m"
        return f"HolePath({n} station{'s' if n > 1 else ''}, the last at {last})"

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, HolePath):
            return NotImplemented
        return np.array_equal(self.depth_m, other.depth_m) and np.array_equal(
            self.directions, other.directions
        )

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    def direction(self, depth_m: ArrayLike) -> Array:
        """Direction of the hole at depths.

        Parameters
        ----------
        depth_m : array_like, shape (n,) or scalar
            Depths along the hole, metres, zero or more.

        Returns
        -------
        ndarray, shape (n, 3)
            Unit vectors down the hole, east, north, up.

        Raises
        ------
        InputError
            If a depth is not a number, not finite or negative.
        """
        depths = as_numbers(depth_m, "depth_m", low=0)
        arc = self._arc_at(depths)
        length = self._length_m[arc]
        share = np.divide(
            depths - self._start_m[arc], length, out=np.zeros_like(depths), where=length > 0
        )
        # Along an arc the direction turns evenly with the metres (minimum curvature).
        turned = (share * self._turn[arc])[:, np.newaxis]
        rows = np.cos(turned) * self._start_direction[arc] + np.sin(turned) * self._normal[arc]
        return rows / np.linalg.norm(rows, axis=1, keepdims=True)

    def position(self, depth_m: ArrayLike) -> Array:
        """Place of the hole at depths, from its collar.

        Parameters
        ----------
        depth_m : array_like, shape (n,) or scalar
            Depths along the hole, metres, zero or more.

        Returns
        -------
        ndarray, shape (n, 3)
            East, north and up of the collar, metres.

        Raises
        ------
        InputError
            If a depth is not a number, not finite or negative.
        """
        depths = as_numbers(depth_m, "depth_m", low=0)
        arc = self._arc_at(depths)
        return self._start[arc] + self._along(arc, depths - self._start_m[arc])

    def segments(
        self, from_m: float, to_m: float, max_turn_deg: float = 2.0
    ) -> tuple[Array, Array]:
        """A length of the hole as straight pieces that turn little.

        Parameters
        ----------
        from_m, to_m : float
            Ends of the length, metres along the hole.
        max_turn_deg : float
            Most that the hole turns within one piece, degrees.

        Returns
        -------
        directions : ndarray, shape (m, 3)
            Direction at the middle of each piece.
        lengths : ndarray, shape (m,)
            Length of each piece along the hole, metres; they sum to `to_m` − `from_m`.

        Raises
        ------
        InputError
            If the length is not positive or the turn is not.
        """
        low, high = as_numbers([from_m, to_m], "from_m and to_m", low=0)
        if not low < high:
            raise InputError(f"from_m must lie above to_m; got {low:g} and {high:g}")
        if not max_turn_deg > 0:
            raise InputError(f"max_turn_deg must be more than 0; got {max_turn_deg}")
        inside = self._start_m[(self._start_m > low) & (self._start_m < high)]
        cuts = np.concatenate([[low], inside, [high]])
        arc = self._arc_at(cuts[:-1])
        # Each piece counts in the exposure by one direction, so none may bend much.
        turn = np.degrees(self._turn[arc]) * np.diff(cuts) / self._length_m[arc]
        # The last arc is straight, so its length of one is never used.
        pieces = np.maximum(np.ceil(turn / max_turn_deg - 1e-9), 1).astype(int)
        ends = [
            np.linspace(a, b, n + 1)[1:]
            for a, b, n in zip(cuts[:-1], cuts[1:], pieces, strict=True)
        ]
        edges = np.concatenate([[low], *ends])
        return self.direction(0.5 * (edges[1:] + edges[:-1])), np.diff(edges)


def circle_path(
    radius_m: float, face_dip_deg: float, face_dip_direction_deg: float
) -> tuple[HolePath, Array]:
    """The path once round a circle on a face, and its start from the centre, (3,), metres.

    It starts level with the centre, a quarter turn left of the dip direction (along the strike that has
    the dip to its right), and goes down the dip first. Stations stand so close that the arcs between
    them are the circle.
    """
    strike = float(as_azimuth(face_dip_direction_deg - 90.0))
    along = lines_from_trend(strike, 0.0)[0]
    down = lines_from_trend(face_dip_direction_deg, face_dip_deg)[0]
    turn = np.linspace(0.0, 2.0 * np.pi, _CIRCLE_STATIONS + 1)[:, np.newaxis]
    # The tangent of a circle that starts on the strike line and runs down the dip.
    trend, plunge = trend_from_lines(np.cos(turn) * down - np.sin(turn) * along)
    return HolePath(radius_m * turn.ravel(), trend, plunge), radius_m * along


#: Stations round a circle.
_CIRCLE_STATIONS = 36
