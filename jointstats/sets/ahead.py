"""What the rock of an analysis may be, and what a further line through it should meet."""

from __future__ import annotations

import numpy as np
import pandas as pd

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.hole import Hole
from jointstats.borehole.sampling import SampledLine
from jointstats.borehole.spans import Spans
from jointstats.checks import as_seed, check_confidence, check_number
from jointstats.fit.posterior import SetDraws
from jointstats.fit.rock import Rock, RockSet
from jointstats.results import Result
from jointstats.sets.joint_set import JointSet
from jointstats.sets.result import SiteAnalysis
from jointstats.types import Array, RandomState
from jointstats.uneven.prediction import PredictedCounts, predicted_counts
from jointstats.uneven.uneven_rock import UnevenDraws

_DRAWS = 4000
#: Name of the row of the random fractures, and of that of all together.
RANDOM, ALL = "random", "all"


class LinePrediction(Result):
    """Numbers of fractures that a line should meet above its blind angle.

    Attributes
    ----------
    names : tuple of str
        The sets, then the random fractures.
    counts : PredictedCounts
        Their distributions, in the order of the names.
    length_m : float
    confidence : float
        Level of the intervals of `to_frame`.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> ahead = js.predict_counts(result, js.LineExposure([[0, 0, -1]], [30.0]))
    >>> ahead.names
    ('J1', 'J2', 'J3', 'random')
    """

    names: tuple[str, ...]
    counts: PredictedCounts
    length_m: float
    confidence: float

    def to_frame(self) -> pd.DataFrame:
        """One row a set, one for the random fractures, one for all: mean, low, high."""
        rows = []
        for k, name in [*enumerate(self.names), (None, ALL)]:
            low, high = self.counts.interval(k, self.confidence)
            rows.append({"set": name, "mean": self.counts.mean(k), "low": low, "high": high})
        return pd.DataFrame(rows)


def predict_counts(
    result: SiteAnalysis,
    line: Hole | LineExposure,
    *,
    confidence: float = 0.9,
    random_state: RandomState = 0,
) -> LinePrediction:
    """Distribution of the number of fractures per set, and in all, that a further line should meet.

    Parameters
    ----------
    result : SiteAnalysis
    line : Hole or LineExposure
        A hole over its whole length, with the blind angle of the analysis; or the exposure of any
        line, scanline or tunnel.
    confidence : float
        Level of the intervals.
    random_state : int, Generator, RandomState or None

    Returns
    -------
    LinePrediction

    Notes
    -----
    P32 is drawn from its posterior, and the rock of the line is as uneven as that of the lines
    logged: it may be poorer or richer than they were, and swarms make its count scatter. The means
    and shapes of the sets are taken as fitted.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> table = js.predict_counts(result, result.site.holes[0]).to_frame()
    >>> table["set"].tolist()
    ['J1', 'J2', 'J3', 'random', 'all']
    """
    check_confidence(confidence)
    seed = as_seed(random_state)
    exposure = line if isinstance(line, LineExposure) else _of_hole(line, result)
    sets = len(result.sets)
    p32 = np.empty((_DRAWS, sets + 1))
    for k in range(sets):
        rng = np.random.default_rng([seed or 0, k])
        p32[:, k] = result.mixture.certainty_.intensity_draws(k, _DRAWS, rng)
    p32[:, sets] = lognormal_between(
        result.background_interval,
        result.background_per_m,
        _DRAWS,
        np.random.default_rng([seed or 0, sets]),
    )
    met = [one.density.mean_exposure(exposure) for one in result.sets] + [exposure.of_uniform()]
    counts = predicted_counts(
        p32, _with_random(result, seed or 0), np.array(met), exposure.total_m, random_state=seed
    )
    names = (*(one.name for one in result.sets), RANDOM)
    return LinePrediction(names, counts, exposure.total_m, confidence)


def _of_hole(hole: Hole, result: SiteAnalysis) -> LineExposure:
    blind, whole = result.sampling.blind_angle_deg, Spans([(0.0, hole.length_m)])
    return SampledLine(hole.name, hole.path, 0.0, hole.length_m, {"": whole}, blind).exposure


def _with_random(result: SiteAnalysis, seed: int) -> UnevenDraws:
    """Draws of the unevenness of the sets, and of random fractures taken as even."""
    if result.uneven is None:
        none, nothing = np.ones((_DRAWS, 1)), np.zeros((_DRAWS, 1))
        return UnevenDraws(none, nothing, np.zeros(_DRAWS, bool), nothing, np.ones(_DRAWS))
    drawn = result.uneven.draws(_DRAWS, seed)
    one, zero = np.ones((_DRAWS, 1)), np.zeros((_DRAWS, 1))
    return UnevenDraws(
        np.hstack([drawn.factors, one]),
        np.hstack([drawn.variations, zero]),
        drawn.together,
        np.hstack([drawn.companions, zero]),
        drawn.lengths_m,
    )


def draw_rocks(
    result: SiteAnalysis, n_rocks: int, random_state: RandomState = 0
) -> tuple[Rock, ...]:
    """Rocks that the data leave possible, each with its own sets and P32.

    Parameters
    ----------
    result : SiteAnalysis
    n_rocks : int
        One or more.
    random_state : int, Generator, RandomState or None

    Returns
    -------
    tuple of Rock

    Raises
    ------
    InputError
        If `n_rocks` is below one.

    Notes
    -----
    Density and P32 of a set are drawn together; sets are drawn independently of one another, and the
    rock as uneven as the lines logged are. The rocks are of the first reading; errors of reading that
    are stated for every fracture are not in them. A large set, which has plain intervals, keeps its
    density.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> rocks = js.sets.draw_rocks(result, 50)
    >>> len(rocks), len(rocks[0].sets)
    (50, 3)
    """
    size = int(check_number(n_rocks, "n_rocks", low=1))
    rng = np.random.default_rng(as_seed(random_state))
    factors: Array = np.ones((size, len(result.sets)))
    if result.uneven is not None:
        factors = result.uneven.draws(size, rng).factors
    if result.sampling.log_error > 0:
        factors = factors * np.exp(result.sampling.log_error * rng.normal(size=(size, 1)))
    columns = [_of_set(result, k, one, factors[:, k], rng) for k, one in enumerate(result.sets)]
    background = lognormal_between(result.background_interval, result.background_per_m, size, rng)
    return tuple(
        Rock(tuple(column[d] for column in columns), float(background[d])) for d in range(size)
    )


def _of_set(
    result: SiteAnalysis, k: int, one: JointSet, factors: Array, rng: np.random.Generator
) -> list[RockSet]:
    drawn: SetDraws | None = one.posterior
    if drawn is None:
        p32 = result.mixture.certainty_.intensity_draws(k, len(factors), rng) * factors
        return [RockSet(one.density, float(value)) for value in p32]
    which = rng.choice(len(drawn.weights), len(factors), p=drawn.weights)
    sets = [drawn.set_at(int(d)) for d in which]
    pairs = zip(sets, factors, strict=True)
    return [RockSet(density, p32 * float(factor)) for (density, p32), factor in pairs]


def lognormal_between(
    interval: tuple[float, float], value: float, size: int, rng: np.random.Generator
) -> Array:
    """Lognormal draws whose 95 % interval is the one given; the value itself where that is open."""
    low, high = interval
    if not 0 < low < high:
        return np.full(size, value)
    return np.exp(rng.normal(0.5 * np.log(low * high), np.log(high / low) / 3.92, size))
