"""Fitting sets that may be elliptical: all parameters together, from exact slopes.

Each set has six coordinates about a base: two turns of its mean, log κ, two of ellipticity, log λ. The
ellipticity (η1, η2) = r (cos 2ψ, sin 2ψ) makes the long axis lie ψ away from the base's, with
2β/κ = m r / √(1 + r²), so that a round set (r = 0) is an ordinary inner point. Steps are those
of BFGS with a line search, so the likelihood never falls; EM would climb the same hill slower.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from jointstats.fit.certainty import Certainty
from jointstats.fit.elliptical_sets import (
    Data,
    EllipticalSets,
    Slopes,
    in_plain_form,
    slopes_of,
)

__all__ = ["EllipticalFit", "certainty_of_elliptical", "fit_elliptical"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: Largest 2β/κ that a fit gives; at 1 the density would be flat along the long axis.
MOST_ELLIPTICAL = 0.98
_SETTLED = 2e-3  # slope per standard error at which a fit has converged: 2e-6 of log likelihood
_HARDLY_THERE = 0.05  # fractures; a component of fewer stays as it is
_SMALL = 1e-4  # radians: below it the series of a turn is exact


class EllipticalFit(NamedTuple):
    """Fitted sets, some of them elliptical."""

    parameters: EllipticalSets
    elliptical: Mask  # (K,) which may be elliptical
    log_likelihood: float
    counts: Array  # (K + 1,) expected number of fractures in each component
    n_iter: int
    converged: bool

    def bic(self, n: float) -> float:
        """Bayesian information criterion for n fractures: smaller is better."""
        free = 4 * len(self.elliptical) + 2 * int(self.elliptical.sum()) + (self.parameters.background > 0)
        return free * float(np.log(max(n, 1.0))) - 2.0 * self.log_likelihood

    def take(self, order: NDArray[np.intp]) -> EllipticalFit:
        """The same sets in another order."""
        counts = np.append(self.counts[order], self.counts[-1])
        return self._replace(
            parameters=self.parameters.take(order), elliptical=self.elliptical[order], counts=counts
        )


def _cross_matrix(w: Array) -> Array:
    return np.array([[0.0, -w[2], w[1]], [w[2], 0.0, -w[0]], [-w[1], w[0], 0.0]])


def _turn(w: Array) -> tuple[Array, Array]:
    """Rotation by a vector (Rodrigues) and its left Jacobian."""
    angle, cross = float(np.linalg.norm(w)), _cross_matrix(w)
    if angle < _SMALL:
        return np.eye(3) + cross + 0.5 * cross @ cross, np.eye(3) + 0.5 * cross + cross @ cross / 6
    sine, drop = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2
    rest = (1.0 - sine) / angle**2
    square = cross @ cross
    return np.eye(3) + sine * cross + drop * square, np.eye(3) + drop * cross + rest * square


class Chart:
    """Coordinates about a base, and the slopes of the likelihood by them.

    Parameters
    ----------
    base : EllipticalSets
    bounds : (float, float)
        Smallest and largest κ.
    """

    def __init__(self, base: EllipticalSets, bounds: tuple[float, float]) -> None:
        self.base, self.bounds = base, bounds
        share = np.clip(2.0 * base.betas / (base.kappas * MOST_ELLIPTICAL), 0.0, 0.999)
        self._start = share / np.sqrt(1.0 - share**2)

    def _one(self, k: int, at: Array) -> tuple[Array, Array, Array]:
        """Base frame carried along, the left Jacobian of its turn, and the ellipticity."""
        frame = self.base.frames[k]
        turn, jacobian = _turn(at[0] * frame[2] - at[1] * frame[1])
        return frame @ turn.T, jacobian, np.array([self._start[k] + at[3], at[4]])

    def sets(self, x: Array) -> EllipticalSets:
        """Parameters at coordinates x, shape (6 K + 1,)."""
        steps = x[:-1].reshape(-1, 6)
        kappas = np.clip(self.base.kappas * np.exp(steps[:, 2]), *self.bounds)
        frames, betas = np.empty_like(self.base.frames), np.empty(len(steps))
        for k, at in enumerate(steps):
            carried, _, elliptical = self._one(k, at)
            size = float(np.hypot(*elliptical))
            betas[k] = 0.5 * kappas[k] * MOST_ELLIPTICAL * size / np.sqrt(1.0 + size**2)
            half = 0.5 * np.arctan2(elliptical[1], elliptical[0])
            c, s = np.cos(half), np.sin(half)
            frames[k] = np.array([[1.0, 0, 0], [0, c, s], [0, -s, c]]) @ carried
        # A component on its way out may go far; it need not overflow.
        intensities = self.base.intensities * np.exp(np.clip(steps[:, 5], -50.0, 50.0))
        background = self.base.background * float(np.exp(np.clip(x[-1], -50.0, 50.0)))
        return EllipticalSets(frames, kappas, betas, intensities, background)

    def gradient(self, x: Array, sets: EllipticalSets, slopes: Slopes) -> Array:
        """Slopes of the log likelihood by the coordinates."""
        steps = x[:-1].reshape(-1, 6)
        out = np.empty_like(steps)
        for k, at in enumerate(steps):
            base = self.base.frames[k]
            carried, jacobian, elliptical = self._one(k, at)
            _, y, z = carried
            kappa, beta, frame = sets.kappas[k], sets.betas[k], sets.frames[k]
            force, pull = slopes.by_matrix[k], slopes.by_vector[k]
            matrix = beta * (np.outer(frame[1], frame[1]) - np.outer(frame[2], frame[2]))
            # A small turn ε moves v by ε × v, and B by [ε]B − B[ε].
            lever = matrix @ force
            twist = np.array(
                [lever[1, 2] - lever[2, 1], lever[2, 0] - lever[0, 2], lever[0, 1] - lever[1, 0]]
            )
            torque = jacobian.T @ (np.cross(kappa * frame[0], pull) + 2.0 * twist)
            out[k, 0], out[k, 1] = torque @ base[2], -(torque @ base[1])
            inside = self.bounds[0] < kappa < self.bounds[1]
            out[k, 2] = inside * (kappa * (pull @ frame[0]) + (force * matrix).sum())
            lean = np.array([y @ force @ y - z @ force @ z, 2.0 * (y @ force @ z)])
            squared = 1.0 + float(elliptical @ elliptical)
            across = (lean - elliptical * (lean @ elliptical) / squared) / np.sqrt(squared)
            out[k, 3:5] = 0.5 * kappa * MOST_ELLIPTICAL * across
            out[k, 5] = slopes.by_log_intensity[k]
        return np.append(out.ravel(), slopes.by_log_intensity[-1])


def _free(sets: EllipticalSets, elliptical: Mask, held: Mask | None, counts: Array) -> Mask:
    size = len(elliptical)
    free = np.ones((size, 6), bool)
    if held is not None:
        free[: len(held), :2] = ~held[:, np.newaxis]
    free[:, 3:5] = elliptical[:, np.newaxis]
    free &= (counts[:-1] > _HARDLY_THERE)[:, np.newaxis]
    return np.append(free.ravel(), sets.background > 0 and counts[-1] > _HARDLY_THERE)


def _scale(sets: EllipticalSets, counts: Array) -> Array:
    """About one standard error of each coordinate, from a set seen alone and evenly."""
    error = 1.0 / np.sqrt(np.maximum(counts, 1.0))
    scale = np.repeat(error[:-1, np.newaxis], 6, axis=1)
    scale[:, :2] /= np.sqrt(sets.kappas)[:, np.newaxis]
    return np.append(scale.ravel(), error[-1])


def fit_elliptical(data: Data, start: EllipticalSets, elliptical: Mask, *, max_iter: int = 200) -> EllipticalFit:
    """Maximise the likelihood of sets of which some may be elliptical.

    Parameters
    ----------
    data : Data
    start : EllipticalSets
    elliptical : ndarray of bool, shape (K,)
        Which sets may be elliptical; the others are taken, and stay, round.
    max_iter : int
        Most steps.

    Returns
    -------
    EllipticalFit
        No less likely than the start (with the sets that must be round made so).
    """
    start = start._replace(betas=np.where(elliptical, start.betas, 0.0))
    chart = Chart(start, data.kappa_bounds)
    counts = slopes_of(data, start).counts
    free = _free(start, elliptical, data.held, counts)
    scale = _scale(start, counts)[free]
    x = np.zeros(len(free))

    def loss(step: Array) -> tuple[float, Array]:
        x[free] = step * scale
        sets = chart.sets(x)
        slopes = slopes_of(data, sets)
        return -slopes.log_likelihood, -chart.gradient(x, sets, slopes)[free] * scale

    best = np.zeros(int(free.sum()))
    n_iter, converged = 0, True
    if len(best):
        found = minimize(
            loss, best, jac=True, method="BFGS", options={"gtol": _SETTLED, "maxiter": max_iter}
        )
        # Status 2: the line search met the rounding of the likelihood; the place is as good.
        best, n_iter, converged = found.x, int(found.nit), found.status in (0, 2)
    x[free] = best * scale
    sets = in_plain_form(chart.sets(x))
    slopes = slopes_of(data, sets)
    return EllipticalFit(sets, elliptical, slopes.log_likelihood, slopes.counts, n_iter, converged)


def certainty_of_elliptical(data: Data, fit: EllipticalFit, confidence: float) -> Certainty:
    """Covariance of a fit from its observed information, by differences of the exact slopes.

    Parameters
    ----------
    data : Data
    fit : EllipticalFit
        At the maximum.
    confidence : float
        Level of the intervals.

    Returns
    -------
    Certainty
        Over (along the long axis, along the short axis, log κ, log λ) of each set; what is not
        known of the ellipticity is in it. The interval of κ is that of an elliptical set's own κ.
    """
    chart = Chart(fit.parameters, (1e-6, 1e6))
    free = np.flatnonzero(_free(fit.parameters, fit.elliptical, data.held, fit.counts))
    step = 0.05 * _scale(fit.parameters, fit.counts)
    information = np.zeros((len(free), len(free)))
    for row, i in enumerate(free):
        ends = []
        for sign in (-1.0, 1.0):
            x = np.zeros(len(step))
            x[i] = sign * step[i]
            sets = chart.sets(x)
            ends.append(chart.gradient(x, sets, slopes_of(data, sets))[free])
        information[row] = (ends[0] - ends[1]) / (2.0 * step[i])
    values, vectors = np.linalg.eigh(0.5 * (information + information.T))
    # As for round sets: a direction that is not settled gets a variance of one.
    part = (vectors / np.maximum(values, 1.0)) @ vectors.T
    covariance = np.diag(np.ones(len(step)))
    covariance[np.ix_(free, free)] = part
    kept = [6 * k + j for k in range(len(fit.elliptical)) for j in (0, 1, 2, 5)] + [len(step) - 1]
    return Certainty(covariance[np.ix_(kept, kept)], confidence, fit.parameters.as_round())
