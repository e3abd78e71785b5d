"""What is written of the condition of a fracture: numbers, ranges and terms as intervals; words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import numpy as np
import pandas as pd

from jointstats.borehole.rows import listed_rows
from jointstats.borehole.terms import (
    CLASSES,
    WORDS,
    class_interval,
    interval_columns,
    type_class,
)
from jointstats.errors import Fault
from jointstats.schema import TABLES
from jointstats.tables.raw_table import RawTable
from jointstats.tables.unread import most_similar, nearest
from jointstats.types import Array

_NUMBER = r"(\d+(?:\.\d*)?|\.\d+)"
_RANGE = re.compile(rf"{_NUMBER}\s*(?:-|–|to|\.\.+)\s*{_NUMBER}")
_BELOW = re.compile(rf"(?:<|≤|<=|up to|below)\s*{_NUMBER}")
_ABOVE = re.compile(rf"(?:>|≥|>=|over|above)\s*{_NUMBER}|{_NUMBER}\s*\+")
_ABOUT = re.compile(rf"(?:~|≈|ca\.?|c\.|approx\.?)?\s*{_NUMBER}")
#: An aperture above this is more often the width of a zone, mm.
_WIDE_MM = 1000.0
#: So many unknown words of a column are listed one by one.
_MOST = 12


def written_words(tables: Mapping[str, RawTable]) -> dict[str, dict[str, str]]:
    """Word (lower case) → term by column, of the user's own table of terms."""
    words: dict[str, dict[str, str]] = {}
    own = tables.get("terms")
    if own is not None and own.has("column", "word", "term"):
        for column, word, term in zip(
            own.words("column"), own.words("word"), own.words("term"), strict=True
        ):
            words.setdefault(column, {})[word.strip().lower()] = term.strip()
    return words


def _interval(text: str, column: str, words: Mapping[str, str]) -> tuple[float, float] | None:
    """The two ends of what a cell says; None where it says no number."""
    plain = " ".join(words.get(text.lower(), text).lower().split())
    plain = plain.removesuffix(column.rsplit("_", 1)[-1]).strip()
    if found := _RANGE.fullmatch(plain):
        low, high = float(found[1]), float(found[2])
        return (low, high) if low <= high else None
    if found := _BELOW.fullmatch(plain):
        return 0.0, float(found[1])
    if found := _ABOVE.fullmatch(plain):
        return float(found[1] or found[2]), np.inf
    if found := _ABOUT.fullmatch(plain):
        return float(found[1]), float(found[1])
    return class_interval(column, plain)


def read_intervals(
    key: str, table: RawTable, words: Mapping[str, Mapping[str, str]]
) -> list[Fault]:
    """Turn cells such as 2, <0.5, 2-3 and tight into a number, or into two ends.

    A fault for each thing written that says no number, whatever the number of its cells.
    """
    faults: list[Fault] = []
    for column in TABLES[key].columns:
        name = column.name
        if column.kind != "interval" or not table.has(name):
            continue
        text = np.array([_text(cell, table.decimal) for cell in table.cells[name]], dtype=object)
        codes, written = pd.factorize(text)
        ends = np.full((2, len(written)), np.nan)
        wrong = []
        for place, one in enumerate(written):
            found = _interval(one, name, words.get(name, {})) if one else None
            if found is not None:
                ends[:, place] = np.array(found) / _class_unit(table, name, one)
            elif one:
                wrong.append(place)
        for place in wrong:
            rows = np.flatnonzero(codes == place)
            more = f" ({listed_rows(table.lines[rows])})" if len(rows) > 1 else ""
            close = nearest(written[place], [term for _, term in CLASSES[name]], "term")
            rule = (
                f"{column.what} is a number, a range as 2-3, a limit as <0.5 or a term{more}{close}"
                "; say what is meant in the table terms"
            )
            faults.append(table.fault(int(rows[0]), name, written[place], rule))
            table.mark(name, codes == place)
        _put(table, name, ends[:, codes])
    return faults


def _text(cell: object, decimal: str) -> str:
    text = "" if pd.isna(cell) else str(cell).strip()
    return text.replace(",", ".") if decimal == "," else text


def _class_unit(table: RawTable, name: str, text: str) -> float:
    """What a term's ends are divided by to stand in the unit of the file; 1 for numbers."""
    return 1.0 if any(one.isdigit() for one in text) else table.factor.get(name, 1.0)


def _put(table: RawTable, name: str, ends: Array) -> None:
    """Exact numbers in their column, and both ends of the others beside it."""
    exact = ends[0] == ends[1]
    table.replace({name: np.where(exact, ends[0], np.nan)})
    between = ~exact & ~np.isnan(ends[0])
    if between.any():
        low, high = interval_columns(name)
        given_low, given_high = table.numbers(low), table.numbers(high)
        if name in table.factor:
            table.factor |= dict.fromkeys((low, high), table.factor[name])
            table.unit |= dict.fromkeys((low, high), table.unit[name])
        top = np.where(np.isinf(ends[1]), np.nan, ends[1])  # no upper end: an empty cell
        table.replace(
            {low: np.where(between, ends[0], given_low), high: np.where(between, top, given_high)}
        )


def odd_words(
    column: str, cells: Iterable[object], words: Mapping[str, str]
) -> dict[str, str]:
    """Each word (lower case) that is no known term of a column, or says no number, and the nearest term.

    `words` is the user's own part of the dictionary of the column.
    """
    plain = dict.fromkeys(" ".join(_text(one, ".").lower().split()) for one in cells)
    if column in CLASSES:
        known = {term for _, term in CLASSES[column]}
        odd = [one for one in plain if one and _interval(one, column, words) is None]
    else:
        known = {*WORDS.get(column, {}), *words}
        terms = {*WORDS.get(column, {}).values(), *words.values()}
        odd = [one for one in plain if one and one not in known | terms]
    if column == "type":
        odd = [one for one in odd if type_class(one) == "other"]
    return {one: _nearest_term(one, known) for one in odd}


def _nearest_term(word: str, known: set[str]) -> str:
    """The term that a word is the beginning of, else the most similar; empty if none is."""
    longer = [term for term in sorted(known) if term.startswith(word.rstrip("."))]
    return longer[0] if longer else most_similar(word, known)


def unknown_words(table: RawTable, words: Mapping[str, Mapping[str, str]]) -> list[str]:
    """A sentence for each word of condition that is no known term, with the nearest one."""
    told = []
    for column in (*WORDS, "type"):
        if not table.has(column):
            continue
        cells = table.cells[column].fillna("")
        written = np.array([" ".join(str(one).lower().split()) for one in cells], dtype=object)
        odd = odd_words(column, cells, words.get(column, {}))
        for word, close in list(odd.items())[:_MOST]:
            rows = listed_rows(table.lines[written == word])
            near = f"; the nearest term is {close!r}" if close else ""
            told.append(
                f"{table.file}, column {column}: {word!r} ({rows}) is no known "
                f"term and counts as one of its own{near}; say so in the table terms"
            )
        if len(odd) > _MOST:
            told.append(f"{table.file}, column {column}: {len(odd) - _MOST} more unknown words")
    wide = np.flatnonzero(table.numbers("aperture_mm") > _WIDE_MM)
    if len(wide):
        told.append(
            f"{table.file}, column aperture_mm: more than 1 m in {listed_rows(table.lines[wide])}: "
            "is the width of a zone meant?"
        )
    return told
