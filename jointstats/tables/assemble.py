"""From checked tables to the parts of a site: every fault, or holes, fractures and notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from jointstats.borehole.hole import Hole
from jointstats.borehole.settings import SettingsFile, SiteSettings
from jointstats.errors import Fault, SiteError
from jointstats.tables.columns import (
    TABLES,
    check_cells,
    columns_of,
    missing_columns,
    misspelt_columns,
)
from jointstats.tables.drilled import Drilled, beyond_faults, built, drill, whole_holes
from jointstats.tables.names import HoleNames, check_names
from jointstats.tables.picks import trace_faults
from jointstats.tables.readings import (
    logged_faults,
    pair_faults,
    reference_faults,
    round_rows,
)
from jointstats.tables.table import Table

__all__ = ["Parts", "assemble"]

FOOT_M = 0.3048
#: Columns of depths and lengths along holes, which `depth_unit` is about.
DEPTH_COLUMNS = ("depth_m", "from_m", "to_m", "length_m")


@dataclass(frozen=True)
class Parts:
    """What a site is made of.

    Parameters
    ----------
    name : str
    holes : tuple of Hole
    fractures : pandas.DataFrame
    settings : SiteSettings
    notes : tuple of str
    tables : dict of str to pandas.DataFrame
        The other tables, checked, in metres.

    Examples
    --------
    >>> Parts("empty", (), pd.DataFrame(), SiteSettings(), ()).tables
    {}
    """

    name: str
    holes: tuple[Hole, ...]
    fractures: pd.DataFrame
    settings: SiteSettings
    notes: tuple[str, ...]
    tables: dict[str, pd.DataFrame] = field(default_factory=dict)


def assemble(
    name: str,
    tables: dict[str, Table],
    settings_file: SettingsFile,
    faults: list[Fault],
    missing: Mapping[str, str],
) -> Parts:
    """Check the tables of a site, cell by cell and against one another.

    Parameters
    ----------
    name : str
        Name of the site where its settings give none.
    tables : dict of str to Table
        As they were found.
    settings_file : SettingsFile
    faults : list of Fault
        Found so far.
    missing : dict of str to str
        Tables that are there and could not be split into cells, and required ones that are not
        there; with their files.

    Returns
    -------
    Parts

    Raises
    ------
    SiteError
        With every fault.

    Examples
    --------
    >>> assemble("none", {}, SettingsFile(), [Fault("holes.csv", None, None, "", "is missing")], {})
    Traceback (most recent call last):
    jointstats.errors.SiteError: holes.csv: is missing
    """
    broken, misspelt = set(missing), []
    for key, table in tables.items():
        found = _directions(table) if key in ("holes", "surveys") else []
        columns = columns_of(key, table)
        found += missing_columns(table, columns) + check_cells(table, columns)
        misspelt += misspelt_columns(key, table, columns)
        if any(fault.row == table.header_line for fault in found):
            broken.add(key)
        faults += found
        _as_trend(table)
    settings = settings_file.settings()
    notes = _in_metres(tables, settings)
    drilled, names = Drilled(), HoleNames({}, frozenset())
    holes, fractures = tables.get("holes"), tables.get("fractures")
    if fractures is not None:
        faults += pair_faults(fractures)
    if holes is not None and holes.has("hole"):
        names, found = check_names(tables)
        usable = {key: table for key, table in tables.items() if key not in broken - {"holes"}}
        drilled = drill(usable, names, settings, broken)
        faults += found + drilled.faults
        faults += _fracture_faults(usable, names, drilled, settings_file)
        faults += trace_faults(usable, names)
    faults += settings_file.faults
    if faults or holes is None or fractures is None:
        raise SiteError(_sorted(faults))
    if drilled.whole:
        whole_holes(drilled, _methods(fractures, names))
    return Parts(
        name=settings_file.values.get("name", name),
        holes=built(holes, names, drilled),
        fractures=_plain(fractures.cells),
        settings=settings,
        notes=(*misspelt, *notes, *drilled.notes, *_reading_notes(fractures, names, drilled)),
        tables={key: _as_given(table) for key, table in tables.items() if key != "fractures"},
    )


def _directions(table: Table) -> list[Fault]:
    """A fault where a table gives directions in both ways."""
    given = [name for name in ("azimuth_deg", "inclination_deg") if table.has(name)]
    also = [name for name in ("trend_deg", "plunge_deg") if table.has(name)]
    if not given or not also:
        return []
    rule = f"stands beside {also[0]}; give trend and plunge, or azimuth and inclination, not both"
    return [Fault(table.file, table.header_line, given[0], given[0], rule)]


def _as_trend(table: Table) -> None:
    """Trend and plunge from azimuth and inclination from vertical."""
    if table.has("trend_deg") or table.has("plunge_deg"):
        return
    if table.has("azimuth_deg", "inclination_deg"):
        table.replace(
            {
                "trend_deg": table.numbers("azimuth_deg"),
                "plunge_deg": 90.0 - table.numbers("inclination_deg"),
            }
        )
        table.mark("trend_deg", table.wrong("azimuth_deg"))
        table.mark("plunge_deg", table.wrong("inclination_deg"))


def _fracture_faults(
    tables: dict[str, Table], names: HoleNames, drilled: Drilled, settings_file: SettingsFile
) -> list[Fault]:
    faults, beyond = beyond_faults(drilled, tables, names)
    fractures = tables.get("fractures")
    if fractures is None or not fractures.has("hole", "depth_m"):
        return faults
    faults += logged_faults(fractures, names, drilled, beyond)
    if not any(fault.column in ("reference", None) for fault in settings_file.faults):
        faults += reference_faults(
            fractures, tables["holes"], names, drilled, settings_file.settings()
        )
    return faults


def _in_metres(tables: dict[str, Table], settings: SiteSettings) -> list[str]:
    if settings.depth_unit == "m":
        return []
    for table in tables.values():
        scaled = {name: table.numbers(name) * FOOT_M for name in DEPTH_COLUMNS if table.has(name)}
        table.replace(scaled)
    note = (
        "Depths and lengths along the holes were given in feet (site.toml) and are in metres "
        f"here: 1 ft = {FOOT_M} m."
    )
    return [note]


def _sorted(faults: list[Fault]) -> list[Fault]:
    order = {name: place for place, name in enumerate(TABLES)}

    def place(fault: Fault) -> tuple[int, int]:
        return order.get(fault.file.split(".")[0].lower(), len(order)), fault.row or 0

    return sorted(faults, key=place)


def _methods(fractures: Table, names: HoleNames) -> dict[str, tuple[str, ...]]:
    """How each hole was logged, as far as its fractures say."""
    words = fractures.words("method")
    everywhere = sorted({str(word) for word in words if word}, reverse=True) or ["image"]
    found = {}
    for hole, own in zip(names.row, fractures.rows_of(list(names.row)), strict=True):
        used = sorted({str(word) for word in words[own] if word}, reverse=True)
        found[hole] = tuple(used or everywhere)
    return found


def _reading_notes(fractures: Table, names: HoleNames, drilled: Drilled) -> list[str]:
    notes = []
    unlogged = [name for name in names.row if not drilled.intervals[name]]
    if unlogged:
        notes.append(f"No row in logged.csv, so nothing counts as logged: {', '.join(unlogged)}.")
    alone = ~np.isnan(fractures.numbers("alpha_deg")) & np.isnan(fractures.numbers("dip_deg"))
    alone &= ~round_rows(fractures)
    if alone.any():
        notes.append(f"{int(alone.sum())} fractures have alpha and no beta: counted, not oriented.")
    return notes


def _as_given(table: Table) -> pd.DataFrame:
    """The cells of a table without the trend and plunge that were worked out for it."""
    cells = _plain(table.cells)
    worked_out = table.has("azimuth_deg", "trend_deg")
    return cells.drop(columns=["trend_deg", "plunge_deg"]) if worked_out else cells


def _plain(cells: pd.DataFrame) -> pd.DataFrame:
    """Known words as text, not as categories, and a plain row index."""
    words = {}
    for name in cells:
        column = cells[name].array
        if isinstance(column, pd.Categorical):
            words[name] = column.categories.astype("str").take(column.codes)
    return cells.assign(**words)
