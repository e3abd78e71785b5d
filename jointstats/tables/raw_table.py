"""One table of a site as it was found: its cells, its lines, and what is wrong with its shape."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.rows import codes_of, rows_of_holes
from jointstats.errors import Fault
from jointstats.types import Array

#: What is said of a table without rows: a fault where a site can't do without it.
NO_ROWS = (
    "the file is empty; it needs a header row",
    "the table has a header and no rows",
    "the sheet is empty",
    "the sheet has a header and no rows",
    "the table has no rows",
)

#: Most columns of a table.
MAX_COLUMNS = 1000


@dataclass
class RawTable:
    """Cells of a table, each row with its line in the file.

    Parameters
    ----------
    file : str
        Name of the file or sheet.
    cells : pandas.DataFrame
        Columns as parsed: numbers where a whole column is numbers, else text.
    lines : ndarray of int, shape (n,)
        Line of the file that each row starts on; the header is line 1.
    header_line : int or None
        Line of the header; None for a table that is no file.
    decimal : str
        Mark before the decimals, "." or ",".
    bad : dict of str to ndarray of bool
        Cells already found wrong, by column.
    named : dict of str to str
        What the file calls a column that it has in another unit.
    factor : dict of str to float
        What its numbers are multiplied by.
    unit : dict of str to str
        The unit that they are in.
    given : dict of str to ndarray
        Numbers of the file, of columns that a correction moved.

    Examples
    --------
    >>> table, faults = table_of_frame("holes", pd.DataFrame({"hole": ["B1"]}))
    >>> len(table), table.has("hole"), faults
    (1, True, [])
    """

    file: str
    cells: pd.DataFrame
    lines: NDArray[np.int64]
    header_line: int | None = 1
    decimal: str = "."
    bad: dict[str, NDArray[np.bool_]] = field(default_factory=dict)
    named: dict[str, str] = field(default_factory=dict)
    factor: dict[str, float] = field(default_factory=dict)
    unit: dict[str, str] = field(default_factory=dict)
    given: dict[str, Array] = field(default_factory=dict)
    _kept: dict[Any, Any] = field(default_factory=dict, repr=False)

    def __len__(self) -> int:
        return len(self.lines)

    def has(self, *names: str) -> bool:
        """Whether all these columns are there."""
        return all(name in self.cells for name in names)

    def replace(self, columns: Mapping[str, Any]) -> None:
        """Put other cells in place of some columns."""
        self.cells = self.cells.assign(**columns)
        self._kept.clear()

    def rename(self, name: str, ours: str, factor: float | None = None) -> None:
        """Give a column of another name, or in another unit, the name that it has here."""
        self.cells = self.cells.rename(columns={name: ours})
        self.named[ours] = self.named.pop(name, name)
        if factor is not None:
            self.factor[ours], self.unit[ours] = factor, name.rsplit("_", 1)[-1]
        self._kept.clear()

    def told(self, name: str, value: float) -> str:
        """A number of a column in the unit of the file; the unit too where it is not ours."""
        if name not in self.factor:
            return f"{value:g}"
        return f"{value / self.factor[name]:.6g} {self.unit[name]}"

    def numbers(self, name: str) -> Array:
        """A checked column as numbers; NaN where it is empty, wrong or absent. Not to be changed."""
        if name not in self._kept:
            self._kept[name] = (
                self.cells[name].to_numpy(dtype=np.float64)
                if name in self.cells
                else np.full(len(self), np.nan)
            )
        return self._kept[name]

    def words(self, name: str) -> NDArray[np.object_]:
        """A checked column as text; empty where it is absent. Not to be changed."""
        if name not in self._kept:
            self._kept[name] = (
                self.cells[name].to_numpy(dtype=object)
                if name in self.cells
                else np.full(len(self), "", dtype=object)
            )
        return self._kept[name]

    def codes(self, name: str, words: Sequence[str]) -> NDArray[np.int64]:
        """Place of each cell of a checked column among some words; −1 for any other."""
        if name not in self.cells:
            return np.full(len(self), -1)
        return codes_of(self.cells[name], words)

    def rows_of(self, holes: Sequence[str]) -> list[NDArray[np.intp]]:
        """Rows of each of some holes."""
        if "hole" not in self.cells:
            return [np.empty(0, dtype=np.intp) for _ in holes]
        key = tuple(holes)
        if key not in self._kept:
            self._kept[key] = rows_of_holes(self.cells["hole"], holes)
        return self._kept[key]

    @property
    def nameless(self) -> bool:
        """Whether a row lacks the name of its hole, so that any hole may be the one it is about."""
        return bool(self.wrong("hole").any())

    def move(self, name: str, values: Array) -> None:
        """Put corrected numbers in place of those of the file, which faults still tell."""
        self.given[name] = self.numbers(name)
        self.replace({name: values})

    def as_given(self) -> pd.DataFrame:
        """The cells with the numbers of the file in place of corrected ones."""
        return self.cells.assign(**self.given)

    def wrong(self, *names: str) -> NDArray[np.bool_]:
        """Rows in which a cell of these columns (all, if none is named) was found wrong."""
        rows = np.zeros(len(self), dtype=bool)
        for name in names or tuple(self.bad):
            if name in self.bad:
                rows |= self.bad[name]
        return rows

    def mark(self, name: str, rows: NDArray[np.bool_]) -> None:
        """Remember wrong cells of a column."""
        self.bad[name] = self.wrong(name) | rows

    def fault(self, row: int, column: str, value: object, rule: str) -> Fault:
        """A fault in one cell, named and told as the file has it."""
        if column in self.given and isinstance(value, float):
            value = float(self.given[column][row])
        shown = self.told(column, value).split()[0] if isinstance(value, float) else str(value)
        return Fault(self.file, int(self.lines[row]), self.named.get(column, column), shown, rule)


def header_faults(file: str, line: int | None, header: list[str]) -> list[Fault]:
    """Names that stand twice, and cells without a name; empty cells at the end are taken off."""
    if len(header) > MAX_COLUMNS:
        rule = (
            f"the header has {len(header)} columns, and at most {MAX_COLUMNS} are read; leave out "
            "those that are not of the table"
        )
        return [Fault(file, line, None, "", rule)]
    faults = []
    for name, times in Counter(header).items():
        if times > 1 and name:
            rule = f"this column name stands {times} times; give each column a name of its own"
            faults.append(Fault(file, line, name, name, rule))
    while header and not header[-1]:
        header.pop()  # a separator at the end of the header: no column
    for place, name in enumerate(header, start=1):
        if not name:
            rule = f"cell {place} of the header is empty; give the column a name"
            faults.append(Fault(file, line, None, "", rule))
    return faults


def table_of_frame(name: str, frame: pd.DataFrame) -> tuple[RawTable | None, list[Fault]]:
    """A table from a frame, its rows counted from 0.

    `name`: what the faults call it. Gives `table`; `faults`.
    """
    if not isinstance(frame, pd.DataFrame):
        rule = f"must be a pandas DataFrame; got {type(frame).__name__}"
        return None, [Fault(name, None, None, "", rule)]
    header = [str(column).strip() for column in frame.columns]
    faults = header_faults(name, None, header)
    if faults:
        return None, faults
    if not len(frame):
        return None, [Fault(name, None, None, "", "the table has no rows")]
    cells = frame.reset_index(drop=True)
    cells.columns = pd.Index(header, dtype=object)
    faults = [
        Fault(name, row, str(column), str(cell)[:60], "a cell holds one number or one text")
        for column in cells
        if cells[column].dtype == object
        for row, cell in enumerate(cells[column])
        if not pd.api.types.is_scalar(cell)
    ]
    if faults:
        return None, faults
    return RawTable(name, cells, np.arange(len(cells)), None), []
