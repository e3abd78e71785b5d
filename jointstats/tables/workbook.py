"""A site in one .xlsx workbook: a sheet for each table, and one for the settings."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Collection, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from jointstats.errors import Fault, InputError, SiteError
from jointstats.schema import TABLES
from jointstats.tables.found import MAX_MB, Found, bytes_of, check_unpacked
from jointstats.tables.mapping import stem_of
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


def from_workbook(found: Found, path: Path, max_mb: float = MAX_MB) -> None:
    """Take in the tables of a workbook whose sheets are named as the input tables, or mapped.

    Raises a SiteError where it is no workbook or a damaged one, an InputError where openpyxl is
    not installed.
    """
    sheets = read_sheets(path, max_mb)
    found.name = path.stem
    found.settings = SettingsFile(file=f"{path.name} [site]")
    if "site" in sheets:
        found.settings = _settings(found.settings.file, sheets["site"])
    if "mapping" in sheets:
        if found.mapping.told:
            found.twice("mapping", "mapping", found.mapping.file)
        found.add("mapping", "mapping", *table_of_sheet("mapping", sheets["mapping"]))
    theirs = {key: stem_of(name) for key, name in found.mapping.sheets.items()}
    if any(name in sheets for name in theirs.values()):
        sheets = read_sheets(path, max_mb, set(theirs.values()))
    for key, form in TABLES.items():
        names = [name for name in (key, theirs.get(key, key)) if name in sheets]
        if len(set(names)) == 2:
            found.twice(key, key, sheets[theirs[key]].title)
        if names and key != "mapping":
            title = key if names[0] == key else sheets[names[0]].title
            found.add(key, title, *table_of_sheet(key, sheets[names[0]], title))
        elif form.required:
            rule = f"the workbook {path.name} has no such sheet; every site has one"
            found.lacks(key, key, rule)
    read = {*TABLES, "site", *theirs.values()}
    found.others = [
        Other(sheet.title, _header(sheet)) for name, sheet in sheets.items() if name not in read
    ]


class Sheet(NamedTuple):
    """Rows with any content, and their numbers; of a sheet that is not read the first alone."""

    title: str
    rows: list[tuple[Any, ...]]
    lines: list[int]


def read_sheets(
    path: Path, max_mb: float, also: Collection[str] | None = ()
) -> dict[str, Sheet]:
    """The sheets of a workbook by their names in lower case.

    `also`: sheets that are read whole beside those with the names of tables; None for every one.
    """
    openpyxl, data = _openpyxl(), bytes_of(path, max_mb)
    sheets: dict[str, Sheet] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            check_unpacked(path.name, archive, max_mb)
            _check_parts(path.name, archive)
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        for sheet in book.worksheets:
            name = sheet.title.strip().lower()
            if name in sheets:
                raise _damaged(path.name, f"two sheets are called {name}")
            whole = also is None or name in {*TABLES, "site", *also}
            sheets[name] = _full_rows(sheet, every=whole)
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


_ROW = re.compile(rb"<(?:\w+:)?row\b[^>]*?\br=[\"']([^\"']*)[\"']")
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
        # A number such as 1e308 has a reader make up rows without end.
        rows = [int(row) if row.isdigit() else 0 for row in _ROW.findall(data)]
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


def _full_rows(sheet: Any, *, every: bool) -> Sheet:
    # The size that the file states is not to be trusted: rows beyond it would be lost.
    sheet.reset_dimensions()
    rows, lines = [], []
    for line, row in enumerate(sheet.iter_rows(values_only=True, max_col=MAX_COLUMNS), start=1):
        if any(cell is not None and str(cell).strip() for cell in row):
            rows.append(row)
            lines.append(line)
        if not every:
            break
    return Sheet(sheet.title, rows, lines)


def _header(sheet: Sheet) -> tuple[str, ...]:
    return tuple(
        "" if cell is None else str(cell).strip() for row in sheet.rows[:1] for cell in row
    )


def table_of_sheet(
    key: str, sheet: Sheet, title: str | None = None
) -> tuple[RawTable | None, list[Fault]]:
    """The table of a sheet, its columns read as those of a table of ours.

    `title`: what the faults call it.
    """
    rows, lines, file = sheet.rows, sheet.lines, title or key
    if len(rows) < 2:
        rule = "the sheet is empty" if not rows else "the sheet has a header and no rows"
        return None, [Fault(file, None, None, "", rule)]
    faults: list[Fault] = []
    header = list(_header(sheet))
    while header and not header[-1]:
        header.pop()
    for row, line in zip(rows[1:], lines[1:], strict=True):
        if any(cell is not None for cell in row[len(header) :]):
            rule = f"the row has more cells than the {len(header)} of the header"
            faults.append(Fault(file, line, None, "", rule))
    numbers = number_names(key)
    columns = [
        [_cell(row[k] if k < len(row) else None, number=name in numbers) for row in rows[1:]]
        for k, name in enumerate(header)
    ]
    frame = pd.DataFrame(dict(enumerate(columns)), dtype=object)
    frame.columns = pd.Index(header, dtype=object)
    table, found = table_of_frame(file, frame)
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


def _settings(file: str, sheet: Sheet) -> SettingsFile:
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
