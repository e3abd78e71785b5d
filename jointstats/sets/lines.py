"""Line against line: how uneven the sets are, whether the lines see one rock, and each line
predicted from the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import binom

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import hole_directions
from jointstats.borehole.sampling import SampledLine, Sampling
from jointstats.borehole.site import Site
from jointstats.fit.certainty import Certainty, certainty_of
from jointstats.fit.hole_agreement import Domain, HoleAgreement, Stretch, hole_agreement
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import ShapedFit, as_read, fit_shaped
from jointstats.intervals import poisson_interval
from jointstats.results import Result
from jointstats.sphere.angles import dip_from_poles
from jointstats.types import Array, Interval, RandomState
from jointstats.uneven.prediction import LeftOut, leave_out_lines
from jointstats.uneven.uneven_rock import Unevenness, unevenness

#: Length of the pieces that are counted, metres.
CELL_M = 1.0
_DIRECTIONS_WITHIN = 2  # decimals of a direction beyond which pieces share one exposure
_DRAWS, _SEED = 4000, 1
_LEAST_M = 1e-6  # exposure of a set that a piece can't see


class Cells(NamedTuple):
    """Counts of each set in short pieces of the logged lines."""

    counts: Array  # (K, B) sums of memberships
    exposure: Array  # (K, B) metres
    line: Array  # (B,) number of the line
    lengths_m: Array  # (B,)


def cells_of(fractures: Fractures, memberships: Array, rock: Rock, sampling: Sampling) -> Cells:
    """Counts by memberships (n, K + 1) of the fitted fractures, in pieces of about a metre."""
    hole = fractures.table["hole"].to_numpy()
    depth = fractures.depth_m
    parts = []
    for number, line in enumerate(sampling.logged):
        own = hole == line.name
        for length in line.lengths:
            inside = own & (depth >= length.from_m) & (depth <= length.to_m)
            pieces = max(1, round(length.length_m / CELL_M))
            edges = np.linspace(length.from_m, length.to_m, pieces + 1)
            counts = [
                np.histogram(depth[inside], edges, weights=memberships[inside, k])[0]
                for k in range(len(rock.sets))
            ]
            met = _met(rock, line, 0.5 * (edges[1:] + edges[:-1])) * np.diff(edges) * length.seen
            parts.append(Cells(np.array(counts), met, np.full(pieces, number), np.diff(edges)))
    joined = (np.concatenate(values, axis=-1) for values in zip(*parts, strict=True))
    return Cells(*joined)


def _met(rock: Rock, line: SampledLine, depth: Array) -> Array:
    """Exposure of each set per metre of line at each depth, (K, B)."""
    directions = line.path.direction(depth)
    rounded, index = np.unique(
        np.round(directions, _DIRECTIONS_WITHIN), axis=0, return_inverse=True
    )
    met = np.empty((len(rock.sets), len(rounded)))
    for j, direction in enumerate(rounded):
        alone = LineExposure(
            [direction], [1.0], blind_angle_deg=line.blind_angle_deg, girths=[line.girth]
        )
        for k, density in enumerate(rock.densities):
            met[k, j] = max(density.mean_exposure(alone), _LEAST_M)
    return met[:, index.ravel()]


def site_intervals(
    uneven: Unevenness | None, certainty: Certainty, confidence: float
) -> list[Interval]:
    """Interval of P32 of the rock of the site, of each set, 1/m.

    Draws of P32 that take the rock as even, times draws of what unevenness does to it.
    """
    if uneven is None:
        return []
    factors = uneven.draws(_DRAWS, _SEED).factors
    tails = [0.5 * (1.0 - confidence), 0.5 * (1.0 + confidence)]
    found = []
    for k, column in enumerate(factors.T):
        even = certainty.intensity_draws(k, _DRAWS, np.random.default_rng([_SEED, k]))
        low, high = np.quantile(even * column, tails)
        plain = certainty.intensity_interval(k)
        # Never narrower than in even rock, but for what so many draws leave open.
        found.append((min(float(low), plain[0]), max(float(high), plain[1])))
    return found


def uneven_rock(
    fractures: Fractures, memberships: Array, rock: Rock, sampling: Sampling
) -> Unevenness | None:
    """Unevenness of the sets of a rock; None without a set."""
    if not rock.sets:
        return None
    return unevenness(*cells_of(fractures, memberships, rock, sampling))


class LinesPredicted(Result):
    """Every line predicted from the others: the sets fitted without it, its counts drawn.

    Attributes
    ----------
    names : tuple of str
        The sets.
    lines : tuple of str
        The lines, in the order of the predictions.
    left_out : tuple of LeftOut
    confidence : float
        Level of the intervals.

    Examples
    --------
    >>> import jointstats as js
    >>> found = js.analyse(js.simulate_site(random_state=1)).left_out
    >>> found.lines, len(found.to_frame())
    (('H1', 'H2', 'H3'), 12)
    """

    names: tuple[str, ...]
    lines: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    confidence: float

    def to_frame(self) -> pd.DataFrame:
        """One row a line and set, and one for all its sets: what was observed and what predicted.

        Columns hole, set ("all": of all sets), n (sum of memberships), mean, low, high, held,
        log_score.
        """
        rows = []
        for line, one in zip(self.lines, self.left_out, strict=True):
            for k, name in [*enumerate(self.names), (None, "all")]:
                low, high = one.predicted.interval(k, self.confidence)
                rows.append(
                    {
                        "hole": line,
                        "set": name,
                        "n": float(one.observed.sum() if k is None else one.observed[k]),
                        "mean": one.predicted.mean(k),
                        "low": low,
                        "high": high,
                        "held": one.holds(k, self.confidence),
                        "log_score": one.log_score(k),
                    }
                )
        return pd.DataFrame(rows)

    @property
    def held(self) -> tuple[int, int]:
        """How many intervals hold the count of a set on a line left out, and of how many."""
        sets = range(len(self.names))
        told = [one.holds(k, self.confidence) for one in self.left_out for k in sets]
        return sum(told), len(told)

    @property
    def pvalue(self) -> float:
        """Probability that so few intervals or fewer hold where each holds at its level."""
        held, total = self.held
        return float(binom.cdf(held, total, self.confidence))


#: Level of the intervals of a line predicted from the others.
PREDICTION_LEVEL = 0.9
_PREDICTION_DRAWS = 2000


def lines_predicted(
    names: Sequence[str], fractures: Fractures, model: JointSetMixture, sampling: Sampling
) -> LinesPredicted | None:
    """Every logged line predicted from the others; None without a set, or with one line.

    `fractures` are those of the fit. Without a line the sets settle anew, in number and shape as
    they are; the memberships of its fractures are by those sets.
    """
    logged = sampling.logged
    if not names or len(logged) < 2:
        return None
    hole, whole = fractures.table["hole"].to_numpy(), model.data_

    def refit(h: int) -> tuple[Array, Array, Array]:
        kept = hole != logged[h].name
        rest = tuple(one for one in logged if one.name != logged[h].name)
        data = whole.of_rows(fractures.poles, kept, replace(sampling, lines=rest).exposure)
        fit = fit_shaped(data, model.rock_)
        logs = as_read(data, fit.rock).log_rates(fractures.poles)
        shares = np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis])
        cells = cells_of(fractures, shares, fit.rock, sampling)
        certainty = replace(certainty_of(data, fit.rock, PREDICTION_LEVEL), posterior=None)
        drawn = [
            certainty.intensity_draws(k, _PREDICTION_DRAWS, np.random.default_rng([_SEED, h, k]))
            for k in range(len(names))
        ]
        return cells.counts, cells.exposure, np.column_stack(drawn)

    shares = model.predict_proba(fractures.poles)
    cells = cells_of(fractures, shares, model.rock_, sampling)
    found = leave_out_lines(*cells, refit=refit, n_draws=_PREDICTION_DRAWS, random_state=_SEED)
    return LinesPredicted(
        tuple(names), tuple(one.name for one in logged), found, PREDICTION_LEVEL
    )


#: Fractures of a line below which it says nothing of agreement, and pieces a line is offered cut in.
FEWEST, PIECES = 8, 3
_CUT_FROM = 45  # fractures of a line, from which it may be cut by depth
_READ_ROUND = ("alpha and beta", "image dip and azimuth", "trace")


def agreement_of(
    site: Site,
    fractures: Fractures,
    sampling: Sampling,
    fits: Sequence[ShapedFit],
    random_state: RandomState = 0,
) -> HoleAgreement | None:
    """The answer for the fitted fractures of a site; None where fewer than two lines can be compared.

    `fits` are the descriptions tried, the best first. Faults and domains are looked for by round sets,
    those of the best round description.
    """
    sets = _round_sets([one.rock for one in fits])
    hole = fractures.table["hole"].to_numpy()
    lines = [one for one in sampling.logged if np.count_nonzero(hole == one.name) >= FEWEST]
    if sets is None or len(lines) < 2:
        return None
    stretches, group = _stretches(lines, hole, fractures.depth_m)
    used = group >= 0
    table = fractures.table[used]
    read = table["oriented_from"].isin(_READ_ROUND).to_numpy()
    return hole_agreement(
        fractures.poles[used],
        group[used],
        stretches,
        sets,
        lines=hole_directions(site, table),
        beta_read=read if read.any() else None,
        declination_deg=site.settings.declination_deg or None,
        shaped=None if fits[0].rock.all_round else fits[0].rock,
        random_state=random_state,
    )


def _round_sets(rocks: Sequence[Rock]) -> RoundSets | None:
    """The best description of round sets alone; None if there is none with a set."""
    for rock in rocks:
        if rock.all_round and rock.sets:
            return RoundSets.of(rock)
    return None


def _stretches(
    lines: Sequence[SampledLine], hole: Array, depth: Array
) -> tuple[list[Stretch], Array]:
    """Lines, long logs cut into stretches of equal number, and the stretch of each fracture (−1: none)."""
    stretches: list[Stretch] = []
    group = np.full(len(hole), -1)
    for line in lines:
        own = hole == line.name
        pieces = PIECES if np.count_nonzero(own) >= _CUT_FROM else 1
        inner = np.quantile(depth[own], np.arange(1, pieces) / pieces)
        edges = [line.from_m, *inner.tolist(), line.to_m]
        for low, high in zip(edges[:-1], edges[1:], strict=True):
            part = line.clip(low, high)
            if not part.lengths:
                continue
            inside = own & (depth >= low) & (depth <= high) & (group < 0)
            group[inside] = len(stretches)
            stretches.append(Stretch(line.name, float(low), float(high), part.exposure))
    return stretches, group


def sets_by_domain(
    domains: Sequence[Domain], sampling: Sampling, confidence: float
) -> pd.DataFrame:
    """The round sets of each domain, as the search for domains fitted them.

    Columns domain, dip_deg, dip_direction_deg, kappa, n_expected, p32_per_m, p32_low_per_m and
    p32_high_per_m: the Poisson interval of so many fractures, its rock taken as even.
    """
    lines = {one.name: one for one in sampling.logged}
    rows = []
    for one in domains:
        parts = [lines[hole].clip(low, high).exposure for hole, low, high in one.lengths]
        for density, p32 in one.sets.rock().sets:
            met = sum(density.mean_exposure(part) for part in parts)
            dip, direction = dip_from_poles(density.frame[0])
            low, high = np.array(poisson_interval(p32 * met, confidence)) / met
            rows.append([one.name, dip[0], direction[0], density.kappa, p32 * met, p32, low, high])
    columns = ["domain", "dip_deg", "dip_direction_deg", "kappa", "n_expected", "p32_per_m"]
    return pd.DataFrame(rows, columns=[*columns, "p32_low_per_m", "p32_high_per_m"])
