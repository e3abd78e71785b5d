"""A round set with heavy tails: axes scatter about the mean as a t does about its middle.

f(n) ∝ (1 + κ(1 − x)/a)^−(a + 1) + (1 + κ(1 + x)/a)^−(a + 1), x the cosine to the mean p: the mixture
of axial Fisher sets about p whose concentrations k are gamma distributed with mean κ and shape a,
each weighing 1 − exp(−2k). Near the mean it is a t of ν = 2a degrees of freedom in the tangent
plane; with a large it is the Fisher set of κ. The mixture is the definition of the multivariate t
(Kotz & Nadarajah 2004, Multivariate t Distributions, section 1.1; from memory); the axial form is
this project's own, and its normalising constant is elementary.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaincinv

from jointstats.sphere.axes import lower_hemisphere
from jointstats.sphere.normalise import SetSums
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array

__all__ = ["HeavyTailedDensity"]

_LEAST_TAIL = 1e-6  # weight of the tails below which the set is a Fisher set to every digit used
_LEAST_RHO = 0.5  # the least concentration that the table of exposures holds
#: Quantiles of the gamma at which the Fisher sets are taken.
_NODES, _SHARES = np.polynomial.legendre.leggauss(10)
_QUANTILES, _SHARES = 0.5 * (_NODES + 1.0), 0.5 * _SHARES


class HeavyTailedDensity(SetDensity):
    """A round set with more fractures far from its mean than the Fisher density has.

    Parameters as for `SetDensity`; `ellipticity` is κ times the weight of the tails,
    1 / (1 + ν/2), with ν the degrees of freedom, 2 or more.

    Examples
    --------
    Both sets are as dense about their mean; 45° away the one with tails is far denser:

    >>> from jointstats.sphere.set_density import RoundDensity
    >>> far = [[1.0, 0.0, 1.0]]
    >>> HeavyTailedDensity.about([0, 0, 1], 30.0).log_density(far).round(1)
    array([-7.2])
    >>> one = HeavyTailedDensity(np.eye(3)[[2, 0, 1]], 30.0, 10.0)
    >>> one.tail_freedom, one.log_density(far).round(1)
    (4.0, array([-3.5]))
    """

    shape, limit, free = "heavy-tailed", 0.5, 3
    closed_slopes = False
    round_about_mean = True

    @property
    def axial_ratio(self) -> float:
        """1: it is round about its mean."""
        return 1.0

    @property
    def tail_freedom(self) -> float:
        """Degrees of freedom ν; infinite for a Fisher set."""
        tail = self.ellipticity / self.concentration if self.ellipticity else 0.0
        return 2.0 * (1.0 - tail) / tail if tail > _LEAST_TAIL else float("inf")

    @classmethod
    def log_densities(
        cls,
        rows: Array,
        frames: Array,
        concentration: Array,
        ellipticity: Array,
        sums: SetSums | None = None,
    ) -> Array:
        a, kappa = _gamma_shape(concentration, ellipticity), concentration
        x = np.abs(rows @ frames[:, 0].T)
        near, far = (-(a + 1.0) * np.log1p(kappa * v / a) for v in (1.0 - x, 1.0 + x))
        return np.logaddexp(near, far) + np.log(kappa / (2.0 * np.pi * _whole(kappa, a)))

    @classmethod
    def widened(
        cls, concentration: Array, ellipticity: Array, scatter: float
    ) -> tuple[Array, Array]:
        """As a round set; the weight of the tails stays."""
        v = 1.0 / concentration
        read = 1.0 / (v + scatter * (1.0 - v))
        return read, ellipticity * read / concentration

    def unchecked_log_density(self, rows: Array) -> Array:
        return self.log_densities(rows, self.frame[np.newaxis], *self.numbers)[:, 0]

    @classmethod
    def _smeared(
        cls, frames: Array, concentration: Array, ellipticity: Array
    ) -> tuple[Array, Array, Array]:
        a = _gamma_shape(concentration, ellipticity)[:, np.newaxis]
        rhos = concentration[:, np.newaxis] * gammaincinv(a, _QUANTILES) / a
        shares = _SHARES * -np.expm1(-2.0 * rhos)
        shares /= shares.sum(axis=1, keepdims=True)
        means = np.repeat(frames[:, :1], len(_QUANTILES), axis=1)
        return means, np.maximum(rhos, _LEAST_RHO), shares

    @classmethod
    def sample_each(
        cls, frames: Array, concentration: Array, ellipticity: Array, generator: np.random.Generator
    ) -> Array:
        """By inversion of 1 − cos θ, over the sphere of directions."""
        a, kappa = _gamma_shape(concentration, ellipticity), concentration
        left = 1.0 - generator.random(len(kappa)) * _whole(kappa, a)
        drop = np.clip(np.expm1(-np.log(left) / a) * a / kappa, 0.0, 2.0)
        across, phi = np.sqrt(drop * (2.0 - drop)), generator.uniform(0.0, 2.0 * np.pi, len(drop))
        local = np.column_stack([1.0 - drop, across * np.cos(phi), across * np.sin(phi)])
        return lower_hemisphere(np.einsum("di,dij->dj", local, frames)).reshape(-1, 3)

    def spread_deg(self, share: float = 0.95) -> float:
        a, kappa = float(_gamma_shape(*self.numbers)[0]), self.concentration

        def within(drop: float) -> float:
            """Share of the axes whose 1 − cos is less, both ends taken together."""
            near, far, end = ((1.0 + kappa * v / a) ** -a for v in (drop, 2.0 - drop, 2.0))
            return (1.0 - near + far - end) / (1.0 - end)

        edge = brentq(lambda drop: within(drop) - share, 0.0, 1.0, xtol=1e-14)
        return float(np.degrees(np.arccos(1.0 - edge)))


def _gamma_shape(concentration: Array, ellipticity: Array) -> Array:
    """Shape a of the gamma of concentrations of D sets, (D,)."""
    tail = np.maximum(ellipticity / np.maximum(concentration, _LEAST_TAIL), _LEAST_TAIL)
    return (1.0 - tail) / tail


def _whole(kappa: Array, a: Array) -> Array:
    """Integral of κ/2π (1 + κ(1 − x)/a)^−(a + 1) over the sphere."""
    return -np.expm1(-a * np.log1p(2.0 * kappa / a))
