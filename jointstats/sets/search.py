"""Search for the sets: grow one at a time where the data exceed the fit, then try to drop and move.

All functions are deterministic: candidates are the data themselves, ties go to the first in an
order that does not depend on the order of the rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.sets.information import score_and_information, tangent_frames, turned
from jointstats.sets.likelihood import (
    Expectation,
    Exposure,
    SetParameters,
    component_log_densities,
    expected_count,
    expectation,
    log_scale,
)
from jointstats.sets.maximise import maximise

__all__ = ["Fit", "Problem", "Trial", "fit_sets", "run_em", "search"]

Array = NDArray[np.float64]

_START_KAPPAS = (12.0, 35.0, 100.0)
_FIRST_LOOK = 6
_WORTH_MOVING = 0.05
_NEWTON_STEPS = 12
_NEAR = 1e-4  # gain per fracture at which Newton steps take over from EM
_SETTLED = 1e-8  # gain of log likelihood
_FLATTEST = 1e-3  # information below which a direction is not settled by the data
_LONGEST = 0.3  # of a step in any parameter
_HARDLY_THERE = 0.05  # fractures; a component of fewer is on its way out, left to EM
_TINY = float(np.finfo(float).tiny)
_MOST_CANDIDATES = 1500
_APART = np.cos(np.radians(15.0))


@dataclass(frozen=True)
class Problem:
    """The data and the rules of one fit.

    Attributes
    ----------
    rows : ndarray, shape (n, p)
        Unit rows.
    weights : ndarray, shape (n,)
    exposure : Exposure or None
    background : bool
        Whether a uniform background is one of the components.
    kappa_bounds : (float, float)
    smallest : float
        Fewest fractures (sum of memberships) that may be called a set.
    candidates : int
        Places tried for each new set.
    tol : float
        Gain of log likelihood per fracture below which the iteration ends.
    max_iter : int
    """

    rows: Array
    weights: Array
    exposure: Exposure | None
    background: bool
    kappa_bounds: tuple[float, float]
    smallest: float
    candidates: int
    tol: float
    max_iter: int


class Fit(NamedTuple):
    """A fitted set of parameters."""

    parameters: SetParameters
    found: Expectation
    log_likelihood: float
    n_iter: int
    converged: bool

    def bic(self, n: float) -> float:
        """Bayesian information criterion for n fractures: smaller is better."""
        sets, columns = self.parameters.means.shape
        free = sets * (columns + 1) + (self.parameters.background > 0)
        return free * float(np.log(max(n, 1.0))) - 2.0 * self.log_likelihood


def run_em(
    problem: Problem,
    start: SetParameters,
    *,
    max_iter: int | None = None,
    tol: float | None = None,
    fixed: NDArray[np.bool_] | None = None,
) -> Fit:
    """Alternate E and M steps from a start until the likelihood stops rising.

    Parameters
    ----------
    problem : Problem
    start : SetParameters
    max_iter : int or None
        Fewer iterations than the problem allows, for a first look.
    tol : float or None
        A coarser end than the problem's.
    fixed : ndarray of bool, shape (K,), or None
        Sets whose mean is held.

    Returns
    -------
    Fit
        Its log likelihood is that of its parameters.
    """
    limit = problem.max_iter if max_iter is None else max_iter
    total = float(problem.weights.sum())
    goal = (problem.tol if tol is None else tol) * max(total, 1.0)
    parameters, converged, iteration = start, False, 0
    found = expectation(problem.rows, problem.weights, parameters)
    value = found.log_density - expected_count(parameters, problem.exposure)
    while iteration < limit and not converged:
        iteration += 1
        parameters = maximise(
            found, parameters, problem.exposure, kappa_bounds=problem.kappa_bounds, fixed=fixed
        )
        found = expectation(problem.rows, problem.weights, parameters)
        # After an M step the expected count is the number of fractures.
        before, value = value, found.log_density - total
        converged = value - before < goal
    return Fit(parameters, found, value, iteration, converged)


def settle(problem: Problem, start: SetParameters) -> Fit:
    """Run EM to the neighbourhood of the maximum, then Newton steps to the maximum itself.

    Parameters
    ----------
    problem : Problem
    start : SetParameters

    Returns
    -------
    Fit
        No less likely than the start.
    """
    if problem.rows.shape[1] != 3:
        return run_em(problem, start)
    fit = run_em(problem, start, tol=max(_NEAR, problem.tol))
    for _ in range(_NEWTON_STEPS):
        better = _newton(problem, fit)
        if better is None:
            # Not yet where the likelihood is concave, or as high as rounding lets it be.
            return run_em(problem, fit.parameters)
        gain = better.log_likelihood - fit.log_likelihood
        fit = better
        if gain < _SETTLED:
            break
    return fit


def _newton(problem: Problem, fit: Fit) -> Fit | None:
    """One Newton step on all parameters at once; None where it would not raise the likelihood."""
    rows, weights, exposure = problem.rows, problem.weights, problem.exposure
    frames = tangent_frames(fit.parameters.means)
    score, information = score_and_information(rows, weights, fit.parameters, exposure, frames)
    low, high = problem.kappa_bounds
    free = np.ones(len(score), bool)
    free[2:-1:4] = (fit.parameters.kappas > low) & (fit.parameters.kappas < high)
    free[3::4] = fit.found.counts[:-1] > _HARDLY_THERE
    free[-1] = fit.found.counts[-1] > _HARDLY_THERE
    values, vectors = np.linalg.eigh(information[np.ix_(free, free)])
    if not len(values) or values[0] <= _FLATTEST:
        return None
    step = np.zeros(len(score))
    step[free] = vectors @ ((vectors.T @ score[free]) / values)
    step /= max(1.0, float(np.abs(step).max()) / _LONGEST)
    moved = turned(fit.parameters, frames, step)
    moved = moved._replace(kappas=np.clip(moved.kappas, low, high))
    found = expectation(rows, weights, moved)
    value = found.log_density - expected_count(moved, exposure)
    return fit._replace(parameters=moved, found=found, log_likelihood=value) if (
        value > fit.log_likelihood
    ) else None


def background_only(problem: Problem) -> Fit:
    """The fit without any set; where the model has no background, only a place to start from."""
    columns = problem.rows.shape[1]
    seen = 1.0 if problem.exposure is None else problem.exposure.of_uniform()
    none = SetParameters(
        np.empty((0, columns)), np.empty(0), np.empty(0), float(problem.weights.sum()) / seen
    )
    return run_em(problem, none)


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
        # A sample stands for all rows.
        self.weights = problem.weights[used] * (
            problem.weights.sum() / max(float(problem.weights[used].sum()), _TINY)
        )
        self._densities = [self._density(kappa) for kappa in _START_KAPPAS]
        self._exposures = [self._exposure(problem, kappa) for kappa in _START_KAPPAS]

    def _density(self, kappa: float) -> Array:
        along = np.abs(self.rows @ self.rows.T)
        scale = float(log_scale(np.array([kappa]), self.rows.shape[1])[0])
        return np.exp(kappa * (along - 1.0) + scale) * (1.0 + np.exp(-2.0 * kappa * along))

    def _exposure(self, problem: Problem, kappa: float) -> Array:
        if problem.exposure is None:
            return np.ones(len(self.rows))
        return problem.exposure.of_sets(self.rows, np.full(len(self.rows), kappa))

    def best(self, parameters: SetParameters, count: int) -> list[tuple[Array, float, float]]:
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
        list of (mean, kappa, intensity)
            Starts for a new set, most promising first.
        """
        logs = component_log_densities(self.rows, parameters)
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
        chosen: list[tuple[Array, float, float]] = []
        for i in np.argsort(-gain, kind="stable"):
            if len(chosen) == count or not np.isfinite(gain[i]):
                break
            if all(abs(mean @ self.rows[i]) < _APART for mean, _, _ in chosen):
                start = _START_KAPPAS[which[i]], float(intensities[which[i]][i])
                chosen.append((self.rows[i], *start))
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
    low, high = problem.kappa_bounds
    looks = []
    for mean, kappa, intensity in candidates.best(fit.parameters, problem.candidates):
        start = fit.parameters.joined(mean, float(np.clip(kappa, low, high)), intensity)
        if not problem.background:
            start = start._replace(background=0.0)
        looks.append(run_em(problem, start, max_iter=_FIRST_LOOK))
    looks.sort(key=lambda one: -one.log_likelihood)
    ends = [settle(problem, look.parameters) for look in looks[:2]]
    return max(ends, key=lambda one: one.log_likelihood, default=None)


def _without(problem: Problem, fit: Fit, k: int) -> Fit:
    keep = [j for j in range(len(fit.parameters.kappas)) if j != k]
    return settle(problem, fit.parameters.take(keep))


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
    for k in weakest if problem.background or len(weakest) > 1 else ():
        again = grow(problem, _without(problem, fit, int(k)), candidates)
        if again is not None and again.log_likelihood > fit.log_likelihood + _WORTH_MOVING:
            return moved(problem, again, candidates)
    return fit


@dataclass(frozen=True)
class Trial:
    """One number of sets that the search tried, and what came of it."""

    n_sets: int
    log_likelihood: float
    bic: float
    smallest_count: float
    verdict: str


@dataclass
class _Path:
    """The best fit so far, and the trials that led to it."""

    problem: Problem
    best: Fit
    trials: list[Trial]

    def offer(self, fit: Fit) -> bool:
        n = float(self.problem.weights.sum())
        counts = fit.found.counts[:-1]
        fewest = float(counts.min()) if len(counts) else float("inf")
        verdict = "accepted"
        if fewest < self.problem.smallest:
            verdict = f"refused: a set of {fewest:.1f} fractures is too few to be called one"
        elif fit.bic(n) >= self.best.bic(n) and fit is not self.best:
            verdict = "refused: the criterion does not gain"
        self.trials.append(
            Trial(len(counts), fit.log_likelihood, fit.bic(n), fewest, verdict)
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
    fit: Fit | None = background_only(problem)
    if not problem.background:
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
        sets = len(path.best.parameters.kappas)
        for k in range(sets if path.problem.background or sets > 1 else 0):
            if path.offer(_without(path.problem, path.best, k)):
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
    fit = background_only(problem)
    for _ in range(n_sets):
        grown = grow(problem, fit, candidates)
        if grown is None:
            break
        fit = grown
    return moved(problem, fit, candidates)
