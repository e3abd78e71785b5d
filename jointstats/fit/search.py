"""Search for the sets: grow one at a time where the data exceed the fit, then try to drop and move.

All functions are deterministic: candidates are the data themselves, ties go to the first in an
order that does not depend on the order of the rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from jointstats.fit.data import FitData
from jointstats.fit.fitting import Fit, first_fit, run_em, settle
from jointstats.fit.likelihood import RoundSets, component_log_densities, log_scale
from jointstats.types import Array

__all__ = ["START_KAPPAS", "Trial", "Tried", "fit_sets", "search", "tried_numbers"]


#: Concentrations tried for a new set.
START_KAPPAS = (12.0, 35.0, 100.0)
_FIRST_LOOK = 6
_WORTH_MOVING = 0.05
_SAME_PLACE = np.cos(np.radians(20.0))
_RIVAL = 0.5  # share of the best promise below which a place is not tried
_HOPELESS = 20.0  # of the criterion; a look that far behind is not followed to its end
_TINY = float(np.finfo(float).tiny)
_MOST_CANDIDATES = 1500
_APART = np.cos(np.radians(15.0))
_LEAST_BACKGROUND = 0.05  # share of the fractures it starts from, where a set is added


class Start(NamedTuple):
    """A place for a new set, and the gain of log likelihood that it promises."""

    mean: Array
    kappa: float
    intensity: float
    gain: float


class Candidates:
    """Places where a new set might lie, with what each would have been expected to meet.

    Parameters
    ----------
    data : FitData
    random_state : numpy.random.RandomState
        Chooses among the rows where there are more than the search looks at.
    """

    def __init__(self, data: FitData, random_state: np.random.RandomState) -> None:
        used = np.flatnonzero(data.weights > 0)
        if len(used) > _MOST_CANDIDATES:
            used = np.sort(random_state.choice(used, _MOST_CANDIDATES, replace=False))
        self.rows = data.rows[used]
        self.closed = None if data.closed is None else data.closed[used]
        # The candidates stand for all rows.
        self.weights = data.weights[used] * (
            data.weights.sum() / max(float(data.weights[used].sum()), _TINY)
        )
        self._densities = [self._density(kappa) for kappa in START_KAPPAS]
        self._exposures = [self._exposure(data, kappa) for kappa in START_KAPPAS]

    def _density(self, kappa: float) -> Array:
        along = np.abs(self.rows @ self.rows.T)
        scale = float(log_scale(np.array([kappa]), self.rows.shape[1])[0])
        return np.exp(kappa * (along - 1.0) + scale) * (1.0 + np.exp(-2.0 * kappa * along))

    def _exposure(self, data: FitData, kappa: float) -> Array:
        if data.exposure is None:
            return np.ones(len(self.rows))
        return data.exposure.of_sets(self.rows, np.full(len(self.rows), kappa))

    def best(self, logs: Array, count: int) -> list[Start]:
        """The places of highest score against a fit, at least 15° apart.

        The score is that of an infinitely weak new set: with D the slope of the log likelihood
        in its intensity and I the information, D² / 2I is the gain it promises.

        Parameters
        ----------
        logs : ndarray, shape (n, K + 1)
            Log rates of the present fit at the candidates.
        count : int
            How many places are wanted.

        Returns
        -------
        list of Start
            Starts for a new set, most promising first.
        """
        present = np.exp(np.logaddexp.reduce(logs, axis=1))
        gains, intensities = [], []
        for density, met in zip(self._densities, self._exposures, strict=True):
            ratio = density / present
            slope = ratio @ self.weights - met
            information = (ratio**2) @ self.weights
            gains.append(np.where(slope > 0, slope**2 / information, -np.inf))
            intensities.append(np.maximum(slope, _TINY) / information)
        which = np.argmax(gains, axis=0)
        gain = np.max(gains, axis=0)
        chosen: list[Start] = []
        for i in np.argsort(-gain, kind="stable"):
            if len(chosen) == count or not np.isfinite(gain[i]):
                break
            if all(abs(one.mean @ self.rows[i]) < _APART for one in chosen):
                kappa, intensity = START_KAPPAS[which[i]], float(intensities[which[i]][i])
                chosen.append(Start(self.rows[i], kappa, intensity, float(gain[i])))
        return chosen


def _rates(fit: Fit, candidates: Candidates) -> Array:
    return component_log_densities(candidates.rows, fit.parameters, candidates.closed)


def grow(data: FitData, fit: Fit, candidates: Candidates) -> Fit | None:
    """Add one set to a fit: a short look from several places, then the best two to the end.

    None where no place promises any gain.
    """
    starts = candidates.best(_rates(fit, candidates), data.candidates)
    looks = [run_em(data, _with(data, fit, start), max_iter=_FIRST_LOOK) for start in starts]
    looks.sort(key=lambda one: -one.log_likelihood)
    ends = [settle(data, look.parameters) for look in looks[:2]]
    return max(ends, key=lambda one: one.log_likelihood, default=None)


def _with(data: FitData, fit: Fit, start: Start) -> RoundSets:
    kappa = float(np.clip(start.kappa, *data.kappa_bounds))
    parameters = fit.parameters.joined(start.mean, kappa, start.intensity)
    if not data.background:
        return parameters._replace(background=0.0)
    # A background that a fit of fewer sets emptied can't come back by itself: EM multiplies.
    met = 1.0 if data.exposure is None else data.exposure.of_uniform()
    least = _LEAST_BACKGROUND * float(data.weights.sum()) / met
    return parameters._replace(background=max(parameters.background, least))


def _look_without(data: FitData, fit: Fit, k: int) -> Fit:
    """A few steps of EM after one set has been taken out."""
    keep = [j for j in range(len(fit.parameters.kappas)) if j != k]
    return run_em(data, fit.parameters.take(keep), max_iter=_FIRST_LOOK)


def _may_go(data: FitData, fit: Fit) -> list[int]:
    """Sets that may be taken out: not those given, nor the last where there is no background."""
    sets = len(fit.parameters.kappas)
    return list(range(data.n_given, sets)) if data.background or sets > 1 else []


def moved(data: FitData, fit: Fit, candidates: Candidates) -> Fit:
    """Take each set out in turn and grow one anew, as long as the likelihood gains by it."""
    weakest = np.argsort(fit.found.counts[:-1], kind="stable")
    for k in weakest[np.isin(weakest, _may_go(data, fit))]:
        look = _look_without(data, fit, int(k))
        starts = candidates.best(_rates(look, candidates), 3)
        for start in starts:
            # The place it came from leads back to the same fit.
            returns = abs(start.mean @ fit.parameters.means[k]) > _SAME_PLACE
            if returns or start.gain < _RIVAL * starts[0].gain:
                continue
            again = settle(data, _with(data, look, start))
            if again.log_likelihood > fit.log_likelihood + _WORTH_MOVING:
                return moved(data, again, candidates)
    return fit


@dataclass(frozen=True)
class Trial:
    """One number of sets that the search tried, and what came of it."""

    n_sets: int
    log_likelihood: float
    bic: float
    criterion: float
    smallest_count: float
    verdict: str
    shapes: str = ""  # first letters: round, elliptical, girdle


@dataclass(frozen=True)
class Tried:
    """One number of sets: how far its BIC stands above the lowest, and what became of it."""

    n_sets: int
    bic_above: float
    outcome: str


def tried_numbers(trials: Sequence[Trial]) -> tuple[Tried, ...]:
    """The numbers of sets in the order in which they were tried; none if the number was given."""
    best = min((one.bic for one in trials if np.isfinite(one.bic)), default=0.0)
    kept = [place for place, one in enumerate(trials) if one.verdict == "accepted"]
    outcome = [one.verdict for one in trials]
    for place in kept:
        outcome[place] = "better than fewer" if place else "the start"
    if kept:
        outcome[kept[-1]] = "chosen"
    return tuple(
        Tried(one.n_sets, one.bic - best, told) for one, told in zip(trials, outcome, strict=True)
    )


@dataclass
class _Path:
    """The best fit so far, and the trials that led to it."""

    data: FitData
    best: Fit
    trials: list[Trial]
    fits: dict[int, Fit]

    def behind(self, fit: Fit) -> float:
        """By how much the criterion of a fit exceeds that of the best."""
        n = float(self.data.weights.sum())
        return fit.criterion(self.data, n) - self.best.criterion(self.data, n)

    def offer(self, fit: Fit) -> bool:
        n = float(self.data.weights.sum())
        counts = fit.found.counts[:-1]
        own = counts[self.data.n_given :]
        fewest = float(own.min()) if len(own) else float("inf")
        value, least = fit.criterion(self.data, n), self.best.criterion(self.data, n)
        verdict = "accepted"
        if fewest < self.data.smallest:
            verdict = f"refused: a set of {fewest:.1f} fractures is too few to be called one"
        elif value >= least and fit is not self.best:
            verdict = "refused: the criterion does not gain"
        self.trials.append(
            Trial(
                len(counts), fit.log_likelihood, fit.bic(n), value, fewest, verdict, "r" * len(counts)
            )
        )
        if verdict == "accepted":
            self.best = fit
        known = self.fits.get(len(counts))
        if known is None or fit.log_likelihood > known.log_likelihood:
            self.fits[len(counts)] = fit
        return verdict == "accepted"


def search(
    data: FitData, max_sets: int, random_state: np.random.RandomState
) -> tuple[Fit, list[Trial], dict[int, Fit]]:
    """Find the number of sets and their fit by the Bayesian information criterion.

    Gives the fit, every number of sets tried in order of trial, and the most likely fit of each number.
    """
    candidates = Candidates(data, random_state)
    fit = first_fit(data)
    if not data.background and not data.n_given:
        # Without a background one set is the least there can be.
        fit = grow(data, fit, candidates) or fit
    path = _Path(data, fit, [], {})
    path.offer(fit)
    failures = 0
    while len(fit.parameters.kappas) < max_sets and failures < 2:
        more = grow(data, fit, candidates)
        if more is None:
            break
        fit = more
        failures = 0 if path.offer(fit) else failures + 1
        if path.behind(fit) > _HOPELESS:
            break
    _tidy(path, candidates)
    return path.best, path.trials, path.fits


def _tidy(path: _Path, candidates: Candidates) -> None:
    """Move sets, then drop them one at a time, for as long as the criterion gains."""
    better = True
    while better and len(path.best.parameters.kappas):
        better = False
        fit = moved(path.data, path.best, candidates)
        if fit is not path.best:
            path.offer(fit)
        for k in _may_go(path.data, path.best):
            look = _look_without(path.data, path.best, k)
            if path.behind(look) < _HOPELESS and path.offer(settle(path.data, look.parameters)):
                better = True
                break


def fit_sets(data: FitData, n_sets: int, random_state: np.random.RandomState) -> Fit:
    """Fit a given number of sets; fewer only where no place is left that promises any gain."""
    candidates = Candidates(data, random_state)
    fit = first_fit(data)
    for _ in range(n_sets - data.n_given):
        grown = grow(data, fit, candidates)
        if grown is None:
            break
        fit = grown
    return moved(data, fit, candidates)
