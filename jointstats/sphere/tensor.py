"""The orientation tensor of axes: its eigenvalues, its axes, and what they say of the shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import fdtri

from jointstats.results import Result
from jointstats.sphere.angles import line_columns
from jointstats.sphere.axes import lower_hemisphere, principal_axes, sorted_out
from jointstats.sphere.cones import effective_size
from jointstats.types import Array, ArrayLike

#: Largest shape reported; axes round about one line have it.
SHAPE_CAP = 1.0e6
#: Eigenvalues below this share count as this share in the logarithms.
_FLOOR = 1.0e-12


class OrientationTensor(Result):
    """Eigenvalues and axes of the mean of n nᵀ.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    n_effective : float
        Effective number, (Σw)² / Σw².
    eigenvalues : ndarray, shape (3,)
        Falling, sum 1.
    axes : ndarray, shape (3, 3)
        Rows: the unit axes of the eigenvalues, on the lower hemisphere.
    shape : float
        ln(τ₁/τ₂) / ln(τ₂/τ₃): above 1 a cluster, below 1 a girdle; 1 if all are equal; at most
        `SHAPE_CAP`.
    strength : float
        ln(τ₁/τ₃): 0 if uniform; at most 27.6, which identical poles have.
    cluster, girdle, uniform : float
        Shares τ₁ − τ₂, 2 (τ₂ − τ₃) and 3 τ₃, which sum to 1.

    Notes
    -----
    Shape and strength: Woodcock (1977), Specification of fabric shapes using an eigenvalue
    method, GSA Bull. 88: 1231-1236. Shares: Vollmer (1990), An application of eigenvalue
    methods to structural domain analysis, GSA Bull. 102: 786-791. Formulas from memory.

    Examples
    --------
    >>> orientation_tensor(np.eye(3)).shape
    1.0
    """

    _SHORT = (
        "n={n}, eigenvalues {eigenvalues[0]:.3f}, {eigenvalues[1]:.3f}, {eigenvalues[2]:.3f}, "
        "shape={shape:.2f}, strength={strength:.2f}"
    )

    n: int
    n_effective: float
    eigenvalues: Array
    axes: Array
    shape: float
    strength: float
    cluster: float
    girdle: float
    uniform: float

    def to_frame(self) -> pd.DataFrame:
        """One row an axis: eigenvalue, trend_deg, plunge_deg."""
        return pd.DataFrame({"eigenvalue": self.eigenvalues, **line_columns(self.axes)})


def orientation_tensor(poles: ArrayLike, weights: ArrayLike | None = None) -> OrientationTensor:
    """Orientation tensor Σ w n nᵀ / Σ w of poles, with its shape and strength.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes, either end.
    weights : array_like, shape (n,), or None
        Weights, zero or more.

    Returns
    -------
    OrientationTensor
        Finite for any poles, one included. Where eigenvalues tie, the axes are any that fit.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or the arrays are not axes and weights.

    Examples
    --------
    Two poles to the east for each one to the north:

    >>> orientation_tensor([[1.0, 0, 0], [-1.0, 0, 0], [0, 1.0, 0]]).eigenvalues.round(3)
    array([0.667, 0.333, 0.   ])
    """
    rows, values = sorted_out(poles, weights)
    eigenvalues, axes = principal_axes(rows, values)
    first, second, third = eigenvalues = eigenvalues / eigenvalues.sum()
    shape, strength = _shape_and_strength(eigenvalues)
    return OrientationTensor(
        n=len(rows),
        n_effective=effective_size(values),
        eigenvalues=eigenvalues,
        axes=lower_hemisphere(axes),
        shape=shape,
        strength=strength,
        cluster=float(first - second),
        girdle=float(2.0 * (second - third)),
        uniform=float(3.0 * third),
    )


def _shape_and_strength(eigenvalues: Array) -> tuple[float, float]:
    logs = np.log(np.maximum(eigenvalues, _FLOOR))
    upper, lower = logs[0] - logs[1], logs[1] - logs[2]
    if max(upper, lower) < 1e-9:
        return 1.0, 0.0
    shape = min(SHAPE_CAP, upper / max(lower, 1e-300))
    return float(shape), float(upper + lower)


@dataclass(frozen=True, eq=False)
class AxisEllipse:
    """Ellipse of confidence about an axis, and the cone that covers as often.

    `axis` (3,); `semi_axes_deg` (2,): half-angles of the ellipse, longer first, 0 to 90°;
    `directions` (2, 3): unit vectors along them, square to the axis; `cone_deg`: half-angle of
    the round cone; `confidence`: level of both.
    """

    axis: Array
    semi_axes_deg: Array
    directions: Array
    cone_deg: float
    confidence: float


def axis_ellipse(rows: Array, weights: Array, *, which: int, confidence: float) -> AxisEllipse:
    """Confidence in one axis of the orientation tensor, from the spread of the poles themselves.

    The error of axis i toward axis j has the variance Σ h² x_i² x_j² / (τ_i − τ_j)², h the shares
    of the weights (Prentice 1984, A distribution-free method of interval estimation for unsigned
    directional data, Biometrika 71: 147-154; from memory), made larger for small samples: by
    n/(n − 2) about the first axis, by the pull of each pole on the plane about the third. The
    limits are those of F with 2 and n_effective − 2 degrees of freedom.

    `rows` (n, 3): unit rows; `weights` (n,): weights above zero; `confidence`: level, above 0 and
    below 1. Gives 90° where two eigenvalues tie or there are fewer than three poles.
    """
    share = weights / weights.sum()
    values, axes = principal_axes(rows, weights)
    along = rows @ axes.T
    others = [j for j in range(3) if j != which]
    size = effective_size(weights)
    gaps = np.abs(values[which] - values[others])
    if size <= 2.0 + 1e-9 or gaps.min() < 1e-9:
        return AxisEllipse(axes[which], np.full(2, 90.0), axes[others], 90.0, confidence)
    moments = (share * along[:, which])[:, np.newaxis] * along[:, others] / gaps
    dof = size - 2.0
    if which == 2:
        # A plane fitted to poles: those at the ends of the girdle pull it to themselves.
        pull = share * (along[:, others] ** 2 / np.maximum(values[others], 1e-300)).sum(axis=1)
        moments = moments / np.maximum(1.0 - pull, 1e-3)[:, np.newaxis]
        covariance = moments.T @ moments
    else:
        covariance = moments.T @ moments * size / dof
    spread, turn = np.linalg.eigh(covariance)
    spread = np.clip(spread[::-1], 0.0, None)
    limits = np.sqrt(2.0 * fdtri(2.0, dof, confidence) * spread)
    total = float(spread.sum())
    if which == 2:
        # A round cone: spread₁ z₁² + spread₂ z₂² counts as a multiple of χ² (Box 1954).
        components = total**2 / float((spread**2).sum()) if total > 0 else 2.0
        cone = np.sqrt(float(fdtri(components, dof, confidence)) * total)
    else:
        # A round cluster: both ways tell of one spread.
        freedom = 2.0 * (size - 1.0)
        cone = np.sqrt(float(fdtri(2.0, freedom, confidence)) * total * dof / (size - 1.0))
    return AxisEllipse(
        axis=axes[which],
        semi_axes_deg=np.minimum(90.0, np.degrees(limits)),
        directions=turn.T[::-1] @ axes[others],
        cone_deg=float(min(90.0, np.degrees(cone))),
        confidence=confidence,
    )
