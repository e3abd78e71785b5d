"""What a source of a site holds, before any cell is checked."""

from __future__ import annotations

import zipfile
from dataclasses import dataclass, field
from pathlib import Path

from jointstats.errors import Fault, SiteError
from jointstats.schema import TABLES
from jointstats.tables.mapping import Mapping, mapping_of
from jointstats.tables.raw_table import NO_ROWS, RawTable
from jointstats.tables.settings import SettingsFile
from jointstats.tables.unread import Other


@dataclass
class Found:
    """Tables by key, settings, and the faults met on the way.

    `name` is that of the source, for a site whose settings give none; `missing` are tables that
    are there and could not be split into cells, and required ones that are not there, with their
    files; `files` are those that were read; `empty` are files without a row; `others` are files or sheets that are no input table. A `foreign` source has headings
    of its own, so that one of them near to one of ours is not a slip. The mapping is taken in
    before the tables that it speaks of.
    """

    name: str
    tables: dict[str, RawTable] = field(default_factory=dict)
    settings: SettingsFile = field(default_factory=SettingsFile)
    faults: list[Fault] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    others: list[Other] = field(default_factory=list)
    foreign: bool = False
    empty: list[str] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)
    mapping: Mapping = field(default_factory=Mapping)

    def add(self, key: str, file: str, table: RawTable | None, faults: list[Fault]) -> None:
        """Take in a table, or the reasons why there is none."""
        rules = {fault.rule for fault in faults}
        if rules and rules <= set(NO_ROWS) and not TABLES[key].required:
            self.empty.append(file)
            return
        self.faults += faults
        if table is None:
            self.missing[key] = file
        elif key == "mapping":
            self.mapping = mapping_of(table)
            self.faults += self.mapping.faults
        else:
            self.faults += self.mapping.apply(key, table)
            self.tables[key] = table

    def twice(self, key: str, file: str, other: str) -> None:
        """Take in that a table is there twice."""
        rule = f"{other} is {key} too, by the mapping; keep one of them"
        self.faults.append(Fault(file, None, None, "", rule))

    def lacks(self, key: str, file: str, rule: str) -> None:
        """Take in that there is no such table to be read."""
        self.add(key, file, None, [Fault(file, None, None, "", rule)])


#: Most megabytes (10⁶ bytes) of one table, or of a workbook when it is unpacked. Reading takes
#: some five times as much memory.
MAX_MB = 200.0
_SETTABLE = "are read; leave out what is not needed, or give a higher max_mb"


def file_in(folder: Path, name: str) -> Path | None:
    """A file of the folder, whatever the case of its name; a SiteError where there are two."""
    close = sorted(file.name for file in folder.iterdir() if file.name.lower() == name)
    if len(close) > 1:
        rule = f"{' and '.join(close)} are one table by their names; keep one of them"
        raise SiteError([Fault(folder.name, None, None, "", rule)])
    return folder / close[0] if close else None


def bytes_of(path: Path, max_mb: float = MAX_MB) -> bytes:
    """What a file holds; a SiteError where it is no file, or holds too much."""
    if not path.is_file():
        raise SiteError([Fault(path.name, None, None, "", "this is no file; give a file")])
    size = path.stat().st_size / 1e6
    if size > max_mb:
        rule = f"it has {size:.4g} MB, and at most {max_mb:g} MB {_SETTABLE}"
        raise SiteError([Fault(path.name, None, None, "", rule)])
    return path.read_bytes()


def check_unpacked(file: str, archive: zipfile.ZipFile, max_mb: float) -> None:
    """Raise a SiteError where an archive unpacks to too much; the sizes it states bind it."""
    size = sum(part.file_size for part in archive.infolist()) / 1e6
    if size > max_mb:
        rule = f"it has {size:.4g} MB unpacked, and at most {max_mb:g} MB {_SETTABLE}"
        raise SiteError([Fault(file, None, None, "", rule)])
