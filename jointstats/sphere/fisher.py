"""Fisher statistics of a set of poles: mean, spread, and how well the mean is known."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from jointstats.checks import check_confidence
from jointstats.results import Result
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axes import lower_hemisphere, sorted_out
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.sphere.cones import angle_of_drop, cone_drop, effective_size
from jointstats.sphere.resultant import Resultant, resultant_of
from jointstats.types import Array, ArrayLike

#: No concentration is reported above this one (a spread of about a thousandth of a degree);
#: identical poles have it.
KAPPA_CAP = 1.0e10


class FisherStatistics(Result):
    """Fisher statistics of one set of poles.

    Attributes
    ----------
    n : int
        Number of poles with a weight above zero.
    n_effective : float
        Effective number, (Σw)² / Σw²; n if all weights are equal.
    mean : ndarray, shape (3,)
        Mean pole, unit vector on the lower hemisphere (directed data: the mean direction).
    dip_deg, dip_direction_deg : float
        The plane of the mean pole.
    resultant_length : float
        R, weights scaled to sum to n.
    mean_resultant : float
        R / n.
    kappa : float
        Concentration (n − 1) / (n − R).
    kappa_unbiased : float
        (n − 2) / (n − R); with weights, n (1 − 2 / n_effective) / (n − R), not below zero.
    kappa_mle : float
        Maximum likelihood: coth κ − 1/κ = R / n.
    cone_deg : float
        Half-angle of the cone of confidence of the mean.
    spread_cone_deg : float
        Half-angle of the cone about the mean that holds `share` of a set with this mean and
        `kappa`.
    angular_deviation_deg : float
        Angular standard deviation, arccos(R / n).
    confidence : float
        Level of `cone_deg`.
    share : float
        Share of poles of `spread_cone_deg`.
    axial : bool
        Whether the poles were taken as axes.

    Examples
    --------
    >>> fisher_statistics([[0, 0, 1.0], [0, 0.1, 1.0], [0.1, 0, -1.0]]).n
    3
    """

    _SHORT = (
        "n={n} (effective {n_effective:.3g}), dip/dip direction {dip_deg:.1f}/"
        "{dip_direction_deg:05.1f}, R={resultant_length:.3f}, kappa={kappa:.1f}, "
        "cone {cone_deg:.1f} deg at {confidence:.0%}"
    )

    n: int
    n_effective: float
    mean: Array
    dip_deg: float
    dip_direction_deg: float
    resultant_length: float
    mean_resultant: float
    kappa: float
    kappa_unbiased: float
    kappa_mle: float
    cone_deg: float
    spread_cone_deg: float
    angular_deviation_deg: float
    confidence: float
    share: float
    axial: bool

    def _row(self) -> dict[str, object]:
        return super()._row() | dict(
            zip(("mean_east", "mean_north", "mean_up"), self.mean, strict=True)
        )


def kappa_from_mean_resultant(shortfall: float) -> float:
    """Solve coth κ − 1/κ = R/n for κ.

    `shortfall`: 1 − R/n, 0 to 1. Gives concentration, 0 to `KAPPA_CAP`.
    """
    if shortfall >= 1.0 - 1e-9:
        return 0.0
    # coth κ is one to the last bit above 20.
    if shortfall < 0.05:
        return min(KAPPA_CAP, 1.0 / shortfall) if shortfall > 1.0 / KAPPA_CAP else KAPPA_CAP

    def excess(kappa: float) -> float:
        if kappa < 1e-3:
            return kappa / 3.0 - (1.0 - shortfall)
        return 1.0 / np.tanh(kappa) - 1.0 / kappa - (1.0 - shortfall)

    return float(brentq(excess, 0.0, 25.0, xtol=1e-13, rtol=1e-14))


def _kappas(found: Resultant, effective: float) -> tuple[float, float, float]:
    """Moment, unbiased and maximum likelihood estimates."""
    n = len(found.weights)
    if n == 1:
        return 0.0, 0.0, 0.0
    short = found.shortfall
    moment = min(KAPPA_CAP, (n - 1) / max(short, 1e-300))
    # E(n − R) = n (1 − 1/n_eff) / κ and 2κ(n − R) is χ² like with 2 (n_eff − 1) degrees of
    # freedom, whose reciprocal has a mean (n_eff − 1) / (n_eff − 2) too large.
    unbiased = min(KAPPA_CAP, max(0.0, n * (1.0 - 2.0 / effective)) / max(short, 1e-300))
    return moment, unbiased, kappa_from_mean_resultant(short / n)


def fisher_statistics(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    axial: bool = True,
    confidence: float = 0.95,
    share: float = 0.95,
) -> FisherStatistics:
    """Mean pole of a set, its concentration, and the cone in which the true mean lies.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set, either end.
    weights : array_like, shape (n,), or None
        Weights, zero or more, as the Terzaghi weights; only their ratios matter.
    axial : bool
        True: poles are axes, and the mean is the one whose resultant is longest over all
        choices of ends. False: rows are directions.
    confidence : float
        Level of the cone of confidence.
    share : float
        Share of the poles that the variability cone holds.

    Returns
    -------
    FisherStatistics
        Finite for any poles. Identical poles have κ = `KAPPA_CAP` (1e10) and cones of zero. One
        pole says nothing of the spread: κ is 0, and the cone of confidence is as wide as can be
        (90°; 180° if directed). So is that of directed rows that cancel.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, the arrays are not axes and weights, or a
        level is not between 0 and 1.

    Notes
    -----
    Fisher (1953), Dispersion on a sphere, Proc. R. Soc. A 217: 295-305, for equal weights.
    With weights, the cone rests on the weighted spread of the poles themselves and on degrees
    of freedom that fall with uneven weights; see `jointstats.sphere.cones`. For wide sets of
    axes it allows for poles that change ends (`fold_inflation`; nothing above κ 12).

    Weights must be one over the chance of meeting a pole. Where they are not, because a hole saw
    nothing below its blind angle or weights were held down, the mean itself is off, and no cone
    covers that: with one hole at 80° to the mean pole, κ 100, 100 poles met in proportion to
    |cos δ| but weighted by 1 / max(|cos δ|, sin 10°), the 95% cone covered 15 times in 100.

    Taking ends also draws in wide sets: uniform axes have a κ of about 2.

    Examples
    --------
    Four planes around one that dips 60° to the east, two of them given by their upper pole:

    >>> from jointstats import poles_from_dip
    >>> poles = poles_from_dip([55, 65, 60, 60], [90, 90, 85, 95])
    >>> poles[2:] *= -1
    >>> fisher_statistics(poles)  # doctest: +NORMALIZE_WHITESPACE
    FisherStatistics(n=4 (effective 4), dip/dip direction 60.0/090.0, R=3.987, kappa=225.3,
                     cone 6.1 deg at 95%)
    """
    confidence, share = check_confidence(confidence), check_confidence(share, "share")
    rows, values = sorted_out(poles, weights)
    found = resultant_of(rows, values, axial=axial)
    n, effective = len(rows), effective_size(values)
    mean = lower_hemisphere(found.mean)[0] if axial else found.mean
    dip, direction = dip_from_poles(mean)
    moment, unbiased, mle = _kappas(found, effective)
    widest = 1.0 if axial else 2.0
    return FisherStatistics(
        n=n,
        n_effective=effective,
        mean=mean,
        dip_deg=float(dip[0]),
        dip_direction_deg=float(direction[0]),
        resultant_length=found.length,
        mean_resultant=found.length / n,
        kappa=moment,
        kappa_unbiased=unbiased,
        kappa_mle=mle,
        cone_deg=angle_of_drop(min(widest, cone_drop(found, confidence))),
        spread_cone_deg=_spread_cone_deg(moment, share, axial),
        angular_deviation_deg=angle_of_drop(min(1.0, found.shortfall / n)),
        confidence=confidence,
        share=share,
        axial=axial,
    )


def _spread_cone_deg(kappa: float, share: float, axial: bool) -> float:
    if axial:
        return float(AxialFisher(np.array([0.0, 0.0, -1.0]), kappa).ppf(share)[0])
    if kappa < 1e-7:
        return angle_of_drop(2.0 * share)
    return angle_of_drop(-np.log1p(share * np.expm1(-2.0 * kappa)) / kappa)
