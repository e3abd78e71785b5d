"""Means of functions of the angle to an axis, over a Fisher distribution, as Legendre series.

By the Funk-Hecke theorem a function g(n · d) that depends only on the angle to a direction d,
averaged over a Fisher distribution with mean μ and concentration κ, is a sum over degrees

    E g = Σ_l a_l r_l(κ) P_l(μ · d),    r_l(κ) = I_{l+1/2}(κ) / I_{1/2}(κ),

where a_l are the Legendre coefficients of g (Müller 1966, Spherical Harmonics, Lecture Notes in
Mathematics 17; Mardia & Jupp 2000, Directional Statistics, for r_l; both from memory). The function
that matters for a line through rock is g(t) = |t| where |t| ≥ c, and 0 below: even, so only even
degrees occur, and the axial Fisher distribution gives the same mean as the directed one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple, Protocol

import numpy as np
from scipy.interpolate import RectBivariateSpline
from scipy.special import ellipe, ive, legendre_p_all

from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike

#: Above this concentration (a spread of a third of a degree) the series is that of this one.
KAPPA_LARGEST = 4.0e4
_TINY = float(np.finfo(float).tiny)
_KAPPA_SMALLEST = 1.0e-8
_TRUNCATION = 1.0e-13


class FisherMeansSlopes(NamedTuple):
    """Means of a function over K Fisher sets with their derivatives by mean and κ."""

    value: Array  # (K,)
    by_mean: Array  # (K, 3)
    by_kappa: Array  # (K,)
    by_mean_twice: Array  # (K, 3, 3)
    by_mean_and_kappa: Array  # (K, 3)
    by_kappa_twice: Array  # (K,)


class FisherMeans(Protocol):
    """A function of axes that knows its mean over Fisher sets, as an exposure does."""

    def of_sets(self, means: Array, kappas: Array) -> Array:
        """Mean over each set."""

    def of_sets_slopes(self, means: Array, kappas: Array) -> FisherMeansSlopes:
        """Mean over each set and its derivatives."""


class SetMoments(NamedTuple):
    """Mean exposure of a set, and moments of what is seen of it."""

    met: float  # mean exposure; 1 without one
    first: Array  # (3,) mean of n tanh(κ p·n): the slope of log(C · met) by κp
    second: Array  # (3, 3) mean of n nᵀ: its slope by the matrix −a ppᵀ + e (qqᵀ − rrᵀ)


def _degrees_needed(kappa: float) -> int:
    # r_l(κ) falls like exp(−l(l+1) / 2κ); the constant covers small κ, where it falls faster.
    return 2 * (int(np.sqrt(-2.0 * kappa * np.log(_TRUNCATION))) // 2 + 8)


@lru_cache(maxsize=64)
def step_cosine_coefficients(smallest: float, degrees: int) -> Array:
    """Legendre coefficients of |t| 1(|t| ≥ c), even degrees 0, 2, … up to `degrees`.

    `smallest`: the cosine c below which the function is zero, 0 up to 1; `degrees`: highest
    degree, even. Gives (degrees / 2 + 1,): a_l = (2l + 1) ∫_c^1 t P_l(t) dt.
    """
    legendre = legendre_p_all(degrees + 2, smallest)[0]
    # ∫_c^1 P_m = (P_{m−1}(c) − P_{m+1}(c)) / (2m + 1), and ∫_c^1 P_0 = 1 − c.
    order = np.arange(1, degrees + 2)
    integral = np.empty(degrees + 2)
    integral[0] = 1.0 - smallest
    integral[1:] = (legendre[:-2] - legendre[2:]) / (2 * order + 1)
    # (2l + 1) t P_l = (l + 1) P_{l+1} + l P_{l−1}.
    even = np.arange(0, degrees + 1, 2)
    below = np.concatenate([[0.0], integral[even[1:] - 1]])
    coefficients = (even + 1) * integral[even + 1] + even * below
    coefficients.flags.writeable = False
    return coefficients


@lru_cache(maxsize=64)
def step_coefficients(smallest: float, degrees: int) -> Array:
    """Legendre coefficients of 1(|t| ≥ c), as `step_cosine_coefficients` gives those of |t| there."""
    legendre = legendre_p_all(degrees + 2, smallest)[0]
    even = np.arange(0, degrees + 1, 2)
    return np.concatenate([[1.0 - smallest], legendre[even[1:] - 1] - legendre[even[1:] + 1]])


def ellipse_perimeter(cosines: ArrayLike) -> Array:
    """Perimeter of ellipses of semi-axes 1 and |t|: 4 to 2π."""
    t = np.clip(np.abs(np.asarray(cosines, dtype=np.float64)), 0.0, 1.0)
    return np.asarray(4.0 * ellipe(1.0 - t * t))


@lru_cache(maxsize=64)
def perimeter_coefficients(smallest: float, degrees: int) -> Array:
    """Legendre coefficients of P(t)/π 1(|t| ≥ c), P being `ellipse_perimeter`; by quadrature."""
    # Panels of even angle, where P_l oscillates evenly, with many nodes to each half wave.
    edges = np.linspace(0.0, np.arccos(smallest), max(8, degrees // 8) + 1)
    nodes, weights = np.polynomial.legendre.leggauss(24)
    half = 0.5 * np.diff(edges)[:, np.newaxis]
    angle = (edges[:-1, np.newaxis] + half * (nodes + 1.0)).ravel()
    area = (half * weights).ravel() * np.sin(angle)
    t = np.cos(angle)
    even = np.arange(0, degrees + 1, 2)
    legendre = legendre_p_all(degrees, t)[0][::2]
    return (2 * even + 1) * (legendre @ (area * ellipse_perimeter(t) / np.pi))


def met_by_hole(cosines: ArrayLike, girths: ArrayLike) -> Array:
    """What a metre of hole meets of discs at |n · d| = t per P32: t + g P(t)/π + g², g = ρ/r.

    ρ is the radius of the hole, r that of the discs: a disc meets the hole where its centre lies in
    its own projection along the hole widened by ρ, whose area is that of Steiner's formula.
    """
    t = np.abs(np.asarray(cosines, dtype=np.float64))
    g = np.asarray(girths, dtype=np.float64)
    return t + g * ellipse_perimeter(t) / np.pi + g * g


def _checked(kappa: float, blind_angle_deg: float) -> tuple[float, float]:
    if not (np.isfinite(kappa) and kappa >= 0):
        raise InputError(f"kappa must be finite and not negative; got {kappa}")
    if not 0 <= blind_angle_deg < 90:
        raise InputError(f"blind_angle_deg must lie between 0 and below 90; got {blind_angle_deg}")
    return float(np.clip(kappa, _KAPPA_SMALLEST, KAPPA_LARGEST)), float(
        np.sin(np.radians(blind_angle_deg))
    )


def fisher_mean_of_cosine(
    cosines: ArrayLike, kappa: float, *, blind_angle_deg: float = 0.0
) -> Array:
    """Mean of |n · d| over a Fisher set, counting only |n · d| of at least sin ψ.

    `cosines` (m,); `kappa`: concentration of the set, zero or more. Gives (m,): means, 0 to 1,
    truncated at about 1e-12.
    """
    return fisher_mean_of_cosine_slopes(cosines, kappa, blind_angle_deg=blind_angle_deg).value


Coefficients = Callable[[float, int], Array]
#: The largest values of the three functions.
_MOST: dict[Coefficients, float] = {
    step_cosine_coefficients: 1.0,
    perimeter_coefficients: 2.0,
    step_coefficients: 1.0,
}


class CosineMean(NamedTuple):
    """The mean of |n · d| over a Fisher set with its first and second derivatives, shape (m,) each.

    Derivatives are by the cosine t = μ · d and by κ.
    """

    value: Array
    by_cosine: Array
    by_kappa: Array
    by_cosine_twice: Array
    by_cosine_and_kappa: Array
    by_kappa_twice: Array


def fisher_mean_of_cosine_slopes(
    cosines: ArrayLike,
    kappa: float,
    *,
    blind_angle_deg: float = 0.0,
    coefficients: Coefficients = step_cosine_coefficients,
) -> CosineMean:
    """The mean of `fisher_mean_of_cosine` with its derivatives in the cosine and in κ.

    Gives six arrays of shape (m,). `coefficients` of another function give its mean.
    """
    kappa, smallest = _checked(kappa, blind_angle_deg)
    t = np.clip(np.atleast_1d(np.asarray(cosines, dtype=np.float64)), -1.0, 1.0)
    degrees = _degrees_needed(kappa)
    order = np.arange(degrees + 2)
    even = order[: degrees + 1 : 2]
    ratio = ive(np.arange(degrees + 3) + 0.5, kappa) / ive(0.5, kappa)
    # From I'_ν = I_{ν+1} + (ν/κ) I_ν:  r'_l = r_{l+1} + (l/κ) r_l − r_l r_1.
    slope = ratio[1:] + order / kappa * ratio[:-1] - ratio[:-1] * ratio[1]
    curve = (
        slope[even + 1]
        + even / kappa * slope[even]
        - even / kappa**2 * ratio[even]
        - slope[even] * ratio[1]
        - ratio[even] * slope[1]
    )
    weights = coefficients(smallest, degrees)
    legendre = legendre_p_all(degrees, t, diff_n=2)[:, ::2]
    by_value, by_slope = weights * ratio[even], weights * slope[even]
    return CosineMean(
        np.clip(by_value @ legendre[0], 0.0, _MOST[coefficients]),
        by_value @ legendre[1],
        by_slope @ legendre[0],
        by_value @ legendre[2],
        by_slope @ legendre[1],
        (weights * curve) @ legendre[0],
    )


class CosineMeanTable:
    """The mean of |n · d| over a Fisher set, tabulated for fits that ask for it thousands of times.

    A quintic spline in (t, log κ) through exact values of the series; within 1e-7 of the series in
    value, as its tests show.
    """

    #: Concentrations covered; others are moved to the nearer end.
    KAPPAS = (0.5, 2000.0)

    def __init__(
        self, blind_angle_deg: float, coefficients: Coefficients = step_cosine_coefficients
    ) -> None:
        # A few steps below zero, where the function is even, keep its slope at zero right.
        t = np.linspace(-8 / 320, 1.0, 329)
        log_kappa = np.linspace(np.log(self.KAPPAS[0]), np.log(self.KAPPAS[1]), 84)
        values = _means_on_grid(t, np.exp(log_kappa), blind_angle_deg, coefficients)
        spline = RectBivariateSpline(t, log_kappa, values, kx=5, ky=5)
        self._low = np.array([t[0], log_kappa[0]])
        self._step = np.array([t[1] - t[0], log_kappa[1] - log_kappa[0]])
        self._last = np.array([len(t), len(log_kappa)]) - 2
        self._cells = _polynomials(spline, t, log_kappa)
        self._value = spline

    def _placed(self, t: Array, y: Array) -> tuple[Array, Array, Array]:
        """Polynomials (n, 6, 6) of the cells of points, and powers (n, 6) of the place in the cell."""
        places, index = [], []
        for axis, values in enumerate((t.ravel(), y.ravel())):
            at = (values - self._low[axis]) / self._step[axis]
            cell = np.clip(at.astype(np.intp), 0, self._last[axis])
            index.append(cell)
            places.append(2.0 * (at - cell) - 1.0)
        u, v = (np.vander(place, 6, increasing=True) for place in places)
        return self._cells[index[0], index[1]], u, v

    def at(self, cosines: ArrayLike, kappas: ArrayLike) -> CosineMean:
        """Mean and derivatives at pairs of cosine and concentration.

        Gives arrays of the broadcast shape.
        """
        t, kappa = np.broadcast_arrays(cosines, np.clip(kappas, *self.KAPPAS))
        size, sign, y = np.minimum(np.abs(t), 1.0), np.sign(t), np.log(kappa)
        cells, u, v = self._placed(size, y)
        # By v first, then by u: value, slope and curve of each.
        along = cells @ np.stack([v, v @ _SLOPE, v @ _SLOPE @ _SLOPE], axis=2)
        across = np.stack([u, u @ _SLOPE, u @ _SLOPE @ _SLOPE], axis=1)
        found = (across @ along).reshape(*t.shape, 3, 3)
        by_t, by_y = 2.0 / self._step
        slope_y, curve_y = found[..., 0, 1] * by_y, found[..., 0, 2] * by_y**2
        return CosineMean(
            np.maximum(found[..., 0, 0], 0.0),
            sign * found[..., 1, 0] * by_t,
            slope_y / kappa,
            found[..., 2, 0] * by_t**2,
            sign * found[..., 1, 1] * by_t * by_y / kappa,
            (curve_y - slope_y) / kappa**2,
        )

    def value_at(self, cosines: ArrayLike, kappas: ArrayLike) -> Array:
        """The mean alone, as `at` gives it."""
        t, kappa = np.broadcast_arrays(cosines, np.clip(kappas, *self.KAPPAS))
        return np.maximum(self._value(np.minimum(np.abs(t), 1.0), np.log(kappa), grid=False), 0.0)


def _means_on_grid(
    t: Array, kappas: Array, blind_angle_deg: float, coefficients: Coefficients
) -> Array:
    """Means at each cosine (m,) and concentration (n,), as one matrix product, (m, n)."""
    smallest = _checked(0.0, blind_angle_deg)[1]
    degrees = _degrees_needed(float(kappas.max()))
    even = np.arange(0, degrees + 1, 2)
    ratio = ive(even + 0.5, kappas[:, np.newaxis]) / ive(0.5, kappas)[:, np.newaxis]
    legendre = legendre_p_all(degrees, t)[0][::2]
    return np.clip(legendre.T @ (coefficients(smallest, degrees) * ratio).T, 0.0, _MOST[coefficients])


def _polynomials(spline: RectBivariateSpline, t: Array, y: Array) -> Array:
    """The spline in each cell of its grid as a polynomial of the place in it, −1 to 1: (m, n, 6, 6).

    The library looks for the cell of a point anew for each derivative; here that is done once.
    """
    nodes = np.cos(np.pi * (np.arange(6) + 0.5) / 6)[::-1]
    back = np.linalg.inv(nodes[:, np.newaxis] ** np.arange(6))
    inside = [
        (one[:-1, np.newaxis] + 0.5 * np.diff(one)[:, np.newaxis] * (nodes + 1.0)).ravel()
        for one in (t, y)
    ]
    values = spline(*inside).reshape(len(t) - 1, 6, len(y) - 1, 6)
    return np.asarray(back @ values.transpose(0, 2, 1, 3) @ back.T)


#: Turns powers of a place into those of the slope: x^k into k x^(k − 1).
_SLOPE = np.diag(np.arange(1.0, 6.0), 1)


@lru_cache(maxsize=24)
def cosine_mean_table(
    blind_angle_deg: float, coefficients: Coefficients = step_cosine_coefficients
) -> CosineMeanTable:
    """The table of one blind angle, made once.

    `blind_angle_deg`: degrees, 0 up to 90.
    """
    return CosineMeanTable(blind_angle_deg, coefficients)


class HoleMeanTable:
    """The mean of `met_by_hole` over a Fisher set for holes of girths (D,): a sum of three tables."""

    def __init__(self, blind_angle_deg: float, girths: Array) -> None:
        self._parts = [
            (cosine_mean_table(blind_angle_deg), np.ones(len(girths))),
            (cosine_mean_table(blind_angle_deg, perimeter_coefficients), girths),
            (cosine_mean_table(blind_angle_deg, step_coefficients), girths**2),
        ]

    def at(self, cosines: ArrayLike, kappas: ArrayLike) -> CosineMean:
        """Mean and derivatives, as `CosineMeanTable.at`; the last axis is that of the holes."""
        found = [[one * factor for one in table.at(cosines, kappas)] for table, factor in self._parts]
        return CosineMean(*(a + b + c for a, b, c in zip(*found, strict=True)))

    def value_at(self, cosines: ArrayLike, kappas: ArrayLike) -> Array:
        """The mean alone."""
        a, b, c = (table.value_at(cosines, kappas) * factor for table, factor in self._parts)
        return np.asarray(a + b + c)


def hole_mean_table(blind_angle_deg: float, girths: Array) -> CosineMeanTable | HoleMeanTable:
    """The table of holes of some girths (D,); that of lines where all are zero."""
    if not girths.any():
        return cosine_mean_table(blind_angle_deg)
    return HoleMeanTable(blind_angle_deg, girths)


def fisher_mean_of_hole(
    cosines: ArrayLike, kappa: float, girths: Array, *, blind_angle_deg: float = 0.0
) -> Array:
    """Mean of `met_by_hole` over a Fisher set, (m,), by the series; girths (m,)."""
    means = [
        fisher_mean_of_cosine_slopes(
            cosines, kappa, blind_angle_deg=blind_angle_deg, coefficients=one
        ).value
        for one in (_MOST if girths.any() else [step_cosine_coefficients])
    ]
    return np.asarray(sum(mean * girths**power for power, mean in enumerate(means)))


def uniform_mean_of_hole(blind_angle_deg: float, girths: Array) -> Array:
    """Mean of `met_by_hole` over all orientations for each girth; of a line cos²ψ / 2."""
    _, smallest = _checked(0.0, blind_angle_deg)
    line = 0.5 * (1.0 - smallest**2)
    around = perimeter_coefficients(smallest, 2)[0]
    return np.asarray(line + girths * around + girths**2 * (1.0 - smallest))


def seen_moments(means: Array, rhos: Array, shares: Array, exposure: FisherMeans) -> SetMoments:
    """Moments from the exposure of each Fisher set and its derivatives by v = ρ m, m on the sphere.

    With S = sinh ρ / ρ and A = S′/S the function differentiated is S × exposure; S″/S = 1 − 2A/ρ.
    """
    of = exposure.of_sets_slopes(means, rhos)
    outer = means[:, :, np.newaxis] * means[:, np.newaxis]
    along = (means * of.by_mean).sum(axis=1)
    across = of.by_mean - along[:, np.newaxis] * means
    mixed = of.by_mean_and_kappa
    mixed = mixed - (means * mixed).sum(axis=1)[:, np.newaxis] * means
    side, per = np.eye(3) - outer, 1.0 / rhos[:, np.newaxis]
    lean = (mixed - across * per) * per
    curve = side @ of.by_mean_twice @ side * (per**2)[:, :, np.newaxis]
    curve += side * (of.by_kappa / rhos - along / rhos**2)[:, np.newaxis, np.newaxis]
    curve += _twice(means, lean) + of.by_kappa_twice[:, np.newaxis, np.newaxis] * outer
    slope = of.by_kappa[:, np.newaxis] * means + across * per
    a = 1.0 / np.tanh(rhos) - 1.0 / rhos
    met = float(shares @ of.value)
    first = shares @ (slope + (a * of.value)[:, np.newaxis] * means)
    over = (of.value * a / rhos)[:, np.newaxis, np.newaxis]
    whole = curve + over * np.eye(3) + _twice(means, a[:, np.newaxis] * slope)
    whole += outer * (of.value * (1.0 - 3.0 * a / rhos))[:, np.newaxis, np.newaxis]
    second = np.einsum("m,mij->ij", shares, whole)
    # Where nothing is met the moments say nothing; they stay finite.
    size = max(met, _TINY)
    return SetMoments(met, first / size, second / size)


def _twice(a: Array, b: Array) -> Array:
    """a bᵀ + b aᵀ for each row."""
    product = a[:, :, np.newaxis] * b[:, np.newaxis]
    return product + product.transpose(0, 2, 1)
