"""Whether fractures stand along a line as chance would place them, or in clusters."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc

from jointstats.checks import as_numbers
from jointstats.types import ArrayLike

#: Fewer spacings say too little of how they are placed.
FEWEST_SPACINGS = 20
#: Level of the tests behind a judgement: a false alarm once in a hundred sound sets.
SMALL_P = 0.01


def clustering_pvalue(spacings_m: ArrayLike) -> float | None:
    """Probability that spacings of fractures placed at random would be as uneven as these.

    Bartlett's test of an exponential against a gamma distribution, its upper tail.

    Moran P.A.P. (1951), J. R. Stat. Soc. B 13:147-150 (from memory).

    >>> clustering_pvalue(np.ones(30)), clustering_pvalue(np.ones(3))
    (1.0, None)
    """
    known = as_numbers(spacings_m, "spacings_m", low=0)
    known = known[known > 0]
    n = len(known)
    if n < FEWEST_SPACINGS:
        return None
    scatter = -2.0 * float(np.log(known / known.mean()).sum()) / (1.0 + (n + 1) / (6.0 * n))
    return float(chdtrc(n - 1, scatter))
