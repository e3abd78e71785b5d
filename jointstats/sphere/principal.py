"""How well an axis of the orientation tensor is known: ellipse and cone of confidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtri

from jointstats.sphere.cones import effective_size

__all__ = ["AxisEllipse", "axis_ellipse"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class AxisEllipse:
    """Ellipse of confidence about an axis, and the cone that covers as often.

    Attributes
    ----------
    axis : ndarray, shape (3,)
        The axis.
    semi_axes_deg : ndarray, shape (2,)
        Half-angles of the ellipse, longer first, 0 to 90°.
    directions : ndarray, shape (2, 3)
        Unit vectors along them, square to the axis.
    cone_deg : float
        Half-angle of the round cone.
    confidence : float
        Level of both.

    Examples
    --------
    >>> rows = np.array([[0, 0.1, 1], [0, -0.1, 1], [0.1, 0, 1], [-0.1, 0, 1]]) / 1.01**0.5
    >>> axis_ellipse(rows, np.ones(4), which=0, confidence=0.95).cone_deg < 25
    True
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

    Parameters
    ----------
    rows : ndarray, shape (n, 3)
        Unit rows.
    weights : ndarray, shape (n,)
        Weights above zero.
    which : int
        0: the axis of the largest eigenvalue; 2: of the smallest.
    confidence : float
        Level, above 0 and below 1.

    Returns
    -------
    AxisEllipse
        90° where two eigenvalues tie or there are fewer than three poles.

    Examples
    --------
    >>> axis_ellipse(np.eye(3), np.ones(3), which=0, confidence=0.95).cone_deg
    90.0
    """
    share = weights / weights.sum()
    values, columns = np.linalg.eigh((rows * share[:, np.newaxis]).T @ rows)
    values, axes = values[::-1], columns.T[::-1]
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
