"""The Kent distribution: a set that is longer one way than the other, by maximum likelihood."""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation
from scipy.special import fdtri

from jointstats.checks import check_confidence
from jointstats.results import Result
from jointstats.sphere.angles import ellipse_columns, plane_columns
from jointstats.sphere.axes import frame_about, lower_hemisphere, sorted_out
from jointstats.sphere.cones import effective_size
from jointstats.sphere.fisher import kappa_from_mean_resultant
from jointstats.sphere.normalise import log_kent
from jointstats.sphere.resultant import Resultant, resultant_of
from jointstats.types import Array, ArrayLike

#: Largest concentration reported.
KENT_KAPPA_CAP = 1.0e6


class KentFit(Result):
    """Kent distribution: density exp(κ γ₁·x + β ((γ₂·x)² − (γ₃·x)²)) up to a constant.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    axes : ndarray, shape (3, 3)
        Rows γ₁ (mean), γ₂ (longest way), γ₃ (shortest). Axial: γ₁ on the lower hemisphere.
    kappa : float
        Concentration, at most 1e6.
    beta : float
        Ellipticity, 0 to κ/2.
    log_likelihood : float
        Weighted with a sum of weights n, density per steradian of the sphere.
    ellipse_deg : ndarray, shape (2,)
        Half-angles of the ellipse of confidence of the mean, longer first.
    ellipse_axes : ndarray, shape (2, 3)
        Directions of the two.
    confidence : float
        Level of the ellipse.

    Examples
    --------
    >>> fit_kent([[0.2, 0, 1], [-0.2, 0, 1], [0, 0.1, 1], [0, -0.1, 1]]).n
    4
    """

    _SHORT = (
        "n={n}, dip/dip direction {dip_deg:.1f}/{dip_direction_deg:05.1f}, kappa={kappa:.1f}, "
        "beta={beta:.1f}, ellipse {ellipse_deg[0]:.1f} x {ellipse_deg[1]:.1f} deg at "
        "{confidence:.0%}"
    )

    n: int
    axes: Array
    kappa: float
    beta: float
    log_likelihood: float
    ellipse_deg: Array
    ellipse_axes: Array
    confidence: float

    def _row(self) -> dict[str, object]:
        plane, ellipse = plane_columns(self.axes[0]), ellipse_columns(self.ellipse_deg)
        return super()._row() | plane | ellipse


def _start(found: Resultant, second: Array) -> tuple[Array, float, float]:
    """Kent's (1982) moment estimates: axes, κ and β."""
    frame = frame_about(found.mean)[[2, 0, 1]]
    # The long and the short way lie along the eigenvectors of what is square to the mean (Kent 1982).
    inner = frame[1:] @ second @ frame[1:].T
    values, turn = np.linalg.eigh(inner)
    axes = np.vstack([frame[0], turn.T[::-1] @ frame[1:]])
    values = np.clip(values[::-1], 0.0, None)
    # Large κ: the variances are 1/(κ − 2β) and 1/(κ + 2β).
    wide, narrow = np.maximum(values, 0.5 / KENT_KAPPA_CAP)
    kappa = min(KENT_KAPPA_CAP, 0.5 * (1.0 / wide + 1.0 / narrow))
    beta = min(0.45 * kappa, 0.25 * (1.0 / narrow - 1.0 / wide))
    return axes, float(kappa), float(max(1e-4 * kappa, beta))


def _maximum(
    axes: Array, kappa: float, beta: float, first: Array, second: Array
) -> tuple[Array, float, float, float]:
    """Axes, κ and β of the greatest mean log likelihood, and that likelihood."""

    def unpack(at: Array) -> tuple[Array, float, float]:
        k = float(np.exp(np.clip(at[0], -20.0, np.log(KENT_KAPPA_CAP))))
        # 2 β / κ stays between 0 and 1: beyond it the set would have two peaks.
        share = 1.0 / (1.0 + np.exp(-np.clip(at[1], -40.0, 40.0)))
        return (
            axes @ Rotation.from_rotvec(at[2:] / np.sqrt(kappa)).as_matrix().T,
            k,
            0.5 * k * share,
        )

    def loss(at: Array) -> float:
        frame, k, b = unpack(at)
        elliptical = frame[1] @ second @ frame[1] - frame[2] @ second @ frame[2]
        return log_kent(k, b) + k * (1.0 - frame[0] @ first) - b * elliptical

    start = np.array([np.log(kappa), np.log(2 * beta / kappa / (1 - 2 * beta / kappa)), 0, 0, 0])
    # A few hundred steps without slopes first: from a poor start the slopes lead astray where β is near its bound.
    best = minimize(loss, start, method="Nelder-Mead", options={"maxiter": 400, "xatol": 1e-3})
    for _ in range(3):
        best = minimize(loss, best.x, method="BFGS", options={"gtol": 1e-9})
    return *unpack(best.x), -float(best.fun)


def fit_kent(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    axial: bool = True,
    confidence: float = 0.95,
) -> KentFit:
    """Fit a Kent distribution by maximum likelihood.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    axial : bool
        True: poles are axes, each taken by the end that makes the resultant longest.
    confidence : float
        Level of the ellipse of confidence of the mean, which rests on the spread of the poles
        and not on the fit.

    Returns
    -------
    KentFit
        Finite for any poles: κ is at most 1e6. Below three poles, or where there is no spread, it
        is the Fisher fit, with β 0 (and κ 0 for one pole).

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or an argument is out of range.

    Notes
    -----
    Kent (1982), The Fisher-Bingham distribution on the sphere, J. R. Stat. Soc. B 44: 71-80. The
    constant is an integral right to 1e-12; see `jointstats.sphere.normalise`. All five
    parameters are fitted together, from Kent's moment estimates on.

    Examples
    --------
    The longest way of this set is east-west:

    >>> fit = fit_kent([[0.3, 0, 1], [-0.3, 0, 1], [0, 0.1, 1], [0, -0.1, 1]])
    >>> np.abs(fit.axes[1]).round(3) + 0.0
    array([1., 0., 0.])
    """
    confidence = check_confidence(confidence)
    rows, values = sorted_out(poles, weights)
    found = resultant_of(rows, values, axial=axial)
    share = values / values.sum()
    # Mean and second moment are all that the likelihood asks of the poles.
    first = found.length / len(rows) * found.mean
    second = (rows * share[:, np.newaxis]).T @ rows
    axes, kappa, beta = _start(found, second)
    if len(rows) < 3 or found.length <= 0 or found.shortfall / len(rows) < 1.0 / KENT_KAPPA_CAP:
        beta, kappa = 0.0, kappa_from_mean_resultant(found.shortfall / len(rows))
        kappa = 0.0 if len(rows) == 1 else min(KENT_KAPPA_CAP, kappa)
        likelihood = -log_kent(kappa, 0.0) - kappa * found.shortfall / len(rows)
    else:
        axes, kappa, beta, likelihood = _maximum(axes, kappa, beta, first, second)
    if axial and not np.array_equal(lower_hemisphere(axes[0])[0], axes[0]):
        axes = axes * np.array([-1.0, 1.0, -1.0])[:, np.newaxis]
    ellipse, directions = _mean_ellipse(found, confidence)
    return KentFit(
        n=len(rows),
        axes=axes + 0.0,
        kappa=kappa,
        beta=beta,
        log_likelihood=len(rows) * likelihood,
        ellipse_deg=ellipse,
        ellipse_axes=directions,
        confidence=confidence,
    )


def _mean_ellipse(found: Resultant, confidence: float) -> tuple[Array, Array]:
    """Half-angles and directions of the ellipse of the mean, by Hotelling's T²."""
    frame = frame_about(found.mean)[:2]
    size = effective_size(found.weights)
    widest = 90.0 if found.axial else 180.0
    if size <= 2.0 + 1e-9 or found.length <= 0:
        return np.full(2, widest), frame
    parts = (found.weights / found.length)[:, np.newaxis] * (found.rows @ frame.T)
    values, turn = np.linalg.eigh(parts.T @ parts)
    values = np.clip(values[::-1], 0.0, None)
    # T² with n − 1 degrees of freedom: 2 (n − 1)/(n − 2) F(2, n − 2), variance over n − 1.
    limit = 2.0 * size / (size - 2.0) * float(fdtri(2.0, size - 2.0, confidence))
    sines = np.sqrt(limit * values)
    angles = np.where(sines < 1.0, np.degrees(np.arcsin(np.minimum(sines, 1.0))), widest)
    return angles, turn.T[::-1] @ frame
