"""A site from a directory, a workbook, an AGS4 file or frames: read, and every cell checked."""

from __future__ import annotations

import os
from dataclasses import replace
from hashlib import file_digest
from pathlib import Path

import pandas as pd

from jointstats.borehole.settings import SiteSettings
from jointstats.borehole.site import Site as Site
from jointstats.checks import check_number
from jointstats.errors import Fault, InputError, SiteError
from jointstats.schema import TABLES
from jointstats.tables.ags import read_ags
from jointstats.tables.assemble import assemble
from jointstats.tables.found import MAX_MB, Found, bytes_of, file_in
from jointstats.tables.parse import parse_table, split_header
from jointstats.tables.raw_table import table_of_frame
from jointstats.tables.settings import SettingsFile, parse_settings
from jointstats.tables.units import number_names
from jointstats.tables.unread import Other
from jointstats.tables.workbook import found_in_workbook


def read_site(path: str | Path, *, max_mb: float = MAX_MB) -> Site:
    """Read the tables of a site, and check every cell.

    Parameters
    ----------
    path : str or Path
        Directory with holes.csv and fractures.csv, and perhaps surveys.csv, logged.csv,
        traces.csv, rolls.csv and site.toml; or an .xlsx workbook with sheets of the same names
        (needs the extra ``xlsx``); or an AGS4 file (.ags).
    max_mb : float
        Most megabytes of one table, or of a workbook when it is unpacked. Reading takes some five
        times as much memory.

    Returns
    -------
    Site

    Raises
    ------
    InputError
        If `max_mb` is not a number above 0.
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
    most = check_number(max_mb, "max_mb", low=0, open_end=True)
    site = _read(path, most)
    source = Path(os.fsdecode(path))
    return replace(site, sources=(source,), digests=_digests(source))


def _digests(source: Path) -> tuple[tuple[str, str], ...]:
    """Name and SHA-256 of each file of a site."""
    if source.is_dir():
        wanted = ["site.toml", *(f"{key}.csv" for key in TABLES)]
        files = [file for name in wanted if (file := file_in(source, name)) is not None]
    else:
        files = [source] if source.is_file() else []
    digests = []
    for one in files:
        with one.open("rb") as content:
            digests.append((one.name, file_digest(content, "sha256").hexdigest()))
    return tuple(digests)


def _read(path: str | Path, max_mb: float) -> Site:
    try:
        source = Path(os.fsdecode(path))
        found = "is a file" if source.exists() else "does not exist"
    except (TypeError, ValueError, OSError) as error:
        raise InputError(f"path must be that of a site; got {str(path)[:200]!r} ({str(error)[:60]})") from None
    if source.is_file() and source.suffix.lower() == ".xlsx":
        return assemble(found_in_workbook(source, max_mb))
    if source.is_file() and source.suffix.lower() == ".ags":
        return read_ags(source, max_mb)
    if not source.is_dir():
        rule = (
            f"{found}; a site is a directory that holds holes.csv and fractures.csv, "
            "an .xlsx workbook or an AGS4 file (.ags)"
        )
        raise SiteError([Fault(str(path), None, None, "", rule)])
    return assemble(_found_in_folder(source, max_mb))


def _found_in_folder(folder: Path, max_mb: float) -> Found:
    toml = file_in(folder, "site.toml")
    found = Found(folder.resolve().name)
    if toml is not None:
        found.settings = parse_settings(toml.name, bytes_of(toml, max_mb))
    read = {toml}
    for key, form in TABLES.items():
        file = file_in(folder, f"{key}.csv")
        read.add(file)
        if file is None:
            if form.required:
                found.lacks(key, f"{key}.csv", "the table is missing; every site has one")
            continue
        table, faults = parse_table(
            file.name, bytes_of(file, max_mb), number_names(key), form.of_kind("word")
        )
        found.add(key, file.name, table, faults)
    found.others = [_other(file) for file in sorted(folder.iterdir()) if file not in read]
    return found


def _other(path: Path) -> Other:
    """A file that is no input table, with its headings where it is text."""
    if not path.is_file() or path.suffix.lower() not in (".csv", ".tsv", ".txt", ".dat"):
        return Other(path.name)
    with path.open("rb") as stream:
        first = stream.readline(100_000).decode("utf-8-sig", errors="replace")
    lines = first.strip().splitlines()
    return Other(path.name, tuple(split_header(lines[0])[0]) if lines else ())


def site_from_frames(
    holes: pd.DataFrame,
    fractures: pd.DataFrame,
    *,
    settings: SiteSettings | None = None,
    name: str = "site",
    **tables: pd.DataFrame | None,
) -> Site:
    """A site from frames with the columns of the input tables, checked as files are.

    `**tables`: any other input table, by its name.
    """
    unknown = sorted(set(tables) - set(TABLES))
    if unknown:
        known = ", ".join(TABLES)
        raise InputError(f"there is no input table {unknown[0]!r}; the tables are {known}")
    frames = {"holes": holes, "fractures": fractures, **tables}
    if settings is not None and not isinstance(settings, SiteSettings):
        raise InputError(f"settings must be SiteSettings; got {type(settings).__name__}")
    if not isinstance(name, str):
        raise InputError(f"name must be text; got {name!r}")
    given = SettingsFile({"name": name}, file="settings", given=settings or SiteSettings())
    found = Found(name, settings=given)
    for key in TABLES:
        frame = frames.get(key)
        if frame is None:
            if TABLES[key].required:
                found.lacks(key, key, "the table is missing; every site has one")
            continue
        table, faults = table_of_frame(key, frame)
        found.add(key, key, table, faults)
    return assemble(found)


# A user makes a site from frames where the class is, and finds the checks applied; the class
# itself stays plain data that knows no table.
Site.from_frames = staticmethod(site_from_frames)
