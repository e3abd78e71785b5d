"""What the files, headings and words of others mean here: taken over, and told in the report."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd

from jointstats.borehole.rows import listed_rows
from jointstats.errors import Fault
from jointstats.schema import TABLES
from jointstats.sphere.angles import as_azimuth
from jointstats.tables.cells import check_cells, missing_columns, numbers_from_text
from jointstats.tables.raw_table import RawTable
from jointstats.tables.units import ours_of
from jointstats.tables.unread import nearest

_KINDS = (("sheet",), ("heading", "column"), ("word", "column", "means"))
_RULE = (
    "a row has table and sheet; or table, heading and column; or table, column, word and means"
)


class Heading(NamedTuple):
    """A column of others: their name, ours, and what turns their numbers into ours."""

    theirs: str
    ours: str
    times: float
    plus: float
    line: int

    @property
    def told(self) -> str:
        """What it is, in words."""
        sums = "" if self.times == 1 else f" times {self.times:g}"
        sums += "" if self.plus == 0 else f" plus {self.plus:g}"
        return f"{self.ours} is {self.theirs!r}{sums}"


@dataclass
class Mapping:
    """Files, headings and words of others by the table of ours that they are of.

    Parameters
    ----------
    file : str
        Where it stands.
    sheets : dict of str to str
        Their file or sheet, by table.
    headings : dict of str to list of Heading
    words : dict of (str, str) to dict of str to str
        Table and column, their word in lower case, and ours.
    faults : list of Fault
    unused : list of str
        Sentences on headings that are not there.

    Examples
    --------
    >>> Mapping().told
    ()
    """

    file: str = "mapping.csv"
    sheets: dict[str, str] = field(default_factory=dict)
    headings: dict[str, list[Heading]] = field(default_factory=dict)
    words: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)

    @property
    def told(self) -> tuple[str, ...]:
        """What is taken over, a sentence a file, heading or word."""
        return (
            *(f"{key} is {name!r}" for key, name in self.sheets.items()),
            *(f"{key}: {one.told}" for key, own in self.headings.items() for one in own),
            *(
                f"{key}, column {column}: {word!r} means {ours}"
                for (key, column), own in self.words.items()
                for word, ours in own.items()
            ),
        )

    def table_of(self, name: str) -> str | None:
        """The table of ours that a file or sheet of theirs is; None for none."""
        plain = stem_of(name)
        return next((key for key, one in self.sheets.items() if stem_of(one) == plain), None)

    def apply(self, key: str, table: RawTable) -> list[Fault]:
        """Give a table our headings, numbers and words; faults where two columns are one."""
        faults = []
        for one in self.headings.get(key, ()):
            found = [str(name) for name in table.cells if str(name).lower() == one.theirs.lower()]
            if not found:
                close = nearest(one.theirs, table.cells, "heading")
                self.unused.append(
                    f"{self.file}, row {one.line}: {table.file} has no heading {one.theirs!r}{close}"
                )
            elif table.has(one.ours):
                rule = f"is mapped to {one.ours}, which stands beside it; give one of the two"
                faults.append(Fault(table.file, table.header_line, found[0], found[0], rule))
            else:
                table.rename(found[0], one.ours)
                _change(key, table, one)
        for (own, column), words in self.words.items():
            for name in (str(one) for one in table.cells if own == key):
                if ours_of(name) == column:
                    table.replace({name: [_meant(cell, words) for cell in table.cells[name]]})
        return faults


def stem_of(name: str) -> str:
    """The name of a file or sheet as it is compared: in lower case, without the ending of CSV."""
    return name.strip().lower().removesuffix(".csv")


def _meant(cell: object, words: dict[str, str]) -> object:
    return words.get(str(cell).strip().lower(), cell)


def _change(key: str, table: RawTable, one: Heading) -> None:
    """Turn the numbers of a column of theirs into ours; what is no number stays for its fault."""
    if (one.times, one.plus) == (1.0, 0.0):
        return
    values, text = numbers_from_text(table.cells[one.ours], table.decimal)
    changed = values * one.times + one.plus
    column = next(own for own in TABLES[key].columns if own.name == ours_of(one.ours))
    if (column.low, column.high) == (0.0, 360.0):
        changed = as_azimuth(changed)
    kept = np.where(np.isnan(values), text, np.array([repr(float(v)) for v in changed], dtype=object))
    if table.decimal == ",":
        kept = np.array([str(cell).replace(".", ",") for cell in kept], dtype=object)
    table.replace({one.ours: kept})


def mapping_of(table: RawTable) -> Mapping:
    """The mapping that a table says, each row checked and confirmed."""
    columns = TABLES["mapping"].columns
    found = Mapping(table.file)
    found.faults += missing_columns(table, columns) + check_cells(table, columns)
    if found.faults:
        return found
    names = ("table", "sheet", "heading", "column", "word", "means", "confirmed")
    rows = pd.DataFrame({name: _texts(table, name) for name in names}).to_dict("records")
    times = np.nan_to_num(table.numbers("times"), nan=1.0)
    plus = np.nan_to_num(table.numbers("plus"))
    open_rows = [at for at, row in enumerate(rows) if not row["confirmed"]]
    if open_rows:
        rule = (
            f"a row of a draft is empty here ({listed_rows(table.lines[open_rows])}); put yes if it "
            "is right, no if it is not meant"
        )
        found.faults.append(table.fault(open_rows[0], "confirmed", "", rule))
    for at, row in enumerate(rows):
        if row["confirmed"] != "yes":
            continue
        wrong = _wrong(row)
        if wrong is not None:
            found.faults.append(table.fault(at, *wrong))
        elif row["sheet"]:
            found.sheets[row["table"]] = row["sheet"]
        elif row["heading"]:
            line = int(table.lines[at])
            one = Heading(row["heading"], row["column"], float(times[at]), float(plus[at]), line)
            found.headings.setdefault(row["table"], []).append(one)
        else:
            place = found.words.setdefault((row["table"], ours_of(row["column"])), {})
            place[row["word"].lower()] = row["means"]
    return found


def _texts(table: RawTable, name: str) -> list[str]:
    return ["" if pd.isna(cell) else str(cell).strip() for cell in table.words(name)]


def _wrong(row: dict[str, str]) -> tuple[str, str, str] | None:
    """Column, value and rule of what is wrong in a row; None where it may be used."""
    filled = {name for name in ("sheet", "heading", "column", "word", "means") if row[name]}
    if not any(filled == set(kind) for kind in _KINDS):
        return "table", row["table"], _RULE
    known = TABLES[row["table"]].names
    if row["column"] and ours_of(row["column"]) not in known:
        rule = f"{row['table']} has no such column{nearest(row['column'], known, 'column')}"
        return "column", row["column"], rule
    return None
