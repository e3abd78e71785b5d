"""The bytes of a file that a user gave, where it is a file and not too large."""

from __future__ import annotations

import zipfile
from pathlib import Path

from jointstats.errors import Fault, SiteError

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
