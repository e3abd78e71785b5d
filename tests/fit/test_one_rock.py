"""One rock or several in orientation: scores, size, power, and rock uneven in frequency alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import nbinom

import jointstats as js
from jointstats.fit.block_fits import BlockFits, fit_blocks
from jointstats.fit.grouped import GroupedPoles, grouped_poles
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.one_rock import (
    _rates,
    _scores,
    _surprise,
    one_rock_test,
    orientation_test,
    shaped_criterion,
    shaped_test,
)
from jointstats.fit.rock import Rock, RockSet
from jointstats.sphere.axes import frames_about, moved_along, rotation_about
from jointstats.sphere.set_shapes import EllipticalDensity
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


LONG_ROCK = Rock(
    (
        RockSet(EllipticalDensity(np.eye(3)[[2, 0, 1]], 30.0, 13.0), 0.9),
        RockSet(EllipticalDensity(np.eye(3)[[0, 1, 2]], 40.0, 10.0), 0.8),
    ),
    0.1,
)
LONG_HOLES = [
    js.LineExposure(js.lines_from_trend(trend, plunge), [60.0])
    for trend, plunge in ((0, 80), (40, 35), (250, 30))
]


def _log_of_long_rock(seed: int, turn_last_deg: float = 0.0) -> GroupedPoles:
    """What three holes meet of two long sets, the last of them read with a turn in azimuth."""
    rng, rows, group = np.random.default_rng(seed), [], []
    for g, hole in enumerate(LONG_HOLES):
        poles, _ = LONG_ROCK.sample(rng.poisson(1.8 * 60.0), rng)
        poles = poles[rng.random(len(poles)) * 60.0 < hole.at(poles)]
        if g == 2:
            poles = poles @ rotation_about([0, 0, 1], np.radians(turn_last_deg)).T
        rows.append(poles)
        group.append(np.full(len(poles), g))
    return grouped_poles(np.vstack(rows), np.concatenate(group), LONG_HOLES)


def test_sets_seen_from_two_sides_are_no_difference_where_their_shape_is_known() -> None:
    """Long sets of one rock are seldom told apart; a hole turned by 20° is."""
    sound = [
        shaped_test(_log_of_long_rock(s), LONG_ROCK, draws=99, generator=np.random.default_rng(s))
        for s in range(20)
    ]
    # 5 % of 20 is one; four or more have a chance of 1.6 %.
    assert sum(p <= 0.05 for p in sound) <= 3
    assert np.median(sound) > 0.2
    turned = [
        shaped_test(
            _log_of_long_rock(s, 20.0), LONG_ROCK, draws=99, generator=np.random.default_rng(s)
        )
        for s in range(4)
    ]
    assert max(turned) <= 0.05


def test_the_criterion_of_shaped_sets_is_that_of_blocks_where_they_are_round() -> None:
    """Round sets by both roads: the same parameters, and the likelihood but for the last step."""
    rng, rows, group = np.random.default_rng(3), [], []
    rock = Rock.of_round([[0, 0, -1], [1, 0, 0]], [40.0, 30.0], [0.9, 0.8], 0.1)
    for g, hole in enumerate(LONG_HOLES):
        poles, _ = rock.sample(rng.poisson(1.8 * 60.0), rng)
        poles = poles[rng.random(len(poles)) * 60.0 < hole.at(poles)]
        rows.append(poles)
        group.append(np.full(len(poles), g))
    data = grouped_poles(np.vstack(rows), np.concatenate(group), LONG_HOLES)
    fit = fit_blocks(data, np.ones((1, 3), bool), RoundSets.of(rock))
    blocks = fit.n_parameters()[0] * np.log(len(data.poles)) - 2.0 * fit.log_likelihood[0]
    assert shaped_criterion(data, fit.parameters(0).rock()) == pytest.approx(blocks, abs=2.0)
