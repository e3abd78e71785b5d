"""Sets of several blocks of groups at once, every group with intensities of its own.

A block is some groups taken as one rock: its sets share means and concentrations, while the
intensity of each set is free from group to group. Rock uneven in frequency alone is then one
block; what tells blocks apart is orientation. All blocks are fitted side by side by EM.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from jointstats.fit.grouped import GroupedPoles, WeightedExposure
from jointstats.fit.likelihood import Expectation, RoundSets, log_scale, log_uniform_density
from jointstats.fit.maximise import maximise
from jointstats.types import Array

_STEPS = 30
_GAIN = 0.02  # of log likelihood in one step, below which a block has converged
_ROWS = 30_000  # rows times blocks handled at once: what a processor keeps near at hand
_FEWEST = 3.0  # fractures, below which a set is taken out of a block
_FROM = 4  # steps before sets are taken out
#: Prior fractures that hold the intensity of a group to that of its block.
_HELD = 1.0
_ROUNDS = 20  # of intensities among given sets
_KAPPA_LEAST, _KAPPA_MOST = 1.0, 1500.0
_TINY = float(np.finfo(float).tiny)


class BlockFits(NamedTuple):
    """Fits of B blocks of G groups with K sets; a set that is not there has no intensity."""

    means: Array  # (B, K, 3)
    kappas: Array  # (B, K)
    intensities: Array  # (B, G, K + 1) background last
    members: Array  # (B, G, K + 1) expected number of fractures
    exposures: Array  # (B, G, K + 1) metres
    log_likelihood: Array  # (B,)
    blocks: NDArray[np.bool_]  # (B, G)

    @property
    def present(self) -> NDArray[np.bool_]:
        """Whether a set is there, shape (B, K)."""
        return np.asarray(self.intensities[:, :, :-1].any(axis=1))

    def parameters(self, b: int) -> RoundSets:
        """Sets of one block that are there, with their mean intensities over its groups."""
        there, own = self.present[b], self.blocks[b]
        met = np.maximum(self.exposures[b, own].sum(axis=0), _TINY)
        mean = self.members[b, own].sum(axis=0) / met
        return RoundSets(
            self.means[b, there], self.kappas[b, there], mean[:-1][there], float(mean[-1])
        )

    def n_parameters(self) -> NDArray[np.intp]:
        """Parameters of each block: three a set, an intensity a set and group that could see it.

        A set counts in a group where one fracture of it or more was to be expected, whether or
        not any was met.
        """
        met = np.maximum(self.exposures.sum(axis=1, keepdims=True), _TINY)
        mean = self.members.sum(axis=1, keepdims=True) / met
        seen = (mean * self.exposures >= 1.0)[:, :, :-1] & self.present[:, np.newaxis]
        return 3 * self.present.sum(axis=1) + seen.sum(axis=(1, 2)) + self.blocks.sum(axis=1)


def kappa_limits(kappas: Array, factor: float = 3.0) -> tuple[Array, Array]:
    """Limits of the concentration in a block: within a factor of that of all."""
    low = np.maximum(kappas / factor, _KAPPA_LEAST)
    return low, np.maximum(np.minimum(kappas * factor, _KAPPA_MOST), low * 1.01)


def fit_blocks(
    data: GroupedPoles, blocks: NDArray[np.bool_], start: RoundSets, *, fewest: float = _FEWEST
) -> BlockFits:
    """Fit every block (B, G) with the sets of `start`, from them; those of fewer fractures go."""
    parts = [_fitted_alone(data, one, start, fewest) for one in _handled_at_once(data, blocks)]
    return BlockFits(*(np.concatenate(one) for one in zip(*parts, strict=True)))


def _handled_at_once(
    data: GroupedPoles, blocks: NDArray[np.bool_]
) -> Iterator[NDArray[np.bool_]]:
    """The blocks in their order, some at a time: each works through the rows of all beside it."""
    first, union, sizes = 0, blocks[0], data.sizes
    for i, block in enumerate(blocks):
        union = union | block
        if i > first and (i + 1 - first) * sizes[union].sum() > _ROWS:
            yield blocks[first:i]
            first, union = i, block
    yield blocks[first:]


def _fitted_alone(
    data: GroupedPoles, blocks: NDArray[np.bool_], start: RoundSets, fewest: float
) -> BlockFits:
    """Blocks fitted without the groups that none of them has, which then have no intensity."""
    own = np.flatnonzero(blocks.any(axis=0))
    if len(own) == data.n_groups:
        return _fitted(data, blocks, start, fewest)
    fit = _fitted(data.only(own.tolist()), blocks[:, own], start, fewest)

    def spread(values: Array) -> Array:
        whole = np.zeros((len(blocks), data.n_groups, values.shape[2]))
        whole[:, own] = values
        return whole

    return fit._replace(
        intensities=spread(fit.intensities),
        members=spread(fit.members),
        exposures=spread(fit.exposures),
        blocks=blocks,
    )


def _fitted(
    data: GroupedPoles, blocks: NDArray[np.bool_], start: RoundSets, fewest: float
) -> BlockFits:
    batch, groups = blocks.shape
    limits = kappa_limits(start.kappas)
    # A background of exactly nothing could never grow again.
    first = np.append(start.intensities, max(start.background, 1e-6))
    fit = BlockFits(
        np.repeat(start.means[np.newaxis], batch, axis=0),
        np.repeat(np.clip(start.kappas, *limits)[np.newaxis], batch, axis=0),
        np.tile(first, (batch, groups, 1)),
        np.zeros((batch, groups, len(first))),
        np.zeros((batch, groups, len(first))),
        np.full(batch, -np.inf),
        blocks,
    )
    active = np.arange(batch)
    for step in range(_STEPS):
        part = BlockFits._make(values[active] for values in fit)
        moved = _step(data, part, limits, fewest if step >= _FROM else 0.0)
        gain = moved.log_likelihood - part.log_likelihood
        for whole, new in zip(fit, moved, strict=True):
            whole[active] = new
        if step > _FROM:
            active = active[np.abs(gain) >= _GAIN]
        if not len(active):
            break
    return fit


def expected(
    data: GroupedPoles, means: Array, kappas: Array, intensities: Array, blocks: NDArray[np.bool_]
) -> tuple[Array, Array, Array]:
    """Members (B, G, K + 1), sums of axes (B, K, 3) and Σ log density (B,) of every block."""
    along = np.einsum("ni,bki->bnk", data.poles, means, optimize=True)
    size, kappa = np.abs(along), kappas[:, np.newaxis]
    at = intensities[:, data.group]  # (B, n, K + 1)
    # Both ends of each axis, the near one and the far: their difference is what pulls the mean.
    main = np.exp(kappa * (size - 1.0) + log_scale(kappas, 3)[:, np.newaxis]) * at[..., :-1]
    other = main * np.exp(-2.0 * kappa * size)
    uniform = at[..., -1] * np.exp(log_uniform_density(3))
    total = np.maximum((main + other).sum(axis=2) + uniform, _TINY)
    inside = blocks[:, data.group].astype(float)
    share = (inside / total)[..., np.newaxis]
    both = np.concatenate([main + other, uniform[..., np.newaxis]], axis=2) * share
    signed = np.copysign(main - other, along) * share
    by_row = both.transpose(1, 0, 2)
    shape = data.n_groups, *by_row.shape[1:]
    members = (data.gather @ by_row.reshape(len(by_row), shape[1] * shape[2])).reshape(shape)
    sums = np.einsum("bnk,ni->bki", signed, data.poles, optimize=True)
    return members.transpose(1, 0, 2), sums, (inside * np.log(total)).sum(axis=1)


def group_values(poles: Array, group: NDArray[np.intp], rock: RoundSets, met: Array) -> Array:
    """Log likelihood of each group (G,) among given sets, its intensities free but held to theirs.

    `met` (G, K + 1) is the mean exposure of each group to each component.
    """
    along = np.abs(poles @ rock.means.T)
    logs = rock.kappas * (along - 1.0) + np.log1p(np.exp(-2.0 * rock.kappas * along))
    uniform = np.full((len(poles), 1), np.exp(log_uniform_density(3)))
    density = np.hstack([np.exp(logs + log_scale(rock.kappas, 3)), uniform])
    even = np.maximum(np.append(rock.intensities, rock.background), 1e-6)
    intensities = np.tile(even, (len(met), 1))
    # Densities with a column a group and component: sums over rows and components are then products.
    size = density.shape[1]
    columns = (size * group[:, np.newaxis] + np.arange(size)).ravel()
    each = csr_matrix(
        (density.ravel(), columns, np.arange(0, len(columns) + 1, size)),
        shape=(len(poles), intensities.size),
    )
    for _ in range(_ROUNDS):
        share = 1.0 / np.maximum(each @ intensities.ravel(), _TINY)
        members = (share @ each).reshape(intensities.shape) * intensities
        # The mode under a gamma prior about the intensities of the rock.
        intensities = even * (members + _HELD) / (even * met + _HELD)
    logs = np.log(np.maximum(each @ intensities.ravel(), _TINY))
    found = np.bincount(group, logs, minlength=len(met))
    ratio = intensities / even
    prior = _HELD * (np.log(ratio) - ratio + 1.0).sum(axis=1)
    return found - (intensities * met).sum(axis=1) + prior


def _step(
    data: GroupedPoles, fit: BlockFits, limits: tuple[Array, Array], fewest: float
) -> BlockFits:
    """One round: members, then means and concentrations, then intensities."""
    members, sums, log_density = expected(data, *fit[:3], fit.blocks)
    met = _exposures(data, fit.means, fit.kappas)
    there = fit.blocks[:, :, np.newaxis]
    value = log_density - (fit.intensities * met * there).sum(axis=(1, 2))
    means, kappas = _moved(data, fit, members, sums, met, limits)
    met = _exposures(data, means, kappas) * there
    counts = members.sum(axis=1, keepdims=True)
    mean = counts / np.maximum(met.sum(axis=1, keepdims=True), _TINY)
    # Posterior mean under a gamma prior of mean λ and shape _HELD: no group is without a set
    # that it could not see, nor does a blind one have it without bound.
    intensities = mean * (members + _HELD) / np.maximum(met * mean + _HELD, _TINY)
    if fewest > 0:
        gone = (counts < fewest) | (fit.intensities.sum(axis=1, keepdims=True) == 0)
        gone[..., -1] = False
        intensities = np.where(gone, 0.0, intensities)
    return BlockFits(means, kappas, intensities, members, met, value, fit.blocks)


def _exposures(data: GroupedPoles, means: Array, kappas: Array) -> Array:
    """Mean exposure of every group to every component of every block, shape (B, G, K + 1)."""
    batch, sets = kappas.shape
    of_sets = data.of_sets(means.reshape(-1, 3), kappas.ravel()).reshape(data.n_groups, batch, sets)
    whole = np.empty((batch, data.n_groups, sets + 1))
    whole[..., :-1] = of_sets.transpose(1, 0, 2)
    whole[..., -1] = data.of_uniform()
    return whole


def _moved(
    data: GroupedPoles,
    fit: BlockFits,
    members: Array,
    sums: Array,
    met: Array,
    limits: tuple[Array, Array],
) -> tuple[Array, Array]:
    """Means and concentrations from the M step, each set with metres weighed by group.

    Profiled over the intensities, a set maximises Σ log f − Σ_g N_g log E_g; to first order that
    is −N log Σ_g (N_g / E_g at the present parameters) E_g.
    """
    batch, sets = fit.kappas.shape
    if not sets:
        return fit.means, fit.kappas
    held = (members + 1e-3)[..., :-1] / np.maximum(met[..., :-1], 1e-3)
    held *= fit.blocks[:, :, np.newaxis]
    lengths = np.einsum("bgk,gd->bkd", held, data.lengths_m).reshape(batch * sets, -1)
    flat = RoundSets(fit.means.reshape(-1, 3), fit.kappas.ravel(), np.ones(batch * sets), 0.0)
    counts = members[..., :-1].sum(axis=1).ravel()
    found = Expectation(np.append(counts, 0.0), sums.reshape(-1, 3), 0.0)
    bounds = (np.tile(limits[0], batch), np.tile(limits[1], batch))
    exposure = WeightedExposure(data, lengths)
    moved = maximise(found, flat, exposure, kappa_bounds=bounds)  # type: ignore[arg-type]
    return moved.means.reshape(batch, sets, 3), moved.kappas.reshape(batch, sets)
