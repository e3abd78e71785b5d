"""How large a difference between holes would have been found."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtri

from jointstats.checks import check_number

#: How often such a difference is to be found, and at which level of the test.
POWER, LEVEL = 0.8, 0.05


def detectable_factor(n: float, n_rest: float) -> float:
    """Ratio of P32 of one hole to that of the others that a test at 5 % finds in 80 of 100 logs.

    `n` fractures in the hole and `n_rest` in the others; infinite where one has none. The log of a
    ratio of two Poisson counts has about the variance 1/n + 1/n_rest.

    >>> round(detectable_factor(50, 150), 2), detectable_factor(0, 10)
    (1.58, inf)
    """
    check_number(n, "n", low=0)
    check_number(n_rest, "n_rest", low=0)
    if n == 0 or n_rest == 0:
        return float("inf")
    reach = float(ndtri(1.0 - 0.5 * LEVEL) + ndtri(POWER))
    with np.errstate(over="ignore"):  # of next to no fractures: no ratio would be found
        return float(np.exp(reach * np.sqrt(1.0 / n + 1.0 / n_rest)))


def smallest_detectable(counts: pd.DataFrame) -> tuple[str, str, float]:
    """Set, hole and factor of the smallest difference in P32 that would most likely be found.

    `counts` holds set, hole and n_expected, as the table of counts of a comparison.
    """
    best = ("", "", float("inf"))
    for name, own in counts.groupby("set", sort=False):
        total = float(own["n_expected"].sum())
        for row in own.to_dict("records"):
            factor = detectable_factor(row["n_expected"], max(0.0, total - row["n_expected"]))
            if factor < best[2]:
                best = (str(name), str(row["hole"]), factor)
    return best
