"""The Watson distribution of axes: a round cluster, or a girdle, by maximum likelihood."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.special import dawsn, erf

from jointstats.checks import check_choice, check_confidence
from jointstats.results import Result
from jointstats.sphere.angles import line_columns
from jointstats.sphere.axes import lower_hemisphere, principal_axes, sorted_out
from jointstats.sphere.tensor import axis_ellipse
from jointstats.types import Array, ArrayLike

#: Largest concentration reported, either sign.
WATSON_KAPPA_CAP = 1.0e6
_KINDS = ("best", "bipolar", "girdle")


class WatsonFit(Result):
    """Watson distribution fitted to poles: density e^(κ (μ · n)²) up to a constant.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    kind : str
        "bipolar" (κ > 0, a cluster about the axis) or "girdle" (κ < 0, a great circle square to
        the axis).
    axis : ndarray, shape (3,)
        Axis of symmetry, lower hemisphere.
    kappa : float
        Concentration, −1e6 to 1e6.
    log_likelihood : float
        Weighted with a sum of weights n, density per steradian of the hemisphere.
    cone_deg : float
        Half-angle of the cone of confidence of the axis.
    confidence : float
        Level of the cone.

    Examples
    --------
    >>> fit_watson([[1.0, 0, 0], [0, 1.0, 0], [1.0, 1.0, 0]]).kind
    'girdle'
    """

    _SHORT = (
        "{kind}, n={n}, axis {trend_deg:05.1f}/{plunge_deg:.1f}, kappa={kappa:.2f}, "
        "cone {cone_deg:.1f} deg at {confidence:.0%}"
    )

    n: int
    kind: str
    axis: Array
    kappa: float
    log_likelihood: float
    cone_deg: float
    confidence: float

    def _row(self) -> dict[str, object]:
        lines = {name: float(values[0]) for name, values in line_columns(self.axis).items()}
        return super()._row() | lines


def log_watson(kappa: float) -> float:
    """Log of ∫ exp(κ (t² − 1)) over the hemisphere (κ > 0), or of ∫ exp(κ t²) (κ ≤ 0).

    `kappa`: concentration, either sign. Gives log 2π at κ = 0.
    """
    if abs(kappa) < 1e-8:
        return float(np.log(2.0 * np.pi))
    root = np.sqrt(abs(kappa))
    line = dawsn(root) / root if kappa > 0 else np.sqrt(np.pi) * erf(root) / (2.0 * root)
    return float(np.log(2.0 * np.pi * line))


def mean_squared_cosine(kappa: float) -> float:
    """E t² of the Watson distribution.

    `kappa`: concentration, either sign. Gives 0 to 1; 1/3 at κ = 0.
    """
    if abs(kappa) < 1e-3:
        return 1.0 / 3.0 + 4.0 * kappa / 45.0 + 8.0 * kappa**2 / 945.0
    # d/dκ of the constant; ∫ t² e^(κt²) by parts.
    root = np.sqrt(abs(kappa))
    if kappa > 0:
        return float((root / dawsn(root) - 1.0) / (2.0 * kappa))
    edge = np.exp(kappa) * 2.0 * root / (np.sqrt(np.pi) * erf(root))
    return float((1.0 - edge) / (-2.0 * kappa))


def _kappa_of(tau: float) -> float:
    """κ whose E t² is the eigenvalue."""
    low, high = -WATSON_KAPPA_CAP, WATSON_KAPPA_CAP
    if tau <= mean_squared_cosine(low):
        return low
    if tau >= mean_squared_cosine(high):
        return high
    if abs(tau - 1.0 / 3.0) < 1e-12:
        return 0.0
    # Tight brackets: 1/(1 − τ) and −1/2τ are the limits for concentrated sets.
    span = (-1e-9, 2.0 + 2.0 / (1.0 - tau)) if tau > 1 / 3 else (-2.0 - 2.0 / tau, 1e-9)
    return float(brentq(lambda k: mean_squared_cosine(k) - tau, *span, xtol=1e-12, rtol=1e-13))


def fit_watson(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    kind: str = "best",
    confidence: float = 0.95,
) -> WatsonFit:
    """Fit a Watson distribution by maximum likelihood.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes, either end.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    kind : str
        "bipolar", "girdle", or "best": the likelier of the two.
    confidence : float
        Level of the cone of confidence of the axis, which rests on the spread of the poles and
        not on the fit.

    Returns
    -------
    WatsonFit
        Finite for any poles: |κ| is at most 1e6, which identical poles (and poles exactly on a
        great circle) have. A forced kind that the poles contradict has κ = 0.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or an argument is out of range.

    Notes
    -----
    Watson (1965), Equatorial distributions on a sphere, Biometrika 52: 193-201. The constants are
    closed forms (Dawson's integral, error function), right to about 1e-14.

    Examples
    --------
    >>> fit_watson([[0, 0.1, 1.0], [0.1, 0, 1.0], [0, -0.1, 1.0], [-0.1, 0, 1.0]]).kind
    'bipolar'
    """
    check_choice(kind, "kind", _KINDS)
    confidence = check_confidence(confidence)
    rows, values = sorted_out(poles, weights)
    tau, _ = principal_axes(rows, values)
    fits = []
    for name, which in (("bipolar", 0), ("girdle", 2)):
        kappa = _kappa_of(float(np.clip(tau[which], 0.0, 1.0)))
        kappa = max(0.0, kappa) if which == 0 else min(0.0, kappa)
        # The constant of a cluster is taken relative to its peak, where t² = 1.
        height = kappa * (tau[which] - (1.0 if kappa > 0 else 0.0)) - log_watson(kappa)
        if kind in ("best", name):
            fits.append((len(rows) * float(height), name, which, kappa))
    likelihood, name, which, kappa = max(fits, key=lambda fit: fit[0])
    ellipse = axis_ellipse(rows, values, which=which, confidence=confidence)
    axis = lower_hemisphere(ellipse.axis)[0]
    return WatsonFit(len(rows), name, axis, kappa, likelihood, ellipse.cone_deg, confidence)
