"""Parts of a fit of any shapes: what is free, exact slopes of rows, information, reading errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.roundness import EllipticalTest, roundness_of
from jointstats.fit.shaped import (
    ShapedFit,
    _gradient,
    _information,
    as_read,
    fit_shaped,
    free_coordinates,
    free_directions,
    moved_rock,
    observed_information,
    score_rows,
    shaped_value,
)
from jointstats.sphere.axes import frame_about
from jointstats.sphere.set_chart import SetChart
from jointstats.sphere.set_shapes import (
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
    RoundDensity,
)

FRAME = frame_about(js.poles_from_dip(60, 90)[0])[[2, 0, 1]]
HOLES = js.LineExposure(js.lines_from_trend([0, 130], [90, 60]), [60.0, 40.0])
ROWS = np.random.default_rng(0).normal(size=(12, 3))
ROWS /= np.linalg.norm(ROWS, axis=1, keepdims=True)
WEIGHTS = np.random.default_rng(1).uniform(0.5, 1.5, 12)
SHAPES = (
    RoundDensity(FRAME, 12.0),
    EllipticalDensity(FRAME, 12.0, 4.0),
    GirdleDensity(FRAME, 10.0, 2.0),
    HeavyTailedDensity(FRAME, 12.0, 3.0),
)
MIXED = Rock(tuple(RockSet(one, 1.0) for one in SHAPES), 0.3)
WIDE = (1e-6, 1e6)


@pytest.mark.parametrize("density", SHAPES, ids=lambda d: d.shape)
def test_slopes_of_rows_are_those_of_the_density(density: js.sphere.SetDensity) -> None:
    """∂ log f by each coordinate, by differences of the density moved."""
    chart, found = SetChart(density, WIDE), score_rows(density, ROWS)
    for i, step in enumerate(1e-3 * np.eye(5)):
        up, down = (chart.at(sign * step).log_density(ROWS) for sign in (1.0, -1.0))
        np.testing.assert_allclose(found[:, i], (up - down) / 2e-3, atol=2e-4)


def test_what_a_fit_may_move() -> None:
    """No ellipticity of round sets, one weight of tails, no held means, no background of nothing."""
    data = FitData(ROWS, WEIGHTS, held=np.array([True, False]))
    free = free_coordinates(data, MIXED)
    rows = free[:-1].reshape(4, 6).astype(int).tolist()
    assert rows == [[0, 0, 1, 0, 0, 1], [1] * 6, [1] * 6, [1, 1, 1, 1, 0, 1]]
    assert free[-1] and not free_coordinates(data, Rock(MIXED.sets, 0.0))[-1]
    heavy = Rock((RockSet(SHAPES[3], 1.0),) * 2, 0.3)
    free = free_coordinates(FitData(ROWS, WEIGHTS), heavy)
    ways = free_directions(free, heavy)
    assert ways.shape == (13, free.sum() - 1)
    (shared,) = np.flatnonzero(ways[3])
    np.testing.assert_array_equal(ways[:, shared], np.isin(np.arange(13), [3, 9]))
    np.testing.assert_array_equal(ways.sum(axis=0), np.where(np.arange(10) == shared, 2, 1))


def test_information_of_rows_is_that_of_their_slopes() -> None:
    """Σ w s sᵀ, s the membership times the slope, and the membership itself by log λ."""
    data = FitData(ROWS, WEIGHTS, HOLES)
    place = shaped_value(data, MIXED)
    shares = np.exp(MIXED.log_rates(ROWS))
    shares /= shares.sum(axis=1, keepdims=True)
    np.testing.assert_allclose(place.shares, shares * WEIGHTS[:, np.newaxis], rtol=1e-9)
    columns = [
        np.column_stack([score_rows(d, ROWS), np.ones(12)]) * shares[:, [k]]
        for k, d in enumerate(SHAPES)
    ]
    slopes = np.hstack([*columns, shares[:, -1:]])
    np.testing.assert_allclose(_information(data, place), (slopes.T * WEIGHTS) @ slopes, rtol=1e-9)
    np.testing.assert_allclose(place.counts, shares.T @ WEIGHTS)
    expected = MIXED.intensities @ [d.mean_exposure(HOLES) for d in SHAPES] + 0.3 * HOLES.of_uniform()
    rates = np.logaddexp.reduce(MIXED.log_rates(ROWS), axis=1)
    assert place.log_likelihood == pytest.approx(WEIGHTS @ rates - expected)
    prior = 0.5 * np.log([d.mean_exposure(HOLES) for d in SHAPES]).sum()
    assert place.value == pytest.approx(place.log_likelihood + prior)


def test_observed_information_is_a_second_derivative() -> None:
    """Of what is maximised, by differences of its value, for shapes with and without closed slopes."""
    data = FitData(ROWS, WEIGHTS, HOLES)
    charts = [SetChart(one, WIDE) for one in SHAPES]

    def value(step: np.ndarray) -> float:
        return shaped_value(data, moved_rock(charts, MIXED, step)).value

    found, h = observed_information(data, MIXED), 0.02
    free = np.flatnonzero(free_coordinates(data, MIXED))
    np.testing.assert_allclose(found, found.T)
    at = value(np.zeros(25))
    for i in free:
        step = h * np.eye(25)[i]
        bend = (value(step) + value(-step) - 2 * at) / h**2
        assert found[i, i] == pytest.approx(-bend, rel=0.02, abs=0.05)
    assert np.abs(found[np.setdiff1d(np.arange(25), free)]).max() < 1e-6


def test_slopes_of_the_whole_hold_with_errors_of_reading() -> None:
    """Rows spread by errors of their own: slopes by differences of the value."""
    data = FitData(ROWS, WEIGHTS, HOLES, scatter=np.repeat([0.0, 0.02, 0.04], 4))
    rock = Rock(MIXED.sets[:2], 0.3)
    charts = [SetChart(one, WIDE) for one in SHAPES[:2]]
    x = 0.1 * np.random.default_rng(2).normal(size=13)
    ours = _gradient(data, shaped_value(data, moved_rock(charts, rock, x)), charts, x)
    for i in np.flatnonzero(free_coordinates(data, rock)):
        step = 1e-3 * np.eye(13)[i]
        up, down = (shaped_value(data, moved_rock(charts, rock, x + s * step)).value for s in (1, -1))
        assert ours[i] == pytest.approx((up - down) / 2e-3, abs=5e-3)
    read = as_read(data, rock)
    shares = shaped_value(data, rock).shares[:, :2]
    mean = shares.T @ data.scatter / shares.sum(axis=0)  # type: ignore[operator]
    expected = [d.read_with(float(m)).concentration for d, m in zip(SHAPES[:2], mean, strict=True)]
    np.testing.assert_allclose([one.concentration for one in read.densities], expected)
    assert as_read(replace(data, scatter=None), rock) is rock


def test_moves_far_away_do_not_overflow() -> None:
    """A log intensity moves by its step, and by no more than fifty."""
    charts, rock = [SetChart(SHAPES[0], WIDE)], Rock(MIXED.sets[:1], 0.3)
    for move, growth in ((0.7, 0.7), (-0.7, -0.7), (80.0, 50.0), (-80.0, -50.0)):
        moved = moved_rock(charts, rock, np.array([0, 0, 0, 0, 0, move, -move]))
        assert moved.intensities[0] == pytest.approx(np.exp(growth))
        assert moved.background_per_m == pytest.approx(0.3 * np.exp(-growth))


def test_components_hardly_there_stay() -> None:
    """A set of less than a twentieth of a fracture is not moved; what is left is at its maximum."""
    rows = RoundDensity(FRAME, 40.0).sample(20, 0)
    lost = RockSet(RoundDensity(FRAME[[1, 2, 0]], 300.0), 1e-4)
    fit = fit_shaped(FitData(rows, np.ones(20)), Rock((RockSet(RoundDensity(FRAME, 20.0), 5.0), lost), 0.5))
    assert fit.converged
    np.testing.assert_allclose(np.abs(fit.rock.densities[1].frame[0] @ lost.density.frame[0]), 1.0)
    assert fit.rock.kappas[1] == pytest.approx(300.0)
    assert fit.rock.intensities[0] + fit.rock.background_per_m == pytest.approx(20.0, abs=0.01)


def test_the_test_of_roundness_is_twice_the_gain() -> None:
    """(N − 2) / N of it, an exponential p-value, and two parameters of the criterion."""
    rows = EllipticalDensity(FRAME, 40.0, 17.0).sample(30, 1)
    data = FitData(rows, np.ones(30), background=False)
    plain = fit_shaped(data, Rock((RockSet(RoundDensity(FRAME, 40.0), 30.0),), 0.0))
    long = fit_shaped(data, Rock((RockSet(EllipticalDensity(FRAME, 40.0, 8.0), 30.0),), 0.0))
    gain = 2 * (long.log_likelihood - plain.log_likelihood)
    for fit in (plain, long):
        found = roundness_of(data, fit, 0)
        assert found is not None
        assert found.statistic == pytest.approx(gain * 28 / 30, abs=1e-3)
        assert found.pvalue == pytest.approx(np.exp(-gain * 14 / 30), rel=1e-3)
        assert found.bic_gain == pytest.approx(gain - 2 * np.log(30), abs=1e-3)
        assert (found.n, found.elliptical) == (pytest.approx(30.0), True)
        assert found.kappa == pytest.approx(long.rock.kappas[0], rel=1e-2)
    girdle = ShapedFit(Rock((RockSet(SHAPES[2], 30.0),), 0.0), 0.0, np.array([30.0, 0.0]), 1, True)
    assert roundness_of(data, girdle, 0) is None


def test_words_of_the_test_turn_at_their_limits() -> None:
    """1 % of chance, fifteen fractures, and spreads of the tangent plane."""
    found = EllipticalTest(9.0, 0.02, 15.0, 1.0, 30.0, 9.0, np.eye(3), False)
    assert found.axial_ratio == pytest.approx(2.0)
    np.testing.assert_allclose(found.spread_deg, np.degrees(1 / np.sqrt([12.0, 48.0])))
    assert "few fractures" not in found.sentence
    assert "few fractures" in replace(found, n=14.9).sentence
    assert replace(found, pvalue=0.01).sentence.startswith("Round")
    assert replace(found, pvalue=0.0099).sentence.startswith("Perhaps elliptical")
    assert "(p = 0.001; 15 fractures" in replace(found, pvalue=0.001).sentence
    assert "p < 0.001" in replace(found, pvalue=0.00099).sentence
    assert "about 2.0 times" in replace(found, elliptical=True).sentence
