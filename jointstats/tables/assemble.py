"""From the tables that were found to a site: every fault, or holes, fractures and notes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from jointstats.borehole.contradictions import contradictions
from jointstats.borehole.core_sense import check_core_sense
from jointstats.borehole.settings import FOOT_M, SiteSettings
from jointstats.borehole.site import Site
from jointstats.errors import Fault, SiteError
from jointstats.schema import TABLES
from jointstats.tables.cells import (
    check_cells,
    columns_of,
    missing_columns,
)
from jointstats.tables.conditions import read_intervals, unknown_words, written_words
from jointstats.tables.found import Found
from jointstats.tables.holes import built, drill
from jointstats.tables.logged import Drilled, beyond_faults, logged_faults, whole_holes
from jointstats.tables.names import HoleNames, check_names
from jointstats.tables.raw_table import RawTable
from jointstats.tables.readings import half_notes, pair_faults, reference_faults
from jointstats.tables.settings import SettingsFile
from jointstats.tables.spans import lose_core, roll_faults, span_faults
from jointstats.tables.ties import apply_ties
from jointstats.tables.traces import face_faults, trace_faults
from jointstats.tables.units import as_ours, in_ours
from jointstats.tables.unread import unread_columns, unread_files

_FEET = (
    "Depths and lengths along the holes were given in feet and are in metres here: "
    f"1 ft = {FOOT_M} m."
)


def assemble(source: Found) -> Site:
    """Check the tables of a site, cell by cell and against one another.

    Raises a SiteError with every fault.
    """
    tables, settings_file = source.tables, source.settings
    if source.mapping.faults:
        raise SiteError(source.mapping.faults)  # the rest would be of what it should have named
    faults, broken = _cell_faults(source)
    settings = settings_file.settings()
    found, unread = _unread(source, settings, faults)
    faults += found
    settings, notes = _with_units(source, settings)
    found, moved = apply_ties(tables, settings, settings_file.file)
    faults, notes = faults + found, notes + moved
    drilled, names = Drilled(), HoleNames({}, frozenset())
    holes, fractures = tables.get("holes"), tables.get("fractures")
    if holes is not None and holes.has("hole"):
        names, found = check_names(tables)
        usable = {key: table for key, table in tables.items() if key not in broken - {"holes"}}
        drilled = drill(usable, names, settings, broken)
        faults += found + drilled.faults + _fracture_faults(usable, names, drilled, settings_file)
        faults += trace_faults(usable, names) + span_faults(usable, names, drilled)
        faults += roll_faults(usable.get("rolls"), names)
    faults += face_faults({key: one for key, one in tables.items() if key not in broken})
    faults += settings_file.faults
    if faults or holes is None or fractures is None:
        raise SiteError(_sorted(faults), unread)
    if drilled.whole:
        whole_holes(drilled, _methods(fractures, tables["holes"], names))
        lose_core(tables.get("zones"), names, drilled)
    site = Site(
        name=settings_file.values.get("name", source.name),
        holes=built(holes, names, drilled),
        fractures=_with_logged_depth(fractures),
        settings=settings,
        notes=(*notes, *drilled.notes, *_reading_notes(fractures, names, drilled)),
        tables={key: _as_given(table) for key, table in tables.items() if key != "fractures"},
        unread=tuple(unread),
        rows=tuple(fractures.lines.tolist()),
        mapped=source.mapping.told,
    )
    sense = check_core_sense(site)
    told = [sense.sentence] if sense.clear else []
    return replace(site, notes=(*site.notes, *told, *contradictions(site, fractures.lines)))


def _with_units(source: Found, settings: SiteSettings) -> tuple[SiteSettings, list[str]]:
    """Bring all numbers to our units; the settings with the unit of depths, and what was assumed."""
    notes, stated = [], source.settings.values
    if source.settings.given is None and "north" not in stated and not source.foreign:
        notes.append("No north is stated in site.toml: azimuths are taken as from true north.")
    if in_ours(source.tables):
        notes.append(_FEET)
        if "depth_unit" not in stated and source.settings.given is None:
            settings = replace(settings, depth_unit="ft")
    return settings, notes


def _cell_faults(source: Found) -> tuple[list[Fault], set[str]]:
    """Faults of the tables one by one, and the tables that can't be used."""
    faults, broken = list(source.faults), set(source.missing)
    words = written_words(source.tables)
    for key, table in source.tables.items():
        found = as_ours(key, table, source.settings.settings().depth_unit)
        found += _directions(table) if key in ("holes", "surveys") else []
        columns = columns_of(key, table)
        found += missing_columns(table, columns) + check_cells(table, columns)
        found += read_intervals(key, table, words)
        if any(fault.row == table.header_line for fault in found):
            broken.add(key)
        faults += found
        _as_trend(table)
    if "fractures" in source.tables:
        faults += pair_faults(source.tables["fractures"])
    return faults, broken


def _unread(
    source: Found, settings: SiteSettings, told: list[Fault]
) -> tuple[list[Fault], list[str]]:
    """What is not read: faults where it could change an orientation or a depth, else sentences."""
    here = {
        *source.tables,
        *source.missing,
        *(name.split(".")[0] for name in source.empty),
        *(["site"] if source.settings.there else []),
    }
    listed = list(source.mapping.unused)
    faults, more = unread_files(source.others, here, settings.ignore)
    listed += more
    listed += [f"{file} has no rows, and counts as not there" for file in source.empty]
    for key, table in source.tables.items():
        found, more = unread_columns(key, table, settings.ignore, told)
        faults, listed = faults + found, listed + more
    if "fractures" in source.tables:
        listed += unknown_words(source.tables["fractures"], written_words(source.tables))
    if source.foreign:
        listed = [f"{fault.file}, column {fault.column} is not read" for fault in faults] + listed
        faults = []
    return faults, listed


def _directions(table: RawTable) -> list[Fault]:
    """A fault where a table gives directions in both ways."""
    given = [name for name in ("azimuth_deg", "inclination_deg") if table.has(name)]
    also = [name for name in ("trend_deg", "plunge_deg") if table.has(name)]
    if not given or not also:
        return []
    rule = f"stands beside {also[0]}; give trend and plunge, or azimuth and inclination, not both"
    return [Fault(table.file, table.header_line, given[0], given[0], rule)]


def _as_trend(table: RawTable) -> None:
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
    tables: dict[str, RawTable], names: HoleNames, drilled: Drilled, settings_file: SettingsFile
) -> list[Fault]:
    faults, beyond = beyond_faults(drilled, tables, names)
    fractures = tables.get("fractures")
    if fractures is None or not fractures.has("hole", "depth_m"):
        return faults
    faults += logged_faults(fractures, names, drilled, beyond)
    if not any(fault.column in ("reference", None) for fault in settings_file.faults):
        faults += reference_faults(
            fractures, tables["holes"], names, drilled, settings_file
        )
    return faults


def _sorted(faults: list[Fault]) -> list[Fault]:
    order = {name: place for place, name in enumerate(TABLES)}

    def place(fault: Fault) -> tuple[int, int]:
        return order.get(fault.file.split(".")[0].lower(), len(order)), fault.row or 0

    return sorted(faults, key=place)


def _methods(
    fractures: RawTable, holes: RawTable, names: HoleNames
) -> dict[str, tuple[str, ...]]:
    """How each hole was logged, as far as its fractures say; a scanline is logged as one."""
    words = fractures.words("method")
    drilled = {str(word) for word in words if word} - {"scanline"}
    everywhere = sorted(drilled, reverse=True) or ["image"]
    found = {}
    for hole, own in zip(names.row, fractures.rows_of(list(names.row)), strict=True):
        used = sorted({str(word) for word in words[own] if word}, reverse=True)
        bored = holes.words("kind")[names.row[hole]] in ("", "borehole")
        found[hole] = tuple(used or (everywhere if bored else ["scanline"]))
    return found


def _reading_notes(fractures: RawTable, names: HoleNames, drilled: Drilled) -> list[str]:
    notes = []
    unlogged = [name for name in names.row if not drilled.intervals[name]]
    if unlogged:
        notes.append(f"No row in logged, so nothing counts as logged: {', '.join(unlogged)}.")
    return notes + half_notes(fractures)


def _with_logged_depth(fractures: RawTable) -> pd.DataFrame:
    """The fractures, with the depth of their own log beside the true one where ties moved it."""
    cells = _plain(fractures.cells)
    logged = fractures.given.get("depth_m")
    return cells if logged is None else cells.assign(logged_depth_m=logged)


def _as_given(table: RawTable) -> pd.DataFrame:
    """The cells of a table as they were found, without what was worked out for it."""
    cells = _plain(table.as_given())
    worked_out = table.has("azimuth_deg", "trend_deg")
    return cells.drop(columns=["trend_deg", "plunge_deg"]) if worked_out else cells


def _plain(cells: pd.DataFrame) -> pd.DataFrame:
    """Known words as text, not as categories, and a plain row index."""
    words: dict[str, Any] = {}
    for name in cells:
        column = cells[name].array
        if isinstance(column, pd.Categorical):
            words[str(name)] = column.categories.astype("str").take(column.codes)
    return cells.assign(**words)
