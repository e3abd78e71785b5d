"""Many fits of one structure at once: the observed log and those of a bootstrap, side by side.

A batch holds B logs of one exposure. Each is fitted with the same K sets from the same start by EM,
each stopped by its own gain, so a fit does not depend on the others in its batch and the statistic
of the observed log is made in exactly the way of the simulated ones.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.fit.likelihood import (
    Expectation,
    RoundSets,
    log_scale,
    log_uniform_density,
)
from jointstats.fit.maximise import maximise
from jointstats.sphere.axial_fisher import draw_directed
from jointstats.types import Array

__all__ = ["BatchFit", "Logs", "fit_logs", "joined_logs", "simulate_logs"]


_STEPS = 60
_GAIN = 0.01  # of log likelihood in one step, below which a log has converged
_BLOCK = 200_000  # rows of a batch handled at once
_KAPPA_LEAST, _KAPPA_MOST = 1.0, 1500.0
_TINY = float(np.finfo(float).tiny)


class Logs(NamedTuple):
    """B logs of fractures, padded to one length."""

    rows: Array  # (B, n, 3); zeros where a log is shorter
    counts: NDArray[np.intp]  # (B,)

    @property
    def present(self) -> Array:
        """One for a fracture, zero for padding, shape (B, n)."""
        return (np.arange(self.rows.shape[1]) < self.counts[:, np.newaxis]).astype(float)


class BatchFit(NamedTuple):
    """The fits of B logs with K sets."""

    means: Array  # (B, K, 3)
    kappas: Array  # (B, K)
    intensities: Array  # (B, K)
    background: Array  # (B,)
    members: Array  # (B, K + 1) expected number of fractures in each component, background last
    log_likelihood: Array  # (B,)

    def parameters(self, b: int) -> RoundSets:
        """The parameters of one log."""
        return RoundSets(
            self.means[b], self.kappas[b], self.intensities[b], float(self.background[b])
        )


def as_logs(logs: list[Array]) -> Logs:
    """Pad logs of different length to one.

    Parameters
    ----------
    logs : list of ndarray, shape (n_b, 3)

    Returns
    -------
    Logs

    Examples
    --------
    >>> as_logs([np.eye(3), np.eye(3)[:1]]).present
    array([[1., 1., 1.],
           [1., 0., 0.]])
    """
    counts = np.array([len(one) for one in logs])
    rows = np.zeros((len(logs), max(int(counts.max(initial=0)), 1), 3))
    for b, one in enumerate(logs):
        rows[b, : len(one)] = one
    return Logs(rows, counts)


def joined_logs(parts: list[Logs]) -> Logs:
    """The logs of several holes, one after the other.

    Parameters
    ----------
    parts : list of Logs
        Of the same number of logs each.

    Returns
    -------
    Logs

    Examples
    --------
    >>> joined_logs([as_logs([np.eye(3)]), as_logs([np.eye(3)[:1]])]).counts
    array([4])
    """
    batch = len(parts[0].counts)
    return as_logs(
        [np.vstack([one.rows[b, : one.counts[b]] for one in parts]) for b in range(batch)]
    )


def simulate_logs(
    rock: RoundSets, exposure: LineExposure, draws: int, generator: np.random.Generator
) -> Logs:
    """Logs that holes of an exposure would give in rock of known sets.

    Fractures are drawn in the rock and each is met with the chance |n · d|, or not at all below
    the blind angle.

    Parameters
    ----------
    rock : RoundSets
    exposure : LineExposure
    draws : int
        Number of logs.
    generator : numpy.random.Generator

    Returns
    -------
    Logs

    Examples
    --------
    >>> level = RoundSets(np.array([[0, 0, -1.0]]), np.array([500.0]), np.array([2.0]), 0.0)
    >>> hole = LineExposure([[0, 0, -1]], [50.0])
    >>> logs = simulate_logs(level, hole, 200, np.random.default_rng(0))
    >>> bool(97 < logs.counts.mean() < 103)
    True
    """
    smallest = np.sin(np.radians(exposure.blind_angle_deg))
    share = exposure.lengths_m / exposure.total_m
    met, log = [np.empty((0, 3))], [np.empty(0, dtype=np.intp)]
    intensities = np.append(rock.intensities, rock.background)
    for k, intensity in enumerate(intensities):
        numbers = generator.poisson(intensity * exposure.total_m, draws)
        n = int(numbers.sum())
        uniform = k == len(rock.kappas)
        mean, kappa = (np.array([0, 0, 1.0]), 0.0) if uniform else (rock.means[k], rock.kappas[k])
        poles = draw_directed(mean, float(kappa), n, generator)
        lines = exposure.directions[generator.choice(len(share), size=n, p=share)]
        cosine = np.abs((poles * lines).sum(axis=1))
        seen = (generator.random(n) < cosine) & (cosine >= smallest)
        met.append(poles[seen])
        log.append(np.repeat(np.arange(draws), numbers)[seen])
    return _sorted_logs(np.vstack(met), np.concatenate(log), draws)


def _sorted_logs(rows: Array, log: NDArray[np.intp], draws: int) -> Logs:
    order = np.argsort(log, kind="stable")
    counts = np.bincount(log, minlength=draws)
    padded = np.zeros((draws, max(int(counts.max(initial=0)), 1), 3))
    place = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    padded[log[order], place] = rows[order]
    return Logs(padded, counts)


def kappa_bounds(kappas: Array, factor: float = 3.0) -> tuple[Array, Array]:
    """Limits of the concentration of each set in a hole: within a factor of that of all.

    A set of one or two fractures would else gain without bound by closing on them.

    Parameters
    ----------
    kappas : ndarray, shape (K,)
    factor : float

    Returns
    -------
    low, high : ndarray, shape (K,)

    Examples
    --------
    >>> kappa_bounds(np.array([30.0]))
    (array([10.]), array([90.]))
    """
    low = np.maximum(kappas / factor, _KAPPA_LEAST)
    return low, np.maximum(np.minimum(kappas * factor, _KAPPA_MOST), low * 1.01)


def fit_logs(
    logs: Logs, exposure: LineExposure, start: RoundSets, bounds: tuple[Array, Array]
) -> BatchFit:
    """Fit every log with the sets of `start`, from it.

    Parameters
    ----------
    logs : Logs
    exposure : LineExposure
        The same for all.
    start : RoundSets
    bounds : (ndarray, ndarray), shape (K,)
        Limits of each concentration.

    Returns
    -------
    BatchFit

    Examples
    --------
    >>> rock = RoundSets(np.array([[0, 0, -1.0]]), np.array([40.0]), np.array([2.0]), 0.1)
    >>> hole = LineExposure([[0, 0, -1]], [100.0])
    >>> logs = simulate_logs(rock, hole, 50, np.random.default_rng(0))
    >>> fit = fit_logs(logs, hole, rock, kappa_bounds(rock.kappas))
    >>> bool(abs(fit.intensities.mean() - 2) < 0.1)
    True
    """
    step = max(1, _BLOCK // logs.rows.shape[1])
    blocks = [
        _fit_block(Logs(*(values[i : i + step] for values in logs)), exposure, start, bounds)
        for i in range(0, len(logs.counts), step)
    ]
    return BatchFit(*(np.concatenate(parts) for parts in zip(*blocks, strict=True)))


def _fit_block(
    logs: Logs, exposure: LineExposure, start: RoundSets, bounds: tuple[Array, Array]
) -> BatchFit:
    batch = len(logs.counts)
    present = logs.present
    fit = BatchFit(
        np.repeat(start.means[np.newaxis], batch, axis=0),
        np.repeat(np.clip(start.kappas, *bounds)[np.newaxis], batch, axis=0),
        np.repeat(start.intensities[np.newaxis], batch, axis=0),
        np.full(batch, start.background),
        np.zeros((batch, len(start.kappas) + 1)),
        np.full(batch, -np.inf),
    )
    active = np.arange(batch)
    for _ in range(_STEPS):
        part = BatchFit(*(values[active] for values in fit))
        members, sums, value = _expectation(logs.rows[active], present[active], part)
        moved = _maximised(part, members, sums, exposure, bounds)
        for whole, new in zip(fit[:4], moved, strict=True):
            whole[active] = new
        gain = value - logs.counts[active] - fit.log_likelihood[active]
        fit.log_likelihood[active] = value - logs.counts[active]
        fit.members[active] = members
        active = active[gain >= _GAIN]
        if not len(active):
            break
    members, _, value = _expectation(logs.rows, present, fit)
    # After an M step the expected count is the number of fractures.
    return fit._replace(members=members, log_likelihood=value - logs.counts)


def _expectation(rows: Array, present: Array, fit: BatchFit) -> tuple[Array, Array, Array]:
    """Expected counts (B, K + 1), sums (B, K, 3) and log densities (B,) of every log."""
    along = rows @ fit.means.transpose(0, 2, 1)
    size = np.abs(along)
    kappas = fit.kappas[:, np.newaxis]
    with np.errstate(divide="ignore"):
        scale = log_scale(fit.kappas, 3) + np.log(fit.intensities)
        rest = np.log(fit.background) + log_uniform_density(3)
    main = np.exp(kappas * (size - 1.0) + scale[:, np.newaxis])
    other = main * np.exp(-2.0 * kappas * size)
    uniform = np.exp(rest)[:, np.newaxis]
    total = np.maximum((main + other).sum(axis=2) + uniform, _TINY)
    share = present / total
    members = np.empty((len(rows), fit.kappas.shape[1] + 1))
    members[:, :-1] = ((main + other) * share[:, :, np.newaxis]).sum(axis=1)
    members[:, -1] = (uniform * share).sum(axis=1)
    signed = np.copysign(main - other, along) * share[:, :, np.newaxis]
    return members, signed.transpose(0, 2, 1) @ rows, (present * np.log(total)).sum(axis=1)


def _maximised(
    fit: BatchFit,
    members: Array,
    sums: Array,
    exposure: LineExposure,
    bounds: tuple[Array, Array],
) -> tuple[Array, Array, Array, Array]:
    """M step of every log in one call: the sets of all logs share the exposure."""
    batch, sets = fit.kappas.shape
    flat = RoundSets(fit.means.reshape(-1, 3), fit.kappas.ravel(), fit.intensities.ravel(), 0.0)
    found = Expectation(np.append(members[:, :-1].ravel(), 0.0), sums.reshape(-1, 3), 0.0)
    limits = tuple(np.tile(one, batch) for one in bounds)
    moved = maximise(found, flat, exposure, kappa_bounds=limits)
    return (
        moved.means.reshape(batch, sets, 3),
        moved.kappas.reshape(batch, sets),
        moved.intensities.reshape(batch, sets),
        members[:, -1] / exposure.of_uniform(),
    )
