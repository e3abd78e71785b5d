"""Is a set elliptical? The test of each set against a round one.

The likelihood of the whole investigation is maximised twice, with the set round and with it elliptical;
all other parameters move along, so the exposure, the overlap with other sets and the background are
in the answer. Twice the gain is referred to a chi-square with two degrees of freedom, after
multiplication by (N − 2) / N, N being the fractures of the set. With that factor the test is exact
for a concentrated set seen alone and evenly: there it is the test of sphericity in two variables
(Mauchly 1940, Annals of Mathematical Statistics 11:204-209; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from jointstats.errors import InputError
from jointstats.fit.data import FitData
from jointstats.fit.descriptions import as_elliptical
from jointstats.fit.shaped import ShapedFit, fit_shaped
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.set_shapes import RoundDensity
from jointstats.types import Array

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["EllipticalTest", "elliptical_test", "roundness_of"]


LEVEL = 0.01  # of the test, below which a set is called elliptical
_FEW = 15.0  # fractures below which only a very long set would show


class FittedSets(Protocol):
    """What the test asks of a fitted `JointSetMixture`."""

    n_features_in_: int
    n_sets_: int
    data_: FitData
    fit_: ShapedFit


@dataclass(frozen=True, eq=False)
class EllipticalTest:
    """Test of one set against a round one.

    Attributes
    ----------
    statistic : float
        Twice the gain of log likelihood by two parameters of ellipticity, times (N − 2) / N.
    pvalue : float
        Chance of a statistic as large if the set is round in the rock, 0 to 1.
    n : float
        Fractures of the set, by the sum of their memberships.
    bic_gain : float
        By how much an elliptical set lowers the Bayesian information criterion.
    kappa, beta : float
        κ and e of the elliptical set; β = 0 is round.
    axes : ndarray, shape (3, 3)
        Rows: mean, long axis and short axis of the elliptical set, the first two on the lower hemisphere.
    elliptical : bool
        Whether p is below 0.01 and the criterion gains.

    Examples
    --------
    >>> found = EllipticalTest(25.0, 4e-6, 60.0, 17.0, 30.0, 10.0, np.eye(3), True)
    >>> round(found.axial_ratio, 2)
    2.24
    """

    statistic: float
    pvalue: float
    n: float
    bic_gain: float
    kappa: float
    beta: float
    axes: Array
    elliptical: bool

    @property
    def axial_ratio(self) -> float:
        """Spread along the long axis over the spread along the short one: √((κ + 2β)/(κ − 2β))."""
        twice = 2.0 * self.beta
        return float(np.sqrt((self.kappa + twice) / (self.kappa - twice)))

    @property
    def spread_deg(self) -> tuple[float, float]:
        """Angular standard deviation along the long axis and along the short one, degrees.

        Of the tangent plane, 1/√(κ ∓ 2β); large values are only a guide.
        """
        narrow = np.array([self.kappa - 2.0 * self.beta, self.kappa + 2.0 * self.beta])
        long, short = np.degrees(1.0 / np.sqrt(narrow))
        return float(long), float(short)

    @property
    def sentence(self) -> str:
        """The finding, for the reader of a report."""
        chance = "p < 0.001" if self.pvalue < 0.001 else f"p = {self.pvalue:.2g}"
        basis = f"{chance}; {self.n:.0f} fractures"
        trend, plunge = trend_from_lines(self.axes[1])
        shape = (
            f"about {self.axial_ratio:.1f} times as wide along the long axis (trend "
            f"{trend[0]:.0f}°, plunge {plunge[0]:.0f}°) as across it"
        )
        if self.elliptical:
            return f"Elliptical: a round set is contradicted ({basis}); {shape}."
        if self.pvalue < LEVEL:
            return (
                f"Perhaps elliptical: a round set is contradicted ({basis}), but the gain does not "
                f"pay for two more parameters; {shape}."
            )
        few = "; few fractures, so only a very long set would show" if self.n < _FEW else ""
        return f"Round: not contradicted at the 1% level ({basis}{few})."

    def to_frame(self) -> pd.DataFrame:
        """The result as a table of one row.

        Returns
        -------
        pandas.DataFrame
            Columns statistic, pvalue, n, bic_gain, kappa, beta, axial_ratio, spread_long_deg,
            spread_short_deg, long_axis_trend_deg, long_axis_plunge_deg, elliptical, sentence.

        Examples
        --------
        >>> EllipticalTest(1.0, 0.6, 9.0, -3.0, 30.0, 1.0, np.eye(3), False).to_frame().shape
        (1, 13)
        """
        import pandas as pd

        trend, plunge = trend_from_lines(self.axes[1])
        row = {
            "statistic": self.statistic,
            "pvalue": self.pvalue,
            "n": self.n,
            "bic_gain": self.bic_gain,
            "kappa": self.kappa,
            "beta": self.beta,
            "axial_ratio": self.axial_ratio,
            "spread_long_deg": self.spread_deg[0],
            "spread_short_deg": self.spread_deg[1],
            "long_axis_trend_deg": float(trend[0]),
            "long_axis_plunge_deg": float(plunge[0]),
            "elliptical": self.elliptical,
            "sentence": self.sentence,
        }
        return pd.DataFrame([row])

    def __repr__(self) -> str:
        return f"EllipticalTest({self.sentence})"

    def _repr_html_(self) -> str:
        return self.to_frame().T.to_html(header=False)


def roundness_of(data: FitData, fit: ShapedFit, k: int) -> EllipticalTest | None:
    """Test set k of a fit against a round one, under the rules of the fit; None for a girdle."""
    density = fit.rock.densities[k]
    if density.shape == "girdle":
        return None
    if density.shape == "elliptical":
        plain = RoundDensity(density.frame, density.concentration)
        round_fit, long = fit_shaped(data, fit.rock.replaced(k, plain)), fit
    else:
        round_fit, long = fit, fit_shaped(data, fit.rock.replaced(k, as_elliptical(density)))
    gain = max(2.0 * (long.log_likelihood - round_fit.log_likelihood), 0.0)
    n = float(round_fit.counts[k])
    statistic = gain * max(n - 2.0, 0.0) / max(n, 1.0)
    # The chi-square of two degrees of freedom is an exponential of mean 2.
    pvalue = float(np.exp(-0.5 * statistic))
    bic_gain = gain - 2.0 * float(np.log(max(data.total, 1.0)))
    found = long.rock.densities[k]
    return EllipticalTest(
        statistic,
        pvalue,
        n,
        bic_gain,
        found.concentration,
        found.ellipticity,
        found.frame,
        pvalue < LEVEL and bic_gain > 0,
    )


def elliptical_test(model: FittedSets) -> tuple[EllipticalTest | None, ...]:
    """Test whether each set of a fitted mixture is elliptical rather than round.

    Parameters
    ----------
    model : JointSetMixture
        Fitted; the test works under the rules of its fit: weights, exposure, held means, rows that
        may not join.

    Returns
    -------
    tuple of EllipticalTest or None
        One a set, in the order of the model; None for a girdle.

    Raises
    ------
    InputError
        If the model has other than three columns.

    Notes
    -----
    A likelihood-ratio test of Kent's (1982) density against Fisher's, inside the mixture. A set that
    is two sets close together can also look elliptical. Without an exposure, or with a wrong one, a
    round set seen at an angle does too.

    Examples
    --------
    A set of poles three times as wide one way as the other is found out:

    >>> import jointstats as js
    >>> long = js.sphere.EllipticalDensity(np.eye(3)[[2, 0, 1]], 40.0, 16.0)
    >>> model = js.JointSetMixture(1).fit(long.sample(100, random_state=0))
    >>> [one.elliptical for one in js.fit.elliptical_test(model)]
    [True]
    """
    if model.n_features_in_ != 3:
        raise InputError(
            f"ellipticity is tested in three columns; the model has {model.n_features_in_}"
        )
    return tuple(roundness_of(model.data_, model.fit_, k) for k in range(model.n_sets_))
