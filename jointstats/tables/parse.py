"""The bytes of a CSV file split into cells, or what is wrong with its shape."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.errors import Fault
from jointstats.tables.csv_text import as_written
from jointstats.tables.raw_table import RawTable, header_faults

NEWLINE, QUOTE = ord("\n"), ord('"')
SEPARATORS = (",", ";", "\t")
UNREADABLE = (
    "not readable as CSV: a quotation mark inside a cell is written twice, and its cell put in "
    f"quotation marks; a cell holds at most {csv.field_size_limit():,} characters"
)


def parse_table(
    file: str, data: bytes, numbers: set[str], keys: set[str]
) -> tuple[RawTable | None, list[Fault]]:
    """Split the bytes of a CSV file into cells.

    A byte-order mark, Windows or old Mac line ends, semicolons or tabs between the cells, and
    decimal commas beside semicolons are all read. Rows without any content are left out.

    `file`: name of the file, for the faults; `data`: content; `numbers`: columns of numbers;
    `keys`: columns that hold few different words, such as the name of a hole. Gives `table`: none
    where there is no table to speak of; `faults`: what is wrong with its shape. Rows with a wrong
    number of cells are not in the table.
    """
    data, fault = _as_utf8(file, data)
    if fault is not None:
        return None, [fault]
    quick = _quick_table(file, data, numbers, keys)
    if quick is not None:
        return quick, []
    starts, ends, lines, open_quote = _records(data)
    if open_quote:
        return None, [
            Fault(file, open_quote, None, "", "a quotation mark is opened and not closed")
        ]
    if not len(starts):
        return None, [Fault(file, None, None, "", "the file is empty; it needs a header row")]
    header, separator = split_header(data[starts[0] : ends[0]].decode("utf-8"))
    shape = _Shape(file, header, int(lines[0]), separator)
    faults = header_faults(shape.file, shape.line, shape.header)
    if faults:
        return None, faults
    keep, faults = shape.full_rows(data, starts[1:], ends[1:], lines[1:])
    if not keep.any() and not faults:
        return None, [Fault(file, None, None, "", "the table has a header and no rows")]
    if keep.all() and not shape.spare:
        body = data[ends[0] + 1 :]
    else:
        body = shape.rebuilt(data, starts[1:][keep], ends[1:][keep])
    try:
        cells = shape.parse(body, numbers, keys)
    except pd.errors.ParserError:
        cells = pd.DataFrame()
    if len(cells) != keep.sum():
        return None, [*faults, Fault(file, None, None, "", UNREADABLE)]
    return RawTable(file, cells, lines[1:][keep], int(lines[0]), shape.decimal), faults


def split_header(text: str) -> tuple[list[str], str]:
    """Names of the columns, and what stands between the cells."""
    separator = max(SEPARATORS, key=text.count)
    try:
        names = next(csv.reader([text], delimiter=separator))
    except csv.Error:
        names = text.split(separator)  # told as unknown names, where they are
    return [name.strip() for name in names], separator


def _quick_table(file: str, data: bytes, numbers: set[str], keys: set[str]) -> RawTable | None:
    """A table whose shape is proved right by counting; None where a closer look is needed.

    The separators are as many as rows of the right number of cells have, and the parser refuses
    a row that has more: so no row has fewer either.
    """
    end = data.find(b"\n")
    if end <= 0 or b'"' in data:
        return None
    header, separator = split_header(data[:end].decode("utf-8"))
    shape, mark = _Shape(file, header, 1, separator), separator.encode()
    # numpy counts marks that stand this close together several times as fast as bytes.count.
    bytes_ = np.frombuffer(data, dtype=np.uint8)
    rows, wanted = int(np.count_nonzero(bytes_ == NEWLINE)) - 1, len(header) - 1
    marks = int(np.count_nonzero(bytes_ == ord(separator)))
    if rows < 1 or not header[-1] or header_faults(shape.file, shape.line, shape.header):
        return None
    first_end = data.find(b"\n", end + 1)
    if marks != wanted * (rows + 1) or data.count(mark, end, first_end) != wanted:
        return None
    try:
        cells = shape.parse(data[end + 1 :], numbers, keys)
    except pd.errors.ParserError:
        return None
    words = [cells[name].cat.categories for name in header if name in keys]
    if len(cells) != rows or not words or any((one == "").any() for one in words[:1]):
        return None  # rows that are blank, or perhaps of empty cells only
    return RawTable(file, cells, np.arange(2, rows + 2), 1, shape.decimal)


def _as_utf8(file: str, data: bytes) -> tuple[bytes, Fault | None]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            data = data.decode("utf-16").encode("utf-8")
        except UnicodeError:
            rule = "the file is not UTF-16 text, as it begins; save the table as CSV in UTF-8"
            return data, Fault(file, None, None, "", rule)
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    try:
        if not data.isascii():
            data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        rule = "this line is not UTF-8 text; save the table as CSV in UTF-8"
        return data, Fault(file, line, None, "", rule)
    if b"\x00" in data:
        line = data.count(b"\n", 0, data.index(b"\x00")) + 1
        return data, Fault(file, line, None, "", "this is not text; save the table as CSV in UTF-8")
    return data if data.endswith(b"\n") or not data else data + b"\n", None


def _records(
    data: bytes,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], int]:
    """Start, end and line of each record that is not blank; line of a quote left open, or 0."""
    bytes_ = np.frombuffer(data, dtype=np.uint8)
    breaks = np.flatnonzero(bytes_ == NEWLINE)
    ends, quotes = breaks, b'"' in data
    if quotes:
        quoted = np.cumsum(bytes_ == QUOTE) % 2 == 1
        ends = breaks[~quoted[breaks]]
        if len(bytes_) and quoted[-1]:
            last = np.flatnonzero(bytes_ == QUOTE)[-1]
            return ends[:0], ends[:0], ends[:0], int(np.searchsorted(breaks, last)) + 1
    starts = np.concatenate([[0], ends[:-1] + 1]) if len(ends) else ends
    lines = np.searchsorted(breaks, starts) + 1 if quotes else np.arange(1, len(starts) + 1)
    full = ends > starts
    return starts[full], ends[full], lines[full], 0


@dataclass
class _Shape:
    """Header of a table, and how its rows are split."""

    file: str
    header: list[str]
    line: int | None
    separator: str
    decimal: str = "."
    spare: bool = False

    def full_rows(
        self,
        data: bytes,
        starts: NDArray[np.int64],
        ends: NDArray[np.int64],
        lines: NDArray[np.int64],
    ) -> tuple[NDArray[np.bool_], list[Fault]]:
        """Rows with the right number of cells; rows of empty cells only are left out in silence."""
        bytes_ = np.frombuffer(data, dtype=np.uint8)
        marks = bytes_ == ord(self.separator)
        if b'"' in data:
            marks &= np.cumsum(bytes_ == QUOTE) % 2 == 0
        places = np.flatnonzero(marks)
        count = np.searchsorted(places, ends) - np.searchsorted(places, starts)
        beside = ends - starts - count  # bytes of a row that are no separators
        blank = beside == 0
        for row in np.flatnonzero(beside <= 8):
            blank[row] |= not data[starts[row] : ends[row]].strip(b" \t" + self.separator.encode())
        wanted = len(self.header) - 1
        unclear = self._unclear(data, starts, ends, count)
        spare = np.zeros(len(count), dtype=bool)
        for row in np.flatnonzero(~blank & ~unclear & (count > wanted)):
            spare[row] = self._ends_empty(data[starts[row] : ends[row]], int(count[row]) - wanted)
        self.spare = bool(spare.any())
        wrong = unclear | (~blank & (count != wanted) & ~spare)
        faults = []
        for row in np.flatnonzero(wrong):
            rule = UNREADABLE if unclear[row] else self._rule(int(count[row]) + 1)
            faults.append(Fault(self.file, int(lines[row]), None, "", rule))
        return ~(blank | wrong), faults

    def _unclear(
        self,
        data: bytes,
        starts: NDArray[np.int64],
        ends: NDArray[np.int64],
        count: NDArray[np.intp],
    ) -> NDArray[np.bool_]:
        """Rows that a CSV reader splits otherwise than at the separators outside of quotes."""
        bytes_ = np.frombuffer(data, dtype=np.uint8)
        quotes = np.flatnonzero(bytes_ == QUOTE)
        ends_of_cells = (ord(self.separator), NEWLINE, QUOTE)
        # Quotes open and close in turn, at the ends of cells; data ends with a newline.
        beside = np.where(np.arange(len(quotes)) % 2, quotes + 1, quotes - 1)
        stray = quotes[~np.isin(bytes_[beside], ends_of_cells)]
        asked = ends - starts > csv.field_size_limit()
        asked |= np.searchsorted(stray, ends) > np.searchsorted(stray, starts)
        unclear = np.zeros(len(starts), dtype=bool)
        for row in np.flatnonzero(asked):
            text = data[starts[row] : ends[row]].decode("utf-8") + "\nnext"
            try:
                lines = csv.reader(io.StringIO(text, newline=""), delimiter=self.separator)
                found = [len(line) for line in lines]
            except csv.Error:
                found = []
            unclear[row] = found != [count[row] + 1, 1]
        return unclear

    def _ends_empty(self, record: bytes, spare: int) -> bool:
        cells = next(csv.reader([record.decode("utf-8")], delimiter=self.separator))
        return not any(cell.strip() for cell in cells[-spare:])

    def rebuilt(self, data: bytes, starts: NDArray[np.int64], ends: NDArray[np.int64]) -> bytes:
        """The bytes of some of the rows, without empty cells past the last column."""
        text = "\n".join(data[a:b].decode("utf-8") for a, b in zip(starts, ends, strict=True))
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=self.separator)
        out = io.StringIO(newline="")
        writer = csv.writer(out, delimiter=self.separator, lineterminator="\n")
        writer.writerows(row[: len(self.header)] for row in rows)
        return out.getvalue().encode("utf-8")

    def _rule(self, cells: int) -> str:
        hint = (
            "put a cell that holds a comma in quotation marks"
            if self.separator == "," and cells > len(self.header)
            else "check the row for a missing or surplus separator"
        )
        return f"the row has {cells} cells and the header {len(self.header)}; {hint}"

    def parse(self, body: bytes, numbers: set[str], keys: set[str]) -> pd.DataFrame:
        """Cells of rows that all have the right number of them."""
        if self.separator == ";" and b"," in body:
            self.decimal = ","
        number = {k for k, name in enumerate(self.header) if name in numbers}
        types = {
            k: "category" if name in keys else str
            for k, name in enumerate(self.header)
            if k not in number
        }
        options: dict[str, Any] = {"na_values": {k: [""] for k in number}}
        if int(pd.__version__.split(".")[0]) < 3:
            options["float_precision"] = "round_trip"  # later versions always are
        cells: Any = pd.read_csv(
            io.BytesIO(body),
            sep=self.separator,
            decimal=self.decimal,
            header=None,
            names=list(range(len(self.header))),
            index_col=False,
            dtype=types,
            keep_default_na=False,
            low_memory=False,
            encoding="utf-8",
            **options,
        )
        turned = {self.header[k] for k in types if _lost_letters(cells[k])}
        if turned:
            again = self.parse(body, numbers, keys - turned)
            return again.astype(dict.fromkeys(map(as_written, turned), "category"))
        if b"'" in body:
            for k in types:
                words = cells[k].astype("str").map(as_written)
                cells[k] = words.astype("category") if types[k] == "category" else words
        cells.columns = pd.Index([as_written(name) for name in self.header], dtype=object)
        return cells


def _lost_letters(words: pd.Series) -> bool:
    """Whether pandas turned few different words into numbers or truth values: 007 into 7."""
    found = words.array
    if not isinstance(found, pd.Categorical):
        return False
    # By the words themselves: whole numbers of many digits stand among them as objects.
    return pd.api.types.infer_dtype(found.categories) not in ("string", "empty")
