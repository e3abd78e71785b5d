"""Laws of spacing: exponential, lognormal, Weibull and gamma, with what a finite log asks of them.

A log of length L through a stationary renewal process of spacings with density f, survival S and
mean μ has the likelihood (Cox 1962, Renewal Theory, chapters 3 and 4; from memory)

    S(a) / μ · Π f(x_i) · S(b)        with cut pieces a and b at its ends,
    ∫_L^∞ S(u) du / μ                 if it meets nothing.

So each law gives log f, log S, the mean, ∫ S beyond a length, and draws: of a spacing, and of the
spacing that holds a random point, which is longer (density x f(x) / μ).
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from scipy.special import erfcinv, gamma, gammaincc, gammaincinv, gammaln, log_ndtr

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

    def deviation(self, p: Array) -> float:
        """Standard deviation over mean."""

    def beyond(self, x: Array, p: Array) -> Array:
        """∫_x^∞ S(u) du."""

    def quantile(self, share: Array, p: Array) -> Array:
        """Spacing that a share of the spacings does not exceed."""

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        """Draw spacings."""

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        """Draw spacings, each in proportion to its length."""

    def guess(self, mean: float, deviation: float) -> Array:
        """Parameters of about this mean and standard deviation over mean."""


class Exponential(SpacingLaw):
    """f = exp(−x/μ) / μ: fractures at random along the line."""

    name = "exponential"
    parameters = ("mean_m",)
    shapes = ()

    def log_density(self, x: Array, p: Array) -> Array:
        return -x / p[0] - np.log(p[0])

    def log_survival(self, x: Array, p: Array) -> Array:
        return -x / p[0]

    def mean(self, p: Array) -> float:
        return float(p[0])

    def deviation(self, p: Array) -> float:
        return 1.0

    def beyond(self, x: Array, p: Array) -> Array:
        return p[0] * np.exp(-x / p[0])

    def quantile(self, share: Array, p: Array) -> Array:
        return -p[0] * np.log1p(-share)

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return rng.exponential(p[0], size)

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return rng.gamma(2.0, p[0], size)

    def guess(self, mean: float, deviation: float) -> Array:
        return np.array([mean])


class Lognormal(SpacingLaw):
    """log x normal with mean log m and standard deviation s."""

    name = "lognormal"
    parameters = ("median_m", "log_deviation")
    shapes = ((0.05, 4.0),)

    def log_density(self, x: Array, p: Array) -> Array:
        z = np.log(x / p[0]) / p[1]
        return -0.5 * z * z - np.log(x * p[1]) - 0.5 * np.log(2 * np.pi)

    def log_survival(self, x: Array, p: Array) -> Array:
        with np.errstate(divide="ignore"):  # a cut piece of no length survives for certain
            return log_ndtr(-np.log(x / p[0]) / p[1])

    def mean(self, p: Array) -> float:
        return float(p[0] * np.exp(0.5 * p[1] ** 2))

    def deviation(self, p: Array) -> float:
        return float(np.sqrt(np.expm1(p[1] ** 2)))

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


class Weibull(SpacingLaw):
    """S = exp(−(x/b)^k)."""

    name = "Weibull"
    parameters = ("scale_m", "shape")
    shapes = ((0.2, 25.0),)

    def log_density(self, x: Array, p: Array) -> Array:
        ratio = x / p[0]
        return np.log(p[1] / p[0]) + (p[1] - 1.0) * np.log(ratio) - ratio ** p[1]

    def log_survival(self, x: Array, p: Array) -> Array:
        return -((x / p[0]) ** p[1])

    def mean(self, p: Array) -> float:
        return float(p[0] * gamma(1.0 + 1.0 / p[1]))

    def deviation(self, p: Array) -> float:
        # exp(…) − 1 keeps its digits where the two gamma functions are nearly equal.
        return float(np.sqrt(np.expm1(gammaln(1 + 2 / p[1]) - 2 * gammaln(1 + 1 / p[1]))))

    def beyond(self, x: Array, p: Array) -> Array:
        power = (x / p[0]) ** p[1]
        return self.mean(p) * gammaincc(1.0 + 1.0 / p[1], power) - x * np.exp(-power)

    def quantile(self, share: Array, p: Array) -> Array:
        return p[0] * (-np.log1p(-share)) ** (1.0 / p[1])

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return p[0] * rng.weibull(p[1], size)

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        # (X/b)^k of a length-biased X is a gamma variable of shape 1 + 1/k.
        return p[0] * rng.gamma(1.0 + 1.0 / p[1], 1.0, size) ** (1.0 / p[1])

    def guess(self, mean: float, deviation: float) -> Array:
        shape = deviation**-1.086  # a common approximation, within a few percent from 0.2 to 2
        return np.array([mean / gamma(1.0 + 1.0 / shape), shape])


class Gamma(SpacingLaw):
    """f ∝ x^(k−1) exp(−x/b)."""

    name = "gamma"
    parameters = ("scale_m", "shape")
    shapes = ((0.05, 400.0),)

    def log_density(self, x: Array, p: Array) -> Array:
        return (p[1] - 1.0) * np.log(x / p[0]) - x / p[0] - gammaln(p[1]) - np.log(p[0])

    def log_survival(self, x: Array, p: Array) -> Array:
        # The floor stands for survival too small to write down; a fit never ends there.
        return np.log(np.maximum(gammaincc(p[1], x / p[0]), 1e-300))

    def mean(self, p: Array) -> float:
        return float(p[0] * p[1])

    def deviation(self, p: Array) -> float:
        return float(p[1] ** -0.5)

    def beyond(self, x: Array, p: Array) -> Array:
        ratio = x / p[0]
        return self.mean(p) * gammaincc(p[1] + 1.0, ratio) - x * gammaincc(p[1], ratio)

    def quantile(self, share: Array, p: Array) -> Array:
        return p[0] * gammaincinv(p[1], share)

    def draw(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return rng.gamma(p[1], p[0], size)

    def draw_at_a_point(self, p: Array, size: int, rng: np.random.Generator) -> Array:
        return rng.gamma(p[1] + 1.0, p[0], size)

    def guess(self, mean: float, deviation: float) -> Array:
        return np.array([mean * deviation**2, deviation**-2])


#: The laws by name.
LAWS: dict[str, SpacingLaw] = {
    law.name: law for law in (Exponential(), Lognormal(), Weibull(), Gamma())
}
