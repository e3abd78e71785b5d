"""Condition of the fractures of each set of an analysis."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from jointstats.borehole.condition import condition_summary
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.terms import CLASSES

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["condition_of_sets"]


def condition_of_sets(
    fractures: pd.DataFrame,
    confidence: float = 0.95,
    known: Mapping[str, Mapping[str, str]] | None = None,
) -> pd.DataFrame:
    """Oxidation, infilling, roughness, aperture and persistence of each set, where they stand.

    Parameters
    ----------
    fractures : pandas.DataFrame
        Of a `SiteAnalysis`. Fractures that a second method saw again do not count.
    confidence : float
        Level of the intervals.
    known : dict or None
        Column → (word → term), in place of the built-in words.

    Returns
    -------
    pandas.DataFrame
        set, column, term, n, described, total, share (n over described), low, high. No row where
        nothing is described. Apertures and persistences that are not all numbers count as words.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"set": "J1", "status": "in a set", "persistence_m": ["4", "0.5", ""]})
    >>> condition_of_sets(table)[["column", "term", "n", "described"]].values.tolist()
    [['persistence', 'very low', 1, 2], ['persistence', 'medium', 1, 2]]
    """
    import pandas as pd

    counted = Fractures(fractures).counted.table
    words: dict[str, Mapping[str, str]] = dict(known or {})
    for column in (one for one in CLASSES if one in counted):
        numbers = pd.to_numeric(counted[column], errors="coerce")
        empty = counted[column].isna() | (counted[column].astype(str).str.strip() == "")
        if (numbers.isna() & ~empty).any():
            words[column] = {}
        else:
            counted = counted.assign(**{column: numbers})
    found = condition_summary(counted, words=words, confidence=confidence)
    return found.rename(columns={"property": "column", "count": "n"})
