"""A set that is longer one way than the other as a mixture of Fisher sets: a smear.

exp(c² q²/2) is the mean of exp(c q g) over a standard normal g. So with two axes q, r of a plane

    cosh(k q·n) exp(b₁ (q·n)² + b₂ (r·n)²)

is a mixture of Fisher densities with parameter vectors v = (k + √(2b₁) u) q + √(2b₂) s r over
standard normals u and s. The exposure of holes has a step at the blind angle, which no grid on the
set takes well; its mean over a Fisher set is known, step and all, and so are its derivatives, and
what is left is a smooth integral. In polar coordinates v = ρ (cos θ q + sin θ r) it is a Gaussian in
ρ, whose weight has the exponent ½ P M² with P = cos²θ/2b₁ + sin²θ/2b₂ and M = (1 + k cos θ/2b₁)/P.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from jointstats.types import Array

__all__ = ["Smear", "smear"]


_FALL = 25.0  # of the log weight, at which the smear is cut off
_STEP = 1.1  # of the angle, in deviations of the smear or of a set smeared, the narrower
_LEAST_RHO = 0.5  # the least concentration that the table of exposures holds
_COARSE = 1.6  # the same where a thousandth is near enough: weights of draws
_FOUR, _TWO = np.polynomial.hermite_e.hermegauss(4), np.polynomial.hermite_e.hermegauss(2)
_SCAN = 241


class Smear(NamedTuple):
    """Fisher sets whose mixture is each of D sets, as a quadrature."""

    angles: Array  # (D, m) from q toward r, radians
    rhos: Array  # (D, m) concentrations
    shares: Array  # (D, m); each row sums to one


def _top(theta: Array, k: Array, b1: Array, b2: Array) -> tuple[Array, Array, Array]:
    """Exponent of the Gaussian in ρ at its top, its middle and its deviation."""
    cosine, sine = np.cos(theta), np.sin(theta)
    precision = 0.5 * (cosine**2 / b1 + sine**2 / b2)
    middle = (1.0 + 0.5 * k * cosine / b1) / precision
    return 0.5 * precision * middle**2, middle, 1.0 / np.sqrt(precision)


def smear(k: Array, b1: Array, b2: Array, *, coarse: bool = False) -> Smear:
    """The smears of D sets, all with one number of nodes.

    `k, b1, b2` (D,): as at the head of this module; b₁ and b₂ above zero. With k = 0 the set is its own
    image through the pole of q, and half a turn holds all of it.

    >>> one = smear(np.array([40.0]), np.array([10.0]), np.array([20.0]))
    >>> round(float(one.shares.sum()), 9)
    1.0
    """
    k, b1, b2 = k[:, np.newaxis], b1[:, np.newaxis], b2[:, np.newaxis]
    girdle = bool((k == 0).all())
    if girdle:
        edge = np.full(k.shape, 0.5 * np.pi)
    else:
        scan = np.linspace(0.0, np.pi, _SCAN) ** 2 / np.pi
        value, middle, _ = _top(scan, k, b1, b2)
        kept = (value > value[:, :1] - _FALL) & (middle > 0)
        edge = np.where(kept, scan, 0.0).max(axis=1, keepdims=True)
    # The trapezium rule converges exponentially on a function that dies at both ends, or comes
    # round; its step follows the narrower of the smear and the set that is smeared.
    narrow = 1.0 / np.sqrt(np.maximum(k + 2.0 * np.maximum(b1, b2), 1.0))
    if not girdle:
        narrow = np.minimum(narrow, edge / np.sqrt(2.0 * _FALL))
    step, (g, g_shares) = (_COARSE, _TWO) if coarse else (_STEP, _FOUR)
    count = int(np.ceil((2.0 * edge / (step * narrow)).max())) | 1
    steps = (np.arange(count) + 0.5) / count * 2.0 - 1.0
    theta = edge * steps
    value, middle, deviation = _top(theta, k, b1, b2)
    rho = middle[..., np.newaxis] + deviation[..., np.newaxis] * g
    share = np.exp(value - value.max(axis=1, keepdims=True)) * deviation
    shares = share[..., np.newaxis] * g_shares * -np.expm1(-2.0 * np.maximum(rho, 0.0))
    shape = (len(theta), -1)
    shares = shares.reshape(shape)
    return Smear(
        np.repeat(theta, len(g), axis=1),
        np.maximum(rho, _LEAST_RHO).reshape(shape),
        shares / shares.sum(axis=1, keepdims=True),
    )
