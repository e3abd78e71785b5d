"""Sets with heavy tails in a fit: slopes, one weight for all, the choice, and the posterior."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import gamma

import jointstats as js
from jointstats.fit.certainty import certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.odds import Reading, presence
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.shaped import (
    _gradient,
    fit_shaped,
    moved_rock,
    score_rows,
    shaped_value,
)
from jointstats.sphere.axes import frames_about
from jointstats.sphere.set_chart import SetChart
from jointstats.sphere.set_shapes import HeavyTailedDensity, RoundDensity

HOLES = js.LineExposure(js.lines_from_trend([0, 130, 250], [90, 50, 30]), [90.0, 90.0, 90.0])
MEANS = js.poles_from_dip([20, 75, 60], [100, 200, 320])
P32, BACKGROUND = np.array([0.6, 0.8, 0.7]), 0.1


def _drawn(seed: int, *, wide_share: float) -> np.ndarray:
    """What the holes meet of three sets of κ 40, a share of each at κ 8, by thinned draws."""
    rng, out = np.random.default_rng(seed), []
    for direction, length in zip(HOLES.directions, HOLES.lengths_m, strict=True):
        for mean, p32 in zip(MEANS, P32, strict=True):
            n = rng.poisson(p32 * length)
            wide = rng.random(n) < wide_share
            near, far = (RoundDensity.about(mean, k).sample(n, rng) for k in (40.0, 8.0))
            out.append(_met(np.where(wide[:, np.newaxis], far, near), direction, rng))
        rows = rng.normal(size=(rng.poisson(BACKGROUND * length), 3))
        rows /= np.linalg.norm(rows, axis=1, keepdims=True)
        out.append(_met(rows, direction, rng))
    return np.vstack(out)


def _met(poles: np.ndarray, direction: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    cosine = np.abs(poles @ direction)
    return poles[(rng.random(len(poles)) < cosine) & (cosine >= np.sin(np.radians(10)))]


def _rock(kappa: float, tail: float) -> Rock:
    frames = frames_about(MEANS)[:, [2, 0, 1]]
    densities = [HeavyTailedDensity(frame, kappa, tail * kappa) for frame in frames]
    return Rock(tuple(map(RockSet, densities, P32)), BACKGROUND)


HEAVY = _drawn(0, wide_share=0.3)
DATA = FitData(HEAVY, np.ones(len(HEAVY)), HOLES)


def test_slopes_of_heavy_tails_are_those_of_the_likelihood() -> None:
    """Slopes of what is maximised, and of each fracture's density, agree with differences."""
    rock = _rock(30.0, 0.2)
    charts = [SetChart(one, (4.0, 1000.0)) for one in rock.densities]
    x = np.random.default_rng(1).normal(size=19) * 0.05
    place = shaped_value(DATA, moved_rock(charts, rock, x))
    ours = _gradient(DATA, place, charts, x)
    step = 1e-3 * np.eye(19)
    plain = [
        (
            shaped_value(DATA, moved_rock(charts, rock, x + h)).value
            - shaped_value(DATA, moved_rock(charts, rock, x - h)).value
        )
        / 2e-3
        for h in step
    ]
    np.testing.assert_allclose(ours, plain, atol=0.02)
    chart, one = charts[0], rock.densities[0]
    each = (
        chart.at(step[3, :5]).log_density(HEAVY) - chart.at(-step[3, :5]).log_density(HEAVY)
    ) / 2e-3
    np.testing.assert_allclose(score_rows(one, HEAVY)[:, 3], each, atol=1e-4)


def test_all_sets_have_one_weight_of_tails() -> None:
    """A fit moves the tails of all sets together, to the maximum over that one weight."""
    fit = fit_shaped(DATA, _rock(30.0, 0.2))
    tails = [one.ellipticity / one.concentration for one in fit.rock.densities]
    np.testing.assert_allclose(tails, tails[0], rtol=1e-9)
    for other in (0.8 * tails[0], 1.2 * tails[0]):
        sets = [
            RockSet(HeavyTailedDensity(d.frame, d.concentration, other * d.concentration), p32)
            for d, p32 in fit.rock.sets
        ]
        held = shaped_value(DATA, Rock(tuple(sets), fit.rock.background_per_m))
        assert held.log_likelihood < fit.log_likelihood


def test_tails_are_found_where_they_are_and_not_where_they_are_not() -> None:
    """Heavy tails are chosen for rock that has them, with P32 and labels right; light rock has none."""
    model = js.JointSetMixture(3, shape="auto", random_state=0).fit(HEAVY, exposure=HOLES)
    assert model.rock_.shapes == ("heavy-tailed",) * 3
    order = np.argmax(np.abs(model.means_ @ MEANS.T), axis=1)
    np.testing.assert_allclose(model.intensities_, P32[order], rtol=0.25)
    plain = js.JointSetMixture(3, random_state=0).fit(HEAVY, exposure=HOLES)
    assert plain.intensities_.sum() < 0.95 * model.intensities_.sum()
    assert model.bic_ < plain.bic_
    assert model.bic(HEAVY, exposure=HOLES) == pytest.approx(model.bic_, abs=1e-6)
    light = _drawn(1, wide_share=0.0)
    model = js.JointSetMixture(3, shape="auto", random_state=0).fit(light, exposure=HOLES)
    assert model.rock_.shapes == ("round",) * 3


def test_intensity_of_one_set_with_tails_has_the_exact_interval() -> None:
    """Alone and sampled evenly the intensity has a gamma posterior; the draws hold the true tails."""
    truth = HeavyTailedDensity.about(MEANS[0], 40.0)
    truth = HeavyTailedDensity(truth.frame, 40.0, 40.0 * 0.3)
    rows = truth.sample(80, 3)
    data = FitData(rows, np.ones(80), background=False)
    fit = fit_shaped(data, Rock((RockSet(truth, 80.0),), 0.0))
    sure = certainty_of(data, fit.rock, 0.95)
    expected = gamma(80.5).ppf([0.025, 0.975])
    np.testing.assert_allclose(sure.intensity_interval(0), expected, rtol=0.03)
    drawn = sure.draws(0)
    assert drawn is not None and drawn.effective > 100
    tails = drawn.ellipticities / drawn.concentrations
    assert 0.01 < float(drawn.weights @ (tails > 0.3)) < 0.99
    low, high = sure.kappa_interval(0)
    assert low < 40.0 < high


def test_the_larger_half_of_a_set_is_not_the_set() -> None:
    """A set that another reading splits 60 to 40 is not there in that reading; one it leaves whole is."""
    near = frames_about(MEANS)[0]
    turn = np.radians(14.0)
    halves = [np.cos(turn) * near[2] + side * np.sin(turn) * near[0] for side in (1.0, -1.0)]
    rng = np.random.default_rng(6)
    drawn = [RoundDensity.about(one, 60.0).sample(n, rng) for one, n in zip(halves, (60, 40), strict=True)]
    rows = np.vstack([*drawn, RoundDensity.about(MEANS[1], 60.0).sample(50, rng)])
    one = Rock.of_round([near[2], MEANS[1]], [15.0, 60.0], [100.0, 50.0], 1.0)
    two = Rock.of_round([*halves, MEANS[1]], [60.0, 60.0, 60.0], [60.0, 40.0, 50.0], 1.0)
    found = presence([Reading(one, 0.6, 0.0), Reading(two, 0.4, 1.0)], rows)
    np.testing.assert_allclose(found, [0.6, 1.0])
