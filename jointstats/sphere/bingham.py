"""The Bingham distribution of axes, by maximum likelihood."""

from __future__ import annotations

import numpy as np
import pandas as pd

from jointstats.checks import check_confidence
from jointstats.results import Result
from jointstats.sphere.angles import line_columns
from jointstats.sphere.axes import lower_hemisphere, principal_axes, sorted_out
from jointstats.sphere.normalise import bingham_moments, log_bingham
from jointstats.sphere.tensor import axis_ellipse
from jointstats.types import Array, ArrayLike

#: Largest concentration reported.
BINGHAM_CAP = 1.0e6


class BinghamFit(Result):
    """Bingham distribution fitted to poles: density exp(Σ k_i (a_i · n)²) up to a constant.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    axes : ndarray, shape (3, 3)
        Rows: the axes, densest first, lower hemisphere.
    concentrations : ndarray, shape (3,)
        k_i, falling: 0 for the densest axis, the others not above zero, not below −1e6.
    log_constant : float
        Log of the integral of exp(Σ k_i (a_i · n)²) over the hemisphere.
    log_likelihood : float
        Weighted with a sum of weights n, density per steradian of the hemisphere.
    ellipse_deg : ndarray, shape (2,)
        Half-angles of the ellipse of confidence of the densest axis, longer first.
    ellipse_axes : ndarray, shape (2, 3)
        Directions of the two.
    confidence : float
        Level of the ellipse.

    Examples
    --------
    >>> fit_bingham([[0, 0.1, 1.0], [0, -0.1, 1.0], [0.2, 0, 1.0], [-0.2, 0, 1.0]]).n
    4
    """

    _SHORT = (
        "n={n}, concentrations 0, {concentrations[1]:.2f}, {concentrations[2]:.2f}, "
        "ellipse {ellipse_deg[0]:.1f} x {ellipse_deg[1]:.1f} deg at {confidence:.0%}"
    )

    n: int
    axes: Array
    concentrations: Array
    log_constant: float
    log_likelihood: float
    ellipse_deg: Array
    ellipse_axes: Array
    confidence: float

    def to_frame(self) -> pd.DataFrame:
        """The axes, densest first: concentration, trend_deg, plunge_deg."""
        return pd.DataFrame({"concentration": self.concentrations, **line_columns(self.axes)})


def solve_bingham(tau: Array) -> Array:
    """Parameters a ≤ b of exp(−a y² − b z²) whose means of y² and z² are given.

    `tau` (2,): E y² ≥ E z², each above zero. Gives (2,): a, b. Newton's method on log constant +
    a τ₁ + b τ₂, which is convex.
    """
    # For tight girdles and clusters a concentration is 1 / (2 τ); less 1.5 it starts near enough for slack ones too.
    point = np.clip(0.5 / tau - 1.5, 0.0, None)

    def loss(at: Array) -> float:
        return log_bingham(*at) + float(at @ tau)

    value = loss(point)
    for _ in range(200):
        # The log of the constant is convex, its slope minus the mean of x² and its curvature their covariance: Newton's step.
        mean, covariance = bingham_moments(*point)
        gradient = tau - mean
        if np.abs(gradient / tau).max() < 1e-12:
            break
        step = np.linalg.solve(covariance, -gradient)
        # Halved until it gains: far out a full step may leave the range.
        size = 1.0
        while size > 1e-6:
            trial = np.clip(point + size * step, -1.0, 2.0 * BINGHAM_CAP)
            following = loss(trial)
            if following <= value + 1e-15 * abs(value):
                break
            size *= 0.5
        if size <= 1e-6 or np.abs(trial - point).max() <= 1e-13 * (1 + np.abs(point).max()):
            break
        point, value = trial, following
    return point


def fit_bingham(
    poles: ArrayLike, weights: ArrayLike | None = None, *, confidence: float = 0.95
) -> BinghamFit:
    """Fit a Bingham distribution by maximum likelihood.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes, either end.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    confidence : float
        Level of the ellipse of confidence of the densest axis, which rests on the spread of the
        poles and not on the fit.

    Returns
    -------
    BinghamFit
        Finite for any poles; concentrations stop at −1e6.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or an argument is out of range.

    Notes
    -----
    Bingham (1974), An antipodally symmetric distribution on the sphere, Ann. Stat. 2: 1201-1225.
    The constant is an integral right to 1e-12; see `jointstats.sphere.normalise`.

    Examples
    --------
    >>> poles = [[0.2, 0, 1], [-0.2, 0, 1], [0, 0.1, 1], [0, -0.1, 1]]
    >>> fit_bingham(poles).axes.round(6)[1] + 0.0
    array([1., 0., 0.])
    """
    confidence = check_confidence(confidence)
    rows, values = sorted_out(poles, weights)
    eigenvalues, axes = principal_axes(rows, values)
    tau = np.clip(eigenvalues[1:], 0.5 / BINGHAM_CAP, None)
    a, b = solve_bingham(tau)
    # The largest axis has concentration 0 by convention, and the others are as far below.
    low, high = max(0.0, a), min(BINGHAM_CAP, max(0.0, a, b))
    constant = log_bingham(low, high)
    ellipse = axis_ellipse(rows, values, which=0, confidence=confidence)
    exponent = -low * eigenvalues[1] - high * eigenvalues[2]
    return BinghamFit(
        n=len(rows),
        axes=lower_hemisphere(axes),
        concentrations=np.array([0.0, -min(low, BINGHAM_CAP), -high]) + 0.0,
        log_constant=constant,
        log_likelihood=float(len(rows) * (exponent - constant)),
        ellipse_deg=ellipse.semi_axes_deg,
        ellipse_axes=ellipse.directions,
        confidence=confidence,
    )
