"""Condition and class of the fractures of each set of an analysis."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from jointstats.borehole.condition import condition_summary
from jointstats.borehole.fractures import CLASS_COLUMN, UNASSIGNED, Fractures
from jointstats.borehole.terms import ALL_CLASSES, CLASSES, NOT_STATED

__all__ = ["classes_of_sets", "condition_of_sets", "set_noun"]


def condition_of_sets(
    fractures: pd.DataFrame,
    confidence: float = 0.95,
    known: Mapping[str, Mapping[str, str]] | None = None,
) -> pd.DataFrame:
    """Oxidation, infilling, roughness, aperture and persistence of each set, where they stand.

    Fractures that a second method saw again do not count. `known` (column → word → term) takes the
    place of the built-in words. Columns: set, column, term, n, described, total, share (n over
    described), low, high; no row where nothing is described. Apertures and persistences that are not
    all numbers count as words.

    >>> import pandas as pd
    >>> table = pd.DataFrame({"set": "J1", "status": "in a set", "persistence_m": ["4", "0.5", ""]})
    >>> condition_of_sets(table)[["column", "term", "n", "described"]].values.tolist()
    [['persistence', 'very low', 1, 2], ['persistence', 'medium', 1, 2]]
    """
    counted = Fractures(fractures).counted.table
    words: dict[str, Mapping[str, str]] = dict(known or {})
    for column in (one for one in CLASSES if one in counted):
        numbers = pd.to_numeric(counted[column], errors="coerce")
        empty = counted[column].isna() | (counted[column].astype(str).str.strip() == "")
        if (numbers.isna() & ~empty).any():
            words[column] = {}
        else:
            counted = counted.assign(**{column: numbers})
    return condition_summary(counted, words=words, confidence=confidence)


def classes_of_sets(fractures: pd.DataFrame) -> pd.DataFrame:
    """How many fractures of each class of discontinuity each set has, those in the fit.

    Columns: set (the unassigned last), discontinuity_class, n; only what occurs, joints first.
    """
    fitted = Fractures(fractures).fitted.table
    names = [one for one in dict.fromkeys(sorted(fitted["set"])) if one != UNASSIGNED]
    counts = fitted.groupby(["set", CLASS_COLUMN], sort=False).size()
    rows = [
        (name, one, int(counts[name, one]))
        for name in (*names, UNASSIGNED)
        for one in ALL_CLASSES
        if (name, one) in counts.index
    ]
    return pd.DataFrame(rows, columns=["set", CLASS_COLUMN, "n"])


def set_noun(classes: pd.DataFrame) -> str:
    """The noun for one set: "joint set", or "set of discontinuities" where other classes enter."""
    named = set(classes[CLASS_COLUMN]) - {NOT_STATED}
    return "joint set" if named <= {"joint"} else "set of discontinuities"
