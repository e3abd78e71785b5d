"""The orientation tensor of axes: its eigenvalues, its axes, and what they say of the shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.axes import lower_hemisphere
from jointstats.sphere.cones import effective_size
from jointstats.sphere.weighing import sorted_out

__all__ = ["SHAPE_CAP", "OrientationTensor", "orientation_tensor"]

Array = NDArray[np.float64]

#: Largest shape reported; axes round about one line have it.
SHAPE_CAP = 1.0e6
#: Eigenvalues below this share count as this share in the logarithms.
_FLOOR = 1.0e-12


@dataclass(frozen=True, eq=False)
class OrientationTensor:
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
        """The axes as a table, one row an axis.

        Returns
        -------
        pandas.DataFrame
            Columns eigenvalue, trend_deg, plunge_deg.

        Examples
        --------
        >>> orientation_tensor([[0, 0, 1.0]]).to_frame()["plunge_deg"].tolist()[0]
        90.0
        """
        trend, plunge = trend_from_lines(self.axes)
        return pd.DataFrame(
            {"eigenvalue": self.eigenvalues, "trend_deg": trend, "plunge_deg": plunge}
        )

    def __repr__(self) -> str:
        values = ", ".join(f"{value:.3f}" for value in self.eigenvalues)
        return (
            f"OrientationTensor(n={self.n}, eigenvalues {values}, shape={self.shape:.2f}, "
            f"strength={self.strength:.2f})"
        )

    def _repr_html_(self) -> str:
        return self.to_frame().to_html()


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
    share = values / values.sum()
    eigenvalues, columns = np.linalg.eigh((rows * share[:, np.newaxis]).T @ rows)
    eigenvalues = np.clip(eigenvalues[::-1], 0.0, None)
    first, second, third = eigenvalues = eigenvalues / eigenvalues.sum()
    shape, strength = _shape_and_strength(eigenvalues)
    return OrientationTensor(
        n=len(rows),
        n_effective=effective_size(values),
        eigenvalues=eigenvalues,
        axes=lower_hemisphere(columns.T[::-1]),
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
