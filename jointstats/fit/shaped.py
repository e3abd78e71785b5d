"""Fitting sets of any shape: all parameters together, by scoring.

Each set has six coordinates about where it stands: the five of its density (`sphere.set_chart`) and
the log of its intensity; sets with heavy tails share one weight of the tails, since a few dozen
fractures of one set seldom tell of it. Steps are those of BFGS with a line search, so nothing falls; their first
metric is Σ s_i s_iᵀ with s_i the slope of the log rate at fracture i, whose mean is the information of
a Poisson process.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from jointstats.fit.data import FitData
from jointstats.fit.information import score_and_information
from jointstats.fit.likelihood import PRIOR, RoundSets, entropy_of
from jointstats.fit.rock import Rock, RockSet
from jointstats.sphere.set_chart import COORDINATES, SetChart
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.zonal import SetMoments
from jointstats.types import Array

__all__ = [
    "PER_SET",
    "ShapedFit",
    "as_read",
    "fit_shaped",
    "free_coordinates",
    "free_directions",
    "log_densities_read",
    "observed_information",
    "score_rows",
    "shaped_value",
]

Mask = NDArray[np.bool_]

PER_SET = COORDINATES + 1
_SETTLED = 2e-3  # slope per standard error at which a fit has converged: 2e-6 of log likelihood
_DIFFERENCE = 0.05  # of a standard error
_NUDGE = 1e-4  # of a coordinate, where slopes of one set are taken by differences
_TAIL = 3  # the coordinate of the weight of the tails
_HARDLY_THERE = 0.05  # fractures; a component of fewer stays as it is
_ANY = (1e-6, 1e6)  # bounds of a concentration that no fit meets
_TINY = float(np.finfo(float).tiny)


class ShapedFit(NamedTuple):
    """Fitted rock: sets of any shape."""

    rock: Rock
    log_likelihood: float
    counts: Array  # (K + 1,) expected number of fractures in each component, background last
    n_iter: int
    converged: bool

    def bic(self, n: float) -> float:
        """Bayesian information criterion for n fractures: smaller is better."""
        return self.rock.penalty(n) - 2.0 * self.log_likelihood

    def criterion(self, data: FitData) -> float:
        """What decides the description: BIC, or BIC plus twice the entropy of the memberships.

        The second is the integrated completed likelihood (Biernacki, Celeux & Govaert 2000, IEEE
        Trans. Pattern Analysis and Machine Intelligence 22:719-725; from memory).
        """
        if data.criterion == "bic":
            return self.bic(data.total)
        logs = self.rock.log_rates(data.rows, data.closed, data.read)
        return self.bic(data.total) + 2.0 * entropy_of(logs, data.weights)


class _Place(NamedTuple):
    """What is maximised at one rock: the likelihood, the log prior, and the memberships."""

    rock: Rock
    log_likelihood: float
    value: float  # with the log prior
    shares: Array  # (n, K + 1), weighted
    met: Array  # (K,) mean exposure of each set
    seen: list[SetMoments | None]  # its moments, where its slopes follow from them

    @property
    def counts(self) -> Array:
        """Expected number of fractures in each component, the background last."""
        return self.shares.sum(axis=0)


def shaped_value(data: FitData, rock: Rock) -> _Place:
    """Log likelihood of a rock, and with the prior of `fit.likelihood`."""
    logs = rock.log_rates(data.rows, data.closed, data.read)
    total = data.log_means(np.logaddexp.reduce(logs, axis=1))
    shares = np.exp(logs - total[:, np.newaxis]) * data.weights[:, np.newaxis]
    # Rows spread by errors of their own have no common moments.
    seen = [
        one.moments(data.exposure) if one.closed_slopes and not data.read else None
        for one in rock.densities
    ]
    met = np.array(
        [
            _met(density, data) if one is None else one.met
            for density, one in zip(rock.densities, seen, strict=True)
        ]
    )
    expected = float(rock.intensities @ met) + rock.background_per_m * data.uniform
    likelihood = float(data.weights @ total) - expected
    prior = PRIOR * float(np.log(np.maximum(met, _TINY)).sum())
    return _Place(rock, likelihood, likelihood + prior, shares, met, seen)


def _met(density: SetDensity, data: FitData) -> float:
    return 1.0 if data.exposure is None else density.mean_exposure(data.exposure)


def score_rows(density: SetDensity, rows: Array) -> Array:
    """Slope of the log density at each row by the coordinates about the density, (n, 5)."""
    if not density.closed_slopes:
        values = density.log_densities(
            rows, *_nudged(SetChart(density, _ANY), np.zeros(COORDINATES))
        )
        return (values[:, :COORDINATES] - values[:, COORDINATES:]) / (2.0 * _NUDGE)
    x, y, z = density.frame @ rows.T
    kappa, flat, e = (float(one[0]) for one in density.canonical(*density.numbers))
    bend = np.tanh(kappa * x)
    sums = density.sums
    lean = (y - z) * (y + z) - sums.lean[0]
    out = np.zeros((len(rows), COORDINATES))
    out[:, 0] = kappa * bend * y - 2.0 * (flat + e) * x * y
    out[:, 1] = kappa * bend * z - 2.0 * (flat - e) * x * z
    out[:, 2] = kappa * (bend * x - sums.along[0]) - flat * (x * x - sums.square[0]) + e * lean
    if density.limit:
        share = min(e / (density.limit * density.concentration), 0.999)
        scale = density.limit * density.concentration * np.sqrt(1.0 - share**2)
        out[:, 3] = scale * (1.0 - share**2) * lean
        out[:, 4] = scale * 2.0 * y * z
    return out


def _gradient(data: FitData, place: _Place, charts: list[SetChart], steps: Array) -> Array:
    """Slopes (6 K + 1,) of what is maximised by the coordinates about the bases of the charts."""
    rock, out = place.rock, np.zeros(PER_SET * len(charts) + 1)
    for k, intensity in enumerate(rock.intensities):
        own = slice(PER_SET * k, PER_SET * k + COORDINATES)
        slope = _set_slope if place.seen[k] is not None else _set_slope_by_differences
        out[own] = slope(data, place, k, charts[k], steps[own])
        out[own.stop] = place.shares[:, k].sum() - intensity * place.met[k]
    out[-1] = place.shares[:, -1].sum() - rock.background_per_m * data.uniform
    return out


def _set_slope(data: FitData, place: _Place, k: int, chart: SetChart, step: Array) -> Array:
    """Slopes (5,) by the coordinates of the density of set k, from its moments."""
    (density, intensity), share, seen = place.rock.sets[k], place.shares[:, k], place.seen[k]
    assert seen is not None
    whole = density.moments()
    bend = np.tanh((density.kappa or 0.0) * (data.rows @ density.frame[0]))
    # Σ r ∂log f less the slope of (λ E − ½ log E), E being (integral over what is seen) / C.
    by_vector = (share * bend) @ data.rows - share.sum() * whole.first
    by_matrix = (data.rows * share[:, np.newaxis]).T @ data.rows - share.sum() * whole.second
    if data.exposure is not None:
        rest = intensity * seen.met - PRIOR
        by_vector -= rest * (seen.first - whole.first)
        by_matrix -= rest * (seen.second - whole.second)
    return chart.slope(step, density, by_vector, by_matrix)


def _set_slope_by_differences(
    data: FitData, place: _Place, k: int, chart: SetChart, step: Array
) -> Array:
    """The same for a density whose slopes have no closed form."""
    moved, kind = _nudged(chart, step), type(chart.base)
    value = place.shares[:, k] @ log_densities_read(kind, data, *moved)
    if data.exposure is not None:
        met = np.maximum(kind.mean_exposures(*moved, data.exposure), _TINY)
        value += PRIOR * np.log(met) - place.rock.sets[k].p32_per_m * met
    return np.asarray(value[:COORDINATES] - value[COORDINATES:]) / (2.0 * _NUDGE)


def log_densities_read(
    kind: type[SetDensity], data: FitData, frames: Array, concentration: Array, ellipticity: Array
) -> Array:
    """Log density of D sets of one shape at each row as it was read, (n, D)."""
    if not data.read:
        return kind.log_densities(data.rows, frames, concentration, ellipticity)
    values = np.empty((len(data.rows), len(frames)))
    for part, scatter in data.read:
        widened = kind.widened(concentration, ellipticity, scatter)
        values[part] = kind.log_densities(data.rows[part], frames, *widened)
    return values


def _nudged(chart: SetChart, step: Array) -> tuple[Array, Array, Array]:
    """The set a little to either side of a step (5,) along each coordinate, up first, (10, …)."""
    sides = _NUDGE * np.eye(COORDINATES)
    return chart.moved(step + np.vstack([sides, -sides]))


def _information(data: FitData, place: _Place) -> Array:
    """Σ s sᵀ over the fractures, s the slope of the log rate by the coordinates of all sets."""
    size = PER_SET * len(place.rock.sets) + 1
    rows = np.zeros((len(data.rows), size))
    for k, density in enumerate(place.rock.densities):
        own, share = slice(PER_SET * k, PER_SET * k + COORDINATES), place.shares[:, k]
        rows[:, own] = score_rows(density, data.rows) * share[:, np.newaxis]
        rows[:, own.stop] = share
    rows[:, -1] = place.shares[:, -1]
    slopes, weights = data.summed(rows), data.fracture_weights
    # The slopes carry the weights once; their squares must carry them once too.
    slopes = slopes / np.sqrt(np.where(weights > 0, weights, 1.0))[:, np.newaxis]
    return slopes.T @ slopes


def free_coordinates(data: FitData, rock: Rock) -> Mask:
    """Which of the (6 K + 1,) coordinates a fit may move."""
    free = np.ones((len(rock.sets), PER_SET), bool)
    for k, density in enumerate(rock.densities):
        free[k, _TAIL:COORDINATES] = density.limit > 0
        free[k, _TAIL + 1] &= not density.round_about_mean
    if data.held is not None:
        free[: len(data.held), :2] &= ~data.held[:, np.newaxis]
    return np.append(free.ravel(), rock.background_per_m > 0)


def free_directions(free: Mask, rock: Rock) -> Array:
    """What a fit moves, (6 K + 1, F): each free coordinate alone, and the tails of all sets as one."""
    tails = [
        PER_SET * k + _TAIL
        for k, one in enumerate(rock.densities)
        if one.tail_freedom is not None and free[PER_SET * k + _TAIL]
    ]
    alone = free.copy()
    alone[tails[1:]] = False
    columns = np.eye(len(free))[:, alone]
    for tail in tails[1:]:
        columns[tail] = columns[tails[0]]
    return columns


def observed_information(data: FitData, rock: Rock) -> Array:
    """Minus the second derivatives of what is maximised, (6 K + 1, 6 K + 1), at its maximum.

    Exact for round sets; else by differences of the exact slopes.
    """
    size = PER_SET * len(rock.sets) + 1
    information = np.zeros((size, size))
    if rock.all_round and not data.read and data.part_of is None:
        frames = np.array([one.frame[1:] for one in rock.densities]).reshape(-1, 2, 3)
        _, plain = score_and_information(
            data.rows, data.weights, RoundSets.of(rock), data.exposure, frames, data.closed
        )
        kept = [PER_SET * k + j for k in range(len(rock.sets)) for j in (0, 1, 2, 5)] + [size - 1]
        information[np.ix_(kept, kept)] = plain
        return information
    charts = [SetChart(one, _ANY) for one in rock.densities]
    step = _DIFFERENCE / np.sqrt(
        np.maximum(np.diag(_information(data, shaped_value(data, rock))), 1.0)
    )
    for i in np.flatnonzero(free_coordinates(data, rock)):
        ends = []
        for sign in (1.0, -1.0):
            x = np.zeros(size)
            x[i] = sign * step[i]
            place = shaped_value(data, moved_rock(charts, rock, x))
            ends.append(_gradient(data, place, charts, x))
        information[i] = (ends[1] - ends[0]) / (2.0 * step[i])
    return 0.5 * (information + information.T)


def moved_rock(charts: list[SetChart], rock: Rock, step: Array) -> Rock:
    """The rock moved by a step (6 K + 1,) of the coordinates about the bases of the charts."""
    # A component on its way out may go far; it need not overflow.
    growth = np.exp(np.clip(step, -50.0, 50.0))
    sets = []
    for k, (chart, one) in enumerate(zip(charts, rock.sets, strict=True)):
        own = slice(PER_SET * k, PER_SET * k + COORDINATES)
        sets.append(RockSet(chart.at(step[own]), one.p32_per_m * float(growth[own.stop])))
    return Rock(tuple(sets), rock.background_per_m * float(growth[-1]))


def as_read(data: FitData, rock: Rock) -> Rock:
    """The rock with each density spread by the mean error of reading of its fractures."""
    if data.scatter is None or not data.read:
        return rock
    shares = shaped_value(data, rock).shares[:, :-1]
    mean = shares.T @ data.scatter / np.maximum(shares.sum(axis=0), _TINY)
    return rock.read_with(mean)


def fit_shaped(data: FitData, start: Rock, *, max_iter: int = 200) -> ShapedFit:
    """Maximise the likelihood (and prior) of sets that keep their shapes, from a start."""
    place = shaped_value(data, start)
    charts = [SetChart(one, data.kappa_bounds) for one in start.densities]
    there = place.counts > _HARDLY_THERE
    free = free_coordinates(data, start) & np.append(np.repeat(there[:-1], PER_SET), there[-1])
    ways = free_directions(free, start)
    # About one standard error a step: the first metric of a search that then learns its own.
    values, vectors = np.linalg.eigh(ways.T @ _information(data, place) @ ways)
    spread = ways @ (vectors / np.sqrt(np.maximum(values, 1.0)))

    def loss(step: Array) -> tuple[float, Array]:
        full = spread @ step
        at = shaped_value(data, moved_rock(charts, start, full))
        return -at.value, -spread.T @ _gradient(data, at, charts, full)

    best, n_iter, converged = np.zeros(spread.shape[1]), 0, True
    if len(best):
        options = {"gtol": _SETTLED, "maxiter": max_iter}
        found = minimize(loss, best, jac=True, method="BFGS", options=options)
        # Status 2: the line search met the rounding of the likelihood; the place is as good.
        best, n_iter, converged = found.x, int(found.nit), found.status in (0, 2)
    place = shaped_value(data, moved_rock(charts, start, spread @ best))
    counts = place.counts
    return ShapedFit(place.rock.plain(), place.log_likelihood, counts, n_iter, converged)
