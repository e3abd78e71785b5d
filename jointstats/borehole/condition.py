"""Condition of fractures: free words brought to terms, numbers to classes, and both counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.terms import CLASSES, SCALES, WORDS, classed, interval_columns
from jointstats.errors import InputError
from jointstats.intervals import share_interval
from jointstats.types import ArrayLike

__all__ = ["condition_summary", "condition_terms"]


def condition_terms(
    values: ArrayLike,
    column: str,
    *,
    words: Mapping[str, str] | None = None,
) -> NDArray[np.object_]:
    """Terms for what is written in a column of the table of fractures.

    Parameters
    ----------
    values : array_like, shape (n,)
        Words or numbers.
    column : str
        "oxidation", "infilling", "roughness", "aperture_mm", "persistence_m", or any other.
    words : dict of str to str, or None
        Word → term, in place of the built-in table of the column.

    Returns
    -------
    ndarray of str, shape (n,)
        Empty where the cell is; a word that the table does not have stays as it is, in lower
        case, so that nothing is lost.

    Raises
    ------
    InputError
        If a column of numbers holds a word.

    Examples
    --------
    >>> condition_terms(["Clean", "clay", "red dust", ""], "infilling").tolist()
    ['none', 'clay', 'red dust', '']
    >>> condition_terms([0.05, 2.5], "aperture_mm").tolist()
    ['very tight', 'moderately wide']
    """
    if column in CLASSES and words is None:
        return _classed(values, column)
    # Words that are no known term stay as terms of their own: a geologist's mineral is not dropped.
    table = WORDS.get(column, {}) if words is None else words
    table = {key.strip().lower(): term for key, term in table.items()}
    plain = [
        "" if pd.isna(one) else " ".join(str(one).strip().lower().split())
        for one in np.asarray(values, dtype=object)
    ]
    return np.array([table.get(word, word) for word in plain], dtype=object)


def _classed(values: ArrayLike, column: str) -> NDArray[np.object_]:
    try:
        numbers = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{column} must hold numbers or empty cells") from None
    ends = np.array([end for end, _ in CLASSES[column]])
    terms = np.array([term for _, term in CLASSES[column]] + [""], dtype=object)
    # A missing number sorts behind infinity, to the empty term.
    place = np.searchsorted(ends, numbers, side="right")
    return terms[np.where(np.isnan(numbers), len(ends), np.minimum(place, len(ends) - 1))]


def _terms_of(
    fractures: pd.DataFrame, column: str, words: Mapping[str, str] | None
) -> NDArray[np.object_]:
    """Terms of a column; of a number known between two ends its class, or the two of its ends."""
    terms = condition_terms(fractures[column].to_numpy(dtype=object), column, words=words)
    low, high = interval_columns(column) if column in CLASSES else ("", "")
    if low not in fractures or words is not None:
        return terms
    least, most = fractures[low].to_numpy(float), fractures[high].to_numpy(float)
    for row in np.flatnonzero((terms == "") & ~np.isnan(least)):
        # The upper end is not of the interval: below 0.5 is not yet the class that begins there.
        above = np.inf if np.isnan(most[row]) else np.nextafter(most[row], 0.0)
        ends = classed(column, least[row]), classed(column, max(above, least[row]))
        terms[row] = ends[0] if ends[0] == ends[1] else " to ".join(ends)
    return terms


def has_terms(
    fractures: pd.DataFrame,
    column: str,
    terms: Sequence[str],
    words: Mapping[str, Mapping[str, str]],
) -> NDArray[np.bool_]:
    """Whether the condition of each fracture in a column is one of these terms, shape (n,)."""
    if column not in fractures:
        raise InputError(f"the table of fractures has no column {column!r}, so nothing has a term of it")
    own = None if column in CLASSES else words.get(column)
    found = _terms_of(fractures, column, own)
    strange = [one for one in terms if one not in found]
    if strange:
        known = ", ".join(sorted({str(one) for one in found if one})) or "nothing"
        raise InputError(f"no fracture is {strange[0]!r} in {column}; the column has {known}")
    return np.isin(found, list(terms))


def condition_summary(
    fractures: pd.DataFrame,
    columns: Sequence[str] = (
        "oxidation",
        "infilling",
        "roughness",
        "aperture_mm",
        "persistence_m",
    ),
    *,
    by: str = "set",
    words: Mapping[str, Mapping[str, str]] | None = None,
    confidence: float = 0.95,
) -> pd.DataFrame:
    """How often each term of condition stands in each set.

    Parameters
    ----------
    fractures : pandas.DataFrame
        One row a fracture.
    columns : sequence of str
        Columns of condition; those that the table does not have are left out.
    by : str
        Column that names the set.
    words : dict, or None
        Column → (word → term), in place of the built-in tables.
    confidence : float
        Level of the intervals.

    Returns
    -------
    pandas.DataFrame
        set, column, term, n, described (fractures of the set with a word there), total, share
        (n over described), low, high. Sets in their own order; terms that have an order
        in it, others the most frequent first.

    Raises
    ------
    InputError
        If the table has no column `by`, or the level is not between 0 and 1.

    Examples
    --------
    >>> table = pd.DataFrame({"set": ["J1", "J1", "J1"], "infilling": ["clay", "clean", "Clay"]})
    >>> condition_summary(table)[["term", "n", "share"]].round(2).values.tolist()
    [['clay', 2, 0.67], ['none', 1, 0.33]]
    """
    if by not in fractures:
        raise InputError(f"the table has no column {by!r}; orient and analyse the site first")
    if not 0 < confidence < 1:
        raise InputError(f"confidence must lie between 0 and 1; got {confidence}")
    rows = []
    sets = fractures[by].fillna("").astype(str).to_numpy(dtype=object)
    for column in (one for one in columns if one in fractures):
        table = None if words is None else words.get(column)
        terms = _terms_of(fractures, column, table)
        scale = SCALES.get(column, ())
        for name in sorted(set(sets) - {""}):
            own = terms[sets == name]
            # An empty cell says nothing: shares are of the fractures that somebody described.
            described = own[own != ""]
            for term, count in pd.Series(described, dtype=object).value_counts().items():
                low, high = share_interval(int(count), len(described), confidence)
                rows.append(
                    {
                        by: name,
                        "column": column.removesuffix("_mm").removesuffix("_m"),
                        "term": term,
                        "n": int(count),
                        "described": len(described),
                        "total": len(own),
                        "share": count / len(described),
                        "low": low,
                        "high": high,
                        "place": scale.index(term) if term in scale else len(scale),
                    }
                )
    names = [by, "column", "term", "n", "described", "total", "share", "low", "high"]
    order = [by, "column", "place", "n", "term"]
    found = pd.DataFrame(rows, columns=[*names, "place"]).sort_values(
        order, ascending=[True, True, True, False, True], kind="stable", ignore_index=True
    )
    return found[names]
