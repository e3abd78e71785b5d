"""How much the number of fractures differs between lines, and what that leaves of P32.

The number of a line of exposure e is negative binomial about λ e: a Poisson number whose mean a
gamma effect of coefficient of variation c multiplies. Swarms make its variance φ times as large;
counts and expectations over φ are then taken for numbers without swarms. The effect is each set's
own, or one for all sets of a line.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import gammaln

from jointstats.types import Array
from jointstats.uneven.pooling import Pooled, log_sum, pooled, spread_kernel
from jointstats.uneven.swarms import Swarms

__all__ = ["VARIATIONS", "Between", "between_lines", "nodes_of", "scaled", "steps"]


#: Coefficients of variation between lines that are tried.
VARIATIONS = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0, 1.25, 1.6, 2.1])
_EVEN = 0.55  # prior probability that the lines do not differ
_SCALE = 1.0  # of the half-normal prior of the coefficient of variation
_SHARED_SCALE = 1.3  # the same, of an effect that all sets share: few lines say little of it
_SPREAD = 0.3  # of its logarithm between sets
_SHARED = 0.5  # prior probability that the sets of a line share one effect
_NODES = 161  # of log P32
_REACH = 5.0  # of the grid of log P32, to either side
_STEPS = 14  # of Newton's method


class Between(NamedTuple):
    """Posterior of P32 by how much lines differ."""

    own: Array  # (K, C, G) probability of each node, by variation, if each set has its own effect
    own_weights: Array  # (K, C) of each variation
    shared: Array  # (K, C, G) if all sets of a line share one effect
    shared_weights: Array  # (C,)
    p_shared: float  # of the second reading

    def mixed(self, own: Array, shared: Array) -> Array:
        """Average over the two readings."""
        return (1.0 - self.p_shared) * own + self.p_shared * shared


def between_lines(x: Array, y: Array, e: Array, swarms: Swarms) -> Between:
    """Posterior at nodes `x` (K, G) of log P32 from counts and exposures (K, H) of lines."""
    tables = [_own_tables(x[k], y[k], e[k], swarms, k) for k in range(len(y))]
    prior = _prior(_SCALE)
    evidence = np.array([one[0] for one in tables])
    own = pooled(evidence, prior, spread_kernel(VARIATIONS, prior, _SPREAD))
    shared_evidence, shared = _shared_tables(x, y, e, swarms)
    alike = pooled(shared_evidence[np.newaxis], _prior(_SHARED_SCALE), np.eye(len(prior)))
    densities = np.array([one[1] for one in tables])
    p_shared = _chance_of_shared(own, alike, len(y))
    return Between(densities, own.weights, shared, alike.weights[0], p_shared)


def _chance_of_shared(own: Pooled, alike: Pooled, n_sets: int) -> float:
    if n_sets < 2:
        return 0.0
    odds = alike.log_evidence - own.log_evidence + np.log(_SHARED / (1.0 - _SHARED))
    return float(1.0 / (1.0 + np.exp(-odds)))


def _prior(scale: float) -> Array:
    """Of the coefficients of variation: a share on zero, the rest half-normal."""
    edges = np.concatenate([[0.0], 0.5 * (VARIATIONS[1:-1] + VARIATIONS[2:]), VARIATIONS[-1:]])
    prior = np.exp(-0.5 * (VARIATIONS / scale) ** 2)
    prior[1:] *= np.diff(edges)
    prior[1:] *= (1.0 - _EVEN) / prior[1:].sum()
    prior[0] = _EVEN
    return prior


def nodes_of(y: Array, e: Array) -> Array:
    """Nodes of log P32 of each set, (K, G): close at the middle, wide at the ends."""
    number = y.sum(axis=1) + 0.5
    t = np.linspace(-1.0, 1.0, _NODES)
    rows = []
    for n, metres in zip(number, e.sum(axis=1), strict=True):
        # sinh spacing whose middle step is a quarter of the standard error in even rock.
        bend = np.interp(-0.25 / np.sqrt(n) * (_NODES - 1) / (2.0 * _REACH), *_BENDS)
        rows.append(np.log(n / metres) + _REACH * np.sinh(bend * t) / np.sinh(bend))
    return np.array(rows)


_BEND = np.linspace(0.1, 8.0, 200)
_BENDS = (-_BEND / np.sinh(_BEND), _BEND)


def steps(x: Array) -> Array:
    return np.gradient(x, axis=-1)


def scaled(log_density: Array) -> Array:
    """Probabilities that sum to one along the last axis."""
    return np.exp(log_density - log_sum(log_density)[..., np.newaxis])


def _own_tables(x: Array, y: Array, e: Array, swarms: Swarms, k: int) -> tuple[Array, Array]:
    """Log evidence (C,) and density (C, G) of one set by coefficient of variation.

    Quasi-likelihood: counts and expectations are divided by the dispersion φ of swarms, and then
    follow the negative binomial that a gamma effect makes of a Poisson count.
    """
    phi = swarms.dispersion[:, :, np.newaxis]  # (D, H, 1)
    some = swarms.weights[k] > 1e-4
    phi, weights = phi[some], swarms.weights[k][some]
    n = y[:, np.newaxis] / phi
    m = e[:, np.newaxis] * np.exp(x) / phi
    total = m.sum(axis=1) / np.maximum((e > 0).sum(), 1)
    best = n.sum(axis=1) / np.maximum((e > 0).sum(), 1)
    evidence, densities = np.empty(len(VARIATIONS)), np.empty((len(VARIATIONS), len(x)))
    plain = (n * np.log(np.maximum(m, 1e-300))).sum(axis=1)
    for c, variation in enumerate(VARIATIONS):
        if variation == 0:
            value = plain - m.sum(axis=1)
        else:
            r = 1.0 / variation**2
            value = plain + (_log_rising(r, n) - (r + n) * np.log1p(m / r)).sum(axis=1)
            # Jeffreys' prior of a negative binomial mean, scaled to agree with even rock.
            value = value + 0.5 * (np.log1p(best / r) - np.log1p(total / r))
        value = value + 0.5 * x + np.log(steps(x))
        of_phi = log_sum(value)
        if c == 0:
            base = of_phi
        log_weights = np.log(weights) + of_phi - base
        evidence[c] = log_sum(log_weights)
        densities[c] = scaled(log_weights) @ scaled(value)
    return evidence, densities


def _log_rising(r: float, n: Array) -> Array:
    """Log of Γ(r + n) / (Γ(r) rⁿ)."""
    return gammaln(r + n) - gammaln(r) - n * np.log(r)


def _shared_tables(x: Array, y: Array, e: Array, swarms: Swarms) -> tuple[Array, Array]:
    """Log evidence (C,) and densities (K, C, G) if all sets of a line share one effect.

    Given the effects, the sets of a line divide its number by their own P32; the effects move only
    the whole. So log P32 is a shift of all sets, on a grid, and a normal part of each set's own.
    """
    # One dispersion a set: the mean of its inverse.
    inverse = swarms.weights @ (1.0 / swarms.dispersion)
    n, d = y * inverse, e * inverse
    evidence = np.empty(len(VARIATIONS))
    densities = np.empty((len(y), len(VARIATIONS), x.shape[1]))
    log_p32 = np.log((n.sum(axis=1) + 0.5) / d.sum(axis=1))
    shift = nodes_of(np.array([[n.sum()]]), np.array([[n.sum() + 0.5]]))[0]
    for c, variation in enumerate(VARIATIONS):
        log_p32, value, curve = _maximum(log_p32, n, d, variation)
        evidence[c] = value - 0.5 * np.linalg.slogdet(curve)[1]
        along = scaled(_along(shift, log_p32, n, d, variation) + np.log(steps(shift)))
        whole = np.linalg.inv(curve)
        rest = np.maximum(np.diag(whole) - 1.0 / curve.sum(), 1e-6)
        for k in range(len(y)):
            away = x[k][:, np.newaxis] - log_p32[k] - shift
            kernel = np.exp(-0.5 * away**2 / rest[k]) / np.sqrt(rest[k])
            densities[k, c] = (kernel @ along) * steps(x[k])
    densities /= np.maximum(densities.sum(axis=2, keepdims=True), 1e-300)
    return evidence - evidence[0], densities


def _along(shift: Array, log_p32: Array, n: Array, e: Array, variation: float) -> Array:
    """Log posterior when log P32 of all sets moves by each shift, but a constant."""
    value = (n.sum() + 0.5 * len(n)) * shift
    moved = (np.exp(log_p32) @ e)[:, np.newaxis] * np.exp(shift)
    if variation == 0:
        return value - moved.sum(axis=0)
    r = 1.0 / variation**2
    value = value - (r + n.sum(axis=0)) @ np.log1p(moved / r)
    return value - 0.5 * len(n) * np.log1p(moved.mean(axis=0) / r)


def _maximum(start: Array, n: Array, e: Array, variation: float) -> tuple[Array, float, Array]:
    """Log P32 at the maximum, the log posterior there, and its curvature (K, K).

    Jeffreys' prior, √λ over what the scatter between lines adds to the variance of a count, has
    the form of one more line of mean exposure.
    """
    x, line, own = start.copy(), n.sum(axis=0), n.sum(axis=1) + 0.5
    r = 1.0 / variation**2 if variation else np.inf
    rows = np.column_stack([e, e.mean(axis=1)])
    power = np.append(r + line, 0.5 * len(n))
    for step in range(_STEPS + 1):
        m = np.exp(x)[:, np.newaxis] * (rows if variation else e)
        total = m.sum(axis=0)
        pull = power / (r + total) if variation else np.ones(len(line))
        curve = np.diag(m @ pull) + 1e-9 * np.eye(len(x))
        if variation:
            curve -= (m * (pull / (r + total))) @ m.T
        if step < _STEPS:
            x = x + np.clip(np.linalg.solve(curve, own - m @ pull), -1.0, 1.0)
    if not variation:
        return x, float(own @ x - total.sum()), curve
    level = np.log1p((n.sum(axis=0).mean()) / r)
    value = own @ x + _log_rising(r, line).sum() - power @ np.log1p(total / r)
    return x, float(value + 0.5 * len(n) * level), curve
