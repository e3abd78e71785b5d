"""How unevenly the fractures of each set lie along lines: swarms, their size and their length.

A fracture comes with `d` companions on average, within a length that falls off as exp(−s / ℓ). A
block of length L that expects m fractures then counts with variance m (1 + d w(L / ℓ)), where
w(x) = 1 − (1 − e^−x) / x is the share of the pairs that lie within one block. The scatter of blocks
about what their line's own number shares out to them is compared with this at several block
lengths; what differs from line to line is left to `uneven_rock`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from jointstats.types import Array
from jointstats.uneven.pooling import log_sum, pooled, spread_kernel

__all__ = ["COMPANIONS", "LENGTHS_M", "Swarms", "along_lines", "pairs_within"]

Index = NDArray[np.intp]

#: Companions of a fracture that are tried, and lengths ℓ in metres.
COMPANIONS = np.array([0.0, 0.2, 0.4, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 18.0, 27.0])
LENGTHS_M = np.array([0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0])
_EVEN = 0.5  # prior probability that a set has no swarms
_MANY, _LONG_M = 4.0, 4.0  # companions and length from which the prior falls
_SPREAD = 0.5  # of log companions between sets
_LEVEL_POWER = 2.0  # information of all levels together, in levels
_KURTOSIS = 1.5  # excess of a swarm count's fourth cumulant over that of swarms of one size


class Swarms(NamedTuple):
    """Posterior of the companions and the length of swarms."""

    weights: Array  # (K, D) of each number of companions
    length_weights: Array  # (ℓ,) of each length, over all sets
    reach: Array  # (H,) share of the pairs of a swarm that lie within one line

    @property
    def dispersion(self) -> Array:
        """Variance over mean of the number in each line, (D, H)."""
        return 1.0 + COMPANIONS[:, np.newaxis] * self.reach


class _Level(NamedTuple):
    """Scatter at one block length."""

    ratio: Array  # (K,) Σ (y − m)² / Σ m (1 − p)
    blocks: Array  # (K,) degrees of freedom
    length_m: float
    share: float  # of its line, that a block is


def pairs_within(x: Array | float) -> Array:
    """Share w of the pairs of a swarm that lie within a block of x lengths."""
    x = np.maximum(x, 1e-9)
    return np.where(x < 1e-4, 0.5 * x, 1.0 + np.expm1(-x) / x)


def _summed(values: Array, index: Index, size: int) -> Array:
    """Sums of the columns (K, B) by index, (K, size)."""
    return np.stack([np.bincount(index, row, size) for row in values])


def _blocks(line: Index, n_lines: int, factor: int) -> Index:
    """Number of the block of each cell, `factor` cells a block; a remainder joins the last one."""
    block, first = np.empty(len(line), np.intp), 0
    for h in range(n_lines):
        own = np.flatnonzero(line == h)
        many = max(len(own) // factor, 1)
        block[own] = first + np.minimum(np.arange(len(own)) // factor, many - 1)
        first += many
    return block


def _level(
    counts: Array, exposure: Array, line: Index, lengths: Array, block: Index
) -> _Level | None:
    """Scatter of the counts of blocks given those of their lines; None without two in a line."""
    size, n_lines = block.max() + 1, line.max() + 1
    of = np.zeros(size, np.intp)
    of[block] = line
    y, e = _summed(counts, block, size), _summed(exposure, block, size)
    total, whole = _summed(y, of, n_lines), _summed(e, of, n_lines)
    share = e / np.maximum(whole, 1e-300)[:, of]
    mean = total[:, of] * share
    chance = (mean * (1.0 - share)).sum(axis=1)
    if size <= n_lines:
        return None
    ratio = ((y - mean) ** 2).sum(axis=1) / np.maximum(chance, 1e-300)
    # As many blocks of equal expectation as would have this scatter.
    blocks = chance**2 / np.maximum(((mean * (1.0 - share)) ** 2).sum(axis=1), 1e-300)
    metres = np.bincount(block, lengths, size)
    return _Level(
        np.where(chance > 0, ratio, 1.0),
        np.where(chance > 0, blocks, 0.0) * (1.0 - n_lines / size),
        float(metres.mean()),
        n_lines / size,
    )


def _log_likelihood(level: _Level, number: Array, line_m: float) -> Array:
    """Of the ratio of a level, by set, companions and length, (K, D, ℓ).

    The ratio is a gamma variable: its mean is the dispersion, its spread that of `blocks` squares
    of counts whose excess kurtosis is that of swarms.
    """
    near = pairs_within(level.length_m / LENGTHS_M) - level.share * pairs_within(line_m / LENGTHS_M)
    extra = COMPANIONS[:, np.newaxis] * near / (1.0 - level.share)
    mean = 1.0 + extra
    blocks = np.maximum(level.blocks, 1e-9)[:, np.newaxis, np.newaxis]
    kurtosis = (1.0 + _KURTOSIS * (mean - 1.0)) * blocks / number[:, np.newaxis, np.newaxis]
    half = 0.5 * blocks / (1.0 + 0.5 * kurtosis)
    ratio = np.maximum(level.ratio, 1e-3)[:, np.newaxis, np.newaxis]
    return half * np.log(half / mean) - gammaln(half) + half * (np.log(ratio) - ratio / mean)


def along_lines(counts: Array, exposure: Array, line: Index, lengths: Array) -> Swarms:
    """Posterior of swarms from counts and exposures (K, B) in cells, those of a line by depth.

    `line` (B,) is the line of each cell, `lengths` (B,) are metres. Where no line has two cells,
    there are no swarms.
    """
    n_lines = int(line.max()) + 1
    metres = np.bincount(line, lengths, n_lines).astype(float)
    total = _summed(counts, line, n_lines)
    number = np.maximum(total.sum(axis=1), 0.5)
    levels, factor = [], 1
    while factor <= np.bincount(line).max() // 2:
        level = _level(counts, exposure, line, lengths, _blocks(line, n_lines, factor))
        if level is not None:
            levels.append(level)
        factor *= 2
    if not levels:
        weights = np.zeros((len(counts), len(COMPANIONS)))
        weights[:, 0] = 1.0
        return Swarms(weights, np.full(len(LENGTHS_M), 1.0 / len(LENGTHS_M)), np.ones(n_lines))
    each = [_log_likelihood(one, number, float(metres.mean())) for one in levels]
    value = sum(each, np.zeros(()))
    value = value * min(_LEVEL_POWER / len(levels), 1.0)
    return _posterior(value, metres)


def _posterior(value: Array, metres: Array) -> Swarms:
    """Pool the sets: one length for all, companions of each drawn towards the others."""
    prior = 1.0 / (1.0 + COMPANIONS / _MANY)
    prior *= (1.0 - _EVEN) / prior[1:].sum()
    prior[0] = _EVEN
    kernel = spread_kernel(COMPANIONS, prior, _SPREAD)
    found = [pooled(value[:, :, j], prior, kernel) for j in range(len(LENGTHS_M))]
    log_length = np.array([one.log_evidence for one in found]) - np.log1p(LENGTHS_M / _LONG_M)
    of_length = np.exp(log_length - log_sum(log_length))
    weights = sum(share * one.weights for share, one in zip(of_length, found, strict=True))
    reach = pairs_within(metres[:, np.newaxis] / LENGTHS_M) @ of_length
    return Swarms(np.asarray(weights), of_length, reach)
