"""Girdles: the fold axis they turn about, and tests of cluster, girdle and roundness."""

from __future__ import annotations

import numpy as np
from scipy.special import ive

from jointstats.checks import check_confidence
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import ellipse_columns, trend_from_lines
from jointstats.sphere.axes import (
    frame_about,
    lower_hemisphere,
    sorted_out,
    uniform_axes,
)
from jointstats.sphere.fisher import kappa_from_mean_resultant
from jointstats.sphere.resultant import resultant_of
from jointstats.sphere.tensor import axis_ellipse
from jointstats.sphere.verdict import Verdict
from jointstats.types import Array, ArrayLike

_DRAWS = 20_000
_DRAWN_UP_TO = 100


class FoldAxis(Result):
    """Axis that poles of folded planes turn about (β axis): the normal of their great circle.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    axis : ndarray, shape (3,)
        The axis, lower hemisphere.
    trend_deg, plunge_deg : float
        The same in degrees.
    scatter_deg : float
        Root mean square angle of the poles out of the great circle.
    cone_deg : float
        Half-angle of the round cone of confidence; 90 if the poles have no girdle.
    ellipse_deg : ndarray, shape (2,)
        Half-angles of the ellipse of confidence, longer first.
    ellipse_axes : ndarray, shape (2, 3)
        Directions of the two.
    confidence : float
        Level of both.

    Examples
    --------
    >>> fold_axis([[1.0, 0, 0], [0, 1.0, 0], [1.0, 1.0, 0]]).plunge_deg
    90.0
    """

    _SHORT = (
        "n={n}, trend/plunge {trend_deg:05.1f}/{plunge_deg:.1f}, scatter {scatter_deg:.1f} deg, "
        "cone {cone_deg:.1f} deg at {confidence:.0%}"
    )

    n: int
    axis: Array
    trend_deg: float
    plunge_deg: float
    scatter_deg: float
    cone_deg: float
    ellipse_deg: Array
    ellipse_axes: Array
    confidence: float

    def _row(self) -> dict[str, object]:
        return super()._row() | ellipse_columns(self.ellipse_deg)


def fold_axis(
    poles: ArrayLike, weights: ArrayLike | None = None, *, confidence: float = 0.95
) -> FoldAxis:
    """Fold axis of a girdle of poles, with its cone of confidence.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes, either end.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    confidence : float
        Level of the cone and the ellipse.

    Returns
    -------
    FoldAxis
        Finite for any poles. With one or two poles, or poles round about a line, the cone is 90°.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or an argument is out of range.

    Examples
    --------
    Poles of planes folded about a level axis to the north:

    >>> fold = fold_axis([[1, 0.02, 0.1], [1, -0.01, -1], [0.1, 0.01, -1], [-1, -0.02, -1]])
    >>> abs(fold.axis).round(1)
    array([0., 1., 0.])
    """
    confidence = check_confidence(confidence)
    rows, values = sorted_out(poles, weights)
    ellipse = axis_ellipse(rows, values, which=2, confidence=confidence)
    axis = lower_hemisphere(ellipse.axis)
    trend, plunge = trend_from_lines(axis)
    share = values / values.sum()
    # Angle of each pole out of the girdle: its axis is square to all of them where the fold is perfect.
    out = float(share @ np.arcsin(np.clip(rows @ axis[0], -1.0, 1.0)) ** 2)
    return FoldAxis(
        n=len(rows),
        axis=axis[0],
        trend_deg=float(trend[0]),
        plunge_deg=float(plunge[0]),
        scatter_deg=float(np.degrees(np.sqrt(out))),
        cone_deg=ellipse.cone_deg,
        ellipse_deg=ellipse.semi_axes_deg,
        ellipse_axes=ellipse.directions,
        confidence=confidence,
    )


def _uniform_eigenvalues(n: int) -> Array:
    """Eigenvalues of the orientation tensor of n uniform axes, rising, many times over."""
    # The seed is fixed so that the same poles always have the same p-value.
    generator = np.random.default_rng(19770801)
    if n > _DRAWN_UP_TO:
        # Near-normal: var x² = 4/45 with covariances of −2/45, var xy = 1/15.
        parts = generator.standard_normal((_DRAWS, 3, 3))
        # Symmetric and without a trace, as what an orientation tensor has beyond a third of the identity.
        parts = (parts + np.swapaxes(parts, 1, 2)) / np.sqrt(2.0)
        trace = np.trace(parts, axis1=1, axis2=2)[:, np.newaxis, np.newaxis] / 3.0
        tensors = np.eye(3) / 3.0 + (parts - trace * np.eye(3)) / np.sqrt(15.0 * n)
        return np.linalg.eigvalsh(tensors)
    found = []
    for _ in range(10):
        rows = uniform_axes(generator, _DRAWS // 10, n)
        found.append(np.linalg.eigvalsh(np.swapaxes(rows, 1, 2) @ rows / n))
    return np.vstack(found)


def shape_test(poles: ArrayLike, *, kind: str) -> Verdict:
    """Test uniform poles against a cluster or against a girdle.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes, either end.
    kind : str
        "cluster": is the largest eigenvalue of the orientation tensor too large for uniform
        axes? "girdle": is the smallest too small?

    Returns
    -------
    Verdict
        Statistic: the eigenvalue; the p-value comes from 20,000 draws of uniform axes (above 100
        poles, of the near-normal limit of their tensors).

    Raises
    ------
    InputError
        If there is no pole, or `kind` is neither.

    Notes
    -----
    Anderson & Stephens (1972), Tests for randomness of directions against equatorial and bimodal
    alternatives, Biometrika 59: 613-621 (from memory; their printed limits are not used).

    Examples
    --------
    >>> shape_test([[1.0, 0, 0], [0, 1.0, 0], [1.0, 1.0, 0]] * 5, kind="girdle").pvalue < 0.001
    True
    """
    if kind not in ("cluster", "girdle"):
        raise InputError(f"kind must be 'cluster' or 'girdle'; got {kind!r}")
    rows, _ = sorted_out(poles, None)
    n = len(rows)
    values = np.clip(np.linalg.eigvalsh(rows.T @ rows / n), 0.0, 1.0)
    drawn = _uniform_eigenvalues(n)
    if kind == "cluster":
        statistic, beyond = values[2], (drawn[:, 2] >= values[2] - 1e-12).sum()
    else:
        # A girdle leaves one direction empty: its smallest eigenvalue is too small.
        statistic, beyond = values[0], (drawn[:, 0] <= values[0] + 1e-12).sum()
    return Verdict(
        test=f"uniform or {kind}",
        hypothesis=f"the poles are spread uniformly, with no {kind}",
        statistic=float(statistic),
        pvalue=float(beyond + 1) / (_DRAWS + 1),
        dof=(),
        n=(n,),
        reference=f"{_DRAWS} draws of uniform axes",
        assumptions="independent, fair sample",
    )


def roundness_test(poles: ArrayLike, *, axial: bool = True) -> Verdict:
    """Test whether a set is round about its mean, against longer one way than the other.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set, four or more.
    axial : bool
        Whether the rows are axes.

    Returns
    -------
    Verdict
        Statistic K, χ² with 2 degrees of freedom if round. Poles without spread have K = 0.

    Raises
    ------
    InputError
        If there are fewer than four poles.

    Notes
    -----
    Kent (1982), J. R. Stat. Soc. B 44: 71-80, Fisher against Kent: for large n, K = n e² A² / r,
    e the difference of the two eigenvalues across the mean over their sum, A and r the ratios of
    Bessel functions of order 3/2 and 5/2 to order 1/2 at κ. Here −n e² is replaced by
    (n − 2) log(1 − e²), which is exact for concentrated sets of any size (Mauchly 1940).

    Examples
    --------
    >>> t = np.linspace(-1, 1, 20)
    >>> roundness_test(np.column_stack([t, 0.1 * t**2, 3 + 0 * t])).pvalue < 0.001
    True
    """
    rows, values = sorted_out(poles, None, min_rows=4)
    n = len(rows)
    found = resultant_of(rows, values, axial=axial)
    across = found.rows @ frame_about(found.mean)[:2].T
    # Doubled angles about the mean, since an ellipse looks the same from both of its ends.
    double = (across[:, 0] + 1j * across[:, 1]) ** 2
    total = float(np.abs(double).sum())
    # Mean resultant of the doubled angles, each by how far out it lies: 0 for a round set, 1 for a line.
    long = min(1.0 - 1e-15, abs(complex(double.sum())) / total) if total > 1e-24 else 0.0
    kappa = max(1e-3, kappa_from_mean_resultant(found.shortfall / n))
    first, second = (ive([1.5, 2.5], kappa) / ive(0.5, kappa)) if kappa < 1e5 else (1.0, 1.0)
    statistic = float(-(n - 2) * np.log1p(-(long**2)) * first**2 / second)
    return Verdict(
        test="roundness",
        hypothesis="the set is round about its mean",
        statistic=statistic + 0.0,
        pvalue=float(np.exp(-0.5 * statistic)),
        dof=(2.0,),
        n=(n,),
        reference="chi squared",
        assumptions="independent poles; Fisher if round",
    )
