"""Rows of a table by the hole they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.types import ArrayLike


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
