"""M step: the mean and concentration of one set, given its expected count and sum.

With N fractures of sum S (each taken on the near side, weighted by tanh κ μ·n), and λ = N / E, a
set maximises  Q(μ, κ) = N log c(κ) + κ (μ·S − N) − (N − ½) log E(μ, κ), the half being that of the
prior.  Where E is the same for every set the answer is the classical one: μ along S, and κ from the
mean resultant length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ive

from jointstats.fit.likelihood import (
    PRIOR,
    Expectation,
    Exposure,
    RoundSets,
    log_scale,
)
from jointstats.sphere.axes import frames_about, moved_along
from jointstats.sphere.zonal import FisherMeansSlopes
from jointstats.types import Array

__all__ = ["maximise"]


_LARGEST_TURN = 0.35  # radians in one step
_LARGEST_CHANGE = 0.8  # of log κ in one step
_HALVINGS = 12
_TINY = float(np.finfo(float).tiny)


def mean_resultant(kappa: float, columns: int) -> float:
    """Mean resultant length A(κ) of a von Mises-Fisher distribution."""
    if columns == 3:
        return float(1.0 / np.tanh(kappa) - 1.0 / kappa)
    return float(ive(0.5 * columns, kappa) / ive(0.5 * columns - 1, kappa))


def kappa_of_resultant(resultant: float, columns: int, bounds: tuple[float, float]) -> float:
    """Concentration whose mean resultant length is `resultant`, within bounds.

    Starts from Banerjee et al. (2005, J. Machine Learning Research 6:1345-1382, eq. 4.4; from
    memory) and takes Newton steps, A' being 1 − A² − (p − 1) A / κ.
    """
    low, high = bounds
    if resultant >= mean_resultant(high, columns):
        return high
    if resultant <= mean_resultant(low, columns):
        return low
    # A start within a few percent (Banerjee et al. 2005), from which Newton needs two or three steps.
    kappa = resultant * (columns - resultant**2) / (1.0 - resultant**2)
    for _ in range(8):
        kappa = float(np.clip(kappa, low, high))
        a = mean_resultant(kappa, columns)
        slope = 1.0 - a * a - (columns - 1) * a / kappa
        step = (a - resultant) / slope if slope > 0 else 0.0
        kappa -= step
        if abs(step) < 1e-12 * kappa:
            break
    return float(np.clip(kappa, low, high))


def _score(means: Array, kappas: Array, met: Array, sums: Array, weight: Array) -> Array:
    """Q / N of each set; `sums` are per fracture, `weight` is that of log E."""
    # Per fracture of the set: mean log density, less log of what could be met; λ is profiled out.
    pull = kappas * ((means * sums).sum(axis=1) - 1.0)
    return log_scale(kappas, 3) + pull - weight * np.log(np.maximum(met, _TINY))


def _derivatives(
    means: Array, kappas: Array, met: FisherMeansSlopes, sums: Array, frames: Array, weight: Array
) -> tuple[Array, Array]:
    """Gradient (K, 3) and Hessian (K, 3, 3) of Q / N in (two tangents, log κ)."""
    whole = np.maximum(met.value, _TINY)
    toward, by_kappa = met.by_mean / whole[:, np.newaxis], met.by_kappa / whole
    a = 1.0 / np.tanh(kappas) - 1.0 / kappas
    column, matrix = weight[:, np.newaxis], weight[:, np.newaxis, np.newaxis]
    # The poles pull the mean toward them, and the exposure pushes it to where holes see less: between the two lies
    # the set that was there before the holes chose among its fractures.
    pull = kappas[:, np.newaxis] * sums - column * toward
    slope = (means * sums).sum(axis=1) - a - weight * by_kappa
    gradient = np.empty((len(kappas), 3))
    gradient[:, :2] = np.einsum("kai,ki->ka", frames, pull)
    gradient[:, 2] = kappas * slope
    hessian = np.empty((len(kappas), 3, 3))
    bend = toward[:, :, np.newaxis] * toward[:, np.newaxis] - (
        met.by_mean_twice / whole[:, np.newaxis, np.newaxis]
    )
    # Along the sphere: the second derivative of the extension less the pull outward.
    outward = (means * pull).sum(axis=1)
    hessian[:, :2, :2] = np.einsum("kai,kij,kbj->kab", frames, matrix * bend, frames)
    hessian[:, [0, 1], [0, 1]] -= outward[:, np.newaxis]
    both = met.by_mean_and_kappa / whole[:, np.newaxis] - toward * by_kappa[:, np.newaxis]
    mixed = sums - column * both
    across = kappas[:, np.newaxis] * np.einsum("kai,ki->ka", frames, mixed)
    hessian[:, :2, 2] = hessian[:, 2, :2] = across
    a_slope = 1.0 - a * a - 2.0 * a / kappas
    curve = weight * (by_kappa**2 - met.by_kappa_twice / whole) - a_slope
    hessian[:, 2, 2] = kappas**2 * curve + kappas * slope
    return gradient, hessian


def _newton_steps(gradient: Array, hessian: Array, free: NDArray[np.bool_]) -> Array:
    gradient = np.where(free, gradient, 0.0)
    both = free[:, :, np.newaxis] & free[:, np.newaxis, :]
    hessian = np.where(both, hessian, -np.eye(3))
    values, vectors = np.linalg.eigh(-hessian)
    # A direction of positive curvature is climbed, not descended.
    size = np.abs(values)
    size = np.maximum(size, 1e-6 * np.maximum(1.0, size.max(axis=1, keepdims=True)))
    along = np.einsum("kij,ki->kj", vectors, gradient) / size
    steps = np.einsum("kij,kj->ki", vectors, along)
    limit = np.maximum(np.hypot(steps[:, 0], steps[:, 1]) / _LARGEST_TURN, 1.0)
    limit = np.maximum(limit, np.abs(steps[:, 2]) / _LARGEST_CHANGE)
    return steps / limit[:, np.newaxis]


def _climb(
    means: Array,
    kappas: Array,
    sums: Array,
    weight: Array,
    exposure: Exposure,
    bounds: tuple[float, float],
    held: NDArray[np.bool_],
) -> tuple[Array, Array, Array]:
    """One safeguarded Newton step for every set: no set's objective falls."""
    frames = frames_about(means)[:, :2]
    met = exposure.of_sets_slopes(means, kappas)
    gradient, hessian = _derivatives(means, kappas, met, sums, frames, weight)
    # At a bound κ stays, and the mean moves as if κ were known.
    stuck = (kappas >= bounds[1]) & (gradient[:, 2] > 0)
    stuck |= (kappas <= bounds[0]) & (gradient[:, 2] < 0)
    steps = _newton_steps(gradient, hessian, ~np.column_stack([held, held, stuck]))
    before = _score(means, kappas, met.value, sums, weight)
    for _ in range(_HALVINGS):
        new_means = moved_along(means, np.einsum("ka,kai->ki", steps[:, :2], frames))
        new_kappas = np.clip(kappas * np.exp(steps[:, 2]), *bounds)
        new_met = exposure.of_sets(new_means, new_kappas)
        worse = _score(new_means, new_kappas, new_met, sums, weight) < before
        if not worse.any():
            return new_means, new_kappas, new_met
        # Each set climbs for itself, so one that overshot does not hold back the others.
        steps[worse] *= 0.5
    keep = worse[:, np.newaxis]
    return (
        np.where(keep, means, new_means),
        np.where(worse, kappas, new_kappas),
        np.where(worse, met.value, new_met),
    )


def _classical(
    means: Array, sums: Array, bounds: tuple[float, float], held: NDArray[np.bool_]
) -> tuple[Array, Array]:
    lengths = np.linalg.norm(sums, axis=1)
    keep = held | (lengths == 0)
    new_means = np.where(
        keep[:, np.newaxis], means, sums / np.where(keep, 1.0, lengths)[:, np.newaxis]
    )
    resultants = np.maximum((new_means * sums).sum(axis=1), 0.0)
    columns = means.shape[1]
    kappas = [kappa_of_resultant(float(one), columns, bounds) for one in resultants]
    return new_means, np.array(kappas)


def maximise(
    found: Expectation,
    parameters: RoundSets,
    exposure: Exposure | None,
    *,
    kappa_bounds: tuple[float, float],
    fixed: NDArray[np.bool_] | None = None,
) -> RoundSets:
    """M step: parameters that raise the likelihood, given what the E step of `parameters` found.

    `kappa_bounds`: least and largest concentration; `fixed` (K,): sets whose mean is held. The expected
    count Σ λ E of the result is the weighted number of fractures.
    """
    means, kappas, _, _ = parameters
    exposures = np.ones(len(found.counts))
    if len(kappas):
        held = np.zeros(len(kappas), bool) if fixed is None else fixed
        sums = found.sums / np.maximum(found.counts[:-1], _TINY)[:, np.newaxis]
        if exposure is None:
            means, kappas = _classical(means, sums, kappa_bounds, held)
        else:
            # N log E of the likelihood less the prior's share of it.
            weight = np.maximum(1.0 - PRIOR / np.maximum(found.counts[:-1], _TINY), 0.0)
            means, kappas, exposures[:-1] = _climb(
                means, kappas, sums, weight, exposure, kappa_bounds, held
            )
    if exposure is not None:
        exposures[-1] = exposure.of_uniform()
    intensities = found.counts / np.maximum(exposures, _TINY)
    return RoundSets(means, kappas, intensities[:-1], float(intensities[-1]))
