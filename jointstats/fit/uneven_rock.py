"""P32 of rock whose fractures are spread unevenly: between lines, and in swarms along them.

The number of fractures of set k on line h, of exposure e, is taken to scatter as

    y ~ λ_k e g,   g a gamma variable of mean 1 and coefficient of variation c,

with swarms on top that make its variance φ times its mean (`swarms`). The effect g is either each
set's own, or one for all sets of a line; both are tried. λ_k means the rock of the site, of which
the lines are a sample. All parameters are on grids: nothing is drawn to find the intervals.
`examples/theory.md` derives it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln

from jointstats.checks import check_confidence
from jointstats.errors import InputError
from jointstats.fit.pooling import Pooled, log_sum, pooled, spread_kernel
from jointstats.fit.swarms import COMPANIONS, LENGTHS_M, Swarms, along_lines

__all__ = ["VARIATIONS", "UnevenDraws", "Unevenness", "unevenness"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Interval = tuple[float, float]
Seed = int | Sequence[int] | np.random.Generator | None

#: Coefficients of variation between lines that are tried.
VARIATIONS = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0, 1.25, 1.6, 2.1])
_EVEN = 0.55  # prior probability that the lines do not differ
_SCALE = 1.0  # of the half-normal prior of the coefficient of variation
_SHARED_SCALE = 1.3  # the same, of an effect that all sets share: few lines say little of it
_SPREAD = 0.3  # of its logarithm between sets
_COMMON = 0.5  # prior probability that the sets of a line share one effect
_NODES = 161  # of log P32
_REACH = 5.0  # of the grid of log P32, to either side
_STEPS = 14  # of Newton's method


class Cells(NamedTuple):
    """Counts in cells, checked."""

    counts: Array  # (K, B)
    exposure: Array  # (K, B)
    line: Index  # (B,)
    lengths: Array  # (B,)

    def by_line(self, values: Array) -> Array:
        """Sums over the cells of each line, (K, H)."""
        return np.stack([np.bincount(self.line, row) for row in values])


class UnevenDraws(NamedTuple):
    """Draws of the unevenness of the rock."""

    factors: Array  # (n, K) by which P32 of even rock is multiplied
    variations: Array  # (n, K) coefficient of variation between lines
    together: NDArray[np.bool_]  # (n,) whether the sets of a line share one effect
    companions: Array  # (n, K) of a fracture in its swarm
    lengths_m: Array  # (n,) of the swarms


@dataclass(frozen=True, eq=False)
class Unevenness:
    """Posterior of P32 and of the unevenness of the rock.

    Attributes
    ----------
    log_p32 : ndarray, shape (K, G)
        Nodes, log of 1/m.
    even : ndarray, shape (K, G)
        Probability of each node if the rock is even.
    own : ndarray, shape (K, C, G)
        The same by coefficient of variation, if each set has its own effect on a line.
    shared : ndarray, shape (K, C, G)
        The same if all sets of a line share one effect.
    variation_weights : ndarray, shape (K, C)
        Probability of each of `VARIATIONS`, own effects.
    shared_weights : ndarray, shape (C,)
        The same for the shared effect.
    share_common : float
        Probability that the sets of a line share one effect, where there is one.
    swarms : Swarms
        Unevenness along the lines.

    Examples
    --------
    Four lines of 20 m meet 40 fractures as evenly as can be, and as unevenly:

    >>> metres = np.full((1, 4), 20.0)
    >>> even = unevenness([[10, 10, 10, 10]], metres)
    >>> uneven = unevenness([[2, 25, 1, 12]], metres)
    >>> float(even.p_even[0].round(1)), float(uneven.p_even[0].round(1))
    (0.8, 0.0)
    >>> [round(x, 2) for x in uneven.even_interval(0)], [round(x, 2) for x in uneven.p32_interval(0)]
    ([0.36, 0.68], [0.19, 3.28])
    """

    log_p32: Array
    even: Array
    own: Array
    shared: Array
    variation_weights: Array
    shared_weights: Array
    share_common: float
    swarms: Swarms

    @property
    def p_even(self) -> Array:
        """Probability that each set is even between the lines and along them, (K,)."""
        between = self._mixed(self.variation_weights[:, 0], self.shared_weights[0])
        return between * self.swarms.weights[:, 0]

    def _mixed(self, own: Array, shared: Array | float) -> Array:
        return (1.0 - self.share_common) * own + self.share_common * np.asarray(shared)

    @cached_property
    def variation(self) -> Array:
        """Probability of each of `VARIATIONS` for each set, (K, C)."""
        return self._mixed(self.variation_weights, self.shared_weights)

    @cached_property
    def density(self) -> Array:
        """Probability of each node of log P32, (K, G)."""
        own = np.einsum("kc,kcg->kg", self.variation_weights, self.own)
        shared = np.einsum("c,kcg->kg", self.shared_weights, self.shared)
        return self._mixed(own, shared)

    def p32_interval(self, k: int, confidence: float = 0.95) -> Interval:
        """Interval of P32 of the rock of the site, 1/m."""
        return _interval(self.log_p32[k], self.density[k], confidence)

    def even_interval(self, k: int, confidence: float = 0.95) -> Interval:
        """The narrower interval that takes the rock as even, 1/m."""
        return _interval(self.log_p32[k], self.even[k], confidence)

    def variation_interval(self, k: int, confidence: float = 0.95) -> tuple[float, float, float]:
        """Coefficient of variation between lines: median, and an interval that may begin at zero."""
        return _of_grid(VARIATIONS, self.variation[k], confidence)

    def companions_interval(self, k: int, confidence: float = 0.95) -> tuple[float, float, float]:
        """Companions of a fracture in its swarm: median, and an interval that may begin at zero."""
        return _of_grid(COMPANIONS, self.swarms.weights[k], confidence)

    def draws(self, n: int, random_state: Seed = None) -> UnevenDraws:
        """Rocks from the posterior: how uneven each is, and what that does to P32.

        Parameters
        ----------
        n : int
            Number of draws.
        random_state : int, sequence of int, Generator or None

        Returns
        -------
        UnevenDraws
            Its factors turn draws of P32 in even rock, made independently, into draws for the rock
            of the site. Where the sets of a line share an effect, the factors move together.
        """
        rng = np.random.default_rng(random_state)
        size = (n, len(self.even))
        together = rng.random(n) < self.share_common
        which, at = rng.choice(len(VARIATIONS), n, p=self.shared_weights), rng.random(n)
        factors, variations, companions = np.empty(size), np.empty(size), np.empty(size)
        for k in range(len(self.even)):
            own, alone = rng.choice(len(VARIATIONS), n, p=self.variation_weights[k]), rng.random(n)
            shared = self._factor(k, self.shared[k], which, at)
            factors[:, k] = np.where(together, shared, self._factor(k, self.own[k], own, alone))
            variations[:, k] = VARIATIONS[np.where(together, which, own)]
            companions[:, k] = rng.choice(COMPANIONS, n, p=self.swarms.weights[k])
        lengths = rng.choice(LENGTHS_M, n, p=self.swarms.length_weights)
        return UnevenDraws(factors, variations, together, companions, lengths)

    def p32_draws(self, n: int, random_state: Seed = None) -> Array:
        """Draws of P32 of even rock, 1/m, shape (n, K), by the counts alone."""
        rng = np.random.default_rng(random_state)
        drawn = [
            _quantile(x, density, rng.random(n))
            for x, density in zip(self.log_p32, self.even, strict=True)
        ]
        return np.exp(np.column_stack(drawn))

    def _factor(self, k: int, densities: Array, which: Index, at: Array) -> Array:
        """Factors at quantiles `at` (n,) of the excess over even rock, for nodes `which` (n,)."""
        x = self.log_p32[k]
        middle, base = _moments(x, self.even[k])
        log_factor = np.empty(len(at))
        for c, density in enumerate(densities):
            mean, variance = _moments(x, density)
            # The same shape, narrowed to the variance that even draws do not have already.
            narrow = np.sqrt(max(1.0 - base / variance, 0.0))
            rows = which == c
            drawn = _quantile(x, density, at[rows])
            log_factor[rows] = mean - middle + narrow * (drawn - mean)
        return np.exp(log_factor)


def _moments(x: Array, density: Array) -> tuple[float, float]:
    mean = float(density @ x)
    return mean, float(density @ (x - mean) ** 2)


def _quantile(x: Array, density: Array, at: ArrayLike) -> Array:
    """Quantiles of probabilities on rising nodes."""
    below = np.cumsum(density) - 0.5 * density
    rising = np.concatenate([[True], np.diff(below) > 0])
    return np.interp(at, below[rising], x[rising])


def _interval(x: Array, density: Array, confidence: float) -> Interval:
    tail = 0.5 * (1.0 - check_confidence(confidence))
    low, high = np.exp(_quantile(x, density, [tail, 1.0 - tail]))
    return float(low), float(high)


def _of_grid(values: Array, weights: Array, confidence: float) -> tuple[float, float, float]:
    """Median and interval on a coarse grid with a mass at zero, between its values by lines."""
    tail = 0.5 * (1.0 - check_confidence(confidence))
    edges = np.concatenate([[0.0], np.cumsum(weights)])
    ends = np.concatenate([[0.0, 0.0], 0.5 * (values[1:-1] + values[2:]), values[-1:]])
    middle, low, high = np.interp([0.5, tail, 1.0 - tail], edges, ends)
    return float(middle), float(low), float(high)


def unevenness(
    counts: ArrayLike,
    exposure: ArrayLike,
    line: ArrayLike | None = None,
    lengths_m: ArrayLike | None = None,
) -> Unevenness:
    """P32 of sets whose fractures may be uneven between lines and along them.

    Parameters
    ----------
    counts : array_like, shape (K, B)
        Fractures of each set in each cell, perhaps sums of memberships. A cell is a piece of a
        line, a metre or two long, or a whole line; the cells of one line stand by depth.
    exposure : array_like, shape (K, B)
        Fractures expected in each cell per unit of P32, metres.
    line : array_like of int, shape (B,), or None
        Line of each cell, 0 to H − 1; None takes each cell as a line.
    lengths_m : array_like, shape (B,), or None
        Length of each cell; None takes its largest exposure.

    Returns
    -------
    Unevenness

    Raises
    ------
    InputError
        If shapes differ, a number is negative or not finite, or a set has no exposure.

    Examples
    --------
    >>> found = unevenness([[3, 4, 12, 1]], [[5.0, 5.0, 5.0, 5.0]], line=[0, 0, 1, 1])
    >>> low, high = found.p32_interval(0)
    >>> low < 1.0 < high
    True
    """
    cells = _checked(counts, exposure, line, lengths_m)
    swarms = along_lines(*cells)
    y, e = cells.by_line(cells.counts), cells.by_line(cells.exposure)
    x = _nodes(y, e)
    log_even = y.sum(axis=1)[:, np.newaxis] * x - np.exp(x) * e.sum(axis=1)[:, np.newaxis]
    even = _scaled(log_even + 0.5 * x + np.log(_steps(x)))
    tables = [_own_tables(x[k], y[k], e[k], swarms, k) for k in range(len(y))]
    prior = _prior(_SCALE)
    kernel = spread_kernel(VARIATIONS, prior, _SPREAD)
    own = pooled(np.array([one[0] for one in tables]), prior, kernel)
    shared_evidence, shared = _shared_tables(x, y, e, swarms)
    common = pooled(shared_evidence[np.newaxis], _prior(_SHARED_SCALE), np.eye(len(prior)))
    share = _share_common(own, common, len(y))
    densities = np.array([one[1] for one in tables])
    return Unevenness(x, even, densities, shared, own.weights, common.weights[0], share, swarms)


def _share_common(own: Pooled, common: Pooled, n_sets: int) -> float:
    if n_sets < 2:
        return 0.0
    odds = common.log_evidence - own.log_evidence + np.log(_COMMON / (1.0 - _COMMON))
    return float(1.0 / (1.0 + np.exp(-odds)))


def _prior(scale: float) -> Array:
    """Of the coefficients of variation: a share on zero, the rest half-normal."""
    edges = np.concatenate([[0.0], 0.5 * (VARIATIONS[1:-1] + VARIATIONS[2:]), VARIATIONS[-1:]])
    prior = np.exp(-0.5 * (VARIATIONS / scale) ** 2)
    prior[1:] *= np.diff(edges)
    prior[1:] *= (1.0 - _EVEN) / prior[1:].sum()
    prior[0] = _EVEN
    return prior


def _nodes(y: Array, e: Array) -> Array:
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


def _steps(x: Array) -> Array:
    return np.gradient(x, axis=-1)


def _scaled(log_density: Array) -> Array:
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
        value = value + 0.5 * x + np.log(_steps(x))
        of_phi = log_sum(value)
        if c == 0:
            base = of_phi
        log_weights = np.log(weights) + of_phi - base
        evidence[c] = log_sum(log_weights)
        densities[c] = _scaled(log_weights) @ _scaled(value)
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
    shift = _nodes(np.array([[n.sum()]]), np.array([[n.sum() + 0.5]]))[0]
    for c, variation in enumerate(VARIATIONS):
        log_p32, value, curve = _maximum(log_p32, n, d, variation)
        evidence[c] = value - 0.5 * np.linalg.slogdet(curve)[1]
        along = _scaled(_along(shift, log_p32, n, d, variation) + np.log(_steps(shift)))
        whole = np.linalg.inv(curve)
        rest = np.maximum(np.diag(whole) - 1.0 / curve.sum(), 1e-6)
        for k in range(len(y)):
            away = x[k][:, np.newaxis] - log_p32[k] - shift
            kernel = np.exp(-0.5 * away**2 / rest[k]) / np.sqrt(rest[k])
            densities[k, c] = (kernel @ along) * _steps(x[k])
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


def _checked(
    counts: ArrayLike, exposure: ArrayLike, line: ArrayLike | None, lengths_m: ArrayLike | None
) -> Cells:
    y, e = np.atleast_2d(np.asarray(counts, float)), np.atleast_2d(np.asarray(exposure, float))
    if y.ndim != 2 or y.shape != e.shape or y.size == 0:
        raise InputError(
            f"counts and exposure must be tables of one shape, a row a set and a column a cell; "
            f"got {y.shape} and {e.shape}"
        )
    if not (np.isfinite(y).all() and np.isfinite(e).all() and y.min() >= 0 and e.min() >= 0):
        raise InputError("counts and exposure must be finite and not below zero")
    if (e.sum(axis=1) == 0).any():
        raise InputError("a set has no exposure in any cell, so its P32 cannot be told")
    of = np.arange(y.shape[1]) if line is None else np.unique(line, return_inverse=True)[1]
    lengths = e.max(axis=0) if lengths_m is None else np.asarray(lengths_m, float)
    if of.shape != (y.shape[1],) or lengths.shape != of.shape:
        raise InputError(
            f"line and lengths_m must have one value a cell ({y.shape[1]}); "
            f"got {of.shape} and {lengths.shape}"
        )
    return Cells(y, e, of, np.maximum(lengths, 1e-9))
