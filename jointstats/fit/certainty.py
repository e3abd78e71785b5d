"""How sure the fit is: the observed information, and intervals that hold in small samples.

A set of a few hundred fractures or fewer has the intervals of its posterior (`sets.posterior`).
Larger ones, and those fitted without their data at hand, have those of the plain cases (Fisher's
cone, a chi-square for κ, a gamma for a count) with the number of fractures replaced by the number
that would carry the same information, so overlap between sets and an uneven exposure widen them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaincinv, ndtri

from jointstats.fit.data import FitData
from jointstats.fit.posterior import KAPPA_RANGE, Posterior, SetDraws, weighted_quantiles
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import PER_SET, free_coordinates, free_directions, observed_information
from jointstats.sphere.set_chart import COORDINATES, SetChart
from jointstats.types import Array

__all__ = ["Certainty", "certainty_of", "covariance_of"]

Interval = tuple[float, float]

_FEWEST = 2.0  # effective fractures below which an interval says nothing
_FEWEST_DRAWS = 30.0  # of equal weight, below which draws say nothing
_MANY = 400.0  # effective fractures above which the plain intervals are as good as the posterior's


@dataclass(frozen=True, eq=False)
class Certainty:
    """Covariance of the parameters of a fit, and intervals from it.

    Attributes
    ----------
    covariance : ndarray, shape (6 K + 1, 6 K + 1)
        Of, for each set, two turns (radians), log concentration, ellipticity (2), log λ; then log
        background. Zero for what is not free.
    confidence : float
    rock : Rock
        The fit it belongs to.
    posterior : Posterior or None
        Its data, to draw from.
    log_error : float
        Standard error of the log of the exposure, which all intensities share.
    """

    covariance: Array
    confidence: float
    rock: Rock
    posterior: Posterior | None = None
    log_error: float = 0.0

    @cached_property
    def _drawn(self) -> dict[int, SetDraws]:
        return {}

    def draws(self, k: int) -> SetDraws | None:
        """Draws of a set from its posterior, made when first asked for.

        Parameters
        ----------
        k : int

        Returns
        -------
        SetDraws or None
            None where the plain intervals hold, or the data are not at hand.
        """
        if self.posterior is None or self._number(self._variance(k, 5)) > _MANY:
            return None
        if k not in self._drawn:
            self._drawn[k] = self.posterior.of_set(k)
        return self._drawn[k] if self._drawn[k].effective > _FEWEST_DRAWS else None

    @property
    def _tails(self) -> list[float]:
        tail = 0.5 * (1.0 - self.confidence)
        return [tail, 1.0 - tail]

    def _variance(self, k: int, which: int) -> float:
        return float(self.covariance[PER_SET * k + which, PER_SET * k + which])

    def _number(self, variance: float) -> float:
        """Number of fractures whose plain count or scatter has this variance of the log."""
        return max(1.0 / variance, _FEWEST) if variance > 0 else _FEWEST

    def cone_deg(self, k: int) -> float:
        """Half-angle of the confidence cone of a set's mean (a girdle's axis), degrees, at most 90."""
        drawn = self.draws(k)
        if drawn is not None:
            return drawn.cone_deg(self.rock.densities[k].frame[0], self.confidence)
        block = self.covariance[PER_SET * k :, PER_SET * k :][:2, :2]
        number = self._number(self._variance(k, 2))
        spread = np.maximum(np.linalg.eigvalsh(block), 0.0) * number / (number - 1.0)
        return float(np.degrees(cone_radius(spread, 2 * number - 2, self.confidence)))

    def kappa_interval(self, k: int) -> Interval:
        """Interval of a set's concentration (κ, or a of a girdle).

        2 κ (N − R) has a chi-square distribution with 2N − 2 degrees of freedom (Mardia & Jupp
        2000, Directional Statistics, section 10.4; from memory), and the estimate is N / (N − R).
        """
        drawn = self.draws(k)
        if drawn is not None:
            low, high = weighted_quantiles(drawn.concentrations, drawn.weights, self._tails)
            return float(low), float(high)
        number = self._number(self._variance(k, 2))
        low, high = gammaincinv(number - 1.0, self._tails) / number
        kappa = self.rock.densities[k].concentration
        return kappa * float(low), kappa * float(high)

    def intensity_interval(self, k: int) -> Interval:
        """Interval of a set's intensity; k = K is the background.

        That of a Poisson mean with the prior 1/√λ: quantiles of a gamma of shape N + 1/2
        (Jeffreys; Brown, Cai & DasGupta 2003, Statistica Sinica 13:19-49; from memory).
        """
        value = self._counted_interval(k)
        return self._widened(value, self._intensity(k))

    def _intensity(self, k: int) -> float:
        sets = self.rock.sets
        return self.rock.background_per_m if k == len(sets) else sets[k].p32_per_m

    def _widened(self, interval: Interval, value: float) -> Interval:
        """With the error of the shares observed, which is not in the count."""
        error = float(ndtri(0.5 + 0.5 * self.confidence)) * self.log_error
        low, high = interval
        if error == 0.0 or value == 0.0:
            return interval
        below = np.log(value / low) if low > 0 else np.inf
        above = np.log(high / value)
        return (
            value * float(np.exp(-np.hypot(below, error))),
            value * float(np.exp(np.hypot(above, error))),
        )

    def _counted_interval(self, k: int) -> Interval:
        """Interval of an intensity as if the exposure were known."""
        if k == len(self.rock.sets):
            return self._background_interval
        drawn, value = self.draws(k), self.rock.sets[k].p32_per_m
        if drawn is not None:
            low, high = weighted_quantiles(drawn.intensities, drawn.weights, self._tails)
            # Draws start at half a fracture; a set that none has joined may as well be none.
            return min(float(low), value), float(high)
        return self._plain_interval(self.rock.sets[k].p32_per_m, self._variance(k, 5))

    def intensity_draws(self, k: int, size: int, generator: np.random.Generator) -> Array:
        """Draws (size,) of a set's intensity, as its interval has it."""
        drawn = self.draws(k)
        if drawn is not None:
            value = generator.choice(drawn.intensities, size, p=drawn.weights)
        else:
            number = self._number(self._variance(k, 5))
            value = generator.gamma(number + 0.5, size=size) / number
            value = self.rock.sets[k].p32_per_m * value
        if self.log_error == 0.0:
            return value
        return value * np.exp(self.log_error * generator.normal(size=size))

    def set_draws(self, k: int, size: int, generator: np.random.Generator) -> SetDraws:
        """Draws of a set, all of one weight: of its posterior, or about the fit of a large set."""
        drawn = self.draws(k)
        if drawn is not None:
            which = generator.choice(len(drawn.weights), size, p=drawn.weights)
            kind, frames, c, e, intensities, background, _ = drawn
            values = (frames[which], c[which], e[which], intensities[which], background[which])
            return SetDraws(kind, *values, np.full(size, 1.0) / max(size, 1))
        density, value = self.rock.sets[k]
        block = self.covariance[PER_SET * k :, PER_SET * k :][:PER_SET, :PER_SET]
        # Symmetric but for rounding; a coordinate that is not free stays.
        sizes, vectors = np.linalg.eigh(0.5 * (block + block.T))
        spread = vectors * np.sqrt(np.maximum(sizes, 0.0))
        steps = generator.standard_normal((size, PER_SET)) @ spread.T
        moved = SetChart(density, KAPPA_RANGE).moved(steps[:, :COORDINATES])
        background = np.full(size, self.rock.background_per_m)
        weights = np.full(size, 1.0) / max(size, 1)
        return SetDraws(type(density), *moved, value * np.exp(steps[:, -1]), background, weights)

    def background_draws(self, size: int, generator: np.random.Generator) -> Array:
        """Draws (size,) of the intensity of the background."""
        value, variance = self.rock.background_per_m, float(self.covariance[-1, -1])
        if value == 0.0:
            return np.zeros(size)
        number = self._number(variance)
        if self.posterior is None or number > _MANY:
            return value * generator.gamma(number + 0.5, size=size) / number
        values, weights = self.posterior.of_background()
        return generator.choice(values, size, p=weights)

    @cached_property
    def _background_interval(self) -> Interval:
        value, variance = self.rock.background_per_m, float(self.covariance[-1, -1])
        if value == 0.0:
            return 0.0, 0.0
        if self.posterior is None or self._number(variance) > _MANY:
            return self._plain_interval(value, variance)
        low, high = weighted_quantiles(*self.posterior.of_background(), self._tails)
        return float(low), float(high)

    def _plain_interval(self, value: float, variance: float) -> Interval:
        number = self._number(variance)
        low, high = gammaincinv(number + 0.5, self._tails) / number
        return value * float(low), value * float(high)


def cone_radius(variances: Array, freedom: float, confidence: float) -> float:
    """Radius, radians up to π/2, that holds a share of a two-dimensional t about its centre.

    `variances` (2,): along the principal directions, radians²; `freedom`: degrees of their estimate.
    """
    largest = float(variances.max())
    if largest == 0.0:
        return 0.0
    theta = (np.arange(64) + 0.5) * np.pi / 128
    along = variances[0] * np.cos(theta) ** 2 + variances[1] * np.sin(theta) ** 2

    def excess(radius: float) -> float:
        # With ρ² / 2 ~ F(2, ν), P(ρ² ≤ x) = 1 − (1 + x / ν)^(−ν/2).
        with np.errstate(divide="ignore"):
            inside = 1.0 - (1.0 + radius**2 / (freedom * along)) ** (-0.5 * freedom)
        return float(inside.mean()) - confidence

    top = 0.5 * np.pi
    return float(brentq(excess, 0.0, top)) if excess(top) > 0 else top


def certainty_of(data: FitData, rock: Rock, confidence: float) -> Certainty:
    """Observed information of a fit in three columns, at its maximum, turned into a covariance."""
    information, free = observed_information(data, rock), free_coordinates(data, rock)
    ways = free_directions(free, rock)
    covariance = ways @ covariance_of(ways.T @ information @ ways) @ ways.T
    error = 0.0 if data.exposure is None else data.exposure.log_error
    posterior = Posterior(data, rock, information, free)
    return Certainty(covariance, confidence, rock, posterior, error)


def covariance_of(information: Array) -> Array:
    """Inverse of an information, finite where the data leave a direction open."""
    values, vectors = np.linalg.eigh(information)
    # A direction that the data do not settle gets a variance of one (a radian, a factor of e),
    # not an infinite one.
    return (vectors / np.maximum(values, 1.0)) @ vectors.T
