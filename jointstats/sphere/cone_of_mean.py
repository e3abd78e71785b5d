"""The cone of confidence of a mean, by the method of one's choice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axes import lower_hemisphere
from jointstats.sphere.axial_fisher import check_kappa
from jointstats.sphere.cones import (
    angle_of_drop,
    cone_drop,
    effective_size,
    known_kappa_drop,
)
from jointstats.sphere.resultant import Resultant, resultant_of
from jointstats.sphere.weighing import check_level, sorted_out

__all__ = ["MeanCone", "mean_cone"]

Array = NDArray[np.float64]

_ASSUMED = {
    "estimated": "independent poles, a Fisher set, kappa estimated",
    "known kappa": "independent poles, a Fisher set, kappa known beforehand",
    "bootstrap": "independent poles, ten or more; any shape of set",
}


@dataclass(frozen=True, eq=False)
class MeanCone:
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

    n: int
    n_effective: float
    mean: Array
    cone_deg: float
    confidence: float
    method: str
    assumptions: str

    def to_frame(self) -> pd.DataFrame:
        """The cone as a table of one row.

        Returns
        -------
        pandas.DataFrame
            Columns n, n_effective, dip_deg, dip_direction_deg, cone_deg, confidence, method,
            assumptions.

        Examples
        --------
        >>> mean_cone([[0, 0, 1.0]]).to_frame()["cone_deg"].round(3).tolist()
        [90.0]
        """
        dip, direction = dip_from_poles(self.mean)
        row = {
            "n": self.n,
            "n_effective": self.n_effective,
            "dip_deg": dip[0],
            "dip_direction_deg": direction[0],
            "cone_deg": self.cone_deg,
            "confidence": self.confidence,
            "method": self.method,
            "assumptions": self.assumptions,
        }
        return pd.DataFrame([row])

    def __repr__(self) -> str:
        return (
            f"MeanCone({self.method}, n={self.n}, {self.cone_deg:.2f} deg at {self.confidence:.0%})"
        )

    def _repr_html_(self) -> str:
        return self.to_frame().T.to_html(header=False)


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
    for _ in range(4 if found.axial else 1):
        along = np.einsum("bni,bi->bn", rows, means)
        signs = np.where(along < 0, -1.0, 1.0) if found.axial else 1.0
        totals = np.einsum("bn,bni->bi", weights * signs, rows)
        lengths = np.maximum(np.linalg.norm(totals, axis=1), 1e-12)
        means = totals / lengths[:, np.newaxis]
    along = np.einsum("bni,bi->bn", rows, means)
    gaps = 1.0 - np.minimum(1.0, np.abs(along) if found.axial else along)
    spreads = (weights**2 * gaps).sum(axis=1) / (weights.sum(axis=1) * lengths)
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
    random_state: int | np.random.Generator | None = 0,
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
    if method not in _ASSUMED:
        raise InputError(f"method must be one of {', '.join(_ASSUMED)}; got {method!r}")
    if (kappa is not None) != (method == "known kappa"):
        raise InputError("kappa goes with method 'known kappa', and only with it")
    if draws < 99:
        raise InputError(f"draws must be 99 or more; got {draws}")
    confidence = check_level(confidence, "confidence")
    rows, values = sorted_out(poles, weights)
    found = resultant_of(rows, values, axial=axial)
    if method == "known kappa":
        drop = known_kappa_drop(found, float(check_kappa(kappa)), confidence)
    elif method == "bootstrap" and len(rows) > 1 and found.length > 0:
        drop = _bootstrap_drop(found, confidence, draws, np.random.default_rng(random_state))
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
