"""Checks of the readings of fractures: halves that belong together, and reference lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.frame import reference_fault, references_of
from jointstats.errors import Fault
from jointstats.schema import TABLES
from jointstats.tables.logged import Drilled
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable
from jointstats.tables.settings import SettingsFile
from jointstats.tables.unread import nearest

PAIRS = (
    ("dip_deg", "dip_direction_deg"),
    ("alpha_deg", "beta_deg"),
    ("image_dip_deg", "image_azimuth_deg"),
)

_MOST_LISTED = 5  # rows that a note names


def round_rows(table: RawTable) -> NDArray[np.bool_]:
    """Rows oriented by a reading round the hole, as they give no true dip and dip direction."""
    alpha, beta = table.numbers("alpha_deg"), table.numbers("beta_deg")
    dip, azimuth = table.numbers("image_dip_deg"), table.numbers("image_azimuth_deg")
    core = ~np.isnan(alpha) & (~np.isnan(beta) | (alpha == 90))
    image = ~np.isnan(dip) & (~np.isnan(azimuth) | (dip == 0))
    traced = table.words("fracture") != "" if table.has("fracture") else False
    dip, azimuth = table.numbers("dip_deg"), table.numbers("dip_direction_deg")
    return (np.isnan(dip) | (np.isnan(azimuth) & (dip > 0))) & (core | image | traced)


def pair_faults(table: RawTable) -> list[Fault]:
    """Readings of which one half is missing."""
    faults = []
    known = TABLES["fractures"].names
    unknown = [name for name in table.cells if name not in known]
    for pair in PAIRS:
        there = [name for name in pair if table.has(name)]
        if there == ["alpha_deg"] and table.has("run_beta_deg"):
            continue  # core that was not oriented, with a line on each run
        if len(there) == 1:
            absent = pair[1 - pair.index(there[0])]
            near = nearest(absent, unknown)
            angles = [name for name in unknown if _all_round(table, name)]
            if there[0] == "alpha_deg" and not near and not angles:
                continue  # core that was spun has α alone
            rule = f"the column is missing beside {there[0]}{near}"
            if angles and not near:
                rule += f"; {angles[0]!r} holds angles all round and no heading that is read"
            faults.append(Fault(table.file, table.header_line, absent, "", rule))
        elif there:
            faults += _half_given(table, *pair)
    return faults


def _all_round(table: RawTable, name: str) -> bool:
    """Whether a column that no entry names looks like angles of a whole turn, as β does."""
    cells = [cell for cell in table.cells[name].astype(str) if cell.strip() not in ("", "nan")]
    try:
        values = np.array([float(cell) for cell in cells])
    except ValueError:
        return False
    return bool(len(values) and values.min() >= 0 and 90 < values.max() <= 360)


def _half_given(table: RawTable, first: str, second: str) -> list[Fault]:
    one, two = table.numbers(first), table.numbers(second)
    wrong = table.wrong(first, second)
    lacks_first = np.isnan(one) & ~np.isnan(two) & ~wrong
    lacks_second = ~np.isnan(one) & np.isnan(two) & ~wrong
    if first == "dip_deg":
        return []  # a dip, or a strike, may be all that could be read: `half_notes` tells of it
    # A picture of a plane square to the hole has no azimuth; core without a reference line has alpha alone.
    lacks_second &= (one != 0) if first != "alpha_deg" else False
    return [
        table.fault(
            int(row), lacking, "", f"is empty beside {given} {values[row]:g}; give both or neither"
        )
        for lacking, given, values, rows in (
            (first, second, two, lacks_first),
            (second, first, one, lacks_second),
        )
        for row in np.flatnonzero(rows)
    ]


def half_notes(table: RawTable) -> list[str]:
    """What is said of fractures that have α, a dip or a dip direction and no more."""
    alpha, dip, azimuth = map(table.numbers, ("alpha_deg", "dip_deg", "dip_direction_deg"))
    open_ = ~round_rows(table)
    lacks = {
        "alpha and no beta": open_ & ~np.isnan(alpha) & np.isnan(dip) & np.isnan(azimuth),
        "a dip and no dip direction": open_ & np.isnan(azimuth) & (dip > 0),
        "a dip direction and no dip": open_ & np.isnan(dip) & ~np.isnan(azimuth),
    }
    notes = []
    for what, rows in lacks.items():
        if rows.any():
            listed = ", ".join(str(line) for line in table.lines[rows][:_MOST_LISTED])
            more = ", …" if rows.sum() > _MOST_LISTED else ""
            notes.append(
                f"Fractures with {what}: {int(rows.sum())} (row {listed}{more}). Beside whole "
                "orientations each is in the fit with every plane left open; if more was read, fill it in."
            )
    return notes


def reference_faults(
    table: RawTable, holes: RawTable, names: HoleNames, drilled: Drilled, settings: SettingsFile
) -> list[Fault]:
    """Readings whose reference line is not given, or does not exist in their hole.

    `table`: the fractures.
    """
    core = round_rows(table)
    if not core.any():
        return []
    by_hole: dict[str, str | None] = {
        name: str(holes.words("reference")[at]) for name, at in names.row.items()
    }
    words = table.words("hole")
    references = references_of(
        table.words("reference"), words, by_hole, settings.settings().reference
    )
    usable = (
        core
        & ~table.wrong("reference")
        & ~np.isin(words, [name for name, at in names.row.items() if holes.wrong("reference")[at]])
    )
    lacking = np.flatnonzero(usable & (references == ""))
    faults = []
    if len(lacking):
        rule = (
            f"the setting is missing, and {table.file} has {len(lacking)} readings round the hole; "
            'state where its reference line lies: "low side", "high side" or "north"'
        )
        faults.append(Fault(settings.file, None, "reference", "", rule))
    depth = table.numbers("depth_m") if table.has("depth_m") else np.zeros(len(table))
    rows = table.rows_of(list(names.row))
    for name, own in zip(names.row, rows, strict=True):
        own = own[usable[own] & (references[own] != "") & ~np.isnan(depth[own])]
        if name in drilled.paths and len(own):
            faults += _undefined(table, name, own, references, drilled)
    return faults


def _undefined(
    table: RawTable,
    name: str,
    own: NDArray[np.intp],
    references: NDArray[np.object_],
    drilled: Drilled,
) -> list[Fault]:
    lines = drilled.paths[name].direction(table.numbers("depth_m")[own])
    tilt = np.hypot(lines[:, 0], lines[:, 1])
    for reference in dict.fromkeys(references[own]):
        at = np.flatnonzero(references[own] == reference)
        worst = at[np.argmax(tilt[at]) if reference == "north" else np.argmin(tilt[at])]
        rule = reference_fault(lines[worst], reference)
        if rule is not None:
            row = int(own[worst])
            rule = f"hole {name!r}: {rule} in a column reference of holes or {table.file}"
            column = next(
                (one for one in ("beta_deg", "image_azimuth_deg") if table.has(one)), "depth_m"
            )
            shown = table.numbers(column)[row]
            return [table.fault(row, column, "" if np.isnan(shown) else float(shown), rule)]
    return []
