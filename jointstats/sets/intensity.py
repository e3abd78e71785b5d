"""P32 of a set by three estimators side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv

from jointstats.borehole.exposure import LineExposure, terzaghi_weights
from jointstats.checks import check_confidence
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes
from jointstats.types import Array, ArrayLike, Interval

if TYPE_CHECKING:
    import pandas as pd


_REMARKS = {
    "weights": "Sum of the weights over the logged length; cut at the blind angle, so too small "
    "where much of the set lies below it.",
    "combined exposure": "All holes at once; blind to orientations that no hole sees.",
    "likelihood": "Number over the mean exposure of a Fisher set; fills in what the blind zone "
    "hides.",
}


@dataclass(frozen=True)
class P32Estimate:
    """P32 of a set by one estimator.

    Attributes
    ----------
    estimator : str
        "weights", "combined exposure" or "likelihood".
    p32_per_m : float
    interval : (float, float)
    remark : str
        What the estimator does, and when not to trust it.

    Examples
    --------
    >>> P32Estimate("weights", 1.2, (0.9, 1.6), "each hole by its own weights").p32_per_m
    1.2
    """

    estimator: str
    p32_per_m: float
    interval: Interval
    remark: str


@dataclass(frozen=True)
class P32Estimates:
    """P32 of a set by three estimators, and the one to use.

    Attributes
    ----------
    estimates : tuple of P32Estimate
        Classical weights, combined exposure, likelihood.
    recommended : str
        Name of one of them.
    reason : str
        Why.
    n, n_used : int
        Fractures of the set, and those above the blind angle.
    seen_share : float
        Share of the set's fractures met by the holes that lie above the blind angle.
    confidence : float

    Examples
    --------
    >>> import jointstats as js
    >>> hole = js.LineExposure([[0, 0, -1]], [50.0])
    >>> poles = js.sphere.AxialFisher([0, 0, -1], 200.0).rvs(100, random_state=1)
    >>> found = js.sets.p32_estimates(poles, [[0, 0, -1]], hole)
    >>> [round(one.p32_per_m, 1) for one in found.estimates]
    [2.0, 2.0, 2.0]
    """

    estimates: tuple[P32Estimate, ...]
    recommended: str
    reason: str
    n: int
    n_used: int
    seen_share: float
    confidence: float

    @property
    def best(self) -> P32Estimate:
        """The estimate recommended."""
        return next(one for one in self.estimates if one.estimator == self.recommended)

    def to_frame(self) -> pd.DataFrame:
        """One row an estimator."""
        import pandas as pd

        rows = [
            {
                "estimator": one.estimator,
                "p32_per_m": one.p32_per_m,
                "p32_low_per_m": one.interval[0],
                "p32_high_per_m": one.interval[1],
                "recommended": one.estimator == self.recommended,
                "remark": one.remark,
            }
            for one in self.estimates
        ]
        return pd.DataFrame(rows)


def _weighted_interval(weights: Array, confidence: float) -> Interval:
    """Interval of a sum of weights of Poisson events.

    A gamma variable of the same mean and variance, moved by half a typical weight: for equal
    weights the interval with Jeffreys' prior (after Fay & Feuer 1997, Stat. Med. 16:791-801; from
    memory).
    """
    tail = 0.5 * (1.0 - confidence)
    total, square = weights.sum(), (weights**2).sum()
    if total == 0:
        return 0.0, 0.0
    typical = square / total
    low, high = typical * gammaincinv(total / typical + 0.5, [tail, 1.0 - tail])
    return float(low), float(high)


def p32_estimates(
    poles: ArrayLike,
    hole_directions: ArrayLike,
    exposure: LineExposure,
    *,
    confidence: float = 0.95,
) -> P32Estimates:
    """P32 of one set by classical weights, by the combined exposure, and by likelihood.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of the fractures given to the set, either end.
    hole_directions : array_like, shape (n, 3) or (1, 3)
        Direction of the hole at each.
    exposure : LineExposure
        Of all the logged lengths, those that met none of the set too; its blind angle is used.
    confidence : float

    Returns
    -------
    P32Estimates
        "weights": Σ 1 / max(|cos δ|, sin ψ) over the logged length (Terzaghi 1965).
        "combined exposure": Σ 1 / E(n) over the fractures above the blind angle.
        "likelihood": the one axial Fisher set of largest Poisson likelihood, P32 = N / mean E.

    Raises
    ------
    InputError
        If there are fewer than three fractures above the blind angle, or shapes differ.

    Examples
    --------
    >>> import jointstats as js
    >>> hole = js.LineExposure([[0, 0, -1]], [50.0])
    >>> poles = js.sphere.AxialFisher([0, 0, -1], 200.0).rvs(100, random_state=1)
    >>> p32_estimates(poles, [[0, 0, -1]], hole).recommended
    'likelihood'
    """
    from jointstats.fit.mixture import JointSetMixture

    level = check_confidence(confidence)
    normals, lines = as_axes(poles), as_axes(hole_directions, "hole_directions")
    blind = exposure.blind_angle_deg
    cosine = np.abs((normals * lines).sum(axis=1))
    above = cosine >= np.sin(np.radians(blind)) - 1e-12
    if above.sum() < 3:
        raise InputError(
            f"P32 needs at least 3 fractures above the blind angle of {blind:g}°; got {above.sum()}"
        )
    model = JointSetMixture(1, background=False, confidence=level, random_state=0)
    model.fit(normals[above], exposure=exposure)
    seen = exposure.seen_share(model.means_[0], float(model.kappas_[0]))
    weights = terzaghi_weights(normals, lines, blind_angle_deg=max(blind, 1e-3))
    estimates = (
        _estimate("weights", weights / exposure.total_m, level),
        _estimate("combined exposure", 1.0 / exposure.at(normals[above]), level),
        P32Estimate(
            "likelihood",
            float(model.intensities_[0]),
            model.certainty_.intensity_interval(0),
            _REMARKS["likelihood"],
        ),
    )
    return P32Estimates(
        estimates, "likelihood", _reason(seen), len(normals), int(above.sum()), float(seen), level
    )


def _estimate(name: str, weights: Array, confidence: float) -> P32Estimate:
    interval = _weighted_interval(weights, confidence)
    return P32Estimate(name, float(weights.sum()), interval, _REMARKS[name])


def _reason(seen_share: float) -> str:
    if seen_share > 0.95:
        return (
            "The holes see nearly all of this set, so the three should agree; the likelihood has "
            "the smallest error and the interval that allows for the unknown mean and kappa."
        )
    return (
        f"Only {100 * seen_share:.0f} % of the fractures of this set that the holes meet lie above "
        "the blind angle. The weights and the combined exposure leave the rest out; the likelihood "
        "fills it in from the shape of a Fisher set, and is only as good as that shape."
    )
