"""All ways of pairing two lists of fractures in order, summed: partition function and posteriors.

Weights w are log odds of a pair against two fractures that have nothing to do with each other, so
an unpaired fracture costs nothing. Pairings keep the order of both lists, save that two
neighbours may change places. With S(i, j) the log of the sum over all pairings of the first i and
the first j fractures, each pairing is counted once by its last pair:

    S(i, j) = log [exp S(i − 1, j) + Σ_{j' ≤ j} exp(w(i, j') + S(i − 1, j' − 1))]
"""

from __future__ import annotations

import numpy as np

from jointstats.types import Array


def _forward(weights: Array) -> Array:
    """S(i, j) for all i and j, shape (..., I + 1, J + 1)."""
    *batch, rows, columns = weights.shape
    sums = np.zeros((*batch, rows + 1, columns + 1))
    for i in range(1, rows + 1):
        last = weights[..., i - 1, :] + sums[..., i - 1, :-1]
        if i > 1:
            swapped = weights[..., i - 1, :-1] + weights[..., i - 2, 1:] + sums[..., i - 2, :-2]
            last[..., 1:] = np.logaddexp(last[..., 1:], swapped)
        so_far = np.logaddexp.accumulate(last, axis=-1)
        sums[..., i, 1:] = np.logaddexp(sums[..., i - 1, 1:], so_far)
    return sums


def log_sum_of_pairings(weights: Array) -> Array:
    """Log of the sum over all pairings of the product of odds.

    `weights` (..., I, J): log odds of each pair. Gives (...).
    """
    if 0 in weights.shape[-2:]:
        return np.zeros(weights.shape[:-2])
    return _forward(weights)[..., -1, -1]


def pair_chances(weights: Array) -> Array:
    """Posterior chance of each pair.

    `weights` (..., I, J): log odds of each pair. Gives (..., I, J): rows and columns sum to at
    most one; the rest is the chance to be unpaired.
    """
    if 0 in weights.shape[-2:]:
        return np.zeros(weights.shape)
    before = _forward(weights)
    after = _forward(weights[..., ::-1, ::-1])[..., ::-1, ::-1]
    whole = before[..., -1:, -1:]
    chances = np.exp(weights + before[..., :-1, :-1] + after[..., 1:, 1:] - whole)
    if min(weights.shape[-2:]) > 1:
        across = weights[..., 1:, :-1] + weights[..., :-1, 1:]
        swapped = np.exp(across + before[..., :-2, :-2] + after[..., 2:, 2:] - whole)
        chances[..., 1:, :-1] += swapped
        chances[..., :-1, 1:] += swapped
    return np.minimum(chances, 1.0)
