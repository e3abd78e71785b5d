"""Cones of confidence for the mean of poles: half-angles, equal weights or not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import fdtri

from jointstats.checks import as_generator, check_choice, check_confidence, check_count
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import plane_columns
from jointstats.sphere.axes import frame_about, lower_hemisphere, sorted_out
from jointstats.sphere.axial_fisher import check_kappa
from jointstats.sphere.resultant import Resultant, resultant_of
from jointstats.types import Array, ArrayLike, RandomState


def angle_of_drop(drop: float) -> float:
    """Angle in degrees from 1 − cos, exact for small angles.

    `drop`: 1 − cos of the angle, 0 to 2; the angle, 0 to 180 degrees.
    """
    if drop > 0.5:
        return float(np.degrees(np.arccos(max(-1.0, 1.0 - drop))))
    # 1 − cos θ = 2 sin²(θ/2): for small angles the arc cosine would lose half of the digits.
    return float(np.degrees(2.0 * np.arcsin(np.sqrt(max(0.0, drop) / 2.0))))


def effective_size(weights: Array) -> float:
    """Number of equally weighted poles whose mean would be as precise: (Σw)² / Σw².

    `weights` (n,): weights above zero. From 1 to n (Kish 1965, Survey Sampling; from memory).
    """
    share = weights / weights.sum()
    return float(1.0 / (share @ share))


@dataclass(frozen=True, eq=False)
class MeanError:
    """How far the mean of poles may lie from the true mean.

    `scale`: variance of one component of the error, square radians; `covariance` (3, 3):
    covariance of the error, in the plane square to the mean; `components`: 2 if the error is
    round; `dof`: degrees of freedom of `scale`.
    """

    scale: float
    covariance: Array
    components: float
    dof: float


def mean_error(found: Resultant) -> MeanError:
    """Error of the mean of two or more poles, from their own spread.

    Equal weights give Fisher's (1953) interval, 1 − cos α = (N − R)/R · (p^(−1/(N−1)) − 1), which
    is (N − R) / ((N − 1) R) times the quantile of F with 2 and 2(N − 1) degrees of freedom.
    With weights of shares h, q = Σh², the variance is

        Σ h² (1 − cos) / (1 − 2h + q) · ((1 − 1/n) / (1 − h))²

    whose first factor removes the bias of residuals from their own mean and whose second, found
    by simulation, makes up for heavy weights that seldom occur in a small sample. The degrees of
    freedom are Satterthwaite's (1946, Biometrics Bull. 2: 110-114) for a spread that does not
    depend on the weights.

    `found`: two poles or more, by a sum that is not zero; all fields are finite.
    """
    n = len(found.weights)
    share = found.weights / n
    q = float(share @ share)
    # One weight may outweigh all others; the floors keep what follows finite.
    rest = np.maximum(1.0 - share, 1e-6)
    # A residual from a mean that the pole itself had a share in is short by that share.
    centred = np.maximum(1.0 - 2.0 * share + q, 1e-12)
    plain = share**2 / centred
    factor = plain * ((1.0 - 1.0 / n) / rest) ** 2
    scale = float(factor @ found.drops) * n / found.length
    if found.axial:
        scale *= fold_inflation(float(share @ found.drops) / max(1.0 - q, 1e-9))
    # 2 (Σ var)² / var(Σ), with the residuals' covariance δ_ij − h_i − h_j + q.
    a0, a1, a2 = plain.sum(), plain @ share, plain @ share**2
    spread = q**2 * a0**2 + 2 * a0 * a2 + 2 * a1**2 - 4 * q * a0 * a1
    spread += float(plain**2 @ (centred**2 - (q - 2 * share) ** 2))
    frame = frame_about(found.mean)
    across = found.rows @ frame[:2].T
    # Weights that grow to one side draw the error out; the spread itself counts as round.
    double = (across[:, 0] + 1j * across[:, 1]) ** 2
    long = _mean_of(double, factor) - _mean_of(double, share)
    shape = np.array([[1 + long.real, long.imag], [long.imag, 1 - long.real]])
    return MeanError(
        scale=scale,
        covariance=scale * frame[:2].T @ shape @ frame[:2],
        components=float(2.0 / (1.0 + min(1.0, abs(long)) ** 2)),
        dof=float(np.clip(2.0 * q**2 / max(spread, 1e-300), 0.1, 2.0 * (n - 1))),
    )


def _mean_of(double: NDArray[np.complex128], weights: Array) -> complex:
    total = weights @ np.abs(double)
    return complex(weights @ double / total) if total > 1e-280 else 0j


def kappa_of_shortfall(shortfall: float) -> float:
    """κ of an axial Fisher set whose mean 1 − |cos| is tanh(κ/2) / κ, 0.025 to 0.4999."""
    return float(brentq(lambda k: np.tanh(k / 2) / k - shortfall, 1e-3, 40.0))


def fold_inflation(shortfall: float) -> float:
    """How much more the variance of a mean axis is than that of a mean direction.

    Poles near 90° from the mean may change ends as the mean moves, which makes it less steady
    than their spread suggests. For an axial Fisher distribution with m = E|cos| = 1 − tanh(κ/2)/κ
    the variance is (A/κ) / (m − κ / (2 sinh κ))², A = coth κ − 1/κ, against (1 − m)/m.

    `shortfall`: 1 − E|cos|, estimated. Gives 1 for a concentrated set (1.0005 at κ 12), 1.10 at κ
    5; at most 1000.
    """
    if shortfall < 0.06:
        return 1.0
    # Axes as slack as uniform ones have no mean to be sure of.
    if shortfall > 0.4999:
        return 1.0e3
    kappa = kappa_of_shortfall(shortfall)
    m, langevin = 1.0 - shortfall, 1.0 / np.tanh(kappa) - 1.0 / kappa
    steady = m - kappa / (2.0 * np.sinh(kappa))
    return float(min(1.0e3, langevin / kappa / steady**2 * m / shortfall))


def cone_drop(found: Resultant, confidence: float) -> float:
    """1 − cos of the half-angle of the cone of confidence, κ estimated.

    `found`: the poles, by their sum; `confidence`: chance that the cone covers the true mean,
    above 0 and below 1. Gives 0 to 2; 2 if there is one pole only, or directed rows cancel.
    """
    if effective_size(found.weights) <= 1.0 + 1e-6 or found.length <= 0:
        return 2.0
    error = mean_error(found)
    return min(2.0, float(fdtri(error.components, error.dof, confidence)) * error.scale)


def known_kappa_drop(found: Resultant, kappa: float, confidence: float) -> float:
    """1 − cos of the half-angle of the cone of confidence, κ known.

    Given the length of the resultant, its direction is Fisher with concentration κ R (Fisher
    1953), exact for directed data; with weights R stands for n_effective R / n, and for axes it
    is divided by `fold_inflation`.

    `found`: the poles, by their sum; `kappa`: known concentration, zero or more; `confidence`:
    chance that the cone covers the true mean, above 0 and below 1. Gives 0 to 2.
    """
    n = len(found.weights)
    # Given the length of the resultant its direction is Fisher with κ R (Watson & Williams 1956).
    joint = kappa * found.length / n * effective_size(found.weights)
    if found.axial:
        joint /= fold_inflation(np.tanh(kappa / 2.0) / kappa if kappa > 1e-6 else 0.5)
    if joint < 1e-9:
        return 2.0 * confidence
    return float(-np.log1p(confidence * np.expm1(-2.0 * joint)) / joint)


_ASSUMED = {
    "estimated": "independent poles, a Fisher set, kappa estimated",
    "known kappa": "independent poles, a Fisher set, kappa known beforehand",
    "bootstrap": "independent poles, ten or more; any shape of set",
}


class MeanCone(Result):
    """Cone of confidence of a mean pole.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    n_effective : float
        Effective number, (Σw)² / Σw².
    mean : ndarray, shape (3,)
        Mean pole, on the lower hemisphere if axial.
    cone_deg : float
        Half-angle of the cone.
    confidence : float
        Level.
    method : str
        How it was found.
    assumptions : str
        What must hold for it to cover as often as it says.

    Examples
    --------
    >>> mean_cone([[0, 0, 1.0], [0, 0, -1.0]]).cone_deg
    0.0
    """

    _SHORT = "{method}, n={n}, {cone_deg:.2f} deg at {confidence:.0%}"

    n: int
    n_effective: float
    mean: Array
    cone_deg: float
    confidence: float
    method: str
    assumptions: str

    def _row(self) -> dict[str, object]:
        return super()._row() | plane_columns(self.mean)


def _bootstrap_drop(
    found: Resultant, confidence: float, draws: int, generator: np.random.Generator
) -> float:
    """1 − cos over its own error, resampled: a ratio that hardly depends on the set."""
    n = len(found.weights)
    pick = generator.integers(n, size=(draws, n))
    drops, scales = _drops_and_scales(found.rows[pick], found.weights[pick], found)
    own, scale = _drops_and_scales(found.rows[np.newaxis], found.weights[np.newaxis], found)
    # Draws of one pole over and over have no error to divide by; they count as far out.
    ratios = np.where(scales > 1e-30, drops / np.maximum(scales, 1e-30), 1e6)
    # The (draws + 1) p-th value in order, by which the bootstrap is exact for a pivot.
    rank = min(draws - 1, int(np.ceil((draws + 1) * confidence)) - 1)
    return min(2.0, float(own[0] + np.sort(ratios)[rank] * scale[0]))


def _drops_and_scales(rows: Array, weights: Array, found: Resultant) -> tuple[Array, Array]:
    """1 − cos between the mean of each of many draws and that of the set; the error of each."""
    means = np.broadcast_to(found.mean, (len(rows), 3))
    # Signs by the mean, and the mean by the signs: a few rounds settle them.
    for _ in range(4 if found.axial else 1):
        along = np.einsum("bni,bi->bn", rows, means)
        signs = np.where(along < 0, -1.0, 1.0) if found.axial else 1.0
        totals = np.einsum("bn,bni->bi", weights * signs, rows)
        lengths = np.maximum(np.linalg.norm(totals, axis=1), 1e-12)
        means = totals / lengths[:, np.newaxis]
    along = np.einsum("bni,bi->bn", rows, means)
    gaps = 1.0 - np.minimum(1.0, np.abs(along) if found.axial else along)
    spreads = (weights**2 * gaps).sum(axis=1) / (weights.sum(axis=1) * lengths)
    # An axis that came out the other way is the same axis.
    agreement = means @ found.mean
    return 1.0 - np.minimum(1.0, np.abs(agreement) if found.axial else agreement), spreads


def mean_cone(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    method: str = "estimated",
    kappa: float | None = None,
    axial: bool = True,
    confidence: float = 0.95,
    draws: int = 999,
    random_state: RandomState = 0,
) -> MeanCone:
    """Cone in which the true mean lies, for known or estimated κ or by the bootstrap.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    method : str
        "estimated": as `fisher_statistics`. "known kappa": for a `kappa` known beforehand.
        "bootstrap": assumes no shape of the set; for ten poles or more.
    kappa : float or None
        The known concentration.
    axial : bool
        Whether the rows are axes.
    confidence : float
        Level.
    draws : int
        Bootstrap draws, 99 or more.
    random_state : int, Generator or None
        Seed or source of random numbers of the bootstrap.

    Returns
    -------
    MeanCone
        Finite for any poles; 90° (180° if directed) where nothing is known.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or an argument is out of range or missing.

    Notes
    -----
    Fisher (1953), Proc. R. Soc. A 217: 295-305; Fisher & Hall (1989), Bootstrap confidence
    regions for directional data, JASA 84: 996-1002 (the second from memory).

    Examples
    --------
    Sixteen poles of κ 40: the cone has about a quarter of the spread of one pole.

    >>> from jointstats.sphere import AxialFisher
    >>> poles = AxialFisher([0, 0, -1.0], 40.0).rvs(16, random_state=0)
    >>> mean_cone(poles, method="known kappa", kappa=40.0)
    MeanCone(known kappa, n=16, 5.62 deg at 95%)
    """
    check_choice(method, "method", _ASSUMED)
    if (kappa is None) == (method == "known kappa"):
        raise InputError("kappa goes with method 'known kappa', and only with it")
    check_count(draws, "draws", 99)
    confidence = check_confidence(confidence)
    rows, values = sorted_out(poles, weights)
    found = resultant_of(rows, values, axial=axial)
    if kappa is not None:
        drop = known_kappa_drop(found, float(check_kappa(kappa)), confidence)
    elif method == "bootstrap" and len(rows) > 1 and found.length > 0:
        drop = _bootstrap_drop(found, confidence, draws, as_generator(random_state))
    else:
        drop = cone_drop(found, confidence)
    return MeanCone(
        n=len(rows),
        n_effective=effective_size(values),
        mean=lower_hemisphere(found.mean)[0] if axial else found.mean,
        cone_deg=angle_of_drop(min(1.0 if axial else 2.0, drop)),
        confidence=confidence,
        method=method,
        assumptions=_ASSUMED[method],
    )
