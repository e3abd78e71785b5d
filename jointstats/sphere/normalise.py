"""Normalising constants of the Bingham and Kent distributions and kin, with their moments.

Both reduce to one integral of a modified Bessel function over 1 − cos of the angle to an axis. It
is taken by Gauss-Legendre rules of 24 points on panels that halve toward the axis, so that one
rule serves from uniform to very concentrated. Relative error below 1e-12 for Bingham parameters
up to 1e6 and Kent κ up to 1e6 (checked against series and adaptive quadrature of many digits).
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.interpolate import RectBivariateSpline
from scipy.special import i0e, i1e

from jointstats.types import Array


def _panels(edges: Array) -> tuple[Array, Array]:
    """Nodes in v = 1 − cos on the panels between edges, and their weights."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    half = np.diff(edges)[:, np.newaxis] / 2.0
    middle = (edges[:-1] + edges[1:])[:, np.newaxis] / 2.0
    return (middle + half * nodes).ravel(), (half * weights).ravel()


_HALVING = np.concatenate([[0.0], 2.0 ** np.arange(-30.0, 0.0)])
_V, _W = _panels(np.append(_HALVING, 1.0))
# Girdles lie where v is near one: panels halve toward that end too. Rock is never so concentrated
# that it needs the finest panels.
_GIRDLE = np.append(1.0 - 2.0 ** -np.arange(1.0, 6.0), 1.0)
_CLOSE = _panels(np.concatenate([_HALVING[:-1], _GIRDLE]))
_PLAIN = _panels(np.concatenate([[0.0], _HALVING[18:-1], _GIRDLE]))
_PLAIN_KAPPA = 5000.0


def _bingham_sums(a: float, b: float) -> Array:
    """∫ over the hemisphere, over 2π: 1, y², z², y⁴, y²z², z⁴ times exp(−a y² − b z²)."""
    s = _V * (2.0 - _V)
    x = s * (b - a) / 2.0
    size = np.abs(x)
    # With s = sin² θ and C = cos 2φ, the means over φ of 1, C and C² are I0, I1 and I0 − I1/x.
    zero, first = i0e(size), i1e(size) * np.sign(x)
    ratio = np.where(size > 1e-8, first / np.where(size > 1e-8, x, 1.0), 0.5)
    base = _W * np.exp(-s * min(a, b))
    second = zero - ratio
    terms = [
        zero,
        s * (zero + first) / 2,
        s * (zero - first) / 2,
        s**2 * (zero + 2 * first + second) / 4,
        s**2 * (zero - second) / 4,
        s**2 * (zero - 2 * first + second) / 4,
    ]
    return np.array([base @ term for term in terms])


def log_bingham(a: float, b: float) -> float:
    """Log of ∫ exp(−a y² − b z²) over the hemisphere of axes, per steradian.

    `a, b`: parameters, of either sign. Gives log 2π for a = b = 0.
    """
    return float(np.log(2.0 * np.pi * _bingham_sums(a, b)[0]))


def bingham_moments(a: float, b: float) -> tuple[Array, Array]:
    """Means of y² and z², and their covariance.

    `a, b`: parameters of `log_bingham`. Gives `mean` (2,): E y², E z²; `covariance` (2, 2): of y²
    and z².
    """
    sums = _bingham_sums(a, b)
    y2, z2, y4, y2z2, z4 = sums[1:] / sums[0]
    mean = np.array([y2, z2])
    return mean, np.array([[y4, y2z2], [y2z2, z4]]) - np.outer(mean, mean)


class SetSums(NamedTuple):
    """Normalising constants of D set densities, and the means that are their derivatives."""

    log_size: Array  # (D,) log of the integral over the hemisphere, less κ
    along: Array  # (D,) mean of x tanh κx: derivative by κ
    square: Array  # (D,) mean of x²: minus the derivative by a
    lean: Array  # (D,) mean of y² − z²: derivative by e


def set_sums(kappa: Array, flat: Array, ellipticity: Array) -> SetSums:
    """Integral of cosh(κx) exp(−κ − a x² + e (y² − z²)) over the hemisphere, and its slopes.

    κ, a and e have shape (D,), each zero or more, with 2e at most κ + 2a.

    >>> nothing = np.zeros(1)
    >>> np.exp(set_sums(nothing, nothing, nothing).log_size).round(6)
    array([6.283185])
    """
    v, w = _PLAIN if (kappa < _PLAIN_KAPPA).all() else _CLOSE
    t, s = 1.0 - v, v * (2.0 - v)
    k, a, e = kappa[:, np.newaxis], flat[:, np.newaxis], ellipticity[:, np.newaxis]
    far = np.exp(-2.0 * k * t)
    exponent = e * s - k * v - a * t**2
    top = exponent.max(axis=1, keepdims=True)
    weight = w * np.exp(exponent - top)
    zero = weight * i0e(e * s)
    whole = ((1.0 + far) * zero).sum(axis=1)
    log_size = np.log(np.pi * whole) + top[:, 0]
    along = ((1.0 - far) * zero) @ t / whole
    square = ((1.0 + far) * zero) @ t**2 / whole
    lean = ((1.0 + far) * weight * i1e(e * s)) @ s / whole
    return SetSums(log_size, along, square, lean)


#: Grid of the table: concentrations, and ellipticities as a share of them.
_TABLE_RANGE, _TABLE_SIZE, _TABLE_SHARES = (0.1, 4500.0), 45, 25


@lru_cache(maxsize=2)
def log_size_table(flat: bool) -> RectBivariateSpline:
    """`SetSums.log_size` of Kent (Bingham, where flat) densities, less what it is where they are narrow,
    by log concentration and −log(1 − 2 s), s the ellipticity as a share of it, up to 0.49 (1/3)."""
    low, high = _TABLE_RANGE
    logs = np.linspace(np.log(low), np.log(high), _TABLE_SIZE)
    ends = np.linspace(0.0, -np.log(1.0 / 3.0 if flat else 0.02), _TABLE_SHARES)
    c, end = (one.ravel() for one in np.meshgrid(np.exp(logs), ends, indexing="ij"))
    share = -0.5 * np.expm1(-end)
    sizes = _exact_sizes(c, share * c, flat=flat)
    sizes -= _narrow(c, share * c, flat=flat)
    return RectBivariateSpline(logs, ends, sizes.reshape(len(logs), -1))


def _exact_sizes(concentration: Array, ellipticity: Array, *, flat: bool) -> Array:
    """Log normalising constants by the integral."""
    kappa, a = (0.0 * concentration, concentration) if flat else (concentration, 0.0 * concentration)
    return set_sums(kappa, a, ellipticity).log_size


def _narrow(concentration: Array, ellipticity: Array, *, flat: bool) -> Array:
    """Log normalising constants of narrow sets, or of a narrow girdle, but for a constant."""
    if flat:
        return ellipticity + np.log(i0e(ellipticity)) - 0.5 * np.log(concentration)
    return -0.5 * np.log(concentration**2 - 4.0 * ellipticity**2)


def log_sizes(concentration: Array, ellipticity: Array, *, flat: bool) -> Array:
    """Log normalising constants of many Kent (Bingham) densities, from the table where it reaches.

    The table is good to 1e-3, which weights of draws do not notice.
    """
    low, high = _TABLE_RANGE
    c = np.clip(concentration, low, high)
    end = -np.log1p(-2.0 * np.minimum(ellipticity / c, 0.499))
    found = log_size_table(flat)(np.log(c), end, grid=False)
    found += _narrow(concentration, ellipticity, flat=flat)
    out = (concentration < low) | (concentration > high)
    if out.any():
        found[out] = _exact_sizes(concentration[out], ellipticity[out], flat=flat)
    return np.asarray(found)


def log_kent(kappa: float, beta: float) -> float:
    """Log of ∫ exp(κ (cos θ − 1) + β sin² θ cos 2φ) over the sphere, per steradian.

    `kappa`: concentration, zero or more; `beta`: ellipticity, 0 to κ/2. Gives log 4π for κ = β =
    0.
    """
    # cosh over half the sphere is half of exp over the whole.
    sums = set_sums(np.array([kappa]), np.zeros(1), np.array([beta]))
    return float(sums.log_size[0] + np.log(2.0))
