"""Checks of tables of lengths down the hole: runs of core, intervals of bedding, zones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.hole import LoggedInterval
from jointstats.borehole.spans import Spans
from jointstats.errors import Fault
from jointstats.tables.logged import SAME_DEPTH_M, Drilled
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable
from jointstats.tables.unread import nearest

_SPANS = ("runs", "bedding", "zones")
#: Pairs of which neither half stands alone.
_HALVES = {
    "bedding": (("fold_trend_deg", "fold_plunge_deg"),),
    "zones": (
        ("upper_dip_deg", "upper_dip_direction_deg"),
        ("lower_dip_deg", "lower_dip_direction_deg"),
    ),
}


def span_faults(tables: dict[str, RawTable], names: HoleNames, drilled: Drilled) -> list[Fault]:
    """Lengths that end before they start, overlap, or lie beyond the hole; halves; unknown runs."""
    faults: list[Fault] = []
    for key in _SPANS:
        table = tables.get(key)
        if table is None or not table.has("hole", "from_m", "to_m"):
            continue
        for hole, own in zip(names.row, table.rows_of(list(names.row)), strict=True):
            faults += _of_hole(table, own[~table.wrong()[own]], hole, drilled)
        faults += [fault for pair in _HALVES.get(key, ()) for fault in _halves(table, *pair)]
    return faults + _unknown_runs(tables)


def lose_core(zones: RawTable | None, names: HoleNames, drilled: Drilled) -> None:
    """Take lengths of which no core came out from those that core logged; note what came out in part."""
    if zones is None or not zones.has("hole", "from_m", "to_m"):
        return
    recovery, wrong = zones.numbers("recovery_percent"), zones.wrong()
    start, end = zones.numbers("from_m"), zones.numbers("to_m")
    for hole, own in zip(names.row, zones.rows_of(list(names.row)), strict=True):
        rows = own[(recovery[own] < 100) & ~wrong[own] & (start[own] < end[own])]
        lost = Spans([(start[row], end[row]) for row in rows if recovery[row] == 0])
        partly = [(start[row], end[row], recovery[row]) for row in rows if recovery[row] > 0]
        kept, before = [], 0.0
        for one in drilled.intervals[hole]:
            span = Spans([(one.from_m, one.to_m)])
            left = span.minus(lost) if one.method == "core" else span
            before += span.total_m - left.total_m
            came = [replace(one, from_m=a, to_m=b) for a, b in left]
            kept += _in_part(came, partly) if one.method == "core" else came
        drilled.intervals[hole], drilled.lost[hole] = kept, list(lost)
        if before > SAME_DEPTH_M:
            drilled.notes.append(
                f"Hole {hole}: {_told(zones, before)} of which no core came out (zones) do not count as "
                "logged by core, and count against RQD."
            )
    part = np.flatnonzero((recovery > 0) & (recovery < 100))
    if len(part):
        drilled.notes.append(
            f"{len(part)} zones have a recovery between 0 and 100 %: each fracture in the core there "
            "counts as found with that probability, as if core had been lost at random."
        )


def _in_part(
    lengths: list[LoggedInterval], zones: list[tuple[float, float, float]]
) -> list[LoggedInterval]:
    """Lengths of core cut where zones begin and end, with the share of each zone that came out."""
    for start, end, percent in zones:
        zone, cut = Spans([(start, end)]), []
        for one in lengths:
            whole, share = Spans([(one.from_m, one.to_m)]), min(one.recovered, 0.01 * percent)
            cut += [replace(one, from_m=a, to_m=b, recovered=share) for a, b in whole.both(zone)]
            cut += [replace(one, from_m=a, to_m=b) for a, b in whole.minus(zone)]
        lengths = sorted(cut, key=lambda one: one.from_m)
    return lengths


def _told(table: RawTable, metres: float) -> str:
    """A length in the unit of the file."""
    return table.told("to_m", metres) if "to_m" in table.factor else f"{metres:.4g} m"


def roll_faults(rolls: RawTable | None, names: HoleNames) -> list[Fault]:
    """Rotations of the tool whose depths do not rise from station to station."""
    if rolls is None or not rolls.has("hole", "depth_m"):
        return []
    faults, depth = [], rolls.numbers("depth_m")
    for hole, own in zip(names.row, rolls.rows_of(list(names.row)), strict=True):
        own = own[~rolls.wrong("depth_m")[own]]
        for step in np.flatnonzero(np.diff(depth[own]) <= 0):
            rule = (
                f"depths of hole {hole!r} rise from station to station; the one before, in row "
                f"{rolls.lines[own[step]]}, stands at {rolls.told('depth_m', depth[own[step]])}"
            )
            faults.append(rolls.fault(int(own[step + 1]), "depth_m", float(depth[own[step + 1]]), rule))
    return faults


def _of_hole(table: RawTable, own: NDArray[np.intp], hole: str, drilled: Drilled) -> list[Fault]:
    start, end = table.numbers("from_m"), table.numbers("to_m")
    faults, last = [], -1
    for row in (int(one) for one in own[np.argsort(start[own], kind="stable")]):
        if start[row] >= end[row]:
            rule = f"ends above its start, and from_m is {table.told('from_m', start[row])}"
            faults.append(table.fault(row, "to_m", float(end[row]), rule))
        elif end[row] > drilled.lengths[hole] + SAME_DEPTH_M:
            length = table.told("to_m", drilled.lengths[hole])
            rule = f"hole {hole!r} is {length} long, so this lies beyond its end"
            faults.append(table.fault(row, "to_m", float(end[row]), rule))
        elif last >= 0 and start[row] < end[last] - SAME_DEPTH_M:
            rule = (
                f"overlaps row {table.lines[last]}, {table.told('from_m', start[last])} to "
                f"{table.told('to_m', end[last])}"
            )
            faults.append(table.fault(row, "from_m", float(start[row]), rule))
        else:
            last = row
    return faults


def _halves(table: RawTable, first: str, second: str) -> list[Fault]:
    one, two = table.numbers(first), table.numbers(second)
    alone = (np.isnan(one) != np.isnan(two)) & ~table.wrong(first, second)
    return [
        table.fault(int(row), lacks, "", f"is empty beside {given}; give both or neither")
        for row in np.flatnonzero(alone)
        for lacks, given in [(first, second) if np.isnan(one[row]) else (second, first)]
    ]


def _unknown_runs(tables: dict[str, RawTable]) -> list[Fault]:
    """Runs that fractures name and the table of runs does not have."""
    runs, fractures = tables.get("runs"), tables.get("fractures")
    if runs is None or fractures is None or not fractures.has("hole", "run"):
        return []
    known = set(zip(runs.words("hole"), runs.words("run"), strict=True))
    pairs = list(zip(fractures.words("hole"), fractures.words("run"), strict=True))
    faults = []
    for hole, run in dict.fromkeys(pairs):
        if run and (hole, run) not in known and hole in set(runs.words("hole")):
            close = nearest(run, [name for place, name in known if place == hole])
            rule = f"hole {hole!r} has no such run in {runs.file}{close}"
            faults.append(fractures.fault(pairs.index((hole, run)), "run", run, rule))
    return faults
