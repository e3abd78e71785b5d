"""Parts of the posterior: the t, quantiles, followers, the prior's area, what is drawn."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import gamma, multivariate_t

import jointstats as js
from jointstats.fit.certainty import certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.posterior import (
    Posterior,
    SetDraws,
    _followers,
    _t_points,
    weighted_quantiles,
)
from jointstats.fit.rock import Rock, RockSet
from jointstats.sphere.set_shapes import EllipticalDensity, HeavyTailedDensity, RoundDensity

FRAME = np.eye(3)[[2, 0, 1]]
ROUND = RoundDensity(FRAME, 40.0)
ROWS = ROUND.sample(15, 3)
HOLE = js.LineExposure(js.lines_from_trend([0, 90], [90, 40]), [30.0, 20.0])


def _posterior(rock: Rock, rows: np.ndarray = ROWS, exposure: object = HOLE) -> Posterior:
    found = certainty_of(FitData(rows, np.ones(len(rows)), exposure), rock, 0.95).posterior  # type: ignore[arg-type]
    assert found is not None
    return found


def test_quantiles_of_equal_weights_are_those_of_the_middle_of_steps() -> None:
    """Half of each weight lies below its value; ends are the ends; order is no matter."""
    values, weights = np.array([3.0, 1.0, 2.0, 4.0]), np.full(4, 0.25)
    found = weighted_quantiles(values, weights, [0.0, 0.125, 0.25, 0.5, 0.875, 1.0])
    np.testing.assert_allclose(found, [1.0, 1.0, 1.5, 2.5, 4.0, 4.0])
    heavy = weighted_quantiles(values, np.array([0.1, 0.2, 0.6, 0.1]), [0.1, 0.5, 0.85])
    np.testing.assert_allclose(heavy, [1.0, 2.0, 3.0])


@pytest.mark.parametrize("dimension", [1, 3, 5])
def test_points_are_of_a_multivariate_t(dimension: int) -> None:
    """Log densities differ as scipy's do; the spread is ν / (ν − 2) and nothing leans."""
    points, log_density = _t_points(dimension, 10)
    judge = multivariate_t(np.zeros(dimension), np.eye(dimension), df=8).logpdf(points)
    np.testing.assert_allclose(log_density - log_density[0], judge - judge[0], atol=1e-9)
    assert points.shape == (1024, dimension)
    spread = np.atleast_2d(np.cov(points.T))
    np.testing.assert_allclose(spread, np.eye(dimension) * 8 / 6, atol=0.12)
    np.testing.assert_allclose(points.mean(axis=0), 0.0, atol=0.03)


def test_others_follow_as_a_regression_has_them() -> None:
    """Covariance with what is drawn over its own; a set that hardly follows stays."""
    rng = np.random.default_rng(0)
    half = rng.normal(size=(13, 13))
    covariance, own = half @ half.T, np.array([0, 1, 12])
    follow = _followers(covariance, own)
    np.testing.assert_allclose(follow[own], np.eye(3), atol=1e-9)
    expected = np.linalg.lstsq(half[own].T, half.T, rcond=None)[0].T
    np.testing.assert_allclose(follow, expected, atol=1e-9)
    for correlation, follows in ((0.051, True), (0.049, False)):
        weak = np.eye(13)
        weak[0, 7] = weak[7, 0] = correlation
        assert _followers(weak, np.array([0]))[7, 0] == pytest.approx(correlation * follows)


def test_draws_as_sets() -> None:
    """A cone of weighted means, a draw as a set, and how many draws are as good."""
    turned = np.array([FRAME, FRAME[[1, 0, 2]], FRAME[[2, 1, 0]]])
    numbers = np.array([10.0, 20.0, 30.0])
    draws = SetDraws(RoundDensity, turned, numbers, np.zeros(3), numbers / 10, np.ones(3), np.array([0.5, 0.3, 0.2]))
    np.testing.assert_array_equal(draws.axes, turned[:, 0])
    assert draws.effective == pytest.approx(1 / 0.38)
    assert draws.cone_deg(FRAME[0], 0.25) == pytest.approx(0.0, abs=1e-5)
    assert draws.cone_deg(FRAME[0], 0.9) == pytest.approx(90.0)
    one = draws.set_at(1)
    assert (one.density.concentration, one.p32_per_m) == (20.0, 2.0)
    np.testing.assert_array_equal(one.density.frame, turned[1])


def test_the_posterior_is_likelihood_times_prior() -> None:
    """Differences along single coordinates, by the density itself and the prior's rules."""
    rock = Rock((RockSet(ROUND, 0.6),), 0.05)
    post = _posterior(rock)
    own = np.array([0, 1, 2, 5, 6])

    def expected(density: RoundDensity, p32: float, background: float) -> float:
        moved = Rock((RockSet(density, p32),), background)
        met = density.mean_exposure(HOLE)
        fit = np.logaddexp.reduce(moved.log_rates(ROWS), axis=1).sum()
        fit -= p32 * met + background * HOLE.of_uniform()
        # λ^−½ √E in λ is λ^½ √E in log λ; 1/κ in κ is flat in log κ.
        return float(fit + 0.5 * np.log(met) + 0.5 * np.log(p32) + 0.5 * np.log(background))

    change = np.zeros((5, 7))
    change[1, 2], change[2, 5], change[3, 6], change[4, 0] = 0.4, -0.3, 0.5, 0.3
    found = post._log_posterior(change, own)
    turn = np.array([np.cos(0.3) * FRAME[0] + np.sin(0.3) * FRAME[1]])[0]
    judges = [
        expected(ROUND, 0.6, 0.05),
        expected(RoundDensity(FRAME, 40.0 * np.exp(0.4)), 0.6, 0.05),
        expected(ROUND, 0.6 * np.exp(-0.3), 0.05),
        expected(ROUND, 0.6, 0.05 * np.exp(0.5)),
        expected(RoundDensity.about(turn, 40.0), 0.6, 0.05) + np.log(np.sin(0.3) / 0.3),
    ]
    np.testing.assert_allclose(found - found[0], np.array(judges) - judges[0], atol=2e-3)


def test_the_prior_ends_where_it_ends() -> None:
    """κ from 0.5 to 2000 and turns up to 90°; the ellipticity's area by its power."""
    post = _posterior(Rock((RockSet(ROUND, 0.6),), 0.05))
    block = np.zeros((6, 6))
    block[1:5, 2] = np.log(np.array([2001.0, 1999.0, 0.49, 0.51]) / 40.0)
    block[5, 0] = 0.5 * np.pi + 0.01
    found = post._log_area(block, 0)
    np.testing.assert_array_equal(np.isfinite(found), [True, False, True, False, True, False])
    even = _posterior(Rock((RockSet(ROUND, 15.0),), 1.0), exposure=None)
    assert even._range(0) == (0.5, 2000.0)
    tight = _posterior(Rock((RockSet(RoundDensity(FRAME, 900.0), 15.0),), 1.0), exposure=None)
    assert tight._range(0) == (0.5, 3600.0)
    wide = _posterior(Rock((RockSet(RoundDensity(FRAME, 1.0), 15.0),), 1.0), exposure=None)
    assert wide._range(0) == (0.25, 2000.0)
    for density, power in (
        (EllipticalDensity(FRAME, 40.0, 8.0), 2.0),
        (HeavyTailedDensity(FRAME, 40.0, 8.0), 1.5),
    ):
        post = _posterior(Rock((RockSet(density, 0.6),), 0.05))
        start = post._charts[0].start
        step = np.zeros((2, 6))
        step[1, 3] = 0.7
        area = post._log_area(step, 0)
        ratio = (1 + (start + 0.7) ** 2) / (1 + start**2)
        assert area[1] - area[0] == pytest.approx(-power * np.log(ratio))


def test_draws_start_at_half_a_fracture() -> None:
    """A component that has hardly any is raised to half of one; others stay."""
    met = ROUND.mean_exposure(HOLE)
    centre = _posterior(Rock((RockSet(ROUND, 0.1 / met),), 0.1 / HOLE.of_uniform()))._centre
    assert centre.sets[0].p32_per_m == pytest.approx(0.5 / met)
    assert centre.background_per_m == pytest.approx(0.5 / HOLE.of_uniform())
    plain = _posterior(Rock((RockSet(ROUND, 0.6),), 0.0))._centre
    assert (plain.sets[0].p32_per_m, plain.background_per_m) == (0.6, 0.0)


def test_as_many_draws_as_the_work_allows() -> None:
    """2048 for one set of few rows, half as often for each doubling beyond the work; 1024 smeared."""
    rock = Rock((RockSet(ROUND, 0.6),), 0.05)
    few = _posterior(rock)
    assert few._last(np.arange(5)) == 11
    assert few._last(np.arange(6)) == 10
    assert few._last(np.arange(1)) == 8
    for rows, power in ((244, 11), (245, 10), (489, 9), (5000, 9)):
        many = _posterior(rock, np.resize(ROWS, (rows, 3)))
        assert many._last(np.arange(5)) == power


def test_intensities_of_a_set_alone_are_a_gamma() -> None:
    """Two sets far apart: each has its own number and a half."""
    other = RoundDensity(FRAME[[1, 2, 0]], 40.0)
    rows = np.vstack([ROWS, other.sample(30, 5)])
    rock = Rock((RockSet(ROUND, 15.0), RockSet(other, 30.0)), 0.0)
    post = _posterior(rock, rows, None)
    for k, n in enumerate((15, 30)):
        drawn = post.of_set(k)
        mean = drawn.weights @ drawn.intensities
        assert mean == pytest.approx(n + 0.5, rel=0.01)
        low, high = weighted_quantiles(drawn.intensities, drawn.weights, [0.05, 0.95])
        np.testing.assert_allclose([low, high], gamma(n + 0.5).ppf([0.05, 0.95]), rtol=0.03)
    values, weights = post.of_background()
    assert (len(values), weights.tolist()) == (1, [1.0])
