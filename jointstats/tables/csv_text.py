"""Tables as CSV that no spreadsheet takes for formulas, and the same text read back."""

from __future__ import annotations

import re

import pandas as pd

#: A cell that begins so is run by some spreadsheet, unless an apostrophe stands before it. One
#: character alone is a dash or a mark, and harmless.
_RUN = re.compile(r"'*[=+\-@\t\r].", re.DOTALL)
_KEPT = re.compile(r"'+[=+\-@\t\r].", re.DOTALL)


def csv_of(table: pd.DataFrame, float_format: str | None = None) -> str:
    """A table as CSV; text that a spreadsheet would run has an apostrophe before it.

    >>> csv_of(pd.DataFrame({"remark": ["=1+1", "-", "open"], "n": [-1, 2, 3]})).split()
    ['remark,n', "'=1+1,-1", '-,2', 'open,3']
    """
    safe = table.copy(deep=False)
    for name in [name for name in table if not _is_number(table[name])]:
        safe[name] = table[name].map(_held)
    safe.columns = pd.Index([_held(name) for name in table])
    return safe.to_csv(index=False, lineterminator="\n", float_format=float_format)


def _is_number(column: pd.Series) -> bool:
    return pd.api.types.is_numeric_dtype(column) or pd.api.types.is_bool_dtype(column)


def _held(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and _RUN.match(cell) else cell


def as_written(cell: str) -> str:
    """A cell of text without the apostrophe that `csv_of` put before it.

    >>> as_written("'=1+1"), as_written("'quoted'"), as_written("''-x")
    ('=1+1', "'quoted'", "'-x")
    """
    return cell[1:] if _KEPT.match(cell) else cell
