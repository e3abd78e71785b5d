"""One rock or several in orientation: scores, size, power, and rock uneven in frequency alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.stats import nbinom

from jointstats.fit.block_fits import BlockFits, fit_blocks
from jointstats.fit.grouped import GroupedPoles
from jointstats.fit.one_rock import (
    _rates,
    _scores,
    _surprise,
    one_rock_test,
    orientation_test,
)
from jointstats.sphere.axes import frames_about, moved_along
from tests.fit.rock_arrays import OTHER, ROCK, simulated, truth


def fitted(data: GroupedPoles) -> BlockFits:
    """The common fit."""
    return fit_blocks(data, np.ones((1, data.n_groups), bool), truth())


def test_scores_are_slopes_of_the_log_rate() -> None:
    """Each score is the derivative of log Σ λ f, by finite differences."""
    data = simulated(1).grouped()
    rock, there = fitted(data), np.ones(3, bool)
    scores = _scores(data.poles, rock, 1, there)
    step = 1e-5

    def log_rate(changed: BlockFits) -> np.ndarray:
        return np.log(_rates(data.poles, changed, 1, there).sum(axis=0))

    louder = rock.intensities.copy()
    louder[:, :, 2] *= 1 + step
    slope = (log_rate(rock._replace(intensities=louder)) - log_rate(rock)) / step
    np.testing.assert_allclose(scores[:, 2], slope, atol=1e-4)
    tighter = rock.kappas.copy()
    tighter[:, 1] *= 1 + step
    slope = (log_rate(rock._replace(kappas=tighter)) - log_rate(rock)) / step
    np.testing.assert_allclose(scores[:, 4 + 1], slope, atol=1e-3)
    moved = rock.means.copy()
    moved[0, 1] = moved_along(rock.means[0, 1:2], step * frames_about(rock.means[0])[1:2, 0])[0]
    slope = (log_rate(rock._replace(means=moved)) - log_rate(rock)) / step
    np.testing.assert_allclose(scores[:, 4 + 3 + 2], slope, atol=5e-3)


def test_size_in_even_and_in_uneven_rock() -> None:
    """One rock is called different at the level, within 2.6 standard errors, uneven or not."""
    for uneven in (0.0, 0.5):
        found = []
        for seed in range(60):
            data = simulated(seed, uneven=uneven).grouped()
            one = orientation_test(
                data, fitted(data), draws=99, generator=np.random.default_rng(seed)
            )
            found.append(one[1] <= 0.2)
        assert abs(np.mean(found) - 0.2) < 2.6 * np.sqrt(0.2 * 0.8 / 60)


def test_a_hole_in_other_rock_is_told() -> None:
    """A hole whose sets lie 27° off is told, by means or by sets that others lack."""
    generator = np.random.default_rng(0)
    data = simulated(1, (ROCK, ROCK, ROCK, OTHER)).grouped()
    assert one_rock_test(data, fitted(data), draws=199, generator=generator).pvalue <= 0.05


def test_sets_of_one_hole_alone_are_told() -> None:
    """Sets shared out all or nothing among the holes are told though their means are free."""
    data = simulated(1, (ROCK[:1], ROCK[1:], ROCK[:1], ROCK[1:])).grouped()
    rock = fitted(data)
    found = one_rock_test(data, rock, draws=999, generator=np.random.default_rng(0))
    assert found.pvalue_absence < 0.005
    alone = replace(data, group=np.zeros_like(data.group), lengths_m=data.lengths_m[:1])
    one = one_rock_test(alone, fitted(alone), draws=19, generator=np.random.default_rng(0))
    assert one.pvalue == 1.0


def test_surprise_against_scipy() -> None:
    """The statistic of absent sets is a ratio of negative binomial chances."""
    counts, met, shape = (np.array([[12, 3], [2, 9]]), np.array([[5.0, 4.0], [6.0, 3.0]]), 2.5)
    mean = counts.sum(axis=0) / met.sum(axis=0) * met
    judge = sum(
        2
        * (
            nbinom.logpmf(n, shape, shape / (shape + n))
            - nbinom.logpmf(n, shape, shape / (shape + m))
        )
        for n, m in zip(counts.ravel(), mean.ravel(), strict=True)
    )
    np.testing.assert_allclose(_surprise(counts[np.newaxis], met, shape)[0], judge, rtol=1e-9)
