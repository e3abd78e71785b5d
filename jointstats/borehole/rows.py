"""Rows of a table by the hole they belong to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.spans import Spans
from jointstats.errors import InputError
from jointstats.types import ArrayLike

#: Tables of lengths that are cut with the hole; those of other lengths say what a depth lies in.
_CUT = ("zones",)
#: Tables of points that belong to a fracture.
_OF_FRACTURES = ("traces", "rings")


def codes_of(names: ArrayLike, among: Sequence[str]) -> NDArray[np.int64]:
    """Place of each name among some names.

    `names` (n,). Gives (n,): −1 where it is not among them.
    """
    found: Any = getattr(names, "array", names)
    words = found if isinstance(found, pd.Categorical) else pd.Categorical(found)
    place = {name: at for at, name in enumerate(among)}
    each = np.array([place.get(word, -1) for word in words.categories] + [-1])
    return each[words.codes]


def rows_of_holes(names: ArrayLike, holes: Sequence[str]) -> list[NDArray[np.intp]]:
    """Rows that belong to each hole, found in one pass.

    `names` (n,): hole of each row; `holes`: names of the holes. Gives for each hole its rows,
    rising.
    """
    # A sort of small whole numbers is by radix, in one pass; a search by name for each hole would take as many passes as
    # holes.
    codes = codes_of(names, holes).astype(np.int16 if len(holes) < 30_000 else np.int64)
    order = np.argsort(codes, kind="stable")
    edges = np.searchsorted(codes[order], np.arange(len(holes) + 1))
    return [order[a:b] for a, b in pairwise(edges)]


def grouped_rows(
    holes: NDArray[np.object_], fractures: NDArray[np.object_]
) -> dict[tuple[str, str], NDArray[np.intp]]:
    """Rows of each pair of hole and fracture, in the order of the pairs' first rows.

    `holes, fractures` (n,).
    """
    rows: dict[tuple[str, str], list[int]] = {}
    for row, key in enumerate(zip(holes, fractures, strict=True)):
        rows.setdefault((str(key[0]), str(key[1])), []).append(row)
    return {key: np.array(found, dtype=np.intp) for key, found in rows.items()}


def logged_depth(table: pd.DataFrame) -> NDArray[np.float64]:
    """Depths of rows as their own log has them, before ties moved them, shape (n,), metres."""
    name = "logged_depth_m" if "logged_depth_m" in table else "depth_m"
    return table[name].to_numpy(dtype=np.float64)


def listed_rows(lines: ArrayLike, most: int = 5) -> str:
    """Lines of a file as words, the first few by number.

    `most`: how many are given by number.
    """
    numbers = [str(int(line)) for line in np.atleast_1d(np.asarray(lines))]
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    more = ", …" if len(numbers) > most else ""
    return f"{len(numbers)} rows: {', '.join(numbers[:most])}{more}"


def rows_within(table: pd.DataFrame, lengths: Mapping[str, Spans]) -> NDArray[np.bool_]:
    """Whether each row with a hole and a depth_m lies in the lengths of its hole, ends included."""
    inside = np.zeros(len(table), dtype=bool)
    depth = table["depth_m"].to_numpy(dtype=np.float64)
    for own, name in zip(rows_of_holes(table["hole"], list(lengths)), lengths, strict=True):
        inside[own] = lengths[name].holds(depth[own])
    return inside


def tables_within(
    tables: Mapping[str, pd.DataFrame], lengths: Mapping[str, Spans], fractures: pd.DataFrame
) -> dict[str, pd.DataFrame]:
    """The rows of tables that are of some holes, of lengths in them, and of the fractures left."""
    left = set()
    if "fracture" in fractures:
        left = set(zip(fractures["hole"], fractures["fracture"], strict=True))
    found = {}
    for key, table in tables.items():
        kept = table[table["hole"].isin(list(lengths))] if "hole" in table else table
        # Points go with their fracture, whatever their own depth: a trace reaches above and below it.
        if key in _OF_FRACTURES:
            named = zip(kept["hole"], kept["fracture"], strict=True)
            kept = kept[np.array([one in left for one in named], dtype=bool)]
        if key in _CUT:
            kept = _cut_rows(kept, lengths)
        if len(kept) or "hole" not in table:
            found[key] = kept.reset_index(drop=True)
    return found


def _cut_rows(table: pd.DataFrame, lengths: Mapping[str, Spans]) -> pd.DataFrame:
    """Rows from_m to to_m cut to the lengths of their hole, a row for each part that is left."""
    places, ends = [], []
    for place, (hole, low, high) in enumerate(
        table[["hole", "from_m", "to_m"]].itertuples(index=False)
    ):
        parts = lengths[hole].clip(low, high).pairs
        places += [place] * len(parts)
        ends += list(parts)
    cut = np.reshape(np.array(ends, dtype=np.float64), (-1, 2))
    return table.iloc[places].assign(from_m=cut[:, 0], to_m=cut[:, 1])


def joined_tables(
    first: Mapping[str, pd.DataFrame], second: Mapping[str, pd.DataFrame]
) -> dict[str, pd.DataFrame]:
    """Tables of two sites in one; those that are of no hole must be the same in both."""
    found = {}
    for key in dict.fromkeys([*first, *second]):
        both = [tables[key] for tables in (first, second) if key in tables]
        if "hole" in both[0]:
            found[key] = pd.concat(both, ignore_index=True)
            continue
        if len(both) == 1 or not both[0].equals(both[1]):
            # Words and mirrors are of a whole site; to take either would change the meaning of the other's rows.
            raise InputError(
                f"the tables {key} of the two sites differ, and what they say is not of one hole; make "
                "them the same in both before the sites are merged"
            )
        found[key] = both[0]
    return found
