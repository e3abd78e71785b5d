"""The density of one set of axes, whatever its shape (`sphere.set_shapes`).

What the likelihood asks of it is its mean over an exposure and the slopes of that; both follow from
the set as a smear of Fisher sets (`sphere.smear`).
"""

from __future__ import annotations

from abc import ABC
from dataclasses import dataclass
from functools import cache, cached_property
from typing import ClassVar, Self

import numpy as np
from scipy.optimize import brentq
from scipy.special import roots_legendre

from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes, frame_about, lower_hemisphere
from jointstats.sphere.axial_fisher import check_kappa
from jointstats.sphere.normalise import SetSums, log_sizes, set_sums
from jointstats.sphere.smear import smear
from jointstats.sphere.zonal import (
    FisherMeans,
    SetMoments,
    cosine_mean_table,
    seen_moments,
)
from jointstats.types import Array, ArrayLike, RandomState

__all__ = ["SetDensity"]

_TINY = float(np.finfo(float).tiny)
_MANY = 64  # densities whose normalising constants come from a table
_HARDLY = 1e-8  # ellipticity over concentration below which there is nothing to smear


@dataclass(frozen=True, eq=False)
class SetDensity(ABC):
    """Density of the axes of one set.

    Parameters
    ----------
    frame : array_like, shape (3, 3)
        Rows p, q, r at right angles, either end of each: the mean pole (the fold axis of a
        girdle), the direction of most scatter (of most poles), and the third.
    concentration : float
        κ, or a for a girdle; zero or more.
    ellipticity : float
        e; 0 for a round set.

    Raises
    ------
    InputError
        If the frame is not three axes at right angles, or a number is out of range.
    """

    frame: Array
    concentration: float
    ellipticity: float = 0.0

    #: Word for the shape; ellipticity over concentration, at most; free numbers of the density.
    shape: ClassVar[str]
    limit: ClassVar[float]
    free: ClassVar[int]
    #: Whether the slopes that a fit asks for are known in closed form (`moments`).
    closed_slopes: ClassVar[bool] = True
    #: Whether the spread is alike in all directions from the mean.
    round_about_mean: ClassVar[bool] = False
    #: Rows of the frame in whose plane the set is smeared.
    _plane: ClassVar[tuple[int, int]] = (0, 1)

    def __post_init__(self) -> None:
        rows = as_axes(self.frame, "frame")
        if rows.shape != (3, 3) or np.abs(rows @ rows.T - np.eye(3)).max() > 1e-6:
            raise InputError("frame must be three axes square to each other: p, q and r")
        c, e = float(check_kappa(self.concentration)), float(check_kappa(self.ellipticity))
        if e > self.limit * c:
            raise InputError(
                f"ellipticity of a set that is {self.shape} must be at most {self.limit:.3g} "
                f"times its concentration {c:g}; got {e:g}"
            )
        rows.setflags(write=False)
        for name, value in (("frame", rows), ("concentration", c), ("ellipticity", e)):
            object.__setattr__(self, name, value)

    @classmethod
    def about(cls, axis: ArrayLike, concentration: float) -> Self:
        """The density about an axis, without ellipticity."""
        return cls(frame_about(as_axes(axis, "axis")[0])[[2, 0, 1]], concentration)

    @staticmethod
    def canonical(concentration: Array, ellipticity: Array) -> tuple[Array, Array, Array]:
        """κ, a and e of sets, each of shape (D,)."""
        return concentration, np.zeros_like(concentration), ellipticity

    @staticmethod
    def _in_plane(concentration: Array, ellipticity: Array) -> tuple[Array, Array, Array]:
        """k, b₁ and b₂ of `smear`."""
        return concentration, ellipticity, 2.0 * ellipticity

    @property
    def mean(self) -> Array | None:
        """Mean pole on the lower hemisphere, shape (3,); None for a girdle."""
        return lower_hemisphere(self.frame[0])[0]

    @property
    def kappa(self) -> float | None:
        """Fisher (Kent) concentration; None for a girdle."""
        return self.concentration

    @property
    def axial_ratio(self) -> float | None:
        """Spread along the long axis over that along the short one: √((κ + 2e)/(κ − 2e)); None for a
        girdle."""
        twice = 2.0 * self.ellipticity
        return float(np.sqrt((self.concentration + twice) / (self.concentration - twice)))

    @property
    def tail_freedom(self) -> float | None:
        """Degrees of freedom of heavy tails; None where there are none."""
        return None

    def natural(self) -> tuple[Array, Array]:
        """The vector κp, shape (3,), and the matrix −a ppᵀ + e (qqᵀ − rrᵀ), shape (3, 3)."""
        kappa, flat, e = (float(x[0]) for x in self.canonical(*self.numbers))
        p, q, r = self.frame
        # The density is exp(linear + quadratic) in the pole: vector and matrix of the exponent.
        matrix = e * (np.outer(q, q) - np.outer(r, r)) - flat * np.outer(p, p)
        return kappa * p, matrix

    @classmethod
    def widened(
        cls, concentration: Array, ellipticity: Array, scatter: float
    ) -> tuple[Array, Array]:
        """Concentration and ellipticity of D densities whose axes are each turned at random.

        A turn of random direction multiplies the mean resultant: A(κ) becomes A(κ) A(1/σ²), A(κ) =
        coth κ − 1/κ, so that with A(κ) = 1 − 1/κ, exact beyond κ of some 4, the variances 1/(κ ∓ 2e)
        become v + σ² (1 − v) (Mardia & Jupp 2000, Directional Statistics, on convolutions; from
        memory). `scatter` is σ², the variance of the turn a tangent direction, radians².
        """
        wide, narrow = (
            # Scatter of readings adds to the variance across the mean, a share of which is used up already (tangent plane).
            1.0 / (v + scatter * (1.0 - v))
            for v in (1.0 / (concentration - 2.0 * ellipticity), 1.0 / (concentration + 2.0 * ellipticity))
        )
        return 0.5 * (wide + narrow), 0.25 * (narrow - wide)

    def read_with(self, scatter: float) -> Self:
        """The density of its axes as they are read, with this scatter of reading (`widened`)."""
        if not scatter > 0.0:
            return self
        c, e = (float(one[0]) for one in self.widened(*self.numbers, scatter))
        return type(self)(self.frame, c, min(e, self.limit * c))

    @property
    def numbers(self) -> tuple[Array, Array]:
        """Concentration and ellipticity as arrays of one, for the functions of many sets."""
        return np.array([self.concentration]), np.array([self.ellipticity])

    @classmethod
    def log_densities(
        cls,
        rows: Array,
        frames: Array,
        concentration: Array,
        ellipticity: Array,
        sums: SetSums | None = None,
    ) -> Array:
        """Log density of D sets of this shape at each row, shape (n, D); nothing is checked."""
        kappa, flat, e = cls.canonical(concentration, ellipticity)
        # Both ends of an axis are one plane: e^(κx) + e^(−κx), of which the larger is taken out so that no κ overflows.
        x = np.abs(rows @ frames[:, 0].T)
        value = kappa * (x - 1.0)
        value -= np.log(2.0) + cls._log_sizes(concentration, ellipticity, sums)
        if kappa.any():
            value += np.log1p(np.exp(-2.0 * kappa * x))
        else:
            value += np.log(2.0)
        if flat.any():
            value -= flat * x**2
        if e.any():
            y, z = rows @ frames[:, 1].T, rows @ frames[:, 2].T
            # y² − z² as a product: no digits are lost where the two are alike.
            value += e * (y - z) * (y + z)
        return value

    @classmethod
    def mean_exposures(
        cls, frames: Array, concentration: Array, ellipticity: Array, exposure: FisherMeans
    ) -> Array:
        """Mean exposure of D sets of this shape, shape (D,); nothing is checked."""
        means, rhos, shares = cls._smeared(frames, concentration, ellipticity)
        met = exposure.of_sets(means.reshape(-1, 3), rhos.ravel())
        return (met.reshape(shares.shape) * shares).sum(axis=1)

    @classmethod
    def _smeared(
        cls, frames: Array, concentration: Array, ellipticity: Array
    ) -> tuple[Array, Array, Array]:
        """Means (D, m, 3), concentrations and shares (D, m) of Fisher sets that make up the sets."""
        k, b1, b2 = cls._in_plane(concentration, ellipticity)
        if not (b1 > _HARDLY * (1.0 + k)).any():
            return frames[:, :1], k[:, np.newaxis], np.ones((len(k), 1))
        # A little ellipticity in a batch that has some: the smear divides by it.
        least = _HARDLY * (1.0 + k)
        angles, rhos, shares = smear(
            k, np.maximum(b1, least), np.maximum(b2, least), coarse=len(k) > 1
        )
        q, r = frames[:, cls._plane[0]], frames[:, cls._plane[1]]
        cosine, sine = np.cos(angles)[..., np.newaxis], np.sin(angles)[..., np.newaxis]
        return cosine * q[:, np.newaxis] + sine * r[:, np.newaxis], rhos, shares

    def log_density(self, rows: ArrayLike) -> Array:
        """Log density at axes (n, 3), per steradian of the hemisphere, shape (n,)."""
        return self.unchecked_log_density(as_axes(rows))

    def unchecked_log_density(self, rows: Array) -> Array:
        """`log_density` of unit rows."""
        frames = self.frame[np.newaxis]
        return self.log_densities(rows, frames, *self.numbers, self.sums)[:, 0]

    @cached_property
    def sums(self) -> SetSums:
        """Its normalising constant and the means that are its slopes, as arrays of one."""
        return self.sums_of(*self.numbers)

    @classmethod
    def _log_sizes(cls, concentration: Array, ellipticity: Array, sums: SetSums | None) -> Array:
        """Log normalising constants; those of many densities come from a table."""
        if sums is not None or len(concentration) < _MANY or not cls.limit:
            return (sums or cls.sums_of(concentration, ellipticity)).log_size
        flat = bool(cls.canonical(np.ones(1), np.zeros(1))[1][0])
        return log_sizes(concentration, ellipticity, flat=flat)

    @classmethod
    def sums_of(cls, concentration: Array, ellipticity: Array) -> SetSums:
        """Normalising constants and slopes of D densities of this shape."""
        return set_sums(*cls.canonical(concentration, ellipticity))

    def mean_exposure(self, exposure: FisherMeans) -> float:
        """Mean of an exposure over the set: P32 times this is the number expected.

        Its relative error is below 1e-6 for concentrations of 20 and more, 1e-3 from 4.
        """
        return float(self.mean_exposures(self.frame[np.newaxis], *self.numbers, exposure)[0])

    def moments(self, exposure: FisherMeans | None = None) -> SetMoments:
        """Mean exposure with the moments that are its slopes; None samples every axis alike."""
        if exposure is None:
            return self._even_moments()
        means, rhos, shares = self.fisher_sets()
        return seen_moments(means, rhos, shares, exposure)

    def fisher_sets(self) -> tuple[Array, Array, Array]:
        """Means (m, 3), concentrations and shares (m,) of Fisher sets whose mixture the set is."""
        means, rhos, shares = self._smeared(self.frame[np.newaxis], *self.numbers)
        return means[0], rhos[0], shares[0]

    def _even_moments(self) -> SetMoments:
        """By symmetry the second moment is diagonal in the frame."""
        square, lean = float(self.sums.square[0]), float(self.sums.lean[0])
        rest = 1.0 - square
        # E x² + E y² + E z² = 1, and lean is E y² − E z².
        diagonal = np.array([square, 0.5 * (rest + lean), 0.5 * (rest - lean)])
        second = (self.frame.T * diagonal) @ self.frame
        return SetMoments(1.0, float(self.sums.along[0]) * self.frame[0], second)

    def mean_cosines(self, directions: Array) -> Array:
        """Mean of |n · d| over the set for each direction (m, 3): P32 times this is met per metre."""
        means, rhos, shares = self.fisher_sets()
        table = cosine_mean_table(0.0)
        return shares @ table.value_at(means @ directions.T, rhos[:, np.newaxis])

    def sample(self, size: int, random_state: RandomState = 0) -> Array:
        """Draw axes (size, 3), on the lower hemisphere."""
        if size < 0:
            raise InputError(f"size must be zero or more; got {size}")
        frames = np.broadcast_to(self.frame, (size, 3, 3))
        c, e = (np.broadcast_to(one, size) for one in self.numbers)
        return self.sample_each(frames, c, e, as_generator(random_state))

    @classmethod
    def sample_each(
        cls, frames: Array, concentration: Array, ellipticity: Array, generator: np.random.Generator
    ) -> Array:
        """One axis of each of D densities of this shape, (D, 3), on the lower hemisphere.

        Exact, by rejection from an angular central Gaussian (Kent, Ganeiber & Mardia 2018, J.
        Computational and Graphical Statistics 27:291-301; from memory).
        """
        kappa, flat, e = cls.canonical(concentration, ellipticity)
        # log cosh κx is concave in x², so it lies below its tangent at x² = 1.
        half = 0.5 * kappa * np.tanh(kappa)
        fall = np.column_stack([flat - half, -e, e])
        fall -= fall.min(axis=1, keepdims=True)
        # Rejection from an angular central Gaussian, whose bound is tight for this exponent: Kent, Ganeiber & Mardia (2018).
        b = _envelope(fall)
        shape = 1.0 + 2.0 * fall / b[:, np.newaxis]
        bound = 0.5 * (b - 3.0) + 1.5 * np.log(3.0 / b)
        drawn, left = np.empty((len(kappa), 3)), np.arange(len(kappa))
        while len(left):
            rows = generator.normal(size=(len(left), 3)) / np.sqrt(shape[left])
            rows /= np.linalg.norm(rows, axis=1, keepdims=True)
            x, square, k = np.abs(rows[:, 0]), rows**2, kappa[left]
            kept = k * (x - 1.0) + np.log1p(np.exp(-2.0 * k * x)) - np.log1p(np.exp(-2.0 * k))
            kept += half[left] * (1.0 - square[:, 0])
            kept += 1.5 * np.log((square * shape[left]).sum(axis=1))
            kept -= (square * fall[left]).sum(axis=1) + bound[left]
            # Rows refused are drawn anew, until each set has all of its own.
            good = np.log(generator.random(len(left))) < kept
            drawn[left[good]] = rows[good]
            left = left[~good]
        return lower_hemisphere(np.einsum("di,dij->dj", drawn, frames))

    def spread_deg(self, share: float = 0.95) -> float:
        """Half-angle about the mean that holds a share of the axes, degrees.

        Of a girdle: the angle on either side of its great circle.
        """
        kappa, flat, e = (x[0] for x in self.canonical(*self.numbers))
        nodes, weights = _fine_rule()
        from scipy.special import i0e

        def below(edge: float) -> float:
            """Integral of the density over x from 0 to the edge, but for a constant."""
            t = 0.5 * edge * (nodes + 1.0)
            s = 1.0 - t * t
            log = (
                kappa * (t - 1.0)
                + np.log1p(np.exp(-2.0 * kappa * t))
                + e * (s - 1.0)
                - flat * t * t
            )
            # Round the axis the elliptical term averages to a Bessel function, I₀(e s), scaled so that it does not overflow.
            return float(0.5 * edge * (weights @ (np.exp(log) * i0e(e * s))))

        whole = below(1.0)
        # Of a girdle the share lies near the plane, t below the edge; of a set about its mean, t above it.
        part = share if self.mean is None else 1.0 - share
        edge = brentq(lambda at: below(at) - part * whole, 0.0, 1.0, xtol=1e-12)
        return float(np.degrees(np.arcsin(edge) if self.mean is None else np.arccos(edge)))

    def with_frame(self, frame: Array) -> Self:
        """The same density in another frame."""
        return type(self)(frame, self.concentration, self.ellipticity)

    def plain(self) -> Self:
        """The same density with p and q on the lower hemisphere and a right-handed frame."""
        frame = self.frame.copy()
        frame[:2] = lower_hemisphere(frame[:2])
        frame[2] = np.cross(frame[0], frame[1])
        return self.with_frame(frame)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.concentration:.3g}, {self.ellipticity:.3g})"


@cache
def _fine_rule() -> tuple[Array, Array]:
    """Nodes and weights of an integral that is taken for every set; finding them takes a while."""
    nodes, weights = roots_legendre(400)
    return nodes, weights


def _envelope(fall: Array) -> Array:
    """b of the best envelope of each row of falls (D, 3): Σ 1 / (b + 2 fall) = 1, by bisection."""
    low, high = np.full(len(fall), 1.0), np.full(len(fall), 3.0)
    for _ in range(50):
        middle = 0.5 * (low + high)
        above = (1.0 / (middle[:, np.newaxis] + 2.0 * fall)).sum(axis=1) > 1.0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return 0.5 * (low + high)
