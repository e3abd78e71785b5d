"""What was done already: one line of JSON a result, so that an interrupted run may go on."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from jointstats.errors import InputError

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

__all__ = ["Ledger", "fingerprint"]


class Ledger:
    """Results by name, kept in a file as they come.

    Parameters
    ----------
    path : path or None
        File of one JSON object a line; None keeps them in memory only. A line that an
        interruption cut short is passed over.

    Raises
    ------
    InputError
        If the path is a directory.

    Examples
    --------
    >>> ledger = Ledger(None)
    >>> ledger.add({"item": "B1", "mark": "x", "status": "done"})
    >>> ledger.has("B1", "x"), ledger.has("B1", "y")
    (True, False)
    """

    def __init__(self, path: str | os.PathLike[str] | None) -> None:
        self.entries: dict[str, dict[str, object]] = {}
        self._path = None if path is None else Path(path)
        if self._path is None:
            return
        if self._path.is_dir():
            raise InputError(f"resume must be a file; {self._path} is a directory")
        if self._path.exists():
            self._read(self._path.read_text(encoding="utf-8"))

    def _read(self, text: str) -> None:
        for line in text.splitlines():
            try:
                entry = json.loads(line)
            except json.JSONDecodeError:
                continue
            if isinstance(entry, dict) and {"item", "mark", "status"} <= entry.keys():
                self.entries[entry["item"]] = entry
        if text and not text.endswith("\n"):
            # What follows the cut line must start on a line of its own.
            with self._path.open("a", encoding="utf-8") as file:
                file.write("\n")

    def has(self, name: str, mark: str) -> bool:
        """Whether an item was done, and has not changed since.

        Parameters
        ----------
        name, mark : str

        Returns
        -------
        bool
        """
        entry = self.entries.get(name)
        return entry is not None and entry["mark"] == mark and entry["status"] == "done"

    def add(self, entry: dict[str, object]) -> None:
        """Keep a result, and write it at once where there is a file.

        Parameters
        ----------
        entry : dict
            With item, mark and status.
        """
        self.entries[str(entry["item"])] = entry
        if self._path is not None:
            with self._path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(entry) + "\n")


def fingerprint(item: Site | str, options: dict[str, object]) -> str:
    """Mark that changes with the tables of an item or with what is asked of it.

    Parameters
    ----------
    item : Site or str
        A site, or the path of one.
    options : dict

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> fingerprint(site, {}) == fingerprint(site, {}) != fingerprint(site, {"n_sets": 2})
    True
    """
    mark = hashlib.sha256(json.dumps(options, sort_keys=True).encode())
    if isinstance(item, str):
        path = Path(item)
        files = sorted(path.iterdir()) if path.is_dir() else [path] * path.is_file()
        for file in files:
            if file.is_file():
                mark.update(file.name.encode() + file.read_bytes())
        return mark.hexdigest()
    for hole in item.holes:
        mark.update(repr((hole.name, hole.length_m, hole.logged, hole.reference)).encode())
        mark.update(hole.path.depth_m.tobytes() + hole.path.directions.tobytes())
    mark.update(repr(item.settings).encode() + ",".join(item.fractures.columns).encode())
    if len(item.fractures):
        hashed = pd.util.hash_pandas_object(item.fractures, index=False)
        mark.update(hashed.to_numpy().tobytes())
    return mark.hexdigest()
