"""A site: its holes, the fractures found in them, and the settings they are read by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.roll import roll_at
from jointstats.borehole.settings import SettingsFile, SiteSettings, parse_settings
from jointstats.errors import Fault, InputError, SiteError
from jointstats.tables.assemble import Parts, assemble
from jointstats.tables.columns import TABLES
from jointstats.tables.picks import grouped_rows
from jointstats.tables.readings import references_of
from jointstats.tables.table import Table, parse_table, table_of_frame

__all__ = ["Hole", "LoggedInterval", "Site", "SiteSettings", "read_site"]

Array = NDArray[np.float64]
REQUIRED = ("holes", "fractures")


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
    tables : dict of str to pandas.DataFrame
        The other tables as they were read, depths in metres; empty for a site made by hand.

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
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)

    def __repr__(self) -> str:
        metres = sum(hole.length_m for hole in self.holes)
        return (
            f"Site({self.name!r}, {len(self.holes)} holes of {metres:.4g} m in all, "
            f"{len(self.fractures)} fractures)"
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Site):
            return NotImplemented
        plain = (self.name, self.holes, self.settings, set(self.tables))
        return (
            plain == (other.name, other.holes, other.settings, set(other.tables))
            and self.fractures.equals(other.fractures)
            and all(self.tables[key].equals(other.tables[key]) for key in self.tables)
        )

    __hash__ = None  # type: ignore[assignment]  # holds frames

    @property
    def traces(self) -> pd.DataFrame | None:
        """Points picked on the walls; None if there are none."""
        return self.tables.get("traces")

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

    def roll_of(self, table: pd.DataFrame) -> Array:
        """Roll of the camera at each row of a table with columns hole and depth_m, degrees.

        Parameters
        ----------
        table : pandas.DataFrame

        Returns
        -------
        ndarray, shape (n,)
            To be added to angles read on the wall; 0 where no roll was measured.
        """
        rolls = self.tables.get("rolls")
        depth = table["depth_m"].to_numpy(dtype=np.float64)
        total = np.zeros(len(table))
        if rolls is None:
            return total
        holes = table["hole"].to_numpy(dtype=object)
        for name, own in rolls.groupby("hole", sort=False):
            rows = holes == name
            total[rows] = roll_at(depth[rows], own["depth_m"], own["roll_deg"])
        return total

    def trace_points(self, table: pd.DataFrame) -> list[tuple[Array, Array, Array] | None]:
        """Angle, depth and radius (mm) of the points of each row's trace; None where it has none.

        Parameters
        ----------
        table : pandas.DataFrame
            With columns hole and fracture.

        Returns
        -------
        list of (ndarray, ndarray, ndarray) or None
            Angles with the roll of the camera taken in.
        """
        traces = self.traces
        if traces is None:
            return [None] * len(table)
        rows = grouped_rows(traces["hole"].to_numpy(object), traces["fracture"].to_numpy(object))
        angle = (traces["angle_deg"].to_numpy(float) + self.roll_of(traces)) % 360.0
        depth = traces["depth_m"].to_numpy(float)
        by_hole = {hole.name: hole.diameter_mm or np.nan for hole in self.holes}
        diameter = traces["hole"].map(by_hole).to_numpy(float)
        if "diameter_mm" in traces:
            caliper = traces["diameter_mm"].to_numpy(float)
            diameter = np.where(np.isnan(caliper), diameter, caliper)
        found = []
        for key in zip(table["hole"], table["fracture"], strict=True):
            at = rows.get((str(key[0]), str(key[1])))
            found.append(None if at is None else (angle[at], depth[at], diameter[at] / 2.0))
        return found

    @classmethod
    def from_frames(
        cls,
        holes: pd.DataFrame,
        fractures: pd.DataFrame,
        *,
        surveys: pd.DataFrame | None = None,
        logged: pd.DataFrame | None = None,
        traces: pd.DataFrame | None = None,
        rolls: pd.DataFrame | None = None,
        settings: SiteSettings | None = None,
        name: str = "site",
    ) -> Site:
        """A site from frames with the columns of the input tables, checked as files are.

        Parameters
        ----------
        holes, fractures, surveys, logged, traces, rolls : pandas.DataFrame
            Only the first two are required.
        settings : SiteSettings or None
        name : str

        Returns
        -------
        Site

        Raises
        ------
        SiteError
            With every fault; rows are counted from 0.
        """
        frames = {
            "holes": holes,
            "surveys": surveys,
            "rolls": rolls,
            "logged": logged,
            "traces": traces,
            "fractures": fractures,
        }
        tables, faults, missing = {}, [], {}
        for key, frame in frames.items():
            if frame is None:
                continue
            table, found = table_of_frame(key, frame)
            faults += found
            if table is None:
                missing[key] = key
            else:
                tables[key] = table
        given = SettingsFile({"name": name}, file="settings", given=settings or SiteSettings())
        return _site(assemble(name, tables, given, faults, missing))

    def to_csv(self, folder: str | Path) -> Path:
        """Write the tables and settings of the site; read again, they give the same site.

        Parameters
        ----------
        folder : str or Path
            Directory to write into; it is made if needed.

        Returns
        -------
        Path
            The directory.
        """
        from jointstats.tables.write import write_csv

        return write_csv(self, Path(folder))

    def to_workbook(self, path: str | Path) -> Path:
        """Write the site as one .xlsx workbook; read again, it gives the same site.

        Parameters
        ----------
        path : str or Path
            The file to write.

        Returns
        -------
        Path
            The file.

        Raises
        ------
        InputError
            If openpyxl, the extra ``xlsx``, is not installed.
        """
        from jointstats.tables.workbook import write_workbook

        return write_workbook(self, Path(path))


def _site(parts: Parts) -> Site:
    from jointstats.borehole.core_sense import check_core_sense

    site = Site(parts.name, parts.holes, parts.fractures, parts.settings, parts.notes, parts.tables)
    sense = check_core_sense(site)
    return replace(site, notes=(*site.notes, sense.sentence)) if sense.clear else site


def read_site(path: str | Path) -> Site:
    """Read the tables of a site, and check every cell.

    Parameters
    ----------
    path : str or Path
        Directory with holes.csv and fractures.csv, and perhaps surveys.csv, logged.csv,
        traces.csv, rolls.csv and site.toml; or an .xlsx workbook with sheets of the same names
        (needs the extra ``xlsx``); or an AGS4 file (.ags).

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
    source = Path(path)
    if source.is_file() and source.suffix.lower() == ".xlsx":
        from jointstats.tables.workbook import workbook_parts

        return _site(workbook_parts(source))
    if source.is_file() and source.suffix.lower() == ".ags":
        from jointstats.tables.ags import ags_parts

        return _site(ags_parts(source))
    if not source.is_dir():
        found = "is a file" if source.exists() else "does not exist"
        rule = (
            f"{found}; a site is a directory that holds holes.csv and fractures.csv, "
            "an .xlsx workbook or an AGS4 file (.ags)"
        )
        raise SiteError([Fault(str(path), None, None, "", rule)])
    return _site(_folder_parts(source))


def _file_in(folder: Path, name: str) -> Path | None:
    """A file of the folder, whatever the case of its name."""
    exact = folder / name
    if exact.is_file():
        return exact
    close = sorted(file for file in folder.iterdir() if file.name.lower() == name)
    return close[0] if close else None


def _folder_parts(folder: Path) -> Parts:
    faults: list[Fault] = []
    tables: dict[str, Table] = {}
    missing = {}
    toml = _file_in(folder, "site.toml")
    settings = parse_settings(toml.name, toml.read_bytes()) if toml else SettingsFile()
    for key, columns in TABLES.items():
        file = _file_in(folder, f"{key}.csv")
        if file is None:
            if key in REQUIRED:
                missing[key] = f"{key}.csv"
                rule = "the table is missing; every site has one"
                faults.append(Fault(f"{key}.csv", None, None, "", rule))
            continue
        numbers = {column.name for column in columns if column.kind == "number"}
        keys = {column.name for column in columns if column.kind == "word"}
        table, found = parse_table(file.name, file.read_bytes(), numbers, keys)
        faults += found
        if table is None:
            missing[key] = file.name
        else:
            tables[key] = table
    return assemble(folder.resolve().name, tables, settings, faults, missing)
