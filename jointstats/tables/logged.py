"""The logged lengths of each hole and its whole length, and rows that lie outside them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.hole import LoggedInterval
from jointstats.borehole.path import HolePath
from jointstats.borehole.rows import listed_rows
from jointstats.borehole.spans import Spans
from jointstats.errors import Fault
from jointstats.schema import METHODS
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable

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
    starts : dict of str to (float, float, float)
        Start of each circle from its centre: east, north, up, metres.
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
    starts: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    lost: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    whole: bool = False
    unsure: set[str] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def set_logged(
    drilled: Drilled, tables: dict[str, RawTable], names: HoleNames, broken: set[str]
) -> None:
    logged = tables.get("logged")
    drilled.intervals = {name: [] for name in names.row}
    drilled.whole = logged is None
    if "logged" in broken | names.unknown_in:
        drilled.unsure = set(names.row)
    if logged is None:
        return
    start, end = logged.numbers("from_m"), logged.numbers("to_m")
    method, wrong = logged.words("method"), logged.wrong()
    if logged.nameless:
        drilled.unsure = set(names.row)
    known = list(names.row)
    for name, own in zip(known, logged.rows_of(known), strict=True):
        if wrong[own].any():
            drilled.unsure.add(name)
        for row in own[~wrong[own]]:
            if start[row] >= end[row]:
                begins = logged.told("from_m", start[row])
                rule = f"a logged length ends below its start, and from_m is {begins}"
                drilled.faults.append(logged.fault(int(row), "to_m", float(end[row]), rule))
                drilled.unsure.add(name)
        fine = own[~wrong[own] & (start[own] < end[own])]
        for row in _overlapping(drilled, logged, fine, drilled.lengths[name]):
            drilled.unsure.add(name)
            fine = fine[fine != row]
        drilled.intervals[name] = sorted(
            (LoggedInterval(float(start[row]), float(end[row]), str(method[row])) for row in fine),
            key=lambda one: (one.from_m, one.to_m, one.method),
        )


def _overlapping(
    drilled: Drilled, logged: RawTable, own: NDArray[np.intp], length: float
) -> list[int]:
    """Rows of one hole that overlap an earlier length of their method."""
    start, end = logged.numbers("from_m"), logged.numbers("to_m")
    method = logged.words("method")
    found = []
    for one in dict.fromkeys(method[own]):
        rows = own[method[own] == one]
        rows = rows[np.argsort(start[rows], kind="stable")]
        deepest = rows[:1]
        for row in rows[1:]:
            before = int(deepest[0])
            if end[before] > length + SAME_DEPTH_M:
                deepest = np.array([row])  # a fault of its own
            elif start[row] < end[before] - SAME_DEPTH_M:
                rule = (
                    f"the length overlaps that of row {logged.lines[before]} "
                    f"({logged.told('from_m', start[before])} to "
                    f"{logged.told('to_m', end[before])}, {one})"
                )
                drilled.faults.append(logged.fault(int(row), "from_m", float(start[row]), rule))
                found.append(int(row))
            elif end[row] > end[before]:
                deepest = np.array([row])
    return found


def set_lengths(
    drilled: Drilled, tables: dict[str, RawTable], names: HoleNames, broken: set[str]
) -> None:
    holes = tables["holes"]
    length, wrong = holes.numbers("length_m"), holes.wrong("length_m")
    for name, at in names.row.items():
        logged = drilled.intervals[name]
        drilled.lengths[name] = float(length[at])
        if not np.isnan(length[at]) or wrong[at]:
            continue
        if logged:
            drilled.lengths[name] = max(one.to_m for one in logged)
        elif name not in drilled.unsure:
            rule = (
                "the length is not known; give length_m here, or the logged lengths in logged"
            )
            value = "" if holes.has("length_m") else name
            drilled.faults.append(holes.fault(at, "length_m", value, rule))
    missing = [f for f in drilled.faults if f.column == "length_m"]
    if not holes.has("length_m") and len(missing) > 1:
        drilled.faults = [f for f in drilled.faults if f.column != "length_m"]
        rule = missing[0].rule.replace("the length is", "the lengths of the holes are")
        drilled.faults.append(Fault(holes.file, holes.header_line, "length_m", "", rule))


def whole_holes(drilled: Drilled, methods: dict[str, tuple[str, ...]]) -> None:
    """Take each hole as logged over its whole length, and say so.

    `drilled`: its intervals and notes are added to; `methods`: how each hole was logged.
    """
    for name, length in drilled.lengths.items():
        drilled.intervals[name] = [LoggedInterval(0.0, length, one) for one in methods[name]]
    drilled.notes.append(
        "There is no table logged, so every hole is taken as logged over its whole length: lost "
        "core, casing and bad images are not allowed for, and frequencies may be too low."
    )


def beyond_faults(
    drilled: Drilled, tables: dict[str, RawTable], names: HoleNames
) -> tuple[list[Fault], set[str]]:
    """Rows that lie deeper than their hole is long.

    Gives `faults`: one a row; one a hole where many rows lie deeper, as its length is then in
    doubt; `holes`: the holes concerned.
    """
    deeper: dict[str, list[tuple[RawTable, str, NDArray[np.intp]]]] = {}
    for name, column in (("surveys", "depth_m"), ("logged", "to_m"), ("fractures", "depth_m")):
        table = tables.get(name)
        if table is None or not table.has("hole", column):
            continue
        depth, known = table.numbers(column), list(names.row)
        for hole, own in zip(known, table.rows_of(known), strict=True):
            beyond = own[depth[own] > drilled.lengths[hole] + SAME_DEPTH_M]
            if len(beyond):
                deeper.setdefault(hole, []).append((table, column, beyond))
    faults = []
    for hole, found in deeper.items():
        faults += _deeper_faults(hole, drilled.lengths[hole], found, tables, names)
    return faults, set(deeper)


def _deeper_faults(
    hole: str,
    length: float,
    found: list[tuple[RawTable, str, NDArray[np.intp]]],
    tables: dict[str, RawTable],
    names: HoleNames,
) -> list[Fault]:
    count = sum(len(rows) for _, _, rows in found)
    holes = tables["holes"]
    if count > 3 or len(found) > 1:
        listed = ", ".join(f"{t.file} {listed_rows(t.lines[rows])}" for t, _, rows in found)
        deepest = max(table.numbers(column)[rows].max() for table, column, rows in found)
        rule = (
            f"hole {hole!r} is given as {holes.told('length_m', length)} long, and rows lie "
            f"deeper, down to {holes.told('length_m', deepest)}: {listed}; correct the length or the depths"
        )
        return [holes.fault(names.row[hole], "length_m", float(length), rule)]
    rule = f"hole {hole!r} is {holes.told('length_m', length)} long, so this lies beyond its end"
    return [
        table.fault(int(row), column, float(table.numbers(column)[row]), rule)
        for table, column, rows in found
        for row in rows
    ]


def logged_faults(
    table: RawTable, names: HoleNames, drilled: Drilled, beyond: set[str]
) -> list[Fault]:
    """Fractures at depths that their method did not log.

    `table`: the fractures; `beyond`: holes whose length is in doubt. Gives one for each hole and
    method with such rows.
    """
    if drilled.whole:
        return []
    depth, method = table.numbers("depth_m"), table.codes("method", METHODS)
    wrong = table.wrong("depth_m", "method")
    faults = []
    for hole, own in zip(names.row, table.rows_of(list(names.row)), strict=True):
        if hole in drilled.unsure or hole in beyond:
            continue
        own = own[~wrong[own]]
        for code, one in enumerate(METHODS + ("",)):
            # The code of an empty cell is −1.
            rows = own[method[own] == (code if one else -1)]
            faults += _outside(
                table, drilled, hole, one, rows[~_seen(drilled, hole, one, depth[rows])]
            )
    return faults


def _seen(
    drilled: Drilled, hole: str, method: str, depth: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether depths lie in a logged length of a method (of any, if it is not named)."""
    intervals = [one for one in drilled.intervals[hole] if method in ("", one.method)]
    inside = np.zeros(len(depth), dtype=bool)
    for one in intervals:
        inside |= (depth >= one.from_m - SAME_DEPTH_M) & (depth <= one.to_m + SAME_DEPTH_M)
    return inside


def _outside(
    table: RawTable, drilled: Drilled, hole: str, method: str, rows: NDArray[np.intp]
) -> list[Fault]:
    if not len(rows):
        return []
    by = f" by {method}" if method else ""
    more = f" ({listed_rows(table.lines[rows])})" if len(rows) > 1 else ""
    lost = Spans(drilled.lost.get(hole, ())).holds(table.numbers("depth_m")[rows])
    if not drilled.intervals[hole]:
        rule = f"hole {hole!r} has no row in logged, so nothing of it counts as logged{more}"
    elif lost.all():
        rule = f"hole {hole!r} has no core there, as zones says{more}; correct one of the two"
    else:
        rule = f"hole {hole!r} was not logged{by} at this depth{more}; correct it or logged"
    return [table.fault(int(rows[0]), "depth_m", float(table.numbers("depth_m")[rows[0]]), rule)]
