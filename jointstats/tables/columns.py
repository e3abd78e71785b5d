"""What each column of the input tables holds, and the check of its cells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.errors import Fault
from jointstats.tables.table import Table

__all__ = ["METHODS", "TABLES", "Column", "check_cells", "misspelt_columns", "nearest"]

Array = NDArray[np.float64]

#: How a length of hole may have been seen.
METHODS = ("image", "core")
_NEARLY = 0.85  # likeness of two names that differ by a slip
REFERENCE_NAMES = ("low side", "high side", "north")


@dataclass(frozen=True)
class Column:
    """One column of an input table.

    Parameters
    ----------
    name : str
    kind : str
        "number" or "word" (few different ones).
    rule : str
        What a cell holds, in words.
    low, high : float
        Smallest and largest number, both allowed.
    required : bool
        Whether the column must be there, with no empty cell.
    among : tuple of str
        The words allowed; empty for any.

    Examples
    --------
    >>> Column("dip_deg", "number", "a dip lies between 0 and 90", 0, 90).required
    False
    """

    name: str
    kind: str
    rule: str
    low: float = -np.inf
    high: float = np.inf
    required: bool = False
    among: tuple[str, ...] = ()


def _angle(name: str, what: str, low: float, high: float) -> Column:
    return Column(name, "number", f"{what} lies between {low:g} and {high:g} degrees", low, high)


def _depth(name: str, what: str, *, required: bool = False) -> Column:
    return Column(name, "number", f"{what} is a number, 0 or more", 0, required=required)


def _hole() -> Column:
    return Column("hole", "word", "each row needs the name of its hole", required=True)


def _one_of(name: str, what: str, among: tuple[str, ...], *, required: bool = False) -> Column:
    listed = " or ".join((", ".join(among[:-1]), among[-1]))
    return Column(name, "word", f"{what} is {listed}", required=required, among=among)


_TREND = _angle("trend_deg", "a trend", 0, 360)
_PLUNGE = _angle("plunge_deg", "a plunge", -90, 90)
#: The other way to give a direction: compass bearing, and angle from straight down.
_AZIMUTH = (
    _angle("azimuth_deg", "an azimuth", 0, 360),
    _angle("inclination_deg", "an inclination from vertical", 0, 180),
)

TABLES: dict[str, tuple[Column, ...]] = {
    "holes": (
        _hole(),
        Column("easting_m", "number", "an easting is a number"),
        Column("northing_m", "number", "a northing is a number"),
        Column("elevation_m", "number", "an elevation is a number"),
        Column("length_m", "number", "a length is a number above 0", np.nextafter(0, 1)),
        _TREND,
        _PLUNGE,
        Column("diameter_mm", "number", "a diameter is a number above 0", np.nextafter(0, 1)),
        *_AZIMUTH,
        _one_of("reference", "the place of the reference line", REFERENCE_NAMES),
    ),
    "surveys": (
        _hole(),
        _depth("depth_m", "a depth", required=True),
        replace(_TREND, required=True),
        replace(_PLUNGE, required=True),
    ),
    "rolls": (
        _hole(),
        _depth("depth_m", "a depth", required=True),
        Column("roll_deg", "number", "a roll lies between -360 and 360 degrees", -360, 360, True),
    ),
    "logged": (
        _hole(),
        _depth("from_m", "the start of a logged length", required=True),
        _depth("to_m", "the end of a logged length", required=True),
        _one_of("method", "a method", METHODS, required=True),
    ),
    "traces": (
        _hole(),
        Column("fracture", "word", "each point needs the name of its fracture", required=True),
        _depth("depth_m", "a depth", required=True),
        Column("angle_deg", "number", "an angle lies between 0 and 360 degrees", 0, 360, True),
        Column("diameter_mm", "number", "a diameter is a number above 0", np.nextafter(0, 1)),
    ),
    "fractures": (
        _hole(),
        _depth("depth_m", "a depth", required=True),
        _one_of("method", "a method", METHODS),
        _angle("dip_deg", "a dip", 0, 90),
        _angle("dip_direction_deg", "a dip direction", 0, 360),
        _angle("alpha_deg", "alpha", 0, 90),
        _angle("beta_deg", "beta", 0, 360),
        _angle("image_dip_deg", "the dip of a plane to the hole", 0, 90),
        _angle("image_azimuth_deg", "an azimuth on the wall", 0, 360),
        Column("fracture", "word", "the name of a fracture, for traces.csv"),
        _one_of("reference", "the place of the reference line", REFERENCE_NAMES),
        _one_of("looking", "the way the reader looked along the core", ("down", "up")),
        _one_of("end_for_end", "whether the core was turned end for end", ("yes", "no")),
        Column("aperture_mm", "number", "an aperture is a number, 0 or more", 0),
    ),
}

#: Columns that later steps read, whatever is in them.
READ_LATER = {
    "fractures": (
        *("type", "infilling", "oxidation", "roughness", "persistence_m"),
        *("run", "run_beta_deg"),
    )
}


def columns_of(name: str, table: Table) -> tuple[Column, ...]:
    """The columns of a table, with azimuth and inclination where it gives these.

    Parameters
    ----------
    name : str
        "surveys", …
    table : Table

    Returns
    -------
    tuple of Column

    Examples
    --------
    >>> cells = pd.DataFrame({"hole": ["B1"], "azimuth_deg": [10.0], "inclination_deg": [30.0]})
    >>> table = Table("surveys.csv", cells, np.array([2]))
    >>> [column.name for column in columns_of("surveys", table)][2:]
    ['azimuth_deg', 'inclination_deg']
    """
    if name == "surveys" and any(table.has(column.name) for column in _AZIMUTH):
        kept = [one for one in TABLES[name] if one.name not in ("trend_deg", "plunge_deg")]
        return (*kept, *(replace(column, required=True) for column in _AZIMUTH))
    return TABLES[name]


def nearest(name: str, found: object) -> str:
    """A clause that names the most similar of the names found; empty if none is similar.

    Parameters
    ----------
    name : str
        What was looked for.
    found : iterable of str
        What there is.

    Returns
    -------
    str

    Examples
    --------
    >>> nearest("dip_deg", ["dipp", "remark"])
    "; the nearest there is 'dipp'"
    """
    names = sorted(str(one) for one in found)  # type: ignore[attr-defined]
    lowered = {one.lower(): one for one in reversed(names)}
    close = get_close_matches(name.lower(), sorted(lowered), n=1, cutoff=0.5)
    return f"; the nearest there is {lowered[close[0]]!r}" if close else ""


def missing_columns(table: Table, columns: tuple[Column, ...]) -> list[Fault]:
    """A fault for each required column that is not there, with the nearest name.

    Parameters
    ----------
    table : Table
    columns : tuple of Column

    Returns
    -------
    list of Fault

    Examples
    --------
    >>> from jointstats.tables.table import parse_table
    >>> table, _ = parse_table("logged.csv", b"hole,form_m,to_m,method\\nB1,0,9,core\\n", set(), set())
    >>> print(*missing_columns(table, TABLES["logged"]))
    logged.csv, row 1, column from_m: the column is missing; the nearest there is 'form_m'
    """
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


def misspelt_columns(name: str, table: Table, columns: tuple[Column, ...]) -> list[str]:
    """A note for each column that is not read and has nearly the name of one that is not there.

    Parameters
    ----------
    name : str
        "fractures", …
    table : Table
    columns : tuple of Column

    Returns
    -------
    list of str

    Examples
    --------
    >>> from jointstats.tables.table import parse_table
    >>> data = b"hole,depth_m,oxidaton,remark\\nB1,3,fresh,none\\n"
    >>> table, _ = parse_table("fractures.csv", data, set(), set())
    >>> print(*misspelt_columns("fractures", table, TABLES["fractures"]))
    The column oxidaton of fractures.csv is kept but not read; if oxidation is meant, rename it.
    """
    known = {column.name for column in columns}.union(READ_LATER.get(name, ()))
    absent = sorted(known - set(table.cells))
    notes = []
    for one in table.cells:
        close = get_close_matches(str(one).lower(), absent, n=1, cutoff=_NEARLY)
        if one not in known and close:
            notes.append(
                f"The column {one} of {table.file} is kept but not read; if {close[0]} is meant, "
                "rename it."
            )
    return notes


def check_cells(table: Table, columns: tuple[Column, ...]) -> list[Fault]:
    """Check every cell of the known columns, and turn the columns into numbers and words.

    Parameters
    ----------
    table : Table
        Its cells are replaced: numbers as float64 with NaN for an empty or wrong cell, words as
        text without spaces at their ends. Wrong cells are marked.
    columns : tuple of Column

    Returns
    -------
    list of Fault
        One a wrong cell.

    Examples
    --------
    >>> from jointstats.tables.table import parse_table
    >>> data = b"hole,depth_m,dip_deg\\nB1,2.5,91\\nB1,3,steep\\n"
    >>> table, _ = parse_table("fractures.csv", data, {"depth_m", "dip_deg"}, {"hole"})
    >>> print(*check_cells(table, TABLES["fractures"]), sep="\\n")
    fractures.csv, row 2, column dip_deg: '91': a dip lies between 0 and 90 degrees
    fractures.csv, row 3, column dip_deg: 'steep': a dip lies between 0 and 90 degrees
    """
    faults: list[Fault] = []
    new = {}
    for column in columns:
        if column.name in table.cells:
            check = _check_numbers if column.kind == "number" else _check_words
            cells, found = check(table, column)
            faults += found
            if cells is not None:
                new[column.name] = cells
    if new:
        table.replace(new)
    return faults


def _check_numbers(table: Table, column: Column) -> tuple[Array | None, list[Fault]]:
    """Checked numbers of a column, and its faults; None where the cells are fine as they are."""
    cells = table.cells[column.name]
    if cells.dtype == np.float64 or cells.dtype == np.int64:
        values, text = cells.to_numpy(dtype=np.float64), None
        fine = np.isnan(values)
    else:
        values, text = _numbers_from_text(cells, table.decimal)
        fine = text == ""
    blank = fine if column.required else np.zeros(len(values), dtype=bool)
    largest = np.finfo(np.float64).max  # so that an infinite number is out of any range
    fine = fine | ((values >= max(column.low, -largest)) & (values <= min(column.high, largest)))
    faults = []
    for row in np.flatnonzero(~fine | blank):
        shown = text[row] if text is not None else f"{values[row]:.12g}"
        rule = column.rule
        if blank[row]:
            shown, rule = "", f"the cell is empty; {column.rule}"
        faults.append(table.fault(int(row), column.name, shown, rule))
    if faults:
        table.mark(column.name, ~fine | blank)
        values = np.where(fine, values, np.nan)
    return values if faults or cells.dtype != np.float64 else None, faults


def _numbers_from_text(cells: pd.Series, decimal: str) -> tuple[Array, NDArray[np.object_]]:
    """Numbers of a column with words among them (NaN), and its text."""
    text = np.array(["" if pd.isna(cell) else str(cell).strip() for cell in cells], dtype=object)
    series = pd.Series(text, dtype=object)
    if decimal == ",":
        series = series.str.replace(",", ".", regex=False)
    # An underscore is a digit mark to Python and a slip of the pen in a table.
    series = series.where(~series.str.contains("_", regex=False), "")
    values = pd.to_numeric(series, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    return values, text


def _check_words(table: Table, column: Column) -> tuple[pd.Categorical | None, list[Fault]]:
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
