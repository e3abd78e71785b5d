"""Search for the sets: grow one at a time where the data exceed the fit, then try to drop and move.

All functions are deterministic: candidates are the data themselves, ties go to the first in an
order that does not depend on the order of the rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.fitting import Fit, Problem, first_fit, run_em, settle
from jointstats.fit.likelihood import SetParameters, component_log_densities, log_scale

__all__ = ["START_KAPPAS", "Trial", "fit_sets", "search"]

Array = NDArray[np.float64]

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
    problem : Problem
    random_state : numpy.random.Generator
        Chooses among the rows where there are more than the search looks at.
    """

    def __init__(self, problem: Problem, random_state: np.random.Generator) -> None:
        used = np.flatnonzero(problem.weights > 0)
        if len(used) > _MOST_CANDIDATES:
            used = np.sort(random_state.choice(used, _MOST_CANDIDATES, replace=False))
        self.rows = problem.rows[used]
        self._closed = None if problem.closed is None else problem.closed[used]
        # The candidates stand for all rows.
        self.weights = problem.weights[used] * (
            problem.weights.sum() / max(float(problem.weights[used].sum()), _TINY)
        )
        self._densities = [self._density(kappa) for kappa in START_KAPPAS]
        self._exposures = [self._exposure(problem, kappa) for kappa in START_KAPPAS]

    def _density(self, kappa: float) -> Array:
        along = np.abs(self.rows @ self.rows.T)
        scale = float(log_scale(np.array([kappa]), self.rows.shape[1])[0])
        return np.exp(kappa * (along - 1.0) + scale) * (1.0 + np.exp(-2.0 * kappa * along))

    def _exposure(self, problem: Problem, kappa: float) -> Array:
        if problem.exposure is None:
            return np.ones(len(self.rows))
        return problem.exposure.of_sets(self.rows, np.full(len(self.rows), kappa))

    def best(self, parameters: SetParameters, count: int) -> list[Start]:
        """The places of highest score against a fit, at least 15° apart.

        The score is that of an infinitely weak new set: with D the slope of the log likelihood
        in its intensity and I the information, D² / 2I is the gain it promises.

        Parameters
        ----------
        parameters : SetParameters
            The present fit.
        count : int
            How many places are wanted.

        Returns
        -------
        list of Start
            Starts for a new set, most promising first.
        """
        logs = component_log_densities(self.rows, parameters, self._closed)
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


def grow(problem: Problem, fit: Fit, candidates: Candidates) -> Fit | None:
    """Add one set to a fit: a short look from several places, then the best two to the end.

    Parameters
    ----------
    problem : Problem
    fit : Fit
    candidates : Candidates

    Returns
    -------
    Fit or None
        None where no place promises any gain.
    """
    starts = candidates.best(fit.parameters, problem.candidates)
    looks = [run_em(problem, _with(problem, fit, start), max_iter=_FIRST_LOOK) for start in starts]
    looks.sort(key=lambda one: -one.log_likelihood)
    ends = [settle(problem, look.parameters) for look in looks[:2]]
    return max(ends, key=lambda one: one.log_likelihood, default=None)


def _with(problem: Problem, fit: Fit, start: Start) -> SetParameters:
    kappa = float(np.clip(start.kappa, *problem.kappa_bounds))
    parameters = fit.parameters.joined(start.mean, kappa, start.intensity)
    if not problem.background:
        return parameters._replace(background=0.0)
    # A background that a fit of fewer sets emptied can't come back by itself: EM multiplies.
    met = 1.0 if problem.exposure is None else problem.exposure.of_uniform()
    least = _LEAST_BACKGROUND * float(problem.weights.sum()) / met
    return parameters._replace(background=max(parameters.background, least))


def _look_without(problem: Problem, fit: Fit, k: int) -> Fit:
    """A few steps of EM after one set has been taken out."""
    keep = [j for j in range(len(fit.parameters.kappas)) if j != k]
    return run_em(problem, fit.parameters.take(keep), max_iter=_FIRST_LOOK)


def _may_go(problem: Problem, fit: Fit) -> list[int]:
    """Sets that may be taken out: not those given, nor the last where there is no background."""
    sets = len(fit.parameters.kappas)
    return list(range(problem.n_given, sets)) if problem.background or sets > 1 else []


def moved(problem: Problem, fit: Fit, candidates: Candidates) -> Fit:
    """Take each set out in turn and grow one anew, as long as the likelihood gains by it.

    Parameters
    ----------
    problem : Problem
    fit : Fit
    candidates : Candidates

    Returns
    -------
    Fit
        Of as many sets as `fit`, no less likely.
    """
    weakest = np.argsort(fit.found.counts[:-1], kind="stable")
    for k in weakest[np.isin(weakest, _may_go(problem, fit))]:
        look = _look_without(problem, fit, int(k))
        starts = candidates.best(look.parameters, 3)
        for start in starts:
            # The place it came from leads back to the same fit.
            returns = abs(start.mean @ fit.parameters.means[k]) > _SAME_PLACE
            if returns or start.gain < _RIVAL * starts[0].gain:
                continue
            again = settle(problem, _with(problem, look, start))
            if again.log_likelihood > fit.log_likelihood + _WORTH_MOVING:
                return moved(problem, again, candidates)
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


@dataclass
class _Path:
    """The best fit so far, and the trials that led to it."""

    problem: Problem
    best: Fit
    trials: list[Trial]

    def behind(self, fit: Fit) -> float:
        """By how much the criterion of a fit exceeds that of the best."""
        n = float(self.problem.weights.sum())
        return fit.criterion(self.problem, n) - self.best.criterion(self.problem, n)

    def offer(self, fit: Fit) -> bool:
        n = float(self.problem.weights.sum())
        counts = fit.found.counts[:-1]
        own = counts[self.problem.n_given :]
        fewest = float(own.min()) if len(own) else float("inf")
        value, least = fit.criterion(self.problem, n), self.best.criterion(self.problem, n)
        verdict = "accepted"
        if fewest < self.problem.smallest:
            verdict = f"refused: a set of {fewest:.1f} fractures is too few to be called one"
        elif value >= least and fit is not self.best:
            verdict = "refused: the criterion does not gain"
        self.trials.append(
            Trial(len(counts), fit.log_likelihood, fit.bic(n), value, fewest, verdict)
        )
        if verdict == "accepted":
            self.best = fit
        return verdict == "accepted"


def search(
    problem: Problem, max_sets: int, random_state: np.random.Generator
) -> tuple[Fit, list[Trial]]:
    """Find the number of sets and their fit by the Bayesian information criterion.

    Parameters
    ----------
    problem : Problem
    max_sets : int
    random_state : numpy.random.Generator

    Returns
    -------
    Fit
    list of Trial
        Every number of sets that was tried, in the order of trial.
    """
    candidates = Candidates(problem, random_state)
    fit: Fit | None = first_fit(problem)
    if not problem.background and not problem.n_given:
        # Without a background one set is the least there can be.
        fit = grow(problem, fit, candidates) or fit
    path = _Path(problem, fit, [])
    path.offer(fit)
    failures = 0
    while len(fit.parameters.kappas) < max_sets and failures < 2:
        fit = grow(problem, fit, candidates)
        if fit is None:
            break
        failures = 0 if path.offer(fit) else failures + 1
        if path.behind(fit) > _HOPELESS:
            break
    _tidy(path, candidates)
    return path.best, path.trials


def _tidy(path: _Path, candidates: Candidates) -> None:
    """Move sets, then drop them one at a time, for as long as the criterion gains."""
    better = True
    while better and len(path.best.parameters.kappas):
        better = False
        fit = moved(path.problem, path.best, candidates)
        if fit is not path.best:
            path.offer(fit)
        for k in _may_go(path.problem, path.best):
            look = _look_without(path.problem, path.best, k)
            if path.behind(look) < _HOPELESS and path.offer(settle(path.problem, look.parameters)):
                better = True
                break


def fit_sets(problem: Problem, n_sets: int, random_state: np.random.Generator) -> Fit:
    """Fit a given number of sets.

    Parameters
    ----------
    problem : Problem
    n_sets : int
    random_state : numpy.random.Generator

    Returns
    -------
    Fit
        Fewer sets only where no place is left that promises any gain.
    """
    candidates = Candidates(problem, random_state)
    fit = first_fit(problem)
    for _ in range(n_sets - problem.n_given):
        grown = grow(problem, fit, candidates)
        if grown is None:
            break
        fit = grown
    return moved(problem, fit, candidates)
