"""Partial pooling: one parameter of many sets, on a grid, each set drawn towards what all say."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from jointstats.types import Array

__all__ = ["Pooled", "log_sum", "pooled", "spread_kernel"]


_AT_ZERO = 0.8  # share of the sets that are even in rock whose sets are mostly even
_STRAY = 0.1  # share of the sets that are even in rock whose sets are mostly not


def log_sum(values: Array) -> Array:
    """Log of the sum of exp(values) along the last axis."""
    top = values.max(axis=-1, keepdims=True)
    return np.log(np.exp(values - top).sum(axis=-1)) + top[..., 0]


class Pooled(NamedTuple):
    """Posterior weights of a parameter on its grid."""

    weights: Array  # (K, G), rows sum to one
    common: Array  # (G,) of the value that the sets gather about
    log_evidence: float


def spread_kernel(values: Array, prior: Array, spread: float) -> Array:
    """Share of the sets with each value (columns) in rock whose sets gather about one (rows).

    `values` (G,) rise from zero; `prior` (G,) sums to one; `spread` is the standard deviation of
    the logarithm between sets. Returns (G, G), rows sum to one.
    """
    kernel = np.empty((len(values), len(values)))
    kernel[0] = (1.0 - _AT_ZERO) * prior
    kernel[0, 1:] /= 1.0 - prior[0]
    kernel[0, 0] = _AT_ZERO
    logs = np.log(values[1:])
    near = np.exp(-0.5 * ((logs[:, np.newaxis] - logs) / spread) ** 2)
    kernel[1:, 1:] = (1.0 - _STRAY) * near / near.sum(axis=1, keepdims=True)
    kernel[1:, 0] = _STRAY
    return kernel


def pooled(log_evidence: Array, prior: Array, kernel: Array) -> Pooled:
    """Combine the evidence (K, G) of each set on the value under a prior (G,) of the common one."""
    top = log_evidence.max(axis=1, keepdims=True)
    likelihood = np.exp(log_evidence - top)
    of_common = likelihood @ kernel.T  # (K, G)
    with np.errstate(divide="ignore"):
        each = np.log(of_common)
        weight = np.log(prior) + each.sum(axis=0)
    total = log_sum(weight)
    common = np.exp(weight - total)
    share = np.where(of_common > 0, common / np.maximum(of_common, 1e-300), 0.0)
    weights = likelihood * (share @ kernel)
    return Pooled(weights / weights.sum(axis=1, keepdims=True), common, float(total + top.sum()))
