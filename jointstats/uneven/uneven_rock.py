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

from jointstats.checks import check_confidence
from jointstats.errors import InputError
from jointstats.types import Array
from jointstats.uneven.between_lines import (
    VARIATIONS,
    Between,
    between_lines,
    nodes_of,
    scaled,
    steps,
)
from jointstats.uneven.swarms import COMPANIONS, LENGTHS_M, Swarms, along_lines

__all__ = ["UnevenDraws", "Unevenness", "unevenness"]

Index = NDArray[np.intp]
Interval = tuple[float, float]
Seed = int | Sequence[int] | np.random.Generator | None


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
    between : Between
        Posterior by how much the lines differ.
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
    between: Between
    swarms: Swarms

    @property
    def p_even(self) -> Array:
        """Probability that each set is even between the lines and along them, (K,)."""
        return self.p_even_between * self.p_even_along

    @property
    def p_even_between(self) -> Array:
        """Probability that each set is as frequent on every line, (K,)."""
        return self.variation[:, 0]

    @property
    def p_even_along(self) -> Array:
        """Probability that each set is without swarms along the lines, (K,)."""
        return self.swarms.weights[:, 0]

    @cached_property
    def variation(self) -> Array:
        """Probability of each of `VARIATIONS` for each set, (K, C)."""
        return self.between.mixed(self.between.own_weights, self.between.shared_weights)

    @cached_property
    def density(self) -> Array:
        """Probability of each node of log P32, (K, G)."""
        one = self.between
        own = np.einsum("kc,kcg->kg", one.own_weights, one.own)
        return one.mixed(own, np.einsum("c,kcg->kg", one.shared_weights, one.shared))

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
        size, one = (n, len(self.even)), self.between
        together = rng.random(n) < one.p_shared
        which, at = rng.choice(len(VARIATIONS), n, p=one.shared_weights), rng.random(n)
        factors, variations, companions = np.empty(size), np.empty(size), np.empty(size)
        for k, weights in enumerate(one.own_weights):
            own, alone = rng.choice(len(VARIATIONS), n, p=weights), rng.random(n)
            shared = self._factor(k, one.shared[k], which, at)
            factors[:, k] = np.where(together, shared, self._factor(k, one.own[k], own, alone))
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
    return np.interp(np.asarray(at, float), below[rising], x[rising])


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
    # A line that cannot see a set says nothing of it.
    y = np.where(e > 0, y, 0.0)
    x = nodes_of(y, e)
    log_even = (y.sum(axis=1) + 0.5)[:, np.newaxis] * x - np.exp(x) * e.sum(axis=1)[:, np.newaxis]
    even = scaled(log_even + np.log(steps(x)))
    return Unevenness(x, even, between_lines(x, y, e, swarms), swarms)


def _checked(
    counts: ArrayLike,
    exposure: ArrayLike,
    line: ArrayLike | None,
    lengths_m: ArrayLike | None,
) -> Cells:
    y, e = (
        np.atleast_2d(np.asarray(counts, float)),
        np.atleast_2d(np.asarray(exposure, float)),
    )
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
