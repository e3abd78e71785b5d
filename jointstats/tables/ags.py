"""A site from an AGS4 file, the open standard for exchanging ground investigation data.

The file is CSV with every cell in quotation marks; the first cell of a row says what it is: GROUP,
HEADING, UNIT, TYPE or DATA. Groups used here: LOCA (holes), HORN (their direction), CORE (what was
recovered) and DISC (discontinuities). HORN_INCL counts down from level, so a vertical hole has 90.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd

from jointstats.borehole.site import Site
from jointstats.errors import Fault, SiteError
from jointstats.schema import TABLES
from jointstats.tables.assemble import assemble
from jointstats.tables.found import MAX_MB, Found, bytes_of
from jointstats.tables.raw_table import RawTable
from jointstats.tables.unread import Other

MARKS = ("GROUP", "HEADING", "UNIT", "TYPE", "DATA")
#: Heading in the file → column here, by group.
HEADINGS = {
    "LOCA": {
        "LOCA_ID": "hole",
        "LOCA_NATE": "easting_m",
        "LOCA_NATN": "northing_m",
        "LOCA_GL": "elevation_m",
        "LOCA_FDEP": "length_m",
    },
    "HORN": {
        "LOCA_ID": "hole",
        "HORN_TOP": "depth_m",
        "HORN_ORNT": "trend_deg",
        "HORN_INCL": "plunge_deg",
    },
    "CORE": {"LOCA_ID": "hole", "CORE_TOP": "from_m", "CORE_BASE": "to_m"},
    "DISC": {
        "LOCA_ID": "hole",
        "DISC_TOP": "depth_m",
        "DISC_DIP": "dip_deg",
        "DISC_DIR": "dip_direction_deg",
        "DISC_APT": "aperture_mm",
        "DISC_TYPE": "type",
        "DISC_INFM": "infilling",
        "DISC_RGH": "roughness",
        "DISC_JRC": "jrc",
        "DISC_WETH": "weathering",
    },
}
#: Units that the numbers taken over must have (an empty unit is let pass).
UNITS = {
    "LOCA_FDEP": "m",
    "HORN_TOP": "m",
    "HORN_ORNT": "deg",
    "HORN_INCL": "deg",
    "CORE_TOP": "m",
    "CORE_BASE": "m",
    "DISC_TOP": "m",
    "DISC_DIP": "deg",
    "DISC_DIR": "deg",
    "DISC_APT": "mm",
}
TABLE_OF = {"LOCA": "holes", "HORN": "surveys", "CORE": "logged", "DISC": "fractures"}


@dataclass
class AgsGroup:
    """One group of an AGS4 file.

    Parameters
    ----------
    name : str
    line : int
        Line of its headings.
    headings, units : list of str
    rows : list of list of str
    lines : list of int
        Line of each row.

    Examples
    --------
    >>> groups, _ = parse_ags("a.ags", '"GROUP","LOCA"\\n"HEADING","LOCA_ID"\\n"DATA","B1"\\n')
    >>> groups["LOCA"].rows
    [['B1']]
    """

    name: str
    line: int
    headings: list[str] = field(default_factory=list)
    units: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)

    def take(self, mark: str, cells: list[str], line: int) -> str | None:
        """Take in one row; the rule it breaks, or None."""
        if mark == "HEADING":
            if self.headings:
                return f"this is a second HEADING of group {self.name}; a group has one"
            twice = [name for name, times in Counter(cells).items() if times > 1]
            if twice:
                return f"{twice[0]} stands twice among the headings; a heading stands once"
            self.headings, self.line = cells, line
            return None
        if not self.headings:
            return f"group {self.name} has no HEADING row before this one"
        if len(cells) != len(self.headings):
            return (
                f"the row has {len(cells)} cells after its first and group {self.name} "
                f"{len(self.headings)} headings"
            )
        if mark == "UNIT":
            self.units = cells
        elif mark == "DATA":
            self.rows.append(cells)
            self.lines.append(line)
        return None


def parse_ags(file: str, text: str) -> tuple[dict[str, AgsGroup], list[Fault]]:
    """Split an AGS4 file into its groups.

    `file`: name of the file, for the faults. Gives `groups`; `faults`: by line.
    """
    groups: dict[str, AgsGroup] = {}
    faults: list[Fault] = []
    group: AgsGroup | None = None
    for start, row in _records(text, file, faults):
        mark, cells = row[0].strip(), [cell.strip() for cell in row[1:]]
        rule: str | None = None
        if mark == "GROUP":
            name = cells[0] if cells else ""
            rule = f"group {name} stands in the file twice" if name in groups else None
            group = groups.setdefault(name, AgsGroup(name, start))
        elif mark not in MARKS:
            rule = "a row of an AGS4 file begins with " + ", ".join(MARKS)
        elif group is None:
            rule = "a row stands before the first GROUP"
        else:
            rule = group.take(mark, cells, start)
        if rule is not None:
            faults.append(Fault(file, start, None, mark, rule))
    return groups, faults


def _records(text: str, file: str, faults: list[Fault]) -> Iterator[tuple[int, list[str]]]:
    """Rows with any content, each with the line it starts on."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    try:
        for row in reader:
            start, line = line, reader.line_num + 1
            if any(cell.strip() for cell in row):
                yield start, row
    except csv.Error as error:
        rule = f"from this line on the file is not readable as CSV ({error}); look for a quote"
        faults.append(Fault(file, line, None, "", rule))


def _unit_faults(file: str, group: AgsGroup) -> list[Fault]:
    faults = []
    for heading, unit in zip(group.headings, group.units, strict=False):
        wanted = UNITS.get(heading)
        if wanted and unit and unit.lower() not in (wanted, wanted + "ree", wanted + "rees"):
            rule = f"the unit of {heading} must be {wanted}"
            faults.append(Fault(file, group.line + 1, heading, unit, rule))
    return faults


def _table(file: str, group: AgsGroup) -> tuple[RawTable | None, list[Fault]]:
    """A group as one of the input tables, under its own headings where they are not known."""
    known = HEADINGS[group.name]
    faults = _unit_faults(file, group)
    if not group.rows:
        return None, [*faults, Fault(file, group.line, None, group.name, "the group has no DATA")]
    columns = {
        known.get(heading, heading.lower()): [row[k] for row in group.rows]
        for k, heading in enumerate(group.headings)
    }
    frame = pd.DataFrame(columns, dtype=object)
    # Headings that are not known are kept as text, as columns of a CSV file are.
    numbers = TABLES[TABLE_OF[group.name]].of_kind("number")
    frame = frame.astype({column: "str" for column in frame if column not in numbers})
    table = RawTable(file, frame, np.array(group.lines), group.line)
    if group.name in ("DISC", "CORE"):
        table.cells = frame.assign(method="core")
    return table, faults


def _without_losses(table: RawTable) -> tuple[RawTable, list[str]]:
    """Core runs with something in them, and what to say of those with a loss."""
    name = "core_prec"
    if name not in table.cells:
        return table, []
    recovery = pd.to_numeric(table.cells[name], errors="coerce").to_numpy(dtype=np.float64)
    lost = recovery == 0
    part = int(((recovery > 0) & (recovery < 100)).sum())
    notes = []
    if lost.any():
        notes.append(f"{int(lost.sum())} core runs with no recovery count as not logged.")
    if part:
        notes.append(
            f"{part} core runs have a recovery below 100 %; where in them core was lost is not "
            "known, so they count as logged whole, and frequencies there may be too low."
        )
    return RawTable(
        table.file, table.cells[~lost].reset_index(drop=True), table.lines[~lost], table.header_line
    ), notes


def _by_heading(fault: Fault, groups: dict[str, AgsGroup]) -> Fault:
    """A fault with the heading of the file in place of the column of the table."""
    for name, known in HEADINGS.items():
        group = groups.get(name)
        if group is None or fault.row not in (*group.lines, group.line):
            continue
        for heading, column in known.items():
            if column == fault.column:
                return replace(fault, column=heading)
    return fault


def read_ags(path: Path, max_mb: float = MAX_MB) -> Site:
    """Read a site from an AGS4 file."""
    try:
        text = bytes_of(path, max_mb).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SiteError([Fault(path.name, None, None, "", "the file is not UTF-8 text")]) from None
    groups, faults = parse_ags(path.name, text)
    notes: list[str] = []
    faults += [
        Fault(path.name, None, None, "", f"the file has no group {name}, which holds the {what}")
        for name, what in (("LOCA", "holes"), ("DISC", "fractures"))
        if name not in groups
    ]
    if not {"LOCA", "DISC"} <= set(groups):
        raise SiteError(faults)
    source = Found(path.stem, faults=faults, foreign=True)
    source.others = [Other(f"group {name}") for name in groups if name not in TABLE_OF]
    for name, key in TABLE_OF.items():
        if name not in groups:
            continue
        table, found = _table(path.name, groups[name])
        if table is not None and name == "CORE":
            table, notes = _without_losses(table)
        source.add(key, path.name, table, found)
    try:
        site = assemble(source)
    except SiteError as error:
        found = [_by_heading(fault, groups) for fault in error.faults]
        raise SiteError(found, error.unread) from None
    notes.append(
        "Read from an AGS4 file: azimuths are taken as from true north, and each discontinuity "
        "stands at its DISC_TOP."
    )
    return replace(site, notes=(*notes, *site.notes))
