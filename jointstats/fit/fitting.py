"""One fit from a start: EM to the neighbourhood of the maximum, Newton steps to the maximum."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.information import score_and_information, tangent_frames, turned
from jointstats.fit.likelihood import (
    Closed,
    Expectation,
    Exposure,
    SetParameters,
    component_log_densities,
    expectation,
    expected_count,
    log_prior,
)
from jointstats.fit.maximise import maximise

__all__ = ["Fit", "Problem", "first_fit", "run_em", "settle", "thinned"]

Array = NDArray[np.float64]

_NEWTON_STEPS = 12
_TURN = 8  # iterations of EM between attempts at Newton steps
_SETTLED = 1e-8  # gain of log likelihood
_FLATTEST = 1e-3  # information below which a direction is not settled by the data
_LONGEST = 0.3  # of a step in any parameter
_HARDLY_THERE = 0.05  # fractures; a component of fewer is on its way out, left to EM


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
    criterion : str
        "bic" or "icl"; decides the number of sets.
    given : SetParameters or None
        Sets that the analyst gave, to start from.
    held : ndarray of bool, shape (G,), or None
        Which of them keep their mean.
    closed : ndarray of bool, shape (n, G), or None
        Rows that may not join each of them.
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
    criterion: str = "bic"
    given: SetParameters | None = None
    held: NDArray[np.bool_] | None = None
    closed: Closed = None

    @property
    def n_given(self) -> int:
        """Number of sets the analyst gave; they come first and are never dropped."""
        return 0 if self.given is None else len(self.given.kappas)


def thinned(problem: Problem, random_state: np.random.Generator, most: int) -> Problem:
    """The same problem on a random part of the rows, which stand for all of them.

    Parameters
    ----------
    problem : Problem
    random_state : numpy.random.Generator
    most : int
        Rows to keep.

    Returns
    -------
    Problem
        The problem itself if it has no more rows; else weights are scaled to the same sum.
    """
    if len(problem.rows) <= most:
        return problem
    keep = np.sort(random_state.choice(len(problem.rows), most, replace=False))
    weights = problem.weights[keep]
    return replace(
        problem,
        rows=problem.rows[keep],
        weights=weights * (problem.weights.sum() / weights.sum()),
        closed=None if problem.closed is None else problem.closed[keep],
    )


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

    def criterion(self, problem: Problem, n: float) -> float:
        """What decides the number of sets: BIC, or BIC plus twice the entropy of the memberships.

        The second is the integrated completed likelihood (Biernacki, Celeux & Govaert 2000, IEEE
        Trans. Pattern Analysis and Machine Intelligence 22:719-725; from memory).
        """
        if problem.criterion == "bic":
            return self.bic(n)
        logs = component_log_densities(problem.rows, self.parameters, problem.closed)
        logs = logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis]
        shares = np.exp(logs)
        unsure = -(shares * np.where(shares > 0, logs, 0.0)).sum(axis=1)
        return self.bic(n) + 2.0 * float(problem.weights @ unsure)


def run_em(
    problem: Problem,
    start: SetParameters,
    *,
    max_iter: int | None = None,
    tol: float | None = None,
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

    Returns
    -------
    Fit
        Its log likelihood is that of its parameters.
    """
    limit = problem.max_iter if max_iter is None else max_iter
    total = float(problem.weights.sum())
    goal = (problem.tol if tol is None else tol) * max(total, 1.0)
    parameters, converged, iteration = start, False, 0
    found = expectation(problem.rows, problem.weights, parameters, problem.closed)
    likelihood = found.log_density - expected_count(parameters, problem.exposure)
    value = likelihood + log_prior(parameters, problem.exposure)
    while iteration < limit and not converged:
        iteration += 1
        parameters = maximise(
            found,
            parameters,
            problem.exposure,
            kappa_bounds=problem.kappa_bounds,
            fixed=_held(problem, len(parameters.kappas)),
        )
        found = expectation(problem.rows, problem.weights, parameters, problem.closed)
        # After an M step the expected count is the number of fractures.
        likelihood = found.log_density - total
        before, value = value, likelihood + log_prior(parameters, problem.exposure)
        converged = value - before < goal
    return Fit(parameters, found, likelihood, iteration, converged)


def _held(problem: Problem, sets: int) -> NDArray[np.bool_]:
    held = np.zeros(sets, bool)
    if problem.held is not None:
        held[: problem.n_given] = problem.held
    return held


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
    parameters, spent = start, 0
    while True:
        fit = run_em(problem, parameters, max_iter=min(_TURN, problem.max_iter - spent))
        spent += fit.n_iter
        at_rest, fit = _climb(problem, fit)
        if at_rest or fit.converged or spent >= problem.max_iter:
            return fit._replace(n_iter=spent, converged=at_rest or fit.converged)
        parameters = fit.parameters


def _climb(problem: Problem, fit: Fit) -> tuple[bool, Fit]:
    """Newton steps for as long as they raise the likelihood, and whether they came to rest."""
    for _ in range(_NEWTON_STEPS):
        better = _newton(problem, fit)
        if better is None:
            return False, fit
        gain = _objective(problem, better) - _objective(problem, fit)
        fit = better
        if gain < _SETTLED:
            return True, fit
    return False, fit


def _newton(problem: Problem, fit: Fit) -> Fit | None:
    """One Newton step on all parameters at once; None where it would not raise the likelihood."""
    rows, weights, exposure = problem.rows, problem.weights, problem.exposure
    frames = tangent_frames(fit.parameters.means)
    score, information = score_and_information(
        rows, weights, fit.parameters, exposure, frames, problem.closed
    )
    free = _free(problem, fit)
    values, vectors = np.linalg.eigh(information[np.ix_(free, free)])
    if not len(values):
        return None
    # A direction of positive curvature is climbed, not descended.
    size = np.maximum(np.abs(values), _FLATTEST)
    step = np.zeros(len(score))
    step[free] = vectors @ ((vectors.T @ score[free]) / size)
    step /= max(1.0, float(np.abs(step).max()) / _LONGEST)
    moved = turned(fit.parameters, frames, step)
    moved = moved._replace(kappas=np.clip(moved.kappas, *problem.kappa_bounds))
    found = expectation(rows, weights, moved, problem.closed)
    value = found.log_density - expected_count(moved, exposure)
    better = fit._replace(parameters=moved, found=found, log_likelihood=value)
    return better if _objective(problem, better) > _objective(problem, fit) else None


def _objective(problem: Problem, fit: Fit) -> float:
    return fit.log_likelihood + log_prior(fit.parameters, problem.exposure)


def _free(problem: Problem, fit: Fit) -> NDArray[np.bool_]:
    """Which parameters a Newton step may move."""
    sets, (low, high) = len(fit.parameters.kappas), problem.kappa_bounds
    free = np.ones(4 * sets + 1, bool)
    free[0:-1:4] = free[1:-1:4] = ~_held(problem, sets)
    free[2:-1:4] = (fit.parameters.kappas > low) & (fit.parameters.kappas < high)
    free[3::4] = fit.found.counts[:-1] > _HARDLY_THERE
    free[-1] = fit.found.counts[-1] > _HARDLY_THERE
    return free


def first_fit(problem: Problem) -> Fit:
    """The fit of the given sets alone, or of none.

    Without a set, a model that has no background is only a place to start from.
    """
    if problem.given is not None:
        return settle(problem, problem.given)
    columns = problem.rows.shape[1]
    seen = 1.0 if problem.exposure is None else problem.exposure.of_uniform()
    none = SetParameters(
        np.empty((0, columns)), np.empty(0), np.empty(0), float(problem.weights.sum()) / seen
    )
    return run_em(problem, none)
