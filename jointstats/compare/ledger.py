"""What was done already: one line of JSON a result, so that an interrupted run may go on."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from jointstats.errors import InputError
from jointstats.sets.record import JSON_VERSION
from jointstats.tables.output import output_file, write_file

if TYPE_CHECKING:
    from jointstats.borehole.site import Site


class Ledger:
    """Results by name, kept in a file as they come.

    The first line says what the file is, and which version wrote it; each further line is a
    result with its digest. A line that an interruption cut short, or that was changed, is passed
    over, so its item is analysed again.

    Parameters
    ----------
    path : path or None
        File to go on from, made if it is not there; None keeps the results in memory only.

    Raises
    ------
    InputError
        If the path is no file, or a file that this version of the package did not write.

    Examples
    --------
    >>> ledger = Ledger(None)
    >>> ledger.add({"item": "B1", "mark": "x", "status": "done"})
    >>> ledger.has("B1", "x"), ledger.has("B1", "y")
    (True, False)
    """

    def __init__(self, path: str | os.PathLike[str] | None) -> None:
        self.entries: dict[str, dict[str, object]] = {}
        self._path = None if path is None else _checked(path)
        # What follows a cut line must start on a line of its own.
        self._before = ""
        if self._path is None:
            return
        data = self._path.read_bytes() if self._path.exists() else b""
        if data:
            self._read(data)
        else:
            write_file(self._path, json.dumps(_header()) + "\n")

    def _read(self, data: bytes) -> None:
        first, *rest = data.split(b"\n")
        header = _parsed(first)
        if header is None or header.get("format") != _FORMAT:
            raise InputError(
                f"resume must be a file that this package wrote, or a new one; {self._path} is "
                "another, and is left as it is"
            )
        if header != _header():
            raise InputError(
                f"{self._path} holds results of jointstats {header.get('package')}, and this is "
                f"{_header()['package']}: figures may differ, so give another file to resume"
            )
        for line in rest:
            entry = _parsed(line)
            if entry is not None and entry.pop("digest", None) == _digest(entry):
                self.entries[str(entry["item"])] = entry
        self._before = "" if data.endswith(b"\n") else "\n"

    def has(self, name: str, mark: str) -> bool:
        """Whether an item was done, and has not changed since."""
        entry = self.entries.get(name)
        return entry is not None and entry["mark"] == mark and entry["status"] == "done"

    def add(self, entry: dict[str, object]) -> None:
        """Keep a result with its item, mark and status; write it at once where there is a file."""
        self.entries[str(entry["item"])] = entry
        if self._path is not None:
            line = json.dumps(entry | {"digest": _digest(entry)})
            with self._path.open("a", encoding="utf-8") as file:
                file.write(f"{self._before}{line}\n")
            self._before = ""


def _checked(path: str | os.PathLike[str]) -> Path:
    place = Path(path)
    if place.exists() and not place.is_file():
        raise InputError(f"resume must be a file; {place} is none")
    return output_file(place)


_FORMAT = "jointstats results of many sites"


def _header() -> dict[str, object]:
    from jointstats import __version__

    return {"format": _FORMAT, "package": __version__, "schema": JSON_VERSION}


def _parsed(line: bytes) -> dict[str, object] | None:
    """An object of JSON; None where the line holds anything else."""
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _digest(entry: dict[str, object]) -> str:
    return hashlib.sha256(json.dumps(entry, sort_keys=True).encode()).hexdigest()


def fingerprint(item: Site | str | os.PathLike[str], asked: str) -> str:
    """Mark that changes with the tables of an item or with what is asked of it.

    `item`: a site, or the path of one.
    """
    mark = hashlib.sha256(asked.encode())
    if isinstance(item, str | os.PathLike):
        path = Path(item)
        files = sorted(path.iterdir()) if path.is_dir() else [path] * path.is_file()
        for file in files:
            if file.is_file():
                mark.update(file.name.encode() + file.read_bytes())
        return mark.hexdigest()
    for hole in item.holes:
        # By the list of its fields, so that a new one can't be forgotten; repr cuts long arrays.
        known = [getattr(hole, one.name) for one in fields(hole) if one.name != "path"]
        mark.update(repr(known).encode())
        mark.update(hole.path.depth_m.tobytes() + hole.path.directions.tobytes())
    mark.update(repr(item.settings).encode() + ",".join(item.fractures.columns).encode())
    for key, table in sorted({**item.tables, "fractures": item.fractures}.items()):
        mark.update(f"{key}: {','.join(table.columns)}".encode())
        if len(table):
            mark.update(pd.util.hash_pandas_object(table, index=False).to_numpy().tobytes())
    return mark.hexdigest()
