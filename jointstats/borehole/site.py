"""A site: its holes, the fractures found in them, and the settings they are read by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.columns import TABLES, check_cells, missing_columns
from jointstats.borehole.drilled import Drilled, beyond_faults, built, drill, whole_holes
from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.names import HoleNames, check_names
from jointstats.borehole.readings import (
    core_rows,
    logged_faults,
    pair_faults,
    reference_faults,
    references_of,
)
from jointstats.borehole.settings import SettingsFile, SiteSettings, parse_settings
from jointstats.borehole.tables import Table, parse_table
from jointstats.errors import Fault, InputError, SiteError

__all__ = ["Hole", "LoggedInterval", "Site", "SiteSettings", "read_site"]

FOOT_M = 0.3048
#: Columns of depths and lengths along holes, which `depth_unit` is about.
DEPTH_COLUMNS = ("depth_m", "from_m", "to_m", "length_m")


@dataclass(frozen=True, eq=False)
class Site:
    """A site: holes, fractures and settings, checked.

    Parameters
    ----------
    name : str
    holes : tuple of Hole
    fractures : pandas.DataFrame
        One row a fracture, in file order: the columns as they were read, depths in metres.
    settings : SiteSettings
    notes : tuple of str
        Sentences about what was assumed in reading.

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> site.hole("H1").length_m
    80.0
    """

    name: str
    holes: tuple[Hole, ...]
    fractures: pd.DataFrame
    settings: SiteSettings = field(default_factory=SiteSettings)
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        metres = sum(hole.length_m for hole in self.holes)
        return (
            f"Site({self.name!r}, {len(self.holes)} holes of {metres:.4g} m in all, "
            f"{len(self.fractures)} fractures)"
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Site):
            return NotImplemented
        return (
            (self.name, self.holes, self.settings) == (other.name, other.holes, other.settings)
        ) and self.fractures.equals(other.fractures)

    __hash__ = None  # type: ignore[assignment]  # holds a frame

    def hole(self, name: str) -> Hole:
        """The hole of this name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Hole

        Raises
        ------
        InputError
            If there is none.
        """
        for hole in self.holes:
            if hole.name == name:
                return hole
        known = ", ".join(hole.name for hole in self.holes)
        raise InputError(f"site {self.name} has no hole {name!r}; its holes are {known}")

    def references(self, table: pd.DataFrame) -> NDArray[np.object_]:
        """Where the reference line of each row of a table lies: its own, its hole's or the site's.

        Parameters
        ----------
        table : pandas.DataFrame
            With a column hole, and perhaps reference.

        Returns
        -------
        ndarray of str, shape (n,)
            Empty where it was not given.
        """
        own = np.full(len(table), "", dtype=object)
        if "reference" in table:
            own = table["reference"].fillna("").to_numpy(dtype=object)
        by_hole = {hole.name: hole.reference for hole in self.holes}
        return references_of(own, table["hole"].to_numpy(object), by_hole, self.settings.reference)


def read_site(path: str | Path) -> Site:
    """Read the tables of a site, and check every cell.

    Parameters
    ----------
    path : str or Path
        Directory with holes.csv and fractures.csv, and perhaps surveys.csv, logged.csv and
        site.toml.

    Returns
    -------
    Site

    Raises
    ------
    SiteError
        If anything is wrong; its `faults` name every fault by file, row and column.

    Examples
    --------
    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp())
    >>> _ = (folder / "holes.csv").write_text("hole,trend_deg,plunge_deg,length_m\\nB1,0,90,30\\n")
    >>> _ = (folder / "fractures.csv").write_text(
    ...     "hole,depth_m,dip_deg,dip_direction_deg\\nB1,4.2,30,90\\nB1,7.5,,\\n")
    >>> len(read_site(folder).fractures)
    2
    """
    folder = Path(path)
    if not folder.is_dir():
        found = "is a file" if folder.exists() else "does not exist"
        rule = f"{found}; a site is a directory that holds holes.csv and fractures.csv"
        raise SiteError([Fault(str(path), None, None, "", rule)])
    contents = {}
    for name in (*TABLES, "site"):
        file = _file_in(folder, name + (".toml" if name == "site" else ".csv"))
        if file is not None:
            contents[name] = (file.name, file.read_bytes())
    return _read(contents, folder.resolve().name)


def _file_in(folder: Path, name: str) -> Path | None:
    """A file of the folder, whatever the case of its name."""
    exact = folder / name
    if exact.is_file():
        return exact
    close = sorted(file for file in folder.iterdir() if file.name.lower() == name)
    return close[0] if close else None


def _read(contents: Mapping[str, tuple[str, bytes]], name: str) -> Site:
    faults, tables, broken = [], {}, set()
    settings_file = parse_settings(*contents["site"]) if "site" in contents else SettingsFile()
    for table_name, columns in TABLES.items():
        if table_name not in contents:
            if table_name in ("holes", "fractures"):
                rule = "the table is missing; every site has one"
                faults.append(Fault(f"{table_name}.csv", None, None, "", rule))
            continue
        numbers = {column.name for column in columns if column.kind == "number"}
        keys = {column.name for column in columns if column.kind == "word"}
        table, found = parse_table(*contents[table_name], numbers, keys)
        if table is not None:
            found += missing_columns(table, columns) + check_cells(table, columns)
            tables[table_name] = table
        if table is None or any(fault.row == table.header_line for fault in found):
            broken.add(table_name)
        faults += found
    return _assembled(name, tables, settings_file, faults, broken)


def _assembled(
    name: str,
    tables: dict[str, Table],
    settings_file: SettingsFile,
    faults: list[Fault],
    broken: set[str],
) -> Site:
    settings = settings_file.settings()
    notes = _in_metres(tables, settings)
    drilled, names = Drilled(), HoleNames({}, frozenset())
    holes, fractures = tables.get("holes"), tables.get("fractures")
    if fractures is not None:
        faults += pair_faults(fractures)
    if holes is not None and holes.has("hole"):
        names, found = check_names(tables)
        faults += found
        usable = {key: table for key, table in tables.items() if key not in broken - {"holes"}}
        drilled = drill(usable, names, settings, broken)
        faults += drilled.faults
        faults += _fracture_faults(usable, names, drilled, settings_file)
    faults += settings_file.faults
    if faults:
        raise SiteError(_sorted(faults))
    assert holes is not None and fractures is not None
    if drilled.whole:
        whole_holes(drilled, _methods(fractures, names))
    site = Site(
        name=settings_file.values.get("name", name),
        holes=built(holes, names, drilled),
        fractures=_plain(fractures.cells),
        settings=settings,
        notes=(*notes, *drilled.notes, *_reading_notes(fractures, names, drilled)),
    )
    return site


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
    order = {f"{name}.csv": place for place, name in enumerate(TABLES)}
    return sorted(faults, key=lambda one: (order.get(one.file, len(order)), one.row or 0))


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
    alone &= ~core_rows(fractures)
    if alone.any():
        notes.append(f"{int(alone.sum())} fractures have alpha and no beta: counted, not oriented.")
    return notes


def _plain(cells: pd.DataFrame) -> pd.DataFrame:
    """Known words as text, not as categories, and a plain row index."""
    words = {
        name: cells[name].cat.categories.astype("str").take(cells[name].cat.codes)
        for name in cells
        if isinstance(cells[name].dtype, pd.CategoricalDtype)
    }
    return cells.assign(**words)
