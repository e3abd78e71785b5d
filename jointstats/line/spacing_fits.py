"""Laws fitted to the spacings of a set, censored pieces counted, compared and tested."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.optimize import minimize
from scipy.stats import t as student

from jointstats.checks import as_generator, as_numbers, check_number
from jointstats.errors import InputError
from jointstats.line.spacing import SpacingStatistics
from jointstats.line.spacing_laws import LAWS, SpacingLaw
from jointstats.results import Result
from jointstats.types import Array, ArrayLike, Interval, RandomState

#: Fewest complete spacings that a law is fitted to.
FEWEST = 5
_TINY = 1e-300  # a chance too small to write down


class SpacingFit(Result):
    """One law fitted to the spacings of a set.

    Attributes
    ----------
    law : str
        "exponential", "lognormal", "Weibull" or "gamma".
    parameters : dict of str to float
    mean_m, median_m : float
        Of the law, metres.
    log_likelihood, aic : float
        Akaike's criterion is 2 (number of parameters) − 2 (log likelihood); smaller is better.
    aic_weight : float
        exp(−½ difference to the best), scaled to sum 1 over the laws compared.
    statistic, pvalue : float or None
        Cramér-von Mises distance of the complete spacings from the law, and the share of samples
        from the law itself, drawn and fitted in the same lengths, that lie further off. None
        without a bootstrap.
    mean_interval_m : (float, float) or None
        Interval of the mean by the same bootstrap.
    means_m : ndarray
        Mean of each bootstrap sample's fit.

    Examples
    --------
    >>> import numpy as np
    >>> import jointstats as js
    >>> depth = np.cumsum(np.random.default_rng(1).gamma(4.0, 0.25, 200))
    >>> fits = fit_spacings(js.line.set_spacing(depth, [0, 0, 1], [0, 0, 1]), n_bootstrap=0)
    >>> fits["gamma"].mean_m.__round__(1)
    1.0
    """

    _SHORT = "{law}, mean {mean_m:.3g} m, AIC {aic:.1f}"
    _COLUMNS = (
        *("law", "mean_m", "mean_interval_m", "median_m", "log_likelihood", "aic", "aic_weight"),
        "pvalue",
    )

    law: str
    parameters: dict[str, float]
    mean_m: float
    median_m: float
    log_likelihood: float
    aic: float
    aic_weight: float
    statistic: float | None
    pvalue: float | None
    mean_interval_m: Interval | None
    means_m: Array

    def quantile(self, share: ArrayLike) -> Array:
        """Spacings that shares of the spacings do not exceed, metres."""
        shares = as_numbers(share, "share", low=0)
        if (shares >= 1).any():
            raise InputError("share must lie between 0 and below 1; a law has no largest spacing")
        return LAWS[self.law].quantile(shares, np.array(list(self.parameters.values())))

    def share_below(self, spacing_m: ArrayLike) -> Array:
        """Share of the spacings below each spacing, 0 to 1."""
        spacing = np.maximum(as_numbers(spacing_m, "spacing_m", low=0), 1e-300)
        parameters = np.array(list(self.parameters.values()))
        return -np.expm1(LAWS[self.law].log_survival(spacing, parameters))

    def _row(self) -> dict[str, object]:
        said = ", ".join(f"{name} {value:.4g}" for name, value in self.parameters.items())
        return super()._row() | {"parameters": said}


class SpacingFits(Result):
    """Laws fitted to the spacings of a set, the best by Akaike's criterion first.

    Attributes
    ----------
    fits : tuple of SpacingFit
    n : int
        Complete spacings.
    n_censored : int
        Cut pieces and empty lengths that counted.
    n_bootstrap : int
    confidence : float

    Examples
    --------
    >>> import numpy as np
    >>> import jointstats as js
    >>> depth = np.cumsum(np.random.default_rng(1).gamma(4.0, 0.25, 200))
    >>> fit_spacings(js.line.set_spacing(depth, [0, 0, 1], [0, 0, 1]), n_bootstrap=0).best.law
    'gamma'
    """

    _SHORT = "{n} complete, {n_censored} censored: {fits}"

    fits: tuple[SpacingFit, ...]
    n: int
    n_censored: int
    n_bootstrap: int
    confidence: float

    @property
    def best(self) -> SpacingFit:
        """The law of smallest Akaike's criterion."""
        return self.fits[0]

    def __getitem__(self, law: str) -> SpacingFit:
        for fit in self.fits:
            if fit.law == law:
                return fit
        raise InputError(f"no law {law!r} was fitted; there are {[one.law for one in self.fits]}")

    def to_frame(self) -> pd.DataFrame:
        """One row a law, the best first."""
        return pd.DataFrame([fit._row() for fit in self.fits])


def log_likelihood(
    law: SpacingLaw, p: Array, data: SpacingStatistics, resolution_m: float
) -> float:
    """Log likelihood of a law for the spacings and censored pieces of stationary logs.

    `p`: its parameters; `resolution_m`: a spacing below this is only known to be below it.
    """
    coarse = data.spacings_m < resolution_m
    value = law.log_density(data.spacings_m[~coarse], p).sum()
    if coarse.any():
        below = -np.expm1(law.log_survival(np.array(resolution_m), p))
        value += coarse.sum() * np.log(np.maximum(below, _TINY))
    if data.n_censored:
        mean = law.mean(p)
        value += law.log_survival(data.censored_m, p).sum() - len(data.censored_m) // 2 * np.log(mean)
        beyond = np.maximum(law.beyond(data.empty_m, p), _TINY)
        value += (np.log(beyond) - np.log(mean)).sum()
    return float(value)


def _rough(data: SpacingStatistics) -> tuple[float, float]:
    mean = data.total_m / max(data.n_fractures if data.n_censored else data.n, 1)
    own = float(data.spacings_m.mean()) if data.n else mean
    deviation = float(data.spacings_m.std()) / own if own > 0 else 1.0
    return mean, float(np.clip(deviation, 0.15, 3.0))


def _fit(law: SpacingLaw, data: SpacingStatistics, resolution_m: float) -> tuple[Array, float]:
    """Parameters of largest likelihood, and its logarithm."""
    mean, deviation = _rough(data)
    mean = max(mean, 0.1 * resolution_m)
    coarse = bool((data.spacings_m < resolution_m).any())
    if law.name == "exponential" and not coarse:
        # Total length over the number of fractures that ended a piece of it.
        p = np.array([mean])
        return p, log_likelihood(law, p, data, resolution_m)
    start = np.log(law.guess(mean, deviation))
    bounds = [(start[0] - 7.0, start[0] + 7.0), *(tuple(np.log(one)) for one in law.shapes)]

    def loss(log_p: Array) -> float:
        value = -log_likelihood(law, np.exp(log_p), data, resolution_m)
        return value if np.isfinite(value) else 1e300

    found = minimize(loss, start, method="L-BFGS-B", bounds=bounds)
    return np.exp(found.x), -float(found.fun)


def _distance(law: SpacingLaw, p: Array, data: SpacingStatistics, resolution_m: float) -> float:
    """Cramér-von Mises distance of the complete spacings from the law."""
    spacing = np.sort(np.maximum(data.spacings_m, 0.5 * resolution_m))
    n = len(spacing)
    share = -np.expm1(law.log_survival(spacing, p))
    return float(1 / (12 * n) + ((share - (np.arange(n) + 0.5) / n) ** 2).sum())


def simulate_spacings(
    law: str,
    parameters: Sequence[float],
    lengths_m: ArrayLike,
    random_state: RandomState = 0,
    *,
    confidence: float = 0.95,
) -> SpacingStatistics:
    """Spacings that logs of given lengths find in an endless sequence of independent spacings.

    Parameters
    ----------
    law : {"exponential", "lognormal", "Weibull", "gamma"}
    parameters : sequence of float
        mean_m; median_m and log_deviation; scale_m and shape; scale_m and shape. Above zero.
    lengths_m : array_like, shape (m,)
        Logged lengths along the mean normal, metres, laid at random on the sequence.
    random_state : int, Generator or None
    confidence : float

    Returns
    -------
    SpacingStatistics
        With the pieces cut by the ends.

    Raises
    ------
    InputError
        If the law is not known, or a number is not above zero.

    Examples
    --------
    >>> found = simulate_spacings("exponential", [0.5], [1000.0], random_state=1)
    >>> round(found.mean_m, 1)
    0.5
    """
    if law not in LAWS:
        raise InputError(f"law must be one of {sorted(LAWS)}; got {law!r}")
    p = as_numbers(parameters, "parameters", low=0, open_end=True)
    if len(p) != len(LAWS[law].parameters):
        raise InputError(f"the {law} law takes {LAWS[law].parameters}; got {len(p)} numbers")
    lengths = as_numbers(lengths_m, "lengths_m", low=0, open_end=True, min_n=1)
    drawn = _draw(LAWS[law], p, lengths, as_generator(random_state))
    return SpacingStatistics(*drawn, lengths, confidence)


def _draw(
    law: SpacingLaw, p: Array, lengths: Array, rng: np.random.Generator
) -> tuple[Array, Array, Array]:
    steps = int(1.5 * lengths.max() / law.mean(p)) + 10
    # The start falls in a spacing in proportion to its length, at a uniform place in it.
    first = law.draw_at_a_point(p, len(lengths), rng) * rng.random(len(lengths))
    at = first[:, np.newaxis]
    while at[:, -1].min() <= lengths.max():
        more = law.draw(p, len(lengths) * steps, rng).reshape(len(lengths), steps)
        at = np.hstack([at, at[:, -1:] + np.cumsum(more, axis=1)])
    inside = at <= lengths[:, np.newaxis]
    number = inside.sum(axis=1)
    met = number > 0
    last = at[np.arange(len(lengths)), np.maximum(number - 1, 0)]
    cut = np.concatenate([at[met, 0], (lengths - last)[met]])
    return np.diff(at, axis=1)[inside[:, 1:]], cut, lengths[~met]


def _simulate_like(
    law: SpacingLaw, p: Array, data: SpacingStatistics, rng: np.random.Generator
) -> SpacingStatistics:
    if len(data.lengths_m):
        return SpacingStatistics(*_draw(law, p, data.lengths_m, rng), data.lengths_m)
    return SpacingStatistics(law.draw(p, data.n, rng))


def _bootstrap(
    law: SpacingLaw,
    p: Array,
    data: SpacingStatistics,
    resolution_m: float,
    n_bootstrap: int,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Distances and means of samples drawn from the fitted law and fitted anew."""
    distances, means = list[float](), list[float]()
    while len(means) < n_bootstrap:
        again = _simulate_like(law, p, data, rng)
        if again.n < 2:
            continue
        q, _ = _fit(law, again, resolution_m)
        distances.append(_distance(law, q, again, resolution_m))
        means.append(law.mean(q))
    return np.array(distances), np.array(means)


def fit_spacings(
    spacing: SpacingStatistics,
    laws: Sequence[str] = ("exponential", "lognormal", "Weibull", "gamma"),
    *,
    n_bootstrap: int = 99,
    resolution_m: float = 0.001,
    random_state: RandomState = 0,
) -> SpacingFits:
    """Fit laws to the spacings of a set by maximum likelihood, the censored pieces counted.

    Parameters
    ----------
    spacing : SpacingStatistics
        From `set_spacing` or `pool_spacings`. With logged lengths the likelihood is that of
        stationary logs: both censored pieces and empty lengths count, and the chance of where the
        log begins. Without, that of independent complete spacings.
    laws : sequence of str
        Of "exponential", "lognormal", "Weibull", "gamma".
    n_bootstrap : int
        Samples drawn from each fitted law for its p-value and interval; 0: none.
    resolution_m : float
        How finely depths were read, metres. A smaller spacing (or zero) is only known to be
        smaller.
    random_state : int, Generator or None

    Returns
    -------
    SpacingFits
        Best first, by Akaike's criterion.

    Raises
    ------
    InputError
        If there are fewer than five complete spacings, or an argument is out of range.

    References
    ----------
    Cox D.R. (1962), Renewal Theory, chapters 3 and 4 (from memory).

    Examples
    --------
    >>> log = simulate_spacings("lognormal", [0.4, 0.5], [30.0, 20.0], random_state=3)
    >>> fits = fit_spacings(log, n_bootstrap=0)
    >>> fits.best.law, round(fits["lognormal"].median_m, 1)
    ('lognormal', 0.4)
    """
    if spacing.n < FEWEST:
        raise InputError(
            f"a fit needs at least {FEWEST} complete spacings; got {spacing.n}. Pool the holes, "
            "or use the mean alone"
        )
    resolution = check_number(resolution_m, "resolution_m", low=0, open_end=True)
    unknown = sorted(set(laws) - set(LAWS))
    if unknown or not laws:
        raise InputError(f"laws must be of {sorted(LAWS)}; got {list(laws)}")
    rng = as_generator(random_state)
    found = [(LAWS[name], *_fit(LAWS[name], spacing, resolution)) for name in laws]
    aic = np.array([2.0 * len(p) - 2.0 * value for _, p, value in found])
    weights = np.exp(-0.5 * (aic - aic.min()))
    weights /= weights.sum()
    fits = [
        _with_test(law, p, value, float(a), float(w), spacing, resolution, int(n_bootstrap), rng)
        for (law, p, value), a, w in zip(found, aic, weights, strict=True)
    ]
    ordered = tuple(sorted(fits, key=lambda fit: fit.aic))
    return SpacingFits(ordered, spacing.n, spacing.n_censored, int(n_bootstrap), spacing.confidence)


def _with_test(
    law: SpacingLaw,
    p: Array,
    value: float,
    aic: float,
    weight: float,
    data: SpacingStatistics,
    resolution_m: float,
    n_bootstrap: int,
    rng: np.random.Generator,
) -> SpacingFit:
    mean = law.mean(p)
    distance = _distance(law, p, data, resolution_m)
    statistic = pvalue = interval = None
    means: Array = np.empty(0)
    if n_bootstrap > 0:
        distances, means = _bootstrap(law, p, data, resolution_m, n_bootstrap, rng)
        statistic = distance
        pvalue = float((1 + (distances >= distance).sum()) / (n_bootstrap + 1))
        # A mean is nearly lognormal about the truth; a spread from few samples costs Student's factor.
        spread = np.log(means).std(ddof=1) if n_bootstrap > 1 else 0.0
        half = spread * float(student.ppf(0.5 * (1.0 + data.confidence), max(n_bootstrap - 1, 1)))
        interval = (float(mean * np.exp(-half)), float(mean * np.exp(half)))
    return SpacingFit(
        law=law.name,
        parameters={n: float(x) for n, x in zip(law.parameters, p, strict=True)},
        mean_m=mean,
        median_m=float(law.quantile(np.array([0.5]), p)[0]),
        log_likelihood=value,
        aic=aic,
        aic_weight=weight,
        statistic=statistic,
        pvalue=pvalue,
        mean_interval_m=interval,
        means_m=means,
    )
