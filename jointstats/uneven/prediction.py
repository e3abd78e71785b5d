"""The number of fractures that a further line should meet, and every line predicted from the others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln, logsumexp, xlogy

from jointstats.checks import as_generator, as_numbers, as_seed, check_confidence
from jointstats.errors import InputError
from jointstats.types import Array, RandomState
from jointstats.uneven.swarms import pairs_within
from jointstats.uneven.uneven_rock import Seed, UnevenDraws, unevenness

__all__ = ["LeftOut", "PredictedCounts", "leave_out_lines", "predicted_counts"]

Index = NDArray[np.intp]

_DRAWS = 2000


@dataclass(frozen=True, eq=False)
class PredictedCounts:
    """Distribution of the number of fractures of each set on a line, and of all together.

    Attributes
    ----------
    expected : ndarray, shape (n, K)
        Mean number in each draw of the rock and of the line's place in it.
    dispersion : ndarray, shape (n, K)
        Variance over mean of the number, given that mean.
    counts : ndarray of int, shape (n, K)
        A number drawn from each.

    Examples
    --------
    >>> found = unevenness([[12, 9, 15]], [[10.0, 10.0, 10.0]])
    >>> ahead = predicted_counts(found.p32_draws(2000, 0), found.draws(2000, 1), [10.0], 10.0)
    >>> low, high = ahead.interval(0, 0.9)
    >>> low < 12 < high
    True
    """

    expected: Array
    dispersion: Array
    counts: NDArray[np.int64]

    def mean(self, k: int | None = None) -> float:
        """Mean number of set k, or of all sets."""
        return float(self._of(self.expected, k).mean())

    def interval(self, k: int | None = None, confidence: float = 0.9) -> tuple[int, int]:
        """Interval of the number of set k, or of all sets."""
        tail = 0.5 * (1.0 - check_confidence(confidence))
        low, high = np.quantile(self._of(self.counts, k), [tail, 1.0 - tail], method="inverted_cdf")
        return int(low), int(high)

    def log_score(self, observed: float, k: int | None = None) -> float:
        """Log probability of a number observed; it need not be whole."""
        mean = self._of(self.expected, k)
        if k is None:
            # Over the sets, means and variances add up.
            dispersion = (self.expected * self.dispersion).sum(axis=1) / np.maximum(mean, 1e-300)
        else:
            dispersion = self.dispersion[:, k]
        value = _log_chance(float(observed), mean, np.maximum(dispersion, 1.0))
        return float(logsumexp(value) - np.log(len(value)))

    def _of(self, values: NDArray[np.generic], k: int | None) -> Array:
        return np.asarray(values.sum(axis=1) if k is None else values[:, k], float)


def _log_chance(observed: float, mean: Array, dispersion: Array) -> Array:
    """Log probability of a negative binomial number of given mean and variance over mean."""
    extra = np.maximum(dispersion - 1.0, 1e-6)
    shape = mean / extra
    value = gammaln(observed + shape) - gammaln(shape) - gammaln(observed + 1.0)
    value += observed * np.log(extra / (1.0 + extra)) - shape * np.log1p(extra)
    plain = xlogy(observed, mean) - mean - gammaln(observed + 1.0)
    return np.where((dispersion > 1.0 + 1e-6) & (mean > 0), value, plain)


def predicted_counts(
    p32_even: ArrayLike,
    draws: UnevenDraws,
    exposure: ArrayLike,
    length_m: float,
    *,
    random_state: Seed = 0,
) -> PredictedCounts:
    """Numbers of each set that a further line should meet.

    Parameters
    ----------
    p32_even : array_like, shape (n, K)
        Draws of P32 that take the rock as even, 1/m.
    draws : UnevenDraws
        As many draws of the unevenness.
    exposure : array_like, shape (K,) or (n, K)
        Fractures that the line would meet per unit of P32, metres; one row a draw where the
        orientation of the sets is drawn too.
    length_m : float
        Of the line.
    random_state : int, sequence of int, Generator or None

    Returns
    -------
    PredictedCounts

    Raises
    ------
    InputError
        If shapes differ.

    Examples
    --------
    A line that runs along the planes of the set meets none:

    >>> found = unevenness([[12, 9, 15]], [[10.0, 10.0, 10.0]])
    >>> predicted_counts(found.p32_draws(99, 0), found.draws(99, 1), [0.0], 10.0).mean()
    0.0
    """
    rng = np.random.default_rng(random_state)
    p32, metres = np.asarray(p32_even, float), np.asarray(exposure, float)
    if p32.shape != draws.factors.shape or metres.shape[-1:] != p32.shape[1:]:
        raise InputError(
            f"p32_even and draws must have one shape, and exposure a value a set; got {p32.shape}, "
            f"{draws.factors.shape} and {metres.shape}"
        )
    expected = p32 * draws.factors * metres * _effects(draws, rng)
    reach = pairs_within(length_m / draws.lengths_m)[:, np.newaxis]
    dispersion = 1.0 + draws.companions * reach
    extra = np.maximum(dispersion - 1.0, 1e-9)
    clustered = rng.gamma(expected / extra) * extra
    counts = rng.poisson(np.where(dispersion > 1.0 + 1e-6, clustered, expected))
    return PredictedCounts(expected, dispersion, counts)


def _effects(draws: UnevenDraws, rng: np.random.Generator) -> Array:
    """Gamma effects of one line, (n, K), the same for all sets where they share it."""
    shape = 1.0 / np.maximum(draws.variations, 1e-6) ** 2
    own = rng.gamma(shape) / shape
    return np.where(draws.together[:, np.newaxis], own[:, :1], own)


@dataclass(frozen=True, eq=False)
class LeftOut:
    """A line predicted from the others.

    Attributes
    ----------
    line : int
    observed : ndarray, shape (K,)
    predicted : PredictedCounts

    Examples
    --------
    >>> one = leave_out_lines([[12, 9, 15]], [[10.0, 10.0, 10.0]])[0]
    >>> float(one.observed[0]), one.holds(0)
    (12.0, True)
    """

    line: int
    observed: Array
    predicted: PredictedCounts

    def holds(self, k: int | None = None, confidence: float = 0.9) -> bool:
        """Whether the interval of set k, or of all sets, has what was observed."""
        seen = round(float(self.observed.sum() if k is None else self.observed[k]))
        low, high = self.predicted.interval(k, confidence)
        return low <= seen <= high

    def log_score(self, k: int | None = None) -> float:
        """Log probability of what was observed of set k, or of all sets."""
        seen = float(self.observed.sum() if k is None else self.observed[k])
        return self.predicted.log_score(seen, k)


def leave_out_lines(
    counts: ArrayLike,
    exposure: ArrayLike,
    line: ArrayLike | None = None,
    lengths_m: ArrayLike | None = None,
    *,
    refit: Callable[[int], tuple[Array, Array, Array]] | None = None,
    n_draws: int = _DRAWS,
    random_state: RandomState = 0,
) -> tuple[LeftOut, ...]:
    """Predict the counts of every line from the other lines.

    Parameters
    ----------
    counts, exposure, line, lengths_m
        As for `unevenness`.
    refit : callable, or None
        Given the number of the line left out, returns the counts and exposures (K, B) of all cells
        by sets fitted without it, and draws (n_draws, K) of their P32 in even rock. None keeps the
        sets as they are, and leaves out their counts alone.
    n_draws : int
    random_state : int, Generator, RandomState or None

    Returns
    -------
    tuple of LeftOut
        One a line. A set that the other lines cannot see is predicted from nothing, and is left
        out of its line's prediction by an exposure of zero.

    Raises
    ------
    InputError
        As for `unevenness`, or if there is one line only.

    Examples
    --------
    >>> found = leave_out_lines([[12, 9, 15, 60]], [[10.0, 10.0, 10.0, 10.0]])
    >>> [one.holds(0) for one in found]
    [True, True, True, False]
    """
    y, e = np.atleast_2d(np.asarray(counts, float)), np.atleast_2d(np.asarray(exposure, float))
    of = np.arange(y.shape[1]) if line is None else np.unique(line, return_inverse=True)[1]
    lengths = e.max(axis=0) if lengths_m is None else as_numbers(lengths_m, "lengths_m", low=0)
    if of.max() == 0:
        raise InputError("one line alone cannot be predicted from others")
    found, seed = [], as_seed(as_generator(None) if random_state is None else random_state) or 0
    for h in range(int(of.max()) + 1):
        table, metres, p32 = (y, e, None) if refit is None else refit(h)
        rest, own = of != h, of == h
        rock = unevenness(
            table[:, rest], np.maximum(metres[:, rest], 1e-9), of[rest], lengths[rest]
        )
        if p32 is None:
            p32 = rock.p32_draws(n_draws, [seed, h])
        ahead = predicted_counts(
            p32,
            rock.draws(n_draws, [seed, h, 1]),
            np.where(metres[:, rest].sum(axis=1) > 0, metres[:, own].sum(axis=1), 0.0),
            float(lengths[own].sum()),
            random_state=seed,
        )
        found.append(LeftOut(h, table[:, own].sum(axis=1), ahead))
    return tuple(found)
