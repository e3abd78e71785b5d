"""The shapes of a set: round, elliptical, a girdle, and round with heavy tails.

The first three are one family (`sphere.set_density`). In the frame (p, q, r) of a set, with x, y, z
the components of an axis,

    f(n) = cosh(κx) exp(−a x² + e (y² − z²)) / C        over the hemisphere.

- *round*: κ alone, the axial Fisher density about the mean p;
- *elliptical*: κ and e, 0 ≤ 2e < κ, the density of Kent (1982, J. Royal Statistical Society B
  44:71-80) with both ends of each direction taken together; q is its long axis;
- *girdle*: a and e, 0 ≤ 3e ≤ a, the axial density of Bingham (1974, Annals of Statistics
  2:1201-1225) where it lies along a great circle; p is the axis of the fold, q where the poles are
  densest.

With *heavy tails* axes scatter about the mean as a t does about its middle:

    f(n) ∝ (1 + κ(1 − x)/a)^−(a + 1) + (1 + κ(1 + x)/a)^−(a + 1),

the mixture of axial Fisher sets about p whose concentrations k are gamma distributed with mean κ and
shape a, each weighing 1 − exp(−2k). Near the mean it is a t of ν = 2a degrees of freedom in the
tangent plane; with a large it is the Fisher set of κ. The mixture is the definition of the
multivariate t (Kotz & Nadarajah 2004, Multivariate t Distributions, section 1.1; from memory); the
axial form is this project's own, and its normalising constant is elementary.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaincinv

from jointstats.sphere.axes import lower_hemisphere
from jointstats.sphere.normalise import SetSums
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.zonal import fisher_mean_of_cosine
from jointstats.types import Array

__all__ = ["EllipticalDensity", "GirdleDensity", "HeavyTailedDensity", "RoundDensity"]

_HARDLY = 1e-8  # concentration that a round set has at least, so that it may be divided by
_LEAST_TAIL = 1e-6  # weight of the tails below which the set is a Fisher set to every digit used
_LEAST_RHO = 0.5  # the least concentration that the table of exposures holds
#: Quantiles of the gamma at which the Fisher sets are taken.
_NODES, _SHARES = np.polynomial.legendre.leggauss(10)
_QUANTILES, _SHARES = 0.5 * (_NODES + 1.0), 0.5 * _SHARES


class RoundDensity(SetDensity):
    """The axial Fisher density: a round set about its mean pole.

    Parameters as for `SetDensity`.

    Examples
    --------
    >>> level = RoundDensity.about([0, 0, -1], 40.0)
    >>> level.log_density([[0, 0, 1.0]]).round(3)
    array([1.851])
    """

    shape, limit, free = "round", 0.0, 3
    round_about_mean = True

    @classmethod
    def sample_each(
        cls, frames: Array, concentration: Array, ellipticity: Array, generator: np.random.Generator
    ) -> Array:
        """By inversion of 1 − cos θ (Fisher, Lewis & Willcox 1981, Commun. Stat. B 10:175-181)."""
        u, k = generator.random(len(concentration)), np.maximum(concentration, _HARDLY)
        drop = -np.log1p(u * np.expm1(-2.0 * k)) / k
        across = np.sqrt(np.clip(drop * (2.0 - drop), 0.0, None))
        phi = generator.uniform(0.0, 2.0 * np.pi, len(u))
        local = np.column_stack([1.0 - drop, across * np.cos(phi), across * np.sin(phi)])
        return lower_hemisphere(np.einsum("di,dij->dj", local, frames)).reshape(-1, 3)

    def mean_cosines(self, directions: Array) -> Array:
        cosines, kappa = directions @ self.frame[0], self.concentration
        # Where no normal of the set lies beyond 90° of d, but by a chance below exp(−κ t² / 2) <
        # 1e-17, E|n · d| = |E n · d| = |t| (coth κ − 1/κ).
        clear = kappa * cosines**2 > 80.0
        mean = np.abs(cosines) * float(self.sums.along[0])
        if not clear.all():
            mean[~clear] = fisher_mean_of_cosine(cosines[~clear], kappa)
        return mean

    @classmethod
    def sums_of(cls, concentration: Array, ellipticity: Array) -> SetSums:
        """In closed form: ∫ cosh κx over the hemisphere is 2π sinh κ / κ."""
        k = np.maximum(concentration, _HARDLY)
        along = 1.0 / np.tanh(k) - 1.0 / k
        log_size = np.log(np.pi) + np.log(-np.expm1(-2.0 * k)) - np.log(k)
        return SetSums(log_size, along, 1.0 - 2.0 * along / k, np.zeros_like(k))


class EllipticalDensity(SetDensity):
    """The axial Kent density: a set with more scatter one way.

    Parameters as for `SetDensity`.

    Examples
    --------
    The set is denser 20° from its mean along the long axis than across it:

    >>> turn = np.radians(20)
    >>> rows = [[np.sin(turn), 0, np.cos(turn)], [0, np.sin(turn), np.cos(turn)]]
    >>> EllipticalDensity([[0, 0, 1], [1, 0, 0], [0, 1, 0]], 40.0, 10.0).log_density(rows).round(2)
    array([ 0.48, -1.86])
    """

    shape, limit, free = "elliptical", 0.49, 5


class GirdleDensity(SetDensity):
    """The axial Bingham density along a great circle, about a fold axis.

    Parameters as for `SetDensity`.

    Examples
    --------
    >>> fold = GirdleDensity([[0, 1, 0], [1, 0, 0], [0, 0, 1]], 30.0, 5.0)
    >>> fold.mean is None, round(fold.spread_deg())
    (True, 14)
    """

    shape, limit, free = "girdle", 1.0 / 3.0, 5
    _plane = (1, 2)

    @staticmethod
    def canonical(concentration: Array, ellipticity: Array) -> tuple[Array, Array, Array]:
        return np.zeros_like(concentration), concentration, ellipticity

    @staticmethod
    def _in_plane(concentration: Array, ellipticity: Array) -> tuple[Array, Array, Array]:
        k = np.zeros_like(concentration)
        return k, concentration + ellipticity, concentration - ellipticity

    @classmethod
    def widened(
        cls, concentration: Array, ellipticity: Array, scatter: float
    ) -> tuple[Array, Array]:
        """By the variances 1/2a across the girdle and 1/4e along it, where both are small."""
        across = concentration / (1.0 + 2.0 * scatter * concentration)
        return across, ellipticity / (1.0 + 4.0 * scatter * ellipticity)

    @property
    def mean(self) -> None:
        return None

    @property
    def kappa(self) -> None:
        return None

    @property
    def axial_ratio(self) -> None:
        return None


class HeavyTailedDensity(SetDensity):
    """A round set with more fractures far from its mean than the Fisher density has.

    Parameters as for `SetDensity`; `ellipticity` is κ times the weight of the tails,
    1 / (1 + ν/2), with ν the degrees of freedom, 2 or more.

    Examples
    --------
    Both sets are as dense about their mean; 45° away the one with tails is far denser:

    >>> far = [[1.0, 0.0, 1.0]]
    >>> HeavyTailedDensity.about([0, 0, 1], 30.0).log_density(far).round(1)
    array([-7.2])
    >>> one = HeavyTailedDensity(np.eye(3)[[2, 0, 1]], 30.0, 10.0)
    >>> round(one.tail_freedom, 9), one.log_density(far).round(1)
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
