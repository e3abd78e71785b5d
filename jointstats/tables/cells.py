"""Check of the columns and cells of one input table against the schema."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.errors import Fault
from jointstats.schema import AZIMUTH_COLUMNS, TABLES, Column
from jointstats.tables.raw_table import RawTable
from jointstats.tables.unread import nearest
from jointstats.types import Array


def columns_of(name: str, table: RawTable) -> tuple[Column, ...]:
    """The columns of a table, with azimuth and inclination where it gives these.

    `name`: "surveys", ….
    """
    if name == "surveys" and any(table.has(column.name) for column in AZIMUTH_COLUMNS):
        measured = {column.name for column in AZIMUTH_COLUMNS}
        return tuple(
            replace(one, required=True) if one.name in measured else one
            for one in TABLES[name].columns
            if one.name not in ("trend_deg", "plunge_deg")
        )
    return TABLES[name].columns


def missing_columns(table: RawTable, columns: tuple[Column, ...]) -> list[Fault]:
    """A fault for each required column that is not there, with the nearest name."""
    known = {column.name for column in columns}
    unknown = [name for name in table.cells if name not in known]
    return [
        Fault(
            table.file,
            table.header_line,
            column.name,
            "",
            "the column is missing" + nearest(column.name, unknown),
        )
        for column in columns
        if column.required and column.name not in table.cells
    ]


def check_cells(table: RawTable, columns: tuple[Column, ...]) -> list[Fault]:
    """Check every cell of the known columns, and turn the columns into numbers and words.

    `table`: its cells are replaced. Gives one a wrong cell.
    """
    faults: list[Fault] = []
    new = {}
    for column in columns:
        if column.kind in ("number", "word") and column.name in table.cells:
            check = _check_numbers if column.kind == "number" else _check_words
            cells, found = check(table, column)
            faults += found
            if cells is not None:
                new[column.name] = cells
    if new:
        table.replace(new)
    return faults


#: No angle or depth is as large, and its square must still be a number; a coordinate is asked about.
_LARGEST = 1e12


def _check_numbers(table: RawTable, column: Column) -> tuple[Array | None, list[Fault]]:
    """Checked numbers of a column, and its faults; None where the cells are fine as they are."""
    cells = table.cells[column.name]
    if cells.dtype == np.float64 or cells.dtype == np.int64:
        values, text = cells.to_numpy(dtype=np.float64), None
        fine = np.isnan(values)
    else:
        values, text = numbers_from_text(cells, table.decimal)
        fine = text == ""
    blank = fine if column.required else np.zeros(len(values), dtype=bool)
    largest = _LARGEST if column.turns else np.finfo(np.float64).max  # an infinite one is out too
    low, high = max(column.low, -largest), min(column.high, largest)
    fine = fine | ((values >= low) & (values <= high))
    faults = []
    for row in np.flatnonzero(~fine | blank):
        shown = text[row] if text is not None else f"{values[row]:.12g}"
        rule = column.rule
        if blank[row]:
            shown, rule = "", f"the cell is empty; {column.rule}"
        elif abs(values[row]) > largest:
            rule = f"{column.rule}; none is as large as this"
        faults.append(table.fault(int(row), column.name, shown, rule))
    if faults:
        table.mark(column.name, ~fine | blank)
        values = np.where(fine, values, np.nan)
    return values if faults or cells.dtype != np.float64 else None, faults


def numbers_from_text(cells: pd.Series, decimal: str) -> tuple[Array, NDArray[np.object_]]:
    """Numbers of a column with words among them (NaN), and its text."""
    text = np.array(["" if pd.isna(cell) else str(cell).strip() for cell in cells], dtype=object)
    plain = (one.replace(decimal, ".") for one in text)
    return np.array([_number(one) for one in plain], dtype=np.float64), text


def _number(text: str) -> float:
    # An underscore is a digit mark to Python and a slip of the pen in a table.
    if "_" in text or not text.isascii():
        return np.nan
    try:
        return float(text)
    except ValueError:
        return np.nan


def _check_words(table: RawTable, column: Column) -> tuple[pd.Categorical | None, list[Fault]]:
    """Checked words of a column, and its faults; None where the cells are fine as they are."""
    found = table.cells[column.name].array
    words = found if isinstance(found, pd.Categorical) else pd.Categorical(found)
    plain = [str(word).strip() for word in words.categories]
    if column.among:
        plain = [word.lower() if word.lower() in column.among else word for word in plain]
    if plain == list(words.categories) and (words.codes >= 0).all():
        each, names = words.codes, np.array(plain, dtype=object)
    else:
        codes, names = pd.factorize(np.array([*plain, ""], dtype=object))
        each = codes[words.codes]  # a missing word has the code −1: the last, which is empty
        words = pd.Categorical.from_codes(each, categories=names)
    known = ("", *column.among)
    unknown = np.array([bool(column.among) and name not in known for name in names], dtype=bool)
    wrong, blank = unknown[each], (names == "")[each] & column.required
    faults = [
        table.fault(
            int(row),
            column.name,
            names[each[row]],
            column.rule
            if column.name == "hole" or not blank[row]
            else f"the cell is empty; {column.rule}",
        )
        for row in np.flatnonzero(wrong | blank)
    ]
    if faults:
        table.mark(column.name, wrong | blank)
    return words if words is not found else None, faults
