"""Rows of a table by the hole they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

__all__ = ["codes_of", "grouped_rows", "listed_rows", "rows_of_holes"]


def codes_of(names: ArrayLike, among: Sequence[str]) -> NDArray[np.int64]:
    """Place of each name among some names.

    Parameters
    ----------
    names : array_like of str, shape (n,)
    among : sequence of str

    Returns
    -------
    ndarray of int, shape (n,)
        −1 where it is not among them.

    Examples
    --------
    >>> codes_of(["B", "A", "C"], ["A", "B"]).tolist()
    [1, 0, -1]
    """
    found = getattr(names, "array", names)
    words = found if isinstance(found, pd.Categorical) else pd.Categorical(found)
    place = {name: at for at, name in enumerate(among)}
    each = np.array([place.get(word, -1) for word in words.categories] + [-1])
    return each[words.codes]


def rows_of_holes(names: ArrayLike, holes: Sequence[str]) -> list[NDArray[np.intp]]:
    """Rows that belong to each hole, found in one pass.

    Parameters
    ----------
    names : array_like of str, shape (n,)
        Hole of each row.
    holes : sequence of str
        Names of the holes.

    Returns
    -------
    list of ndarray of int
        For each hole its rows, rising.

    Examples
    --------
    >>> [rows.tolist() for rows in rows_of_holes(["B", "A", "B"], ["A", "B", "C"])]
    [[1], [0, 2], []]
    """
    codes = codes_of(names, holes).astype(np.int16 if len(holes) < 30_000 else np.int64)
    order = np.argsort(codes, kind="stable")
    edges = np.searchsorted(codes[order], np.arange(len(holes) + 1))
    return [order[a:b] for a, b in pairwise(edges)]


def grouped_rows(
    holes: NDArray[np.object_], fractures: NDArray[np.object_]
) -> dict[tuple[str, str], NDArray[np.intp]]:
    """Rows of each pair of hole and fracture, in the order of the pairs' first rows.

    Parameters
    ----------
    holes, fractures : ndarray of str, shape (n,)

    Returns
    -------
    dict of (str, str) to ndarray of int

    Examples
    --------
    >>> groups = grouped_rows(np.array(["B", "A", "B"], object), np.array(["1", "1", "1"], object))
    >>> {key: rows.tolist() for key, rows in groups.items()}
    {('B', '1'): [0, 2], ('A', '1'): [1]}
    """
    rows: dict[tuple[str, str], list[int]] = {}
    for row, key in enumerate(zip(holes, fractures, strict=True)):
        rows.setdefault((str(key[0]), str(key[1])), []).append(row)
    return {key: np.array(found, dtype=np.intp) for key, found in rows.items()}


def listed_rows(lines: ArrayLike, most: int = 5) -> str:
    """Lines of a file as words, the first few by number.

    Parameters
    ----------
    lines : array_like of int
    most : int
        How many are given by number.

    Returns
    -------
    str

    Examples
    --------
    >>> listed_rows([4]), listed_rows([4, 5, 9, 12], most=3)
    ('row 4', '4 rows: 4, 5, 9, …')
    """
    numbers = [str(int(line)) for line in np.atleast_1d(np.asarray(lines))]
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    more = ", …" if len(numbers) > most else ""
    return f"{len(numbers)} rows: {', '.join(numbers[:most])}{more}"
