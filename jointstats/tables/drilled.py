"""What is known of the holes of a site while its tables are read."""

from __future__ import annotations

from dataclasses import dataclass, field

from jointstats.borehole.hole import LoggedInterval
from jointstats.borehole.path import HolePath
from jointstats.errors import Fault

#: Depths that differ by less are the same: rounding in tables, metres.
SAME_DEPTH_M = 1e-6


@dataclass
class Drilled:
    """What is known of the holes, and where it is not sure because of a fault.

    Parameters
    ----------
    paths : dict of str to HolePath
    lengths : dict of str to float
        Length of each hole in metres, NaN where not known.
    intervals : dict of str to list of LoggedInterval
    lost : dict of str to list of (float, float)
        Lengths of which no core came out.
    whole : bool
        There is no table of logged lengths, so each hole counts as logged whole.
    unsure : set of str
        Holes with a fault in their logged lengths: rows are not judged by them.
    faults : list of Fault
    notes : list of str

    Examples
    --------
    >>> Drilled().paths
    {}
    """

    paths: dict[str, HolePath] = field(default_factory=dict)
    lengths: dict[str, float] = field(default_factory=dict)
    intervals: dict[str, list[LoggedInterval]] = field(default_factory=dict)
    lost: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    whole: bool = False
    unsure: set[str] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
