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
from jointstats.schema import DECISIONS, TABLES
from jointstats.tables.ags import read_ags
from jointstats.tables.assemble import assemble
from jointstats.tables.found import MAX_MB, Found, bytes_of, file_in
from jointstats.tables.mapping import stem_of
from jointstats.tables.parse import parse_table, split_header
from jointstats.tables.raw_table import RawTable, table_of_frame
from jointstats.tables.settings import SettingsFile, parse_settings
from jointstats.tables.units import number_names
from jointstats.tables.unread import Other
from jointstats.tables.workbook import from_workbook


#: The mapping says what the other tables are, so it is read first.
ORDER = ("mapping", *(key for key in TABLES if key != "mapping"))


def read_site(
    path: str | os.PathLike[str],
    *,
    mapping: str | os.PathLike[str] | None = None,
    max_mb: float = MAX_MB,
) -> Site:
    """Read the tables of a site, and check every cell.

    Parameters
    ----------
    path : str or Path
        Directory with holes.csv and fractures.csv, and perhaps surveys.csv, logged.csv,
        traces.csv, rolls.csv and site.toml; or an .xlsx workbook with sheets of the same names
        (needs the extra ``xlsx``); or an AGS4 file (.ags).
    mapping : str or Path, or None
        A file with the columns of the table mapping: what the files, headings and words of others
        mean, where the site itself has no such table.
    max_mb : float
        Most megabytes of one table, or of a workbook when it is unpacked. Reading takes some five
        times as much memory.

    Returns
    -------
    Site

    Raises
    ------
    InputError
        If `max_mb` is not a number above 0, or `mapping` is no file, or of an AGS4 file.
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
    source = _source(path)
    if source.is_file() and source.suffix.lower() == ".ags":
        if mapping is not None:
            raise InputError("an AGS4 file has headings of its own standard; leave mapping out")
        return replace(read_ags(source, most), sources=(source,), digests=_digests([source]))
    found = found_in(source, most, mapping)
    files = found.files if source.is_dir() else [source, *found.files]
    return replace(assemble(found), sources=(source,), digests=_digests(files))


def _digests(files: list[Path]) -> tuple[tuple[str, str], ...]:
    """Name and SHA-256 of each file of a site."""
    digests = []
    for one in files:
        with one.open("rb") as content:
            digests.append((one.name, file_digest(content, "sha256").hexdigest()))
    return tuple(digests)


def _source(path: str | os.PathLike[str]) -> Path:
    """The place of a site; a refusal of what can't be one."""
    try:
        source = Path(os.fsdecode(path))
        found = "is a file" if source.exists() else "does not exist"
    except (TypeError, ValueError, OSError) as error:
        raise InputError(
            f"path must be that of a site; got {str(path)[:200]!r} ({str(error)[:60]})"
        ) from None
    if source.is_dir() or (source.is_file() and source.suffix.lower() in (".xlsx", ".ags")):
        return source
    rule = (
        f"{found}; a site is a directory that holds holes.csv and fractures.csv, "
        "an .xlsx workbook or an AGS4 file (.ags)"
    )
    raise SiteError([Fault(str(path), None, None, "", rule)])


def found_in(source: Path, max_mb: float, mapping: str | os.PathLike[str] | None = None) -> Found:
    """The tables of a directory or workbook, the mapping taken in, before they are checked.

    `mapping`: a file that holds it, where the site has none.
    """
    found = Found(source.resolve().name)
    if mapping is not None:
        file = Path(mapping)
        if not file.is_file():
            raise InputError(f"the mapping {file} is no file")
        found.add("mapping", file.name, *_parsed(file, "mapping", max_mb))
        found.files.append(file)
    if source.is_dir():
        _from_folder(found, source, max_mb)
    else:
        from_workbook(found, source, max_mb)
    return found


def _parsed(file: Path, key: str, max_mb: float) -> tuple[RawTable | None, list[Fault]]:
    data = bytes_of(file, max_mb)
    return parse_table(file.name, data, number_names(key), TABLES[key].of_kind("word"))


def _from_folder(found: Found, folder: Path, max_mb: float) -> None:
    toml = file_in(folder, "site.toml")
    if toml is not None:
        found.settings = parse_settings(toml.name, bytes_of(toml, max_mb))
        found.files.append(toml)
    for key in ORDER:
        file = file_in(folder, f"{key}.csv")
        theirs = found.mapping.sheets.get(key)
        other = None if theirs is None else file_in(folder, f"{stem_of(theirs)}.csv")
        if file is not None and (other is not None or (key == "mapping" and found.mapping.told)):
            found.twice(key, file.name, found.mapping.file if other is None else other.name)
        file = file or other
        if file is None:
            if TABLES[key].required:
                name = f"{key}.csv" if theirs is None else theirs
                found.lacks(key, name, "the table is missing; every site has one")
            continue
        found.files.append(file)
        found.add(key, file.name, *_parsed(file, key, max_mb))
    read = {*found.files}
    found.others = [
        _other(file)
        for file in sorted(folder.iterdir())
        if file not in read and file.name.lower() != DECISIONS
    ]


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
    for key in ORDER:
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
