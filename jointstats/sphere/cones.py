"""Cones of confidence for the mean of poles: half-angles, equal weights or not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtri

from jointstats.sphere.resultant import Resultant

__all__ = ["angle_of_drop", "cone_drop", "effective_size"]

Array = NDArray[np.float64]


def angle_of_drop(drop: float) -> float:
    """Angle in degrees from 1 − cos, exact for small angles.

    Parameters
    ----------
    drop : float
        1 − cos of the angle, 0 to 2.

    Returns
    -------
    float
        Angle, 0 to 180 degrees.

    Examples
    --------
    >>> round(angle_of_drop(0.5), 9)
    60.0
    """
    if drop > 0.5:
        return float(np.degrees(np.arccos(max(-1.0, 1.0 - drop))))
    return float(np.degrees(2.0 * np.arcsin(np.sqrt(max(0.0, drop) / 2.0))))


def effective_size(weights: Array) -> float:
    """Number of equally weighted poles whose mean would be as precise: (Σw)² / Σw².

    Parameters
    ----------
    weights : ndarray, shape (n,)
        Weights above zero.

    Returns
    -------
    float
        1 to n (Kish 1965, Survey Sampling; from memory).

    Examples
    --------
    >>> effective_size(np.array([2.0, 2.0, 2.0]))
    3.0
    """
    share = weights / weights.sum()
    return float(1.0 / (share @ share))


def cone_drop(found: Resultant, confidence: float) -> float:
    """1 − cos of the half-angle of the cone of confidence, κ estimated.

    Parameters
    ----------
    found : Resultant
        The poles, by their sum.
    confidence : float
        Chance that the cone covers the true mean, above 0 and below 1.

    Returns
    -------
    float
        0 to 2; 2 if there is one pole only.

    Examples
    --------
    >>> from jointstats.sphere.resultant import resultant_of
    >>> cone_drop(resultant_of(np.eye(3)[:1], np.ones(1), axial=True), 0.95)
    2.0
    """
    n = len(found.weights)
    share = found.weights / n
    if n == 1 or found.length <= 0:
        return 2.0
    # Equal weights: 1 − cos α = (N − R)/R · (p^(−1/(N−1)) − 1), Fisher (1953), which is
    # F(2, 2(N−1)) · (N − R) / ((N − 1) R). Weights: the variance of the mean is
    # Σ h² (1 − cos) / (1 − 2h + Σh²), unbiased where the spread does not depend on the weight,
    # and the degrees of freedom are Satterthwaite's (1946, Biometrics Bull. 2: 110-114).
    q = float(share @ share)
    factor = share**2 / (1.0 - 2.0 * share + q)
    variance = float(factor @ found.drops)
    a0, a1, a2 = factor.sum(), factor @ share, factor @ share**2
    spread = q**2 * a0**2 + 2 * a0 * a2 + 2 * a1**2 - 4 * q * a0 * a1
    spread += float(factor**2 @ ((1 - 2 * share + q) ** 2 - (q - 2 * share) ** 2))
    dof = 2.0 * q**2 / spread
    quantile = float(fdtri(2.0, dof, confidence))
    return min(2.0, quantile * variance * n / found.length)
