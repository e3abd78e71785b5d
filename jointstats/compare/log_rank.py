"""Do the spacings of a set follow one law in several holes? The log-rank test, ends included."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike


def gaps_between(
    depth_m: ArrayLike, lengths: Sequence[tuple[float, float]], scale: float
) -> tuple[Array, Array]:
    """Gaps between fractures of a set in a hole, and the last of each length, which its end cut.

    `depth_m` (n,): depths of the fractures of the set, metres; `lengths`: what was logged;
    `scale`: metres along the hole are multiplied by this. Gives `complete, cut`: metres square to
    the set.
    """
    depth = np.sort(as_numbers(depth_m, "depth_m"))
    complete, cut = [np.empty(0)], []
    for low, high in lengths:
        own = depth[(depth >= low) & (depth <= high)]
        if len(own):
            complete.append(np.diff(own))
            cut.append(high - own[-1])
    return scale * np.concatenate(complete), scale * np.array(cut)


def log_rank_test(
    samples: Sequence[tuple[ArrayLike, ArrayLike]],
) -> tuple[float, int, float]:
    """Log-rank test of several samples of lengths, some of them cut short.

    Mantel (1966), Cancer Chemotherapy Reports 50:163-170; the variance is that of the
    hypergeometric with ties (from memory).

    `samples`: of each hole. Gives `statistic`: U V⁻ U with U the observed less the expected
    number of ends in each sample; `dof`: samples less one; of those that hold anything; `pvalue`:
    by chi-square; 1 where there is nothing to compare.
    """
    if not len(samples):
        raise InputError("log_rank_test needs at least one sample")
    pairs = [(as_numbers(a, "complete"), as_numbers(b, "cut")) for a, b in samples]
    pairs = [(a, b) for a, b in pairs if len(a) + len(b)]
    ends = np.unique(np.concatenate([np.empty(0), *(a for a, _ in pairs)]))
    if len(pairs) < 2 or not len(ends):
        return 0.0, max(len(pairs) - 1, 0), 1.0
    risk = np.array([_at_least(np.concatenate(pair), ends) for pair in pairs]).T
    dead = np.array([_at_least(a, ends) - _above(a, ends) for a, _ in pairs]).T
    n, d = risk.sum(axis=1), dead.sum(axis=1)
    share = risk / n[:, np.newaxis]
    excess = (dead - d[:, np.newaxis] * share).sum(axis=0)
    factor = d * (n - d) / np.maximum(n - 1, 1)
    spread = np.diag(factor @ share) - np.einsum("t,ti,tj->ij", factor, share, share)
    dof = len(pairs) - 1
    statistic = float(excess @ np.linalg.pinv(spread, hermitian=True) @ excess)
    return statistic, dof, float(chdtrc(dof, statistic))


def _at_least(values: Array, ends: Array) -> NDArray[np.intp]:
    return len(values) - np.searchsorted(np.sort(values), ends, side="left")


def _above(values: Array, ends: Array) -> NDArray[np.intp]:
    return len(values) - np.searchsorted(np.sort(values), ends, side="right")
