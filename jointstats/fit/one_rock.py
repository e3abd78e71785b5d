"""Do groups of fractures see one rock in orientation? A score test, and a test of absent sets.

Under the hypothesis every set has one mean in all groups; its intensity and concentration may
differ from group to group, so that rock uneven in frequency is no objection. The score of a set's
mean in a group says where the group would move it. Freed of what intensities and concentrations
explain (efficient scores) and of the common mean, its size is set against logs drawn from the fit
through each group's exposure. Nothing is fitted again, which makes the test fast.

That test is blind to sets that one group has alone, for their mean is free. A second one asks
whether members of the sets are shared out more unevenly than gamma-distributed intensities of
coefficient of variation 0.6 allow (negative binomial counts).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from jointstats.fit.block_fits import BlockFits
from jointstats.fit.grouped import GroupedPoles
from jointstats.fit.likelihood import log_scale
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import score_rows
from jointstats.sphere.axes import frames_about, hemisphere_grid
from jointstats.types import Array

_POINTS = 4000
#: Size of the differences that the statistic weighs best: root-mean-square angle, radians.
_SOUGHT = np.radians(10.0)
_SOUGHT_KAPPA = 0.5  # of log κ
_FEWEST = 3.0  # fractures of a set for a group to be tested on it
#: What is known beforehand of the logarithms of intensity and concentration in a group: 1/variance.
_RIDGE_INTENSITY, _RIDGE_KAPPA = 1.0, 4.0
#: Coefficient of variation of intensities from group to group that is taken as uneven rock still.
_UNEVEN = 0.6
#: What p-values of absent sets are divided by: the test is there for flagrant cases.
_FOR_ABSENCE = 0.1
#: Simulated counts of the test of absent sets: cheap, and p is multiplied up.
_COUNT_DRAWS = 4999
_EM_STEPS = 20  # of the intensities of groups
_TINY = float(np.finfo(float).tiny)


class OneRockTest(NamedTuple):
    """Test that all groups see one rock in orientation."""

    statistic: float  # Σ of squared efficient scores, weighed
    pvalue_orientation: float
    pvalue_absence: float
    pvalue: float  # of both


def one_rock_test(
    data: GroupedPoles, rock: BlockFits, *, draws: int, generator: np.random.Generator
) -> OneRockTest:
    """Both tests, of a fit with one block of all groups."""
    statistic, orientation = orientation_test(data, rock, draws=draws, generator=generator)
    absence = absence_test(data, rock, generator=generator)
    # In even rock the second test all but never fires, so the first keeps the whole level.
    both = min(orientation, absence / _FOR_ABSENCE, 1.0)
    return OneRockTest(statistic, orientation, absence, both)


def _scores(poles: Array, rock: BlockFits, g: int, there: NDArray[np.bool_]) -> Array:
    """Scores at poles (m, 3) of log λ (K + 1), log κ (K) and two tangents a mean (2 K)."""
    means, kappas = rock.means[0, there], rock.kappas[0, there]
    along = poles @ means.T
    pull = kappas * along
    share = _rates(poles, rock, g, there).T
    share /= np.maximum(share.sum(axis=1, keepdims=True), _TINY)
    own, toward = share[:, :-1], np.tanh(pull)
    wider = 1.0 + kappas * (along * toward - 1.0 / np.tanh(kappas))
    frames = frames_about(means)[:, :2]
    tangents = np.einsum("mi,kai->mka", poles, frames) * (own * kappas * toward)[..., np.newaxis]
    return np.hstack([share, own * wider, tangents.reshape(len(poles), 2 * len(kappas))])


class _Scored(NamedTuple):
    """Scores of every group, the log's own first and then those of simulated ones."""

    raw: Array  # (G, draws + 1, p)
    information: Array  # (G, p, p)
    sets: NDArray[np.intp]  # numbers of the sets that are there


class _RoundGroups:
    """Round sets, with the intensities and members of each group, as the test asks for them."""

    def __init__(self, rock: BlockFits) -> None:
        self._rock, self._there = rock, rock.present[0]
        self.sets = np.flatnonzero(self._there)
        self.members = rock.members[0][:, np.append(self._there, True)]  # (G, K + 1)

    def rates(self, poles: Array, g: int) -> Array:
        """λ f of every component in a group at poles (m, 3), shape (K + 1, m)."""
        return _rates(poles, self._rock, g, self._there)

    def scores(self, poles: Array, g: int) -> Array:
        """Scores at poles of log λ (K + 1), log κ (K) and two turns a mean (2 K)."""
        return _scores(poles, self._rock, g, self._there)


class _ShapedGroups:
    """The same of sets of any shape: densities as fitted, the intensities of each group by EM."""

    def __init__(self, data: GroupedPoles, rock: Rock) -> None:
        self._rock, self.sets = rock, np.arange(len(rock.sets))
        grid = hemisphere_grid(_POINTS)
        plain = np.maximum(np.append(rock.intensities, rock.background_per_m), _TINY)
        met = data.at(grid) @ self._densities(grid).T * (2.0 * np.pi / _POINTS)  # (G, K + 1)
        own, density = data.gather, self._densities(data.poles)
        self._intensities = np.tile(plain, (data.n_groups, 1))
        for _ in range(_EM_STEPS):
            share = self._intensities[data.group].T * density
            self.members = own @ (share / np.maximum(share.sum(axis=0), _TINY)).T
            # One fracture of the common intensity holds a group that meets next to none.
            self._intensities = (self.members + 1.0) / (met + 1.0 / plain)

    def _densities(self, poles: Array) -> Array:
        logs = [one.unchecked_log_density(poles) for one in self._rock.densities]
        return np.exp(np.vstack([*logs, np.full(len(poles), -np.log(2.0 * np.pi))]))

    def rates(self, poles: Array, g: int) -> Array:
        """λ f of every component in a group at poles (m, 3), shape (K + 1, m)."""
        return self._intensities[g][:, np.newaxis] * self._densities(poles)

    def scores(self, poles: Array, g: int) -> Array:
        """Scores at poles of log λ (K + 1), log concentration (K) and two turns a frame (2 K)."""
        share = self.rates(poles, g).T
        share /= np.maximum(share.sum(axis=1, keepdims=True), _TINY)
        each = np.array([score_rows(one, poles) for one in self._rock.densities])  # (K, m, 5)
        each *= share.T[:-1, :, np.newaxis]
        turns = each[:, :, :2].transpose(1, 0, 2).reshape(len(poles), -1)
        return np.hstack([share, each[:, :, 2].T, turns])


def _scored(
    data: GroupedPoles,
    rock: _RoundGroups | _ShapedGroups,
    draws: int,
    generator: np.random.Generator,
) -> _Scored:
    grid = hemisphere_grid(_POINTS)
    cell, exposure = 2.0 * np.pi / _POINTS, data.at(grid)
    raw, information = [], []
    for g in range(data.n_groups):
        on_grid = rock.scores(grid, g)
        rates = cell * exposure[g] * rock.rates(grid, g)  # (K + 1, points)
        expected = rates.sum(axis=0)
        observed = rock.scores(data.poles[data.group == g], g).sum(axis=0)
        drawn = _drawn(on_grid, rates, rock.members[g], draws, generator)
        raw.append(np.vstack([observed - expected @ on_grid, drawn]))
        information.append((on_grid.T * expected) @ on_grid)
    return _Scored(np.array(raw), np.array(information), rock.sets)


def shaped_test(
    data: GroupedPoles, rock: Rock, *, draws: int, generator: np.random.Generator
) -> float:
    """P-value of one orientation of each set, of any shape, in all groups; 1 without sets."""
    if not rock.sets or data.n_groups < 2:
        return 1.0
    found = _scored(data, _ShapedGroups(data, rock), draws, generator)
    return _judged(_heterogeneity(*_of_means(found), _SOUGHT))[1]


def orientation_test(
    data: GroupedPoles, rock: BlockFits, *, draws: int, generator: np.random.Generator
) -> tuple[float, float]:
    """Statistic and p-value of one mean a set in all groups; (0, 1) without sets."""
    if not rock.present[0].any() or data.n_groups < 2:
        return 0.0, 1.0
    found = _scored(data, _RoundGroups(rock), draws, generator)
    return _judged(_heterogeneity(*_of_means(found), _SOUGHT))


def set_tests(
    data: GroupedPoles, rock: BlockFits, *, draws: int, generator: np.random.Generator
) -> list[tuple[str, int, float, float, NDArray[np.intp]]]:
    """Tests of one mean, and of one κ, for each set over the groups that show it.

    Each is part ("orientation" or "kappa"), number of the set, statistic, p-value, groups.
    """
    if not rock.present[0].any() or data.n_groups < 2:
        return []
    found = _scored(data, _RoundGroups(rock), draws, generator)
    means, kappas = _of_means(found), _of_kappas(found)
    told = []
    for at, k in enumerate(found.sets):
        groups = np.flatnonzero(rock.members[0, :, k] >= _FEWEST)
        if len(groups) < 2:
            continue
        for part, (scores, information), columns, sought in (
            ("orientation", means, np.array([2 * at, 2 * at + 1]), _SOUGHT),
            ("kappa", kappas, np.array([at]), _SOUGHT_KAPPA),
        ):
            own = information[np.ix_(groups, columns, columns)]
            values = _heterogeneity(scores[groups][:, :, columns], own, sought)
            told.append((part, int(k), *_judged(values), groups))
    return told


def _judged(values: Array) -> tuple[float, float]:
    beyond = int((values[1:] >= values[0] * (1 - 1e-12)).sum())
    return float(values[0]), (beyond + 1) / len(values)


def _rates(poles: Array, rock: BlockFits, g: int, there: NDArray[np.bool_]) -> Array:
    """λ f of every component at poles (m, 3), per steradian, shape (K + 1, m)."""
    kappas = rock.kappas[0, there]
    along = np.abs(poles @ rock.means[0, there].T)
    logs = kappas * (along - 1.0) + np.log1p(np.exp(-2.0 * kappas * along)) + log_scale(kappas, 3)
    intensities = rock.intensities[0, g]
    sets = np.exp(logs) * intensities[:-1][there]
    rest = np.full((len(poles), 1), intensities[-1] / (2.0 * np.pi))
    return np.hstack([sets, rest]).T


def _drawn(
    on_grid: Array, rates: Array, members: Array, draws: int, generator: np.random.Generator
) -> Array:
    """Sums of scores of simulated logs (draws, p), less their mean.

    Each log has as many fractures of each component as the log has: the information that weighs
    the scores is that of these numbers.
    """
    sums = np.zeros((draws, on_grid.shape[1]))
    for rate, number in zip(rates, members, strict=True):
        total = np.cumsum(rate)
        if total[-1] <= 0:
            continue
        counts = np.floor(number + generator.random(draws)).astype(np.intp)
        where = np.searchsorted(total, generator.random(int(counts.sum())) * total[-1])
        where = np.minimum(where, len(total) - 1)
        ends = np.append(0, np.cumsum(counts))
        logs = csr_matrix((np.ones(len(where)), where, ends), shape=(draws, len(total)))
        sums += logs @ on_grid - number * (rate @ on_grid) / total[-1]
    return sums


def _of_means(found: _Scored) -> tuple[Array, Array]:
    """Scores of the means (G, draws + 1, 2 K) freed of intensities and κ, and their information."""
    sets = len(found.sets)
    ridge = np.repeat([_RIDGE_INTENSITY, _RIDGE_KAPPA], [sets + 1, sets])
    return _efficient(found, ridge, slice(2 * sets + 1, None))


def _of_kappas(found: _Scored) -> tuple[Array, Array]:
    """Scores of log κ (G, draws + 1, K) freed of intensities, and their information."""
    sets = len(found.sets)
    return _efficient(found, np.full(sets + 1, _RIDGE_INTENSITY), slice(sets + 1, 2 * sets + 1))


def _efficient(found: _Scored, ridge: Array, wanted: slice) -> tuple[Array, Array]:
    """Scores wanted, freed of those before them, whose prior information is the ridge."""
    free = slice(0, len(ridge))
    inner = found.information[:, free, free] + np.diag(ridge)
    across = np.linalg.solve(inner, found.information[:, free, wanted])
    scores = found.raw[..., wanted] - found.raw[..., free] @ across
    left = found.information[:, wanted, free] @ across
    return scores, found.information[:, wanted, wanted] - left


def _heterogeneity(scores: Array, information: Array, sought: float) -> Array:
    """Σ over groups of squared scores less what one common value explains, per draw."""
    size = information.shape[1]
    whole = information.sum(axis=0) + 1e-6 * np.eye(size)
    common = np.linalg.solve(whole, scores.sum(axis=0).T).T  # (draws + 1, size)
    apart = scores - common @ information
    weighed = np.linalg.solve(information + np.eye(size) / sought**2, apart.transpose(0, 2, 1))
    return (apart.transpose(0, 2, 1) * weighed).sum(axis=(0, 1))


def absence_test(data: GroupedPoles, rock: BlockFits, *, generator: np.random.Generator) -> float:
    """P-value that members of each set are shared out as unevenness up to 0.6 allows."""
    there = rock.present[0]
    if not there.any() or data.n_groups < 2:
        return 1.0
    met = data.of_sets(rock.means[0, there], rock.kappas[0, there])  # (G, K)
    counts = np.rint(rock.members[0][:, :-1][:, there])
    shape = _UNEVEN**-2
    expected = _even(counts, met)
    rates = generator.gamma(shape, expected / shape, (_COUNT_DRAWS, *expected.shape))
    drawn = generator.poisson(rates).astype(float)
    value = _surprise(counts[np.newaxis], met, shape)[0]
    beyond = int((_surprise(drawn, met, shape) >= value * (1 - 1e-12)).sum())
    return (beyond + 1) / (_COUNT_DRAWS + 1)


def _even(counts: Array, met: Array) -> Array:
    whole = counts.sum(axis=-2, keepdims=True) / np.maximum(met.sum(axis=0), _TINY)
    return np.maximum(whole * met, 1e-9)


def _surprise(counts: Array, met: Array, shape: float) -> Array:
    """Σ of twice the log of negative binomial chances, best mean over even mean, (draws,)."""
    expected = _even(counts, met)
    even = counts * np.log(expected / (expected + shape)) - shape * np.log1p(expected / shape)
    safe = np.maximum(counts, 1e-9)
    best = counts * np.log(safe / (safe + shape)) - shape * np.log1p(safe / shape)
    return 2.0 * (best - even).sum(axis=(1, 2))
