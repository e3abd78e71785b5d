"""A hole: where it goes, how long it is, and which lengths of it were really seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from jointstats.borehole.path import HolePath
from jointstats.borehole.rows import rows_of_holes
from jointstats.borehole.spans import Spans
from jointstats.types import Array

#: Where a fracture was met, metres; empty where the collar of its hole is not known.
PLACE_COLUMNS = ("easting_m", "northing_m", "elevation_m")


@dataclass(frozen=True)
class LoggedInterval:
    """A length of hole that was seen.

    Parameters
    ----------
    from_m, to_m : float
        Its ends, metres along the hole.
    method : str
        How it was seen: "image", "core" or "scanline".
    recovered : float
        Share of its core that came out, somewhere in it, above 0 up to 1.

    Examples
    --------
    >>> LoggedInterval(3.0, 12.5, "core").length_m
    9.5
    """

    from_m: float
    to_m: float
    method: str
    recovered: float = 1.0

    @property
    def length_m(self) -> float:
        """Length in metres."""
        return self.to_m - self.from_m


@dataclass(frozen=True)
class Hole:
    """One hole of a site.

    Parameters
    ----------
    name : str
    path : HolePath
    length_m : float
        Metres along the hole.
    diameter_mm : float or None
    collar : tuple of float or None
        East, north and elevation of the collar, metres; None where one of them is not known.
    logged : tuple of LoggedInterval
        By depth.
    reference : str or None
        Where the reference line of readings in this hole lies; None takes that of the site.
    lost : tuple of (float, float)
        Lengths of which no core came out, metres along the hole.
    kind : str
        "borehole", or "scanline": a line of no thickness on an outcrop or a wall.

    Examples
    --------
    >>> hole = Hole("B1", HolePath([0], [0], [90]), 30.0, None, None, ())
    >>> hole.name, hole.length_m
    ('B1', 30.0)
    """

    name: str
    path: HolePath
    length_m: float
    diameter_mm: float | None
    collar: tuple[float, float, float] | None
    logged: tuple[LoggedInterval, ...]
    reference: str | None = None
    lost: tuple[tuple[float, float], ...] = ()
    kind: str = "borehole"

    @property
    def logged_m(self) -> float:
        """Metres that some method saw, each counted once."""
        # A metre that two methods logged is one metre of hole.
        return Spans([(one.from_m, one.to_m) for one in self.logged]).total_m

    @property
    def methods(self) -> str:
        """How it was seen, in words."""
        return " and ".join(dict.fromkeys(one.method for one in self.logged))

    def logged_on(self, method: str) -> Spans:
        """The lengths that one method saw."""
        return Spans([(one.from_m, one.to_m) for one in self.logged if one.method == method])

    @property
    def logged_rows(self) -> list[dict[str, object]]:
        """Its logged lengths as rows of the table logged."""
        return [
            {"hole": self.name, "from_m": one.from_m, "to_m": one.to_m, "method": one.method}
            for one in self.logged
        ]

    def within(self, lengths: Spans) -> Hole:
        """The same hole, of which only these lengths count as logged, or as lost."""
        logged = [
            replace(one, from_m=low, to_m=high)
            for one in self.logged
            for low, high in lengths.both(Spans([(one.from_m, one.to_m)]))
        ]
        # In the order that reading the tables gives, so that a part of a site equals the same part read.
        logged.sort(key=lambda one: (one.from_m, one.to_m, one.method))
        return replace(self, logged=tuple(logged), lost=tuple(lengths.both(Spans(self.lost))))

    def position(self, depth_m: Array, convergence_deg: float = 0.0) -> Array:
        """Easting, northing and elevation at depths (n,), as (n, 3); NaN where the collar is not known.

        `convergence_deg`: bearing from true north of the north that coordinates are of; the path is of
        true north.
        """
        if self.collar is None:
            return np.full((len(depth_m), 3), np.nan)
        east, north, up = self.path.position(depth_m).T
        # The path runs by true north and the collar by grid north, which lies by the convergence to the east of it: seen from
        # the grid, the path turns the other way.
        turn = np.radians(convergence_deg)
        easting = east * np.cos(turn) - north * np.sin(turn)
        northing = east * np.sin(turn) + north * np.cos(turn)
        return np.asarray(np.column_stack([easting, northing, up]) + self.collar)


def places_in_holes(
    holes: Sequence[Hole], table: pd.DataFrame, convergence_deg: float
) -> dict[str, Array]:
    """Easting, northing and elevation of rows with hole and depth_m; NaN where a collar is not known."""
    depth = table["depth_m"].to_numpy(dtype=np.float64)
    places = np.full((len(table), 3), np.nan)
    names = [hole.name for hole in holes]
    for hole, own in zip(holes, rows_of_holes(table["hole"], names), strict=True):
        places[own] = hole.position(depth[own], convergence_deg)
    return dict(zip(PLACE_COLUMNS, places.T, strict=True))
