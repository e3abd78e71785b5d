"""One fit from a start: EM to the neighbourhood of the maximum, Newton steps to the maximum."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.data import FitData
from jointstats.fit.information import score_and_information, tangent_frames, turned
from jointstats.fit.likelihood import (
    Expectation,
    RoundSets,
    component_log_densities,
    entropy_of,
    expectation,
    expected_count,
    log_prior,
)
from jointstats.fit.maximise import maximise

__all__ = ["Fit", "first_fit", "run_em", "settle"]


_NEWTON_STEPS = 12
_TURN = 8  # iterations of EM between attempts at Newton steps
_SETTLED = 1e-8  # gain of log likelihood
_FLATTEST = 1e-3  # information below which a direction is not settled by the data
_LONGEST = 0.3  # of a step in any parameter
_HARDLY_THERE = 0.05  # fractures; a component of fewer is on its way out, left to EM


class Fit(NamedTuple):
    """A fitted set of parameters."""

    parameters: RoundSets
    found: Expectation
    log_likelihood: float
    n_iter: int
    converged: bool

    def bic(self, n: float) -> float:
        """Bayesian information criterion for n fractures: smaller is better."""
        sets, columns = self.parameters.means.shape
        free = sets * (columns + 1) + (self.parameters.background > 0)
        return free * float(np.log(max(n, 1.0))) - 2.0 * self.log_likelihood

    def criterion(self, data: FitData, n: float) -> float:
        """What decides the number of sets: BIC, or BIC plus twice the entropy of the memberships.

        The second is the integrated completed likelihood (Biernacki, Celeux & Govaert 2000, IEEE
        Trans. Pattern Analysis and Machine Intelligence 22:719-725; from memory).
        """
        if data.criterion == "bic":
            return self.bic(n)
        logs = component_log_densities(data.rows, self.parameters, data.closed)
        return self.bic(n) + 2.0 * entropy_of(logs, data.weights)


def run_em(
    data: FitData,
    start: RoundSets,
    *,
    max_iter: int | None = None,
    tol: float | None = None,
) -> Fit:
    """Alternate E and M steps from a start until the likelihood stops rising.

    `max_iter` and `tol` end a first look earlier than the data's own. The log likelihood of the fit is
    that of its parameters.
    """
    limit = data.max_iter if max_iter is None else max_iter
    total = data.total
    goal = (data.tol if tol is None else tol) * max(total, 1.0)
    parameters, converged, iteration = start, False, 0
    found = expectation(data.rows, data.weights, parameters, data.closed)
    likelihood = found.log_density - expected_count(parameters, data.exposure)
    value = likelihood + log_prior(parameters, data.exposure)
    while iteration < limit and not converged:
        iteration += 1
        parameters = maximise(
            found,
            parameters,
            data.exposure,
            kappa_bounds=data.kappa_bounds,
            fixed=data.held_of(len(parameters.kappas)),
        )
        found = expectation(data.rows, data.weights, parameters, data.closed)
        # After an M step the expected count is the number of fractures.
        likelihood = found.log_density - total
        before, value = value, likelihood + log_prior(parameters, data.exposure)
        converged = value - before < goal
    return Fit(parameters, found, likelihood, iteration, converged)


def settle(data: FitData, start: RoundSets) -> Fit:
    """Run EM near the maximum, then Newton steps to it; a fit no less likely than the start."""
    if data.rows.shape[1] != 3:
        return run_em(data, start)
    parameters, spent = start, 0
    while True:
        fit = run_em(data, parameters, max_iter=min(_TURN, data.max_iter - spent))
        spent += fit.n_iter
        at_rest, fit = _climb(data, fit)
        if at_rest or fit.converged or spent >= data.max_iter:
            return fit._replace(n_iter=spent, converged=at_rest or fit.converged)
        parameters = fit.parameters


def _climb(data: FitData, fit: Fit) -> tuple[bool, Fit]:
    """Newton steps for as long as they raise the likelihood, and whether they came to rest."""
    for _ in range(_NEWTON_STEPS):
        better = _newton(data, fit)
        if better is None:
            return False, fit
        gain = _objective(data, better) - _objective(data, fit)
        fit = better
        if gain < _SETTLED:
            return True, fit
    return False, fit


def _newton(data: FitData, fit: Fit) -> Fit | None:
    """One Newton step on all parameters at once; None where it would not raise the likelihood."""
    rows, weights, exposure = data.rows, data.weights, data.exposure
    frames = tangent_frames(fit.parameters.means)
    score, information = score_and_information(
        rows, weights, fit.parameters, exposure, frames, data.closed
    )
    free = _free(data, fit)
    values, vectors = np.linalg.eigh(information[np.ix_(free, free)])
    if not len(values):
        return None
    # A direction of positive curvature is climbed, not descended.
    size = np.maximum(np.abs(values), _FLATTEST)
    step = np.zeros(len(score))
    step[free] = vectors @ ((vectors.T @ score[free]) / size)
    step /= max(1.0, float(np.abs(step).max()) / _LONGEST)
    moved = turned(fit.parameters, frames, step)
    moved = moved._replace(kappas=np.clip(moved.kappas, *data.kappa_bounds))
    found = expectation(rows, weights, moved, data.closed)
    value = found.log_density - expected_count(moved, exposure)
    better = fit._replace(parameters=moved, found=found, log_likelihood=value)
    return better if _objective(data, better) > _objective(data, fit) else None


def _objective(data: FitData, fit: Fit) -> float:
    return fit.log_likelihood + log_prior(fit.parameters, data.exposure)


def _free(data: FitData, fit: Fit) -> NDArray[np.bool_]:
    """Which parameters a Newton step may move."""
    sets, (low, high) = len(fit.parameters.kappas), data.kappa_bounds
    free = np.ones(4 * sets + 1, bool)
    free[0:-1:4] = free[1:-1:4] = ~data.held_of(sets)
    free[2:-1:4] = (fit.parameters.kappas > low) & (fit.parameters.kappas < high)
    free[3::4] = fit.found.counts[:-1] > _HARDLY_THERE
    free[-1] = fit.found.counts[-1] > _HARDLY_THERE
    return free


def first_fit(data: FitData) -> Fit:
    """The fit of the given sets alone, or of none.

    Without a set, a model that has no background is only a place to start from.
    """
    if data.given is not None:
        return settle(data, data.given)
    columns = data.rows.shape[1]
    none = RoundSets(
        np.empty((0, columns)), np.empty(0), np.empty(0), data.total / data.uniform
    )
    return run_em(data, none)
