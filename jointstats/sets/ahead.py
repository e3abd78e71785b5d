"""What a further line through the rock of an analysis should meet."""

from __future__ import annotations

import numpy as np
import pandas as pd

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.hole import Hole
from jointstats.borehole.sampling import SampledLine
from jointstats.borehole.spans import Spans
from jointstats.checks import as_seed, check_confidence
from jointstats.results import Result
from jointstats.sets.result import SiteAnalysis
from jointstats.types import RandomState
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
    Density and P32 of each set are drawn from their posterior, and the rock of the line is as uneven
    as that of the lines logged: it may be poorer or richer than they were, and swarms make its count
    scatter. The first reading is taken.

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
    drawn = result.even_draws(_DRAWS, np.random.default_rng([seed or 0, 1]))
    met = [one.kind.mean_exposures(*one[1:4], exposure) for one in drawn.sets]
    met.append(np.full(_DRAWS, exposure.of_uniform()))
    p32 = np.column_stack([*(one.intensities for one in drawn.sets), drawn.background])
    counts = predicted_counts(
        p32,
        _with_random(result, seed or 0),
        np.column_stack(met),
        exposure.total_m,
        random_state=seed,
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
