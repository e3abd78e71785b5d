"""Likelihood of axes under a mixture of axial Fisher sets and a uniform background.

With intensities λ_k (P32 where an exposure is given), densities f_k over the hemisphere and mean
exposures E_k, the fractures of an investigation are a Poisson process with log likelihood

    ℓ = Σ_i w_i log Σ_k λ_k f_k(n_i) − Σ_k λ_k E_k        (the background is one more component)

up to the factor |n · d| of the hole that met each fracture, which holds no parameter. Without an
exposure every E_k is one and the maximum is that of an ordinary mixture with shares λ_k / Σ λ.

What is maximised is  ℓ + ½ Σ_k log E_k.  The second term is how Jeffreys' prior of an intensity,
the root of its information E / λ, depends on the exposure. Where a set is well seen it is all but
constant; it keeps a few fractures at the edge of a blind zone from being explained by an endless
intensity inside it, where E falls to nothing.

The functions here are pure: arrays in, arrays out.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, ive

from jointstats.fit.rock import Rock
from jointstats.sphere.zonal import FisherMeansSlopes
from jointstats.types import Array

__all__ = [
    "Expectation",
    "Exposure",
    "RoundSets",
    "entropy_of",
    "expectation",
    "log_likelihood",
    "log_prior",
]

Closed = NDArray[np.bool_] | None

#: Rows handled at once: a block and its work arrays stay in the processor's cache.
BLOCK = 8192
#: Weight of log E in the prior.
PRIOR = 0.5
_TINY = float(np.finfo(float).tiny)


class Exposure(Protocol):
    """What the likelihood asks of an exposure; `jointstats.LineExposure` answers it."""

    log_error: float  # standard error of the log of all its lengths

    def at(self, poles: Array) -> Array:
        """Exposure of each orientation."""

    def of_sets(self, means: Array, kappas: Array) -> Array:
        """Mean exposure of each set."""

    def of_sets_slopes(self, means: Array, kappas: Array) -> FisherMeansSlopes:
        """Mean exposure of each set and its derivatives."""

    def of_uniform(self) -> float:
        """Mean exposure of the background."""


class RoundSets(NamedTuple):
    """Round sets in any number of columns p, and a background, as the arrays that EM works on."""

    means: Array  # (K, p)
    kappas: Array  # (K,)
    intensities: Array  # (K,)
    background: float

    @classmethod
    def of(cls, rock: Rock) -> RoundSets:
        """The sets of a rock, all of them taken as round."""
        means = np.array([one.frame[0] for one in rock.densities]).reshape(-1, 3)
        kappas = np.array([one.concentration for one in rock.densities])
        return cls(means, kappas, rock.intensities, rock.background_per_m)

    def rock(self) -> Rock:
        """The same as a rock; in three columns."""
        return Rock.of_round(*self)

    def take(self, keep: NDArray[np.intp] | list[int]) -> RoundSets:
        """The same with only the sets named, in the order named."""
        return RoundSets(
            self.means[keep], self.kappas[keep], self.intensities[keep], self.background
        )

    def joined(self, mean: Array, kappa: float, intensity: float) -> RoundSets:
        """The same with one more set at the end."""
        return RoundSets(
            np.vstack([self.means, mean]),
            np.append(self.kappas, kappa),
            np.append(self.intensities, intensity),
            self.background,
        )


class Expectation(NamedTuple):
    """What one pass over the fractures gives: all that the maximisation needs."""

    counts: Array  # (K + 1,) weighted number of fractures in each component, background last
    sums: Array  # (K, p) Σ w r tanh(κ μ·n) n
    log_density: float  # Σ w log Σ λ f


def log_uniform_density(columns: int) -> float:
    """Log density of the uniform distribution of axes in `columns` dimensions."""
    half = 0.5 * columns
    return float(gammaln(half) - half * np.log(np.pi))


def log_scale(kappas: Array, columns: int) -> Array:
    """Log of c(κ) in f = c(κ) exp(κ(|μ·n| − 1)) (1 + exp(−2κ|μ·n|)), over the hemisphere.

    For three columns c(κ) = κ / (2π (1 − exp(−2κ))); in general with the Bessel function of the
    von Mises-Fisher distribution (Mardia & Jupp 2000, Directional Statistics, eq. 9.3.4; from
    memory).
    """
    if columns == 3:
        return np.log(kappas) - np.log(2 * np.pi) - np.log(-np.expm1(-2 * kappas))
    order = 0.5 * columns - 1
    return order * np.log(kappas) - 0.5 * columns * np.log(2 * np.pi) - np.log(ive(order, kappas))


def component_log_densities(rows: Array, parameters: RoundSets, closed: Closed = None) -> Array:
    """Log of λ_k f_k at each row (n, p), shape (n, K + 1), the background last.

    −inf where an intensity is zero, or where `closed` (n, G) keeps a row out of a set.
    """
    means, kappas, intensities, background = parameters
    columns = rows.shape[1]
    values = np.empty((len(rows), len(kappas) + 1))
    along = np.abs(rows @ means.T)
    with np.errstate(divide="ignore"):  # an intensity of zero is a component that is not there
        scale = log_scale(kappas, columns) + np.log(intensities)
        values[:, -1] = np.log(background) + log_uniform_density(columns)
    values[:, :-1] = kappas * (along - 1.0) + np.log1p(np.exp(-2.0 * kappas * along)) + scale
    if closed is not None:
        values[:, : closed.shape[1]][closed] = -np.inf
    return values


def _block_expectation(
    rows: Array,
    weights: Array,
    parameters: RoundSets,
    scale: Array,
    uniform: float,
    closed: Closed,
) -> tuple[Array, Array, float]:
    means, kappas, _, background = parameters
    # A row a set: sums over the sets then run along memory.
    along = means @ rows.T
    size, kappa = np.abs(along), kappas[:, np.newaxis]
    exponent = kappa * (size - 1.0) + scale[:, np.newaxis]
    if closed is not None:
        exponent[: closed.shape[1]][closed.T] = -np.inf
    shift = exponent.max(axis=0, initial=uniform if background > 0 else -np.inf)
    main = np.exp(exponent - shift)
    other = main * np.exp(-2.0 * kappa * size)  # the far end of the axis
    rest = np.exp(uniform - shift) if background > 0 else np.zeros(len(rows))
    both = main + other
    total = both.sum(axis=0) + rest
    share = weights / total
    counts = np.append(both @ share, share @ rest)
    # r tanh(κ μ·n) = r (main − other) / (main + other), with the sign of μ·n.
    signed = np.copysign(main - other, along) * share
    return counts, signed @ rows, float(weights @ (np.log(total) + shift))


def expectation(
    rows: Array, weights: Array, parameters: RoundSets, closed: Closed = None
) -> Expectation:
    """E step: expected counts and sums of every component, in blocks of rows (n, p)."""
    sets, columns = parameters.means.shape
    counts, sums, log_density = np.zeros(sets + 1), np.zeros((sets, columns)), 0.0
    with np.errstate(divide="ignore"):
        scale = log_scale(parameters.kappas, columns) + np.log(parameters.intensities)
        uniform = float(np.log(parameters.background)) + log_uniform_density(columns)
    for start in range(0, len(rows), BLOCK):
        block = slice(start, start + BLOCK)
        shut = None if closed is None else closed[block]
        one = _block_expectation(rows[block], weights[block], parameters, scale, uniform, shut)
        counts += one[0]
        sums += one[1]
        log_density += one[2]
    return Expectation(counts, sums, log_density)


def set_exposures(parameters: RoundSets, exposure: Exposure | None) -> Array:
    """Mean exposure of each component, the background last; ones without an exposure."""
    if exposure is None:
        return np.ones(len(parameters.kappas) + 1)
    sets = exposure.of_sets(parameters.means, parameters.kappas)
    return np.append(sets, exposure.of_uniform())


def log_prior(parameters: RoundSets, exposure: Exposure | None) -> float:
    """½ Σ log E over the sets; 0 without an exposure."""
    if exposure is None or not len(parameters.kappas):
        return 0.0
    met = np.maximum(exposure.of_sets(parameters.means, parameters.kappas), _TINY)
    return PRIOR * float(np.log(met).sum())


def entropy_of(logs: Array, weights: Array) -> float:
    """Entropy of the memberships that log rates (n, K + 1) give, summed over the rows."""
    logs = logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis]
    shares = np.exp(logs)
    return -float(weights @ (shares * np.where(shares > 0, logs, 0.0)).sum(axis=1))


def log_likelihood(
    rows: Array, weights: Array, parameters: RoundSets, exposure: Exposure | None
) -> float:
    """Poisson-process log likelihood of rows (n, p) with weights (n,)."""
    found = expectation(rows, weights, parameters)
    return found.log_density - expected_count(parameters, exposure)


def expected_count(parameters: RoundSets, exposure: Exposure | None) -> float:
    """Number of fractures the parameters expect the holes to meet."""
    intensities = np.append(parameters.intensities, parameters.background)
    return float(intensities @ set_exposures(parameters, exposure))
