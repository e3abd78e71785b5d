"""Are the fractures in like condition? Words and numbers of a set, hole against hole."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.types import Array, RandomState

_DRAWS = 1999


def permutation_test(
    values: Sequence[object] | Array, holes: Sequence[object], *, random_state: RandomState = 0
) -> tuple[float, float]:
    """Whether words or numbers go with the hole, by shuffling them among the holes.

    Words are set out in a table and its chi-square is taken; numbers are ranked and the variance
    of the ranks between holes is taken (Kruskal & Wallis 1952, JASA 47:583-621; from memory).
    The p-value is exact but for its 1,999 shuffles, whatever the counts.

    `values` (n,); `holes` (n,): where each was found; `random_state`: of the shuffles. Gives
    `statistic`; `pvalue`: 1 where all values, or all holes, are the same.
    """
    if len(values) != len(holes):
        raise InputError(
            f"values and holes must be of one length; got {len(values)} and {len(holes)}"
        )
    where = np.unique(np.asarray(holes, dtype=str), return_inverse=True)[1]
    array = np.asarray(values)
    if array.dtype.kind in "fiu":
        scores = rankdata(array)[:, np.newaxis]
    else:
        kinds = np.unique(array.astype(str), return_inverse=True)[1]
        scores = (kinds[:, np.newaxis] == np.unique(kinds)).astype(float)
    scale = scores.mean(axis=0) if scores.shape[1] > 1 else max(scores.var(), 1e-300)
    if len(np.unique(where)) < 2 or np.ptp(scores, axis=0).max(initial=0.0) == 0:
        return 0.0, 1.0
    generator = as_generator(random_state)
    statistic = _between(scores, where, scale)
    beyond = sum(
        _between(scores, generator.permutation(where), scale) >= statistic * (1 - 1e-9)
        for _ in range(_DRAWS)
    )
    return statistic, (beyond + 1) / (_DRAWS + 1)


def _between(scores: Array, where: NDArray[np.intp], scale: Array | float) -> float:
    """Σ over holes of n (mean − whole mean)² / scale: chi-square of a table, or of ranks."""
    sizes = np.bincount(where)
    sums = np.array([np.bincount(where, weights=column) for column in scores.T])
    apart = sums / sizes - scores.mean(axis=0)[:, np.newaxis]
    return float((sizes * apart**2 / np.atleast_1d(scale)[:, np.newaxis]).sum())
