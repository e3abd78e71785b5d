"""A site in one .xlsx workbook: a sheet for each table, and one for the settings."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from jointstats.errors import Fault, InputError, SiteError
from jointstats.schema import TABLES
from jointstats.tables.found import MAX_MB, Found, bytes_of, check_unpacked
from jointstats.tables.raw_table import MAX_COLUMNS, RawTable, table_of_frame
from jointstats.tables.settings import SettingsFile, check_settings
from jointstats.tables.units import number_names, ours_of
from jointstats.tables.unread import Other


def _openpyxl() -> ModuleType:
    try:
        import openpyxl
    except ImportError:
        raise InputError(
            "an .xlsx workbook needs openpyxl; install it with: pip install jointstats[xlsx]"
        ) from None
    return openpyxl


def found_in_workbook(path: Path, max_mb: float = MAX_MB) -> Found:
    """The tables of a workbook whose sheets are named as the input tables.

    Raises a SiteError where it is no workbook or a damaged one, an InputError where openpyxl is
    not installed.
    """
    sheets = _sheets(path, max_mb)
    found = Found(path.stem, settings=SettingsFile(file=f"{path.name} [site]"))
    if "site" in sheets:
        found.settings = _settings(found.settings.file, sheets["site"])
    for key, form in TABLES.items():
        if key in sheets:
            found.add(key, key, *_table_of(key, sheets[key]))
        elif form.required:
            rule = f"the workbook {path.name} has no such sheet; every site has one"
            found.lacks(key, key, rule)
    found.others = [
        Other(sheet.title, _header(sheet)) for name, sheet in sheets.items() if not _is_read(name)
    ]
    return found


class _Sheet(NamedTuple):
    """Rows with any content, and their numbers; of a sheet that is not read the first alone."""

    title: str
    rows: list[tuple[Any, ...]]
    lines: list[int]


def _is_read(name: str) -> bool:
    return name in TABLES or name == "site"


def _sheets(path: Path, max_mb: float) -> dict[str, _Sheet]:
    """The sheets of a workbook by their names in lower case."""
    openpyxl, data = _openpyxl(), bytes_of(path, max_mb)
    sheets: dict[str, _Sheet] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            check_unpacked(path.name, archive, max_mb)
            _check_parts(path.name, archive)
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        for sheet in book.worksheets:
            name = sheet.title.strip().lower()
            if name in sheets:
                raise _damaged(path.name, f"two sheets are called {name}")
            sheets[name] = _full_rows(sheet, every=_is_read(name))
    except InputError:
        raise
    except zipfile.BadZipFile:
        rule = "the file is not a readable .xlsx workbook"
        raise SiteError([Fault(path.name, None, None, "", rule)]) from None
    except Exception as error:  # noqa: BLE001  (damage shows as any error of three libraries)
        raise _damaged(path.name, f"{type(error).__name__} in reading it") from error
    return sheets


def _damaged(file: str, what: str) -> SiteError:
    rule = f"the workbook is damaged: {what}; open it in a spreadsheet and save it again"
    return SiteError([Fault(file, None, None, "", rule)])


_ROW = re.compile(rb"<(?:\w+:)?row\b[^>]*?\br=[\"'](\d+)[\"']")
_CELL = re.compile(rb"<(?:\w+:)?c\b[^>]*?\br=[\"']([A-Z]+)(\d+)[\"'][^>]*(?<!/)>")
_NOT_WORKED_OUT = re.compile(
    rb"<(?:\w+:)?c\b[^>]*?\br=[\"']([A-Z]+\d+)[\"'][^>]*(?<!/)>\s*"
    rb"<(?:\w+:)?f\b[^>]*(?:/>|>[^<]*</(?:\w+:)?f>)\s*</(?:\w+:)?c>"
)
_LAST_ROW, _LAST_COLUMN = 1_048_576, b"ALL"  # the thousandth column


def _check_parts(file: str, archive: zipfile.ZipFile) -> None:
    """Refuse sheets of which a reader would pass over rows or cells without a word."""
    for name in archive.namelist():
        data = archive.read(name) if name.endswith(".xml") else b""
        if b"sheetData" not in data:
            continue
        rows = [int(row) for row in _ROW.findall(data)]
        if rows != sorted(set(rows)) or any(not 0 < row <= _LAST_ROW for row in rows):
            raise _damaged(file, f"the rows of {name} are not in order")
        cells = _CELL.findall(data)
        if len(set(cells)) < len(cells):
            raise _damaged(file, f"a cell of {name} stands twice")
        if any((len(column), column) > (3, _LAST_COLUMN) for column, _ in cells):
            raise _damaged(file, f"{name} has cells beyond column {_LAST_COLUMN.decode()}")
        empty = _NOT_WORKED_OUT.search(data)
        if empty:
            what = f"the formula in cell {empty[1].decode()} of {name} was never worked out"
            raise _damaged(file, what)


def _full_rows(sheet: Any, *, every: bool) -> _Sheet:
    # The size that the file states is not to be trusted: rows beyond it would be lost.
    sheet.reset_dimensions()
    rows, lines = [], []
    for line, row in enumerate(sheet.iter_rows(values_only=True, max_col=MAX_COLUMNS), start=1):
        if any(cell is not None and str(cell).strip() for cell in row):
            rows.append(row)
            lines.append(line)
        if not every:
            break
    return _Sheet(sheet.title, rows, lines)


def _header(sheet: _Sheet) -> tuple[str, ...]:
    return tuple(
        "" if cell is None else str(cell).strip() for row in sheet.rows[:1] for cell in row
    )


def _table_of(key: str, sheet: _Sheet) -> tuple[RawTable | None, list[Fault]]:
    rows, lines = sheet.rows, sheet.lines
    if len(rows) < 2:
        rule = "the sheet is empty" if not rows else "the sheet has a header and no rows"
        return None, [Fault(key, None, None, "", rule)]
    faults: list[Fault] = []
    header = list(_header(sheet))
    while header and not header[-1]:
        header.pop()
    for row, line in zip(rows[1:], lines[1:], strict=True):
        if any(cell is not None for cell in row[len(header) :]):
            rule = f"the row has more cells than the {len(header)} of the header"
            faults.append(Fault(key, line, None, "", rule))
    numbers = number_names(key)
    columns = [
        [_cell(row[k] if k < len(row) else None, number=name in numbers) for row in rows[1:]]
        for k, name in enumerate(header)
    ]
    frame = pd.DataFrame(dict(enumerate(columns)), dtype=object)
    frame.columns = pd.Index(header, dtype=object)
    table, found = table_of_frame(key, frame)
    faults += found
    if table is None:
        return None, faults
    table.lines = np.array(lines[1:])
    table.header_line = lines[0]
    # Columns that are not known are text, as they are in a CSV file.
    known = numbers | TABLES[key].of_kind("word")
    table.cells = table.cells.astype({name: "str" for name in header if name not in known})
    return table, faults


def _cell(value: Any, *, number: bool) -> Any:
    if number:
        return value
    return "" if value is None else str(value)


def _settings(file: str, sheet: _Sheet) -> SettingsFile:
    """Settings from two columns, key and value; ``errors.alpha_deg`` names one of a table."""
    read: dict[str, Any] = {}
    faults: list[Fault] = []
    for row, line in zip(sheet.rows, sheet.lines, strict=True):
        key, value = str(row[0]).strip(), (row[1] if len(row) > 1 else None)
        if (key, value) == ("key", "value") or value is None or value == "":
            continue
        head, _, last = key.partition(".")
        place = read.setdefault(head, {}) if last else read
        if not isinstance(place, dict) or (last or head) in place:
            faults.append(Fault(file, line, None, key, "this setting stands twice; it stands once"))
        else:
            place[last or head] = value
    settings = check_settings(file, read)
    settings.faults[:0] = faults
    return settings


#: For each table and column the note that its heading carries, and the words a cell may hold.
Notes = Mapping[str, Mapping[str, tuple[str, tuple[str, ...]]]]


def workbook_bytes(
    tables: Mapping[str, pd.DataFrame], settings: Mapping[str, Any], notes: Notes | None = None
) -> bytes:
    """A workbook with a sheet for each table, and one for the settings."""
    book = _openpyxl().Workbook()
    book.remove(book.active)
    for key, table in tables.items():
        sheet = book.create_sheet(key)
        sheet.append([str(name) for name in table.columns])
        columns = [_plain_cells(table[name]) for name in table]
        for row in zip(*columns, strict=True):
            sheet.append(row)
        _keep_text(sheet)
        for place, name in enumerate(table.columns, start=1):
            if notes is not None:
                _add_note(sheet, place, *notes[key].get(ours_of(str(name)), ("", ())))
    sheet = book.create_sheet("site")
    sheet.append(["key", "value"])
    for key, value in settings.items():
        pairs = value.items() if isinstance(value, dict) else [("", value)]
        for part, one in pairs:
            shown = ", ".join(one) if isinstance(one, list) else one
            name = f"{key}.{part}" if part else key
            sheet.append([name, shown or None, *_note_of(name, notes)])
    _keep_text(sheet)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _note_of(name: str, notes: Notes | None) -> list[str]:
    """What a setting means, for the third column of its sheet."""
    return [] if notes is None else [notes["site"][name][0]]


def _add_note(sheet: Any, place: int, note: str, words: tuple[str, ...]) -> None:
    """What a column means, shown at its heading, and a list to choose from in its cells."""
    from openpyxl.comments import Comment
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    letter = get_column_letter(place)
    sheet.column_dimensions[letter].width = 18
    if note:
        sheet.cell(1, place).comment = Comment(note, "jointstats")
    if words:
        choice = DataValidation("list", formula1=f'"{",".join(words)}"', allow_blank=True)
        choice.add(f"{letter}2:{letter}10000")
        sheet.add_data_validation(choice)


def _plain_cells(column: pd.Series) -> list[Any]:
    return [_plain_cell(cell) for cell in column]


def _plain_cell(cell: Any) -> Any:
    if pd.isna(cell) or cell == "":
        return None
    value = cell.item() if hasattr(cell, "item") else cell
    # Workbooks are written with sixteen digits; a number that needs more goes in as text.
    if isinstance(value, float) and float(f"{value:.16g}") != value:
        return repr(value)
    return value


def _keep_text(sheet: Any) -> None:
    """A word that begins with an equals sign is a word, not a formula."""
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                cell.data_type = "s"
