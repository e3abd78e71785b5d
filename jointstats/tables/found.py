"""What a source of a site holds, before any cell is checked."""

from __future__ import annotations

from dataclasses import dataclass, field

from jointstats.errors import Fault
from jointstats.schema import TABLES
from jointstats.tables.raw_table import NO_ROWS, RawTable
from jointstats.tables.settings import SettingsFile
from jointstats.tables.unread import Other


@dataclass
class Found:
    """Tables by key, settings, and the faults met on the way.

    `name` is that of the source, for a site whose settings give none; `missing` are tables that
    are there and could not be split into cells, and required ones that are not there, with their
    files; `empty` are files without a row; `others` are files or sheets that are no input table. A `foreign` source has headings
    of its own, so that one of them near to one of ours is not a slip.
    """

    name: str
    tables: dict[str, RawTable] = field(default_factory=dict)
    settings: SettingsFile = field(default_factory=SettingsFile)
    faults: list[Fault] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    others: list[Other] = field(default_factory=list)
    foreign: bool = False
    empty: list[str] = field(default_factory=list)

    def add(self, key: str, file: str, table: RawTable | None, faults: list[Fault]) -> None:
        """Take in a table, or the reasons why there is none."""
        rules = {fault.rule for fault in faults}
        if rules and rules <= set(NO_ROWS) and not TABLES[key].required:
            self.empty.append(file)
            return
        self.faults += faults
        if table is None:
            self.missing[key] = file
        else:
            self.tables[key] = table

    def lacks(self, key: str, file: str, rule: str) -> None:
        """Take in that there is no such table to be read."""
        self.add(key, file, None, [Fault(file, None, None, "", rule)])
