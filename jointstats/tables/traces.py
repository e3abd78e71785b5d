"""Checks of the points picked on the wall: each belongs to a fracture, and a trace to a plane."""

from __future__ import annotations

import numpy as np

from jointstats.borehole.rows import grouped_rows
from jointstats.errors import Fault
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable

__all__ = ["trace_faults"]


def trace_faults(tables: dict[str, RawTable], names: HoleNames) -> list[Fault]:
    """Traces without a fracture, with too few points, or in a hole of unknown diameter.

    Parameters
    ----------
    tables : dict of str to RawTable
        Checked tables.
    names : HoleNames

    Returns
    -------
    list of Fault

    Examples
    --------
    >>> trace_faults({}, HoleNames({}, frozenset()))
    []
    """
    traces, fractures = tables.get("traces"), tables.get("fractures")
    if traces is None or fractures is None or not fractures.has("hole"):
        return []
    if not traces.has("hole", "fracture", "angle_deg", "depth_m"):
        return []
    if not fractures.has("fracture"):
        rule = f"the column is missing, and {traces.file} names fractures; give each its name"
        return [Fault(fractures.file, fractures.header_line, "fracture", "", rule)]
    wrong = traces.wrong()
    faults = _named_twice(fractures)
    listed = set(zip(fractures.words("hole"), fractures.words("fracture"), strict=True))
    unsure = fractures.wrong("hole", "fracture").any() or "fractures" in names.unknown_in
    for (hole, fracture), rows in grouped_rows(
        traces.words("hole"), traces.words("fracture")
    ).items():
        if hole not in names.row or not fracture or wrong[rows].any():
            continue
        first = int(rows[0])
        if (hole, fracture) not in listed and not unsure:
            rule = f"no fracture of this name in hole {hole!r} of {fractures.file}"
            faults.append(traces.fault(first, "fracture", fracture, rule))
            continue
        angles = np.unique(np.round(traces.numbers("angle_deg")[rows] % 360.0, 6))
        if len(angles) < 3 and "traces" not in names.unknown_in and not traces.wrong().any():
            rule = (
                f"its trace has {len(rows)} points at {len(angles)} angles; "
                "a plane needs three at different angles"
            )
            faults.append(traces.fault(first, "fracture", fracture, rule))
    return faults + _no_diameter(traces, tables["holes"], names)


def _named_twice(fractures: RawTable) -> list[Fault]:
    faults = []
    for (hole, fracture), rows in grouped_rows(
        fractures.words("hole"), fractures.words("fracture")
    ).items():
        if fracture and hole and len(rows) > 1:
            rule = f"hole {hole!r} has this name in row {fractures.lines[rows[0]]} too"
            faults.append(fractures.fault(int(rows[1]), "fracture", fracture, rule))
    return faults


def _no_diameter(traces: RawTable, holes: RawTable, names: HoleNames) -> list[Fault]:
    diameter, wrong = traces.numbers("diameter_mm"), traces.wrong("diameter_mm")
    faults = []
    for (hole, at), rows in zip(names.row.items(), traces.rows_of(list(names.row)), strict=True):
        known = not np.isnan(holes.numbers("diameter_mm")[at]) or holes.wrong("diameter_mm")[at]
        if len(rows) and not known and (np.isnan(diameter[rows]) & ~wrong[rows]).any():
            rule = f"hole {hole!r} has traces in {traces.file}, which need its diameter"
            faults.append(holes.fault(at, "diameter_mm", "", rule))
    return faults
