"""Is a set elongated? The test of each set against a round one, and the choice of shapes.

The likelihood of the whole investigation is maximised twice, with the set round and with it elliptical;
all other parameters move along, so the exposure, the overlap with other sets and the background are
in the answer. Twice the gain is referred to a chi-square with two degrees of freedom, after
multiplication by (N − 2) / N, N being the fractures of the set. With that factor the test is exact
for a concentrated set seen alone and evenly: there it is the test of sphericity in two variables
(Mauchly 1940, Annals of Mathematical Statistics 11:204-209; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError
from jointstats.fit.elliptical_fit import EllipticalFit, fit_elliptical
from jointstats.fit.elliptical_sets import (
    Data,
    EllipticalSets,
    as_elliptical,
    log_densities,
    slopes_of,
)
from jointstats.fit.likelihood import Closed, Exposure, SetParameters
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.axes import as_axes, as_weights

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.fit.mixture import JointSetMixture

__all__ = ["Elongation", "choose_shapes", "elongation_test", "test_elongation"]

Array = NDArray[np.float64]

LEVEL = 0.01  # of the test, below which a set is called elongated
_FEW = 15.0  # fractures below which only a very long set would show
# Two round sets are not taken for the halves of one beyond these: farther apart, or longer than 4.4
# times its width (2β/κ of 0.9), it is a girdle or two sets.
_WIDEST_PAIR = np.cos(np.radians(45.0))
_LONGEST = 0.9


@dataclass(frozen=True, eq=False)
class Elongation:
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
        Concentration and ellipticity of the elliptical set; β = 0 is round.
    axes : ndarray, shape (3, 3)
        Rows: mean, long axis and short axis of the elliptical set, the first two on the lower hemisphere.
    elongated : bool
        Whether p is below 0.01 and the criterion gains.

    Examples
    --------
    >>> found = Elongation(25.0, 4e-6, 60.0, 17.0, 30.0, 10.0, np.eye(3), True)
    >>> round(found.width_ratio, 2)
    2.24
    """

    statistic: float
    pvalue: float
    n: float
    bic_gain: float
    kappa: float
    beta: float
    axes: Array
    elongated: bool

    @property
    def width_ratio(self) -> float:
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
            f"about {self.width_ratio:.1f} times as wide along the long axis (trend "
            f"{trend[0]:.0f}°, plunge {plunge[0]:.0f}°) as across it"
        )
        if self.elongated:
            return f"Elongated: a round set is contradicted ({basis}); {shape}."
        if self.pvalue < LEVEL:
            return (
                f"Perhaps elongated: a round set is contradicted ({basis}), but the gain does not "
                f"pay for two more parameters; {shape}."
            )
        few = "; few fractures, so only a very long set would show" if self.n < _FEW else ""
        return f"Round: not contradicted at the 1% level ({basis}{few})."

    def to_frame(self) -> pd.DataFrame:
        """The result as a table of one row.

        Returns
        -------
        pandas.DataFrame
            Columns statistic, pvalue, n, bic_gain, kappa, beta, width_ratio, spread_long_deg,
            spread_short_deg, long_axis_trend_deg, long_axis_plunge_deg, elongated, sentence.

        Examples
        --------
        >>> Elongation(1.0, 0.6, 9.0, -3.0, 30.0, 1.0, np.eye(3), False).to_frame().shape
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
            "width_ratio": self.width_ratio,
            "spread_long_deg": self.spread_deg[0],
            "spread_short_deg": self.spread_deg[1],
            "long_axis_trend_deg": float(trend[0]),
            "long_axis_plunge_deg": float(plunge[0]),
            "elongated": self.elongated,
            "sentence": self.sentence,
        }
        return pd.DataFrame([row])

    def __repr__(self) -> str:
        return f"Elongation({self.sentence})"

    def _repr_html_(self) -> str:
        return self.to_frame().T.to_html(header=False)


def _with_shape(elliptical: NDArray[np.bool_], k: int, value: bool) -> NDArray[np.bool_]:
    changed = elliptical.copy()
    changed[k] = value
    return changed


def _test_one(data: Data, fit: EllipticalFit, k: int) -> tuple[Elongation, EllipticalFit]:
    """Test set k of a fit in which the others keep their shapes; and the fit with k changed."""
    other = fit_elliptical(data, fit.parameters, _with_shape(fit.elliptical, k, not fit.elliptical[k]))
    elliptical, plain = (fit, other) if fit.elliptical[k] else (other, fit)
    gain = max(2.0 * (elliptical.log_likelihood - plain.log_likelihood), 0.0)
    n = float(plain.counts[k])
    statistic = gain * max(n - 2.0, 0.0) / max(n, 1.0)
    # The chi-square of two degrees of freedom is an exponential of mean 2.
    pvalue = float(np.exp(-0.5 * statistic))
    bic_gain = gain - 2.0 * float(np.log(max(data.total, 1.0)))
    sets = elliptical.parameters
    found = Elongation(
        statistic,
        pvalue,
        n,
        bic_gain,
        float(sets.kappas[k]),
        float(sets.betas[k]),
        sets.frames[k],
        pvalue < LEVEL and bic_gain > 0,
    )
    return found, other


def _as_fit(data: Data, sets: EllipticalSets) -> EllipticalFit:
    slopes = slopes_of(data, sets)
    return EllipticalFit(sets, sets.betas > 0, slopes.log_likelihood, slopes.counts, 0, True)


def test_elongation(
    rows: Array,
    weights: Array,
    parameters: SetParameters | EllipticalSets,
    exposure: Exposure | None,
    *,
    closed: Closed = None,
    kappa_bounds: tuple[float, float] = (4.0, 1000.0),
) -> tuple[Elongation, ...]:
    """Test every set of a fit against a round one.

    Parameters
    ----------
    rows : ndarray, shape (n, 3)
        Unit rows that the holes could see.
    weights : ndarray, shape (n,)
    parameters : SetParameters or EllipticalSets
        The fit, at its maximum.
    exposure : Exposure or None
    closed : ndarray of bool, shape (n, G), or None
        Rows that may not join each of the first G sets.
    kappa_bounds : (float, float)
        Those of the fit.

    Returns
    -------
    tuple of Elongation
        One a set, in their order.
    """
    data = Data(rows, weights, exposure, closed, kappa_bounds=kappa_bounds)
    fit = _as_fit(data, as_elliptical(parameters))
    return tuple(_test_one(data, fit, k)[0] for k in range(len(fit.elliptical)))


# pytest collects what is named test_*; this is no test of ours.
test_elongation.__test__ = False  # type: ignore[attr-defined]


def elongation_test(
    model: JointSetMixture,
    X: ArrayLike,
    *,
    exposure: Exposure | None = None,
    sample_weight: ArrayLike | None = None,
) -> tuple[Elongation, ...]:
    """Test whether each set of a fitted mixture is elongated rather than round.

    Parameters
    ----------
    model : JointSetMixture
        Fitted to `X`.
    X : array_like, shape (n, 3)
        Axes of the fit.
    exposure : LineExposure or None
        As in the fit. Without it, or with a wrong one, a round set seen at an angle looks elongated.
    sample_weight : array_like, shape (n,), or None
        As in the fit. A weight counts as that many fractures, so weights that stretch the data also
        stretch the test.

    Returns
    -------
    tuple of Elongation
        One a set, in the order of the model.

    Raises
    ------
    InputError
        If `X` is not axes in three columns, or the model has other columns.

    Notes
    -----
    A likelihood-ratio test of Kent's (1982) density against Fisher's, inside the mixture. A set that
    is two sets close together can also look elongated.

    Examples
    --------
    A set of poles three times as wide one way as the other is found out:

    >>> import jointstats as js
    >>> from jointstats.sphere.elliptical import sample
    >>> poles = sample([[0, 0, 1], [1, 0, 0], [0, 1, 0]], 40.0, 16.0, 100, random_state=0)
    >>> model = js.JointSetMixture(1).fit(poles)
    >>> [one.elongated for one in js.fit.elongation_test(model, poles)]
    [True]
    """
    if model.n_features_in_ != 3:
        raise InputError(
            f"elongation is tested in three columns; the model has {model.n_features_in_}"
        )
    rows = as_axes(X, "X")
    weights = as_weights(sample_weight, len(rows), "sample_weight")
    used = weights > 0
    if exposure is not None:
        used &= exposure.at(rows) > 0
    bounds = tuple(model.kappa_bounds)
    return test_elongation(
        rows[used], weights[used], model._parameters, exposure, kappa_bounds=bounds
    )


def choose_shapes(
    data: Data,
    parameters: SetParameters,
    shape: str,
    *,
    n_given: int = 0,
    may_merge: bool = False,
) -> tuple[EllipticalFit, tuple[Elongation, ...]]:
    """Make sets elliptical, from their round fit.

    Parameters
    ----------
    data : Data
    parameters : SetParameters
        The round fit.
    shape : "elongated" or "auto"
        Every set elliptical, or those whose test rejects at 1% and whose criterion gains.
    n_given : int
        The first sets, which are not merged.
    may_merge : bool
        Whether two round sets, at most 45° apart, may become one elliptical set where the criterion
        gains: round sets come in a row where the rock has one long set.

    Returns
    -------
    EllipticalFit
    tuple of Elongation
        The test of each set, with the others as they are in the fit.
    """
    fit = _as_fit(data, as_elliptical(parameters))
    if may_merge:
        fit = _merged(data, fit, n_given)
    if shape == "elongated":
        everyone = np.ones(len(fit.elliptical), bool)
        fit = fit_elliptical(data, fit.parameters, everyone)
    while True:
        tried = [_test_one(data, fit, k) for k in range(len(fit.elliptical))]
        tests = tuple(test for test, _ in tried)
        # One set a turn, that of the greatest gain: one change may make another needless.
        wrong = [
            k
            for k, test in enumerate(tests)
            if shape == "auto" and test.elongated and not fit.elliptical[k]
        ]
        if not wrong:
            return fit, tests
        fit = tried[max(wrong, key=lambda k: tests[k].statistic)][1]


def _pooled(data: Data, fit: EllipticalFit, i: int, j: int) -> EllipticalSets:
    """The sets with i made an elliptical one of the fractures of i and j, and j left out."""
    logs = log_densities(data.rows, fit.parameters, data.closed)
    shares = np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis])
    weights = (shares[:, i] + shares[:, j]) * data.weights
    second = (data.rows * weights[:, np.newaxis]).T @ data.rows / max(weights.sum(), 1e-300)
    values, vectors = np.linalg.eigh(second)
    # Variances 1/(κ − 2β) and 1/(κ + 2β), as in a tangent plane.
    narrow, wide = 1.0 / np.clip(values[:2], 1e-3, 0.5)
    kappa = float(np.clip(0.5 * (narrow + wide), *data.kappa_bounds))
    beta = float(min(0.25 * (narrow - wide), 0.45 * kappa))
    frame = vectors.T[::-1].copy()
    frame[2] = np.cross(frame[0], frame[1])
    sets = fit.parameters
    frames, kappas = sets.frames.copy(), sets.kappas.copy()
    betas, intensities = sets.betas.copy(), sets.intensities.copy()
    frames[i], kappas[i], betas[i] = frame, kappa, beta
    intensities[i] += intensities[j]
    keep = [k for k in range(len(kappas)) if k != j]
    return EllipticalSets(frames, kappas, betas, intensities, sets.background).take(keep)


def _merged(data: Data, fit: EllipticalFit, n_given: int) -> EllipticalFit:
    """Merge pairs of sets into elliptical ones for as long as the criterion gains."""
    near = np.abs(fit.parameters.means @ fit.parameters.means.T) >= _WIDEST_PAIR
    pairs = np.argwhere(np.triu(near, 1))
    best = fit
    for i, j in pairs[(pairs >= n_given).all(axis=1)]:
        elliptical = np.delete(_with_shape(fit.elliptical, i, True), j)
        start = _pooled(data, fit, int(i), int(j))
        one = fit_elliptical(data, start, elliptical)
        made = one.parameters
        halves = 2.0 * made.betas[i] <= _LONGEST * made.kappas[i]
        if halves and one.bic(data.total) < best.bic(data.total):
            best = one
    return fit if best is fit else _merged(data, best, n_given)
