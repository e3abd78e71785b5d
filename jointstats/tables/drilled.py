"""The holes of a site from its tables: directions, lengths and logged intervals, checked."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.path import HolePath
from jointstats.borehole.rows import listed_rows
from jointstats.borehole.settings import SiteSettings
from jointstats.errors import Fault, InputError
from jointstats.tables.names import HoleNames
from jointstats.tables.table import Table

__all__ = ["Drilled", "drill"]

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
    whole: bool = False
    unsure: set[str] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def drill(
    tables: dict[str, Table], names: HoleNames, settings: SiteSettings, broken: set[str]
) -> Drilled:
    """Put the holes together from holes.csv, surveys.csv and logged.csv.

    Parameters
    ----------
    tables : dict of str to Table
        Checked tables.
    names : HoleNames
    settings : SiteSettings
    broken : set of str
        Tables that are there and could not be read.

    Returns
    -------
    Drilled

    Examples
    --------
    >>> from jointstats.tables.columns import TABLES, check_cells
    >>> from jointstats.tables.table import parse_table
    >>> data = b"hole,trend_deg,plunge_deg,length_m\\nB1,0,90,30\\n"
    >>> table, _ = parse_table("holes.csv", data, {"trend_deg", "plunge_deg", "length_m"}, {"hole"})
    >>> _ = check_cells(table, TABLES["holes"])
    >>> drill({"holes": table}, HoleNames({"B1": 0}, frozenset()), SiteSettings(), set()).lengths
    {'B1': 30.0}
    """
    drilled = Drilled()
    given = tables["holes"].numbers("length_m")
    drilled.lengths = {name: float(given[at]) for name, at in names.row.items()}
    _set_paths(drilled, tables, names, settings, broken)
    _set_logged(drilled, tables, names, broken)
    _set_lengths(drilled, tables, names, broken)
    return drilled


def _collar_stations(
    drilled: Drilled, holes: Table, names: HoleNames, north_deg: float
) -> dict[str, tuple[float, float] | None]:
    """Trend and plunge at the collar; None where holes.csv gives none; absent where it is wrong."""
    trend, plunge = holes.numbers("trend_deg"), holes.numbers("plunge_deg")
    trend = np.where(np.isnan(trend) & (np.abs(plunge) == 90), 0.0, trend)  # vertical: no trend
    wrong = holes.wrong("trend_deg", "plunge_deg")
    lone = [name for name in ("trend_deg", "plunge_deg") if holes.has(name)]
    if len(lone) == 1:
        other = "plunge_deg" if lone[0] == "trend_deg" else "trend_deg"
        rule = f"the column is missing beside {lone[0]}; a direction needs both"
        drilled.faults.append(Fault(holes.file, holes.header_line, other, "", rule))
        return {}
    stations: dict[str, tuple[float, float] | None] = {}
    for name, at in names.row.items():
        if wrong[at]:
            continue
        if np.isnan(trend[at]) != np.isnan(plunge[at]):
            column = "trend_deg" if np.isnan(trend[at]) else "plunge_deg"
            rule = "the cell is empty; a direction needs trend_deg and plunge_deg"
            drilled.faults.append(holes.fault(at, column, "", rule))
            continue
        turned = (trend[at] + north_deg) % 360.0
        stations[name] = None if np.isnan(trend[at]) else (turned, plunge[at])
    return stations


def _set_paths(
    drilled: Drilled,
    tables: dict[str, Table],
    names: HoleNames,
    settings: SiteSettings,
    broken: set[str],
) -> None:
    holes, surveys = tables["holes"], tables.get("surveys")
    collars = _collar_stations(drilled, holes, names, settings.bearing_of("holes"))
    known = list(names.row)
    rows = surveys.rows_of(known) if surveys is not None else []
    straight = []
    for place, name in enumerate(known):
        own = rows[place] if surveys is not None else np.empty(0, dtype=int)
        if name not in collars or (surveys is not None and surveys.wrong()[own].any()):
            continue
        stations = [(0.0, *collars[name])] if collars[name] is not None else []
        if len(own):
            stations = _surveyed(drilled, surveys, own, stations, settings, drilled.lengths[name])
        elif stations:
            straight.append(name)
        elif "surveys" not in broken | names.unknown_in and not _nameless(surveys):
            _no_direction(drilled, holes, names, name)
        if stations:
            _set_path(drilled, name, stations, tables, own)
    if straight:
        drilled.notes.append(
            f"No survey, so taken as straight along the direction of the collar: "
            f"{', '.join(straight)}."
        )


def _nameless(table: Table | None) -> bool:
    """Whether a row lacks the name of its hole, so that any hole may be the one it is about."""
    return table is not None and bool(table.wrong("hole").any())


def _no_direction(drilled: Drilled, holes: Table, names: HoleNames, name: str) -> None:
    rule = "a hole needs trend_deg and plunge_deg here, or rows in surveys.csv"
    if holes.has("trend_deg"):
        drilled.faults.append(
            holes.fault(names.row[name], "trend_deg", "", f"the hole has no direction; {rule}")
        )
    elif not any(fault.column == "trend_deg" for fault in drilled.faults):
        drilled.faults.append(
            Fault(holes.file, holes.header_line, "trend_deg", "", f"the column is missing; {rule}")
        )


def _surveyed(
    drilled: Drilled,
    surveys: Table,
    own: NDArray[np.intp],
    collar: list[tuple[float, float, float]],
    settings: SiteSettings,
    length: float,
) -> list[tuple[float, float, float]]:
    """Stations of a survey, the collar's own before them; none where depths do not rise."""
    depth = surveys.numbers("depth_m")[own]
    # A station beyond the end of the hole is a fault of its own.
    for step in np.flatnonzero((np.diff(depth) <= 0) & ~(depth[:-1] > length + SAME_DEPTH_M)):
        rule = (
            "depths of a hole rise from station to station; the one before, in row "
            f"{surveys.lines[own[step]]}, stands at {depth[step]:g}"
        )
        drilled.faults.append(surveys.fault(int(own[step + 1]), "depth_m", depth[step + 1], rule))
    if (np.diff(depth) <= 0).any():
        return []
    trend, plunge = surveys.numbers("trend_deg")[own], surveys.numbers("plunge_deg")[own]
    trend = (trend + settings.bearing_of("surveys")) % 360.0
    measured = list(zip(depth.tolist(), trend.tolist(), plunge.tolist(), strict=True))
    return measured if depth[0] == 0 else collar + measured


def _set_path(
    drilled: Drilled,
    name: str,
    stations: list[tuple[float, float, float]],
    tables: dict[str, Table],
    own: NDArray[np.intp],
) -> None:
    depth, trend, plunge = np.array(stations).T
    try:
        drilled.paths[name] = HolePath(depth, trend, plunge)
    except InputError as error:
        # Rising depths and checked angles leave one case: stations that point opposite ways.
        table = tables["surveys"]
        drilled.faults.append(
            Fault(table.file, int(table.lines[own[0]]), None, "", f"hole {name!r}: {error}")
        )


def _set_logged(
    drilled: Drilled, tables: dict[str, Table], names: HoleNames, broken: set[str]
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
    if _nameless(logged):
        drilled.unsure = set(names.row)
    known = list(names.row)
    for name, own in zip(known, logged.rows_of(known), strict=True):
        if wrong[own].any():
            drilled.unsure.add(name)
        for row in own[~wrong[own]]:
            if start[row] >= end[row]:
                rule = f"a logged length ends below its start, and from_m is {start[row]:g}"
                drilled.faults.append(logged.fault(int(row), "to_m", end[row], rule))
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
    drilled: Drilled, logged: Table, own: NDArray[np.intp], length: float
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
                    f"({start[before]:g} to {end[before]:g}, {one})"
                )
                drilled.faults.append(logged.fault(int(row), "from_m", start[row], rule))
                found.append(int(row))
            elif end[row] > end[before]:
                deepest = np.array([row])
    return found


def _set_lengths(
    drilled: Drilled, tables: dict[str, Table], names: HoleNames, broken: set[str]
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
                "the length is not known; give length_m here, or the logged lengths in logged.csv"
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

    Parameters
    ----------
    drilled : Drilled
        Its intervals and notes are added to.
    methods : dict of str to tuple of str
        How each hole was logged.

    Examples
    --------
    >>> drilled = Drilled(lengths={"B1": 30.0}, whole=True)
    >>> whole_holes(drilled, {"B1": ("image",)})
    >>> drilled.intervals["B1"][0].to_m
    30.0
    """
    for name, length in drilled.lengths.items():
        drilled.intervals[name] = [LoggedInterval(0.0, length, one) for one in methods[name]]
    drilled.notes.append(
        "There is no logged.csv, so every hole is taken as logged over its whole length: lost "
        "core, casing and bad images are not allowed for, and frequencies may be too low."
    )


def built(holes: Table, names: HoleNames, drilled: Drilled) -> tuple[Hole, ...]:
    """The holes, once there is no fault left.

    Parameters
    ----------
    holes : Table
        The table of holes.
    names : HoleNames
    drilled : Drilled

    Returns
    -------
    tuple of Hole
        In the order of holes.csv.

    Examples
    --------
    >>> built(None, HoleNames({}, frozenset()), Drilled())
    ()
    """
    found = []
    for name, at in names.row.items():
        place = [float(holes.numbers(c)[at]) for c in ("easting_m", "northing_m", "elevation_m")]
        diameter = float(holes.numbers("diameter_mm")[at])
        found.append(
            Hole(
                name=name,
                path=drilled.paths[name],
                length_m=float(drilled.lengths[name]),
                diameter_mm=None if np.isnan(diameter) else diameter,
                collar=None if np.isnan(place).any() else (place[0], place[1], place[2]),
                logged=tuple(drilled.intervals[name]),
                reference=str(holes.words("reference")[at]) or None,
            )
        )
    return tuple(found)


def beyond_faults(
    drilled: Drilled, tables: dict[str, Table], names: HoleNames
) -> tuple[list[Fault], set[str]]:
    """Rows that lie deeper than their hole is long.

    Parameters
    ----------
    drilled : Drilled
    tables : dict of str to Table
    names : HoleNames

    Returns
    -------
    faults : list of Fault
        One a row; one a hole where many rows lie deeper, as its length is then in doubt.
    holes : set of str
        The holes concerned.

    Examples
    --------
    >>> beyond_faults(Drilled(), {}, HoleNames({}, frozenset()))
    ([], set())
    """
    deeper: dict[str, list[tuple[Table, str, NDArray[np.intp]]]] = {}
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
    found: list[tuple[Table, str, NDArray[np.intp]]],
    tables: dict[str, Table],
    names: HoleNames,
) -> list[Fault]:
    count = sum(len(rows) for _, _, rows in found)
    holes = tables["holes"]
    if count > 3 or len(found) > 1:
        listed = ", ".join(f"{t.file} {listed_rows(t.lines[rows])}" for t, _, rows in found)
        deepest = max(table.numbers(column)[rows].max() for table, column, rows in found)
        rule = (
            f"hole {hole!r} is given as {length:g} long, and rows lie deeper, down to "
            f"{deepest:g}: {listed}; correct the length or the depths"
        )
        return [holes.fault(names.row[hole], "length_m", float(length), rule)]
    rule = f"hole {hole!r} is {length:g} long, so this lies beyond its end"
    return [
        table.fault(int(row), column, table.numbers(column)[row], rule)
        for table, column, rows in found
        for row in rows
    ]
