"""A hole: where it goes, how long it is, and which lengths of it were really seen."""

from __future__ import annotations

from dataclasses import dataclass

from jointstats.borehole.path import HolePath


@dataclass(frozen=True)
class LoggedInterval:
    """A length of hole that was seen.

    Parameters
    ----------
    from_m, to_m : float
        Its ends, metres along the hole.
    method : str
        How it was seen: "image", "core" or "scanline".

    Examples
    --------
    >>> LoggedInterval(3.0, 12.5, "core").length_m
    9.5
    """

    from_m: float
    to_m: float
    method: str

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
