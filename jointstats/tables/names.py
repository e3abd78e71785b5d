"""Names of holes across the tables: each once in holes.csv, and every name used is one of them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from jointstats.errors import Fault
from jointstats.schema import WORKED_HOLES
from jointstats.tables.raw_table import RawTable
from jointstats.tables.unread import nearest


@dataclass(frozen=True)
class HoleNames:
    """The holes of a site and the row of holes.csv that each has.

    Parameters
    ----------
    row : dict of str to int
        Row of each hole, in file order.
    unknown_in : frozenset of str
        Tables that hold names which are not known.

    Examples
    --------
    >>> list(HoleNames({"B1": 0}, frozenset()).row)
    ['B1']
    """

    row: dict[str, int]
    unknown_in: frozenset[str]


@dataclass(frozen=True)
class _Use:
    """Rows of one table that name one hole."""

    table: str
    file: str
    count: int
    line: int


def _uses(tables: dict[str, RawTable]) -> dict[str, list[_Use]]:
    uses: dict[str, list[_Use]] = {}
    for name, table in tables.items():
        if not table.has("hole"):
            continue
        words = table.cells["hole"].array
        first, count = np.full((2, len(words.categories) + 1), 0)
        rows = np.arange(len(table))
        np.add.at(count, words.codes, 1)
        first[words.codes[::-1]] = rows[::-1]
        for code, hole in enumerate(words.categories):
            if hole and count[code]:
                use = _Use(name, table.file, int(count[code]), int(table.lines[first[code]]))
                uses.setdefault(hole, []).append(use)
    return uses


def _rows_named(use: _Use) -> str:
    number = "1 row" if use.count == 1 else f"{use.count} rows, the first"
    return f"{use.file} ({number}: {use.line})"


def check_names(tables: dict[str, RawTable]) -> tuple[HoleNames, list[Fault]]:
    """Find holes that stand twice in holes.csv, and names of holes that do not stand there.

    A name that is wrong once in holes.csv is one fault, however many rows of other tables use
    it: where a hole of holes.csv is used by no row, it is the one to look at.

    `tables`: checked tables. Gives `names`; `faults`.
    """
    holes = tables["holes"]
    names = holes.words("hole")
    faults: list[Fault] = []
    row: dict[str, int] = {}
    for at, name in enumerate(names):
        if name in row:
            rule = f"a hole stands here once; this one stands in row {holes.lines[row[name]]} too"
            faults.append(holes.fault(at, "hole", name, rule))
        elif name:
            row[name] = at
    faults += _worked_faults(holes, row)
    others = {name: table for name, table in tables.items() if name != "holes"}
    uses = _uses(others)
    unknown = {name: where for name, where in uses.items() if name not in row}
    lost = len(names) - len(row)  # rows of holes.csv that name no hole of their own
    faults += _unknown_faults(holes, row, unknown, set(uses), lost)
    unknown_in = {use.table for where in unknown.values() for use in where}
    return HoleNames(row, frozenset(unknown_in)), faults


def _worked_faults(holes: RawTable, row: dict[str, int]) -> list[Fault]:
    """Worked rows of the template that stand among the user's own."""
    left = [name for name in WORKED_HOLES if name in row]
    if not left or len(left) == len(row):
        return []
    rule = "is a worked row of the template; delete it here and in the other tables"
    return [holes.fault(row[left[0]], "hole", left[0], rule)]


def _unknown_faults(
    holes: RawTable,
    row: dict[str, int],
    unknown: dict[str, list[_Use]],
    used: set[str],
    lost: int,
) -> list[Fault]:
    total = Counter({name: sum(use.count for use in where) for name, where in unknown.items()})
    # A row of holes.csv without a name of its own, already a fault, explains the most used ones.
    explained = {name for name, _ in total.most_common(lost)}
    unused = [name for name in row if name not in used]
    faults = []
    for name, where in unknown.items():
        if name in explained:
            continue
        if unused and total[name] > 1:
            guess = nearest(name, unused)
            spare = next((one for one in unused if repr(one) in guess), unused[0])
            unused.remove(spare)
            listed = ", ".join(_rows_named(use) for use in where)
            rule = (
                f"no other table has a row of this hole, and {name!r}, which is not here, stands "
                f"in {listed}; make the names agree"
            )
            faults.append(holes.fault(row[spare], "hole", spare, rule))
        elif len(where) == 1:
            use = where[0]
            number = f" ({use.count} rows, this is the first)" if use.count > 1 else ""
            rule = f"no such hole in {holes.file}{number}{nearest(name, row)}"
            faults.append(Fault(use.file, use.line, "hole", name, rule))
        else:
            listed = ", ".join(_rows_named(use) for use in where)
            rule = f"the hole is missing here, and stands in {listed}{nearest(name, row)}"
            faults.append(Fault(holes.file, None, "hole", name, rule))
    return faults
