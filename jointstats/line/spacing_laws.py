"""Laws of spacing: exponential, lognormal, Weibull and gamma, with what a finite log asks of them.

A log of length L through a stationary renewal process of spacings with density f, survival S and
mean μ has the likelihood (Cox 1962, Renewal Theory, chapters 3 and 4; from memory)

    S(a) / μ · Π f(x_i) · S(b)        with censored pieces a and b at its ends,
    ∫_L^∞ S(u) du / μ                 if it meets nothing.

So each law gives log f, log S, the mean, ∫ S beyond a length, and draws: of a spacing, and of the
spacing that holds a random point, which is longer (density x f(x) / μ).
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from scipy.special import (
    erfcinv,
    gamma,
    gammaincc,
    gammaincinv,
    gammaln,
    log_ndtr,
    poch,
    xlogy,
)

from jointstats.types import Array


class SpacingLaw(Protocol):
    """A family of spacing distributions; `p` are its parameters, all above zero."""

    name: str
    parameters: tuple[str, ...]
    shapes: tuple[tuple[float, float], ...]  # range in which a fit looks for the second parameter

    def log_density(self, x: Array, p: Array) -> Array:
        """Log of f."""

    def log_survival(self, x: Array, p: Array) -> Array:
        """Log of S."""

    def mean(self, p: Array) -> float:
        """Mean."""

    def beyond(self, x: Array, p: Array) -> Array:
        """∫_x^∞ S(u) du = E[X; X > x] − x S(x)."""

    def quantile(self, share: Array, p: Array) -> Array:
        """Spacing that a share of the spacings does not exceed."""

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        """Draw spacings."""

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        """Draw spacings, each in proportion to its length."""

    def guess(self, mean: float, deviation: float) -> Array:
        """Parameters of about this mean and standard deviation over mean."""


class _PowerOfGamma(SpacingLaw):
    """x = b G^(1/c), G a gamma variable of shape a (Stacy 1962, Ann. Math. Stat. 33: 1187-1192).

    A spacing taken in proportion to its length has the shape a + 1/c in place of a.
    """

    def _of(self, p: Array) -> tuple[float, float, float]:
        """Scale b and shapes a and c."""
        raise NotImplementedError

    def log_density(self, x: Array, p: Array) -> Array:
        b, a, c = self._of(p)
        ratio = x / b
        return np.log(c / b) - gammaln(a) + xlogy(a * c - 1.0, ratio) - ratio**c

    def log_survival(self, x: Array, p: Array) -> Array:
        b, a, c = self._of(p)
        power = (x / b) ** c
        # The floor stands for survival too small to write down; a fit never ends there.
        return -power if a == 1.0 else np.log(np.maximum(gammaincc(a, power), 1e-300))

    def mean(self, p: Array) -> float:
        b, a, c = self._of(p)
        return float(b * poch(a, 1.0 / c))

    def beyond(self, x: Array, p: Array) -> Array:
        b, a, c = self._of(p)
        power = (x / b) ** c
        return self.mean(p) * gammaincc(a + 1.0 / c, power) - x * gammaincc(a, power)

    def quantile(self, share: Array, p: Array) -> Array:
        b, a, c = self._of(p)
        return b * gammaincinv(a, share) ** (1.0 / c)

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        b, a, c = self._of(p)
        return b * rng.gamma(a, 1.0, size) ** (1.0 / c)

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        b, a, c = self._of(p)
        return b * rng.gamma(a + 1.0 / c, 1.0, size) ** (1.0 / c)


class Exponential(_PowerOfGamma):
    """f = exp(−x/μ) / μ: fractures at random along the line."""

    name = "exponential"
    parameters = ("mean_m",)
    shapes = ()

    def _of(self, p: Array) -> tuple[float, float, float]:
        return p[0], 1.0, 1.0

    def guess(self, mean: float, deviation: float) -> Array:
        return np.array([mean])


class Weibull(_PowerOfGamma):
    """S = exp(−(x/b)^k)."""

    name = "Weibull"
    parameters = ("scale_m", "shape")
    shapes = ((0.2, 25.0),)

    def _of(self, p: Array) -> tuple[float, float, float]:
        return p[0], 1.0, p[1]

    def guess(self, mean: float, deviation: float) -> Array:
        shape = deviation**-1.086  # a common approximation, within a few percent from 0.2 to 2
        return np.array([mean / gamma(1.0 + 1.0 / shape), shape])


class Gamma(_PowerOfGamma):
    """f ∝ x^(k−1) exp(−x/b)."""

    name = "gamma"
    parameters = ("scale_m", "shape")
    shapes = ((0.05, 400.0),)

    def _of(self, p: Array) -> tuple[float, float, float]:
        return p[0], p[1], 1.0

    def guess(self, mean: float, deviation: float) -> Array:
        return np.array([mean * deviation**2, deviation**-2])


class Lognormal(SpacingLaw):
    """log x normal with mean log m and standard deviation s."""

    name = "lognormal"
    parameters = ("median_m", "log_deviation")
    shapes = ((0.05, 4.0),)

    def log_density(self, x: Array, p: Array) -> Array:
        z = np.log(x / p[0]) / p[1]
        return -0.5 * z * z - np.log(x * p[1]) - 0.5 * np.log(2 * np.pi)

    def log_survival(self, x: Array, p: Array) -> Array:
        with np.errstate(divide="ignore"):  # a censored piece of no length survives for certain
            return log_ndtr(-np.log(x / p[0]) / p[1])

    def mean(self, p: Array) -> float:
        return float(p[0] * np.exp(0.5 * p[1] ** 2))

    def beyond(self, x: Array, p: Array) -> Array:
        # E[X; X > x] = μ Φ(s − z), with z = log(x / m) / s.
        z = np.log(x / p[0]) / p[1]
        return self.mean(p) * np.exp(log_ndtr(p[1] - z)) - x * np.exp(log_ndtr(-z))

    def quantile(self, share: Array, p: Array) -> Array:
        return p[0] * np.exp(-p[1] * np.sqrt(2.0) * erfcinv(2.0 * share))

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return rng.lognormal(np.log(p[0]), p[1], size)

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return rng.lognormal(np.log(p[0]) + p[1] ** 2, p[1], size)

    def guess(self, mean: float, deviation: float) -> Array:
        s = np.sqrt(np.log1p(deviation**2))
        return np.array([mean * np.exp(-0.5 * s * s), s])


#: The laws by name.
LAWS: dict[str, SpacingLaw] = {
    law.name: law for law in (Exponential(), Lognormal(), Weibull(), Gamma())
}
