"""Intervals of a large set, the cone of a bivariate t, and what an unknown direction is given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2, gamma, norm

import jointstats as js
from jointstats.fit.certainty import Certainty, certainty_of, cone_radius, covariance_of
from jointstats.fit.data import FitData
from jointstats.fit.rock import Rock, RockSet
from jointstats.sphere.set_shapes import EllipticalDensity, RoundDensity

TAILS = np.array([0.025, 0.975])
DOWN = [0.0, 0.0, -1.0]


def _plain(variance: np.ndarray, **changes: object) -> Certainty:
    """Certainty of one round set of κ 40 and P32 2 and a background of 0.5, without its data."""
    return replace(
        Certainty(np.diag(variance), 0.95, Rock.of_round([DOWN], [40.0], [2.0], 0.5)),
        **changes,
    )


SURE = _plain(np.array([1e-3, 1e-3, 1 / 50, 0.0, 0.0, 1 / 80, 1 / 20]))


@pytest.mark.parametrize("freedom", [1.0, 4.0, 60.0])
def test_a_round_cone_has_its_closed_form(freedom: float) -> None:
    """ρ² / 2σ² of a bivariate t is F with 2 and ν degrees, whose quantiles are in closed form."""
    squared = 0.01 * freedom * (0.05 ** (-2 / freedom) - 1.0)
    expected = min(np.sqrt(squared), np.pi / 2)
    assert cone_radius(np.array([0.01, 0.01]), freedom, 0.95) == pytest.approx(expected, rel=1e-9)


def test_an_oval_cone_holds_its_share() -> None:
    """With variances that differ the share within the radius is an integral round the centre."""
    variances, freedom = np.array([0.004, 0.02]), 7.0
    radius = cone_radius(variances, freedom, 0.9)

    def within(theta: float) -> float:
        # The density of the t along a ray, integrated over the radius by hand.
        along = np.cos(theta) ** 2 / variances[0] + np.sin(theta) ** 2 / variances[1]
        whole = 1.0 / (2 * np.pi * np.sqrt(variances.prod()) * along)
        return float(whole * (1.0 - (1.0 + along * radius**2 / freedom) ** (-freedom / 2)))

    assert quad(within, 0.0, 2 * np.pi)[0] == pytest.approx(0.9, abs=2e-3)
    assert cone_radius(np.zeros(2), 10.0, 0.95) == 0.0
    assert cone_radius(np.full(2, 100.0), 10.0, 0.95) == np.pi / 2


def test_plain_intervals_are_those_of_scipy() -> None:
    """κ has the chi-square, counts the gamma, the cone the t of so many fractures as inform."""
    low, high = SURE.kappa_interval(0)
    assert (low, high) == pytest.approx(tuple(40.0 * chi2(98).ppf(TAILS) / 100.0))
    assert SURE.intensity_interval(0) == pytest.approx(tuple(2.0 * gamma(80.5).ppf(TAILS) / 80))
    assert SURE.intensity_interval(1) == pytest.approx(tuple(0.5 * gamma(20.5).ppf(TAILS) / 20))
    squared = 98 * 1e-3 * 50 / 49 * (0.05 ** (-2 / 98) - 1.0)
    assert SURE.cone_deg(0) == pytest.approx(np.degrees(np.sqrt(squared)))
    none = replace(SURE, rock=Rock.of_round([DOWN], [40.0], [2.0], 0.0))
    assert none.intensity_interval(1) == (0.0, 0.0)
    assert not none.background_draws(3, np.random.default_rng(0)).any()


def test_no_information_is_two_fractures() -> None:
    """A variance of nothing, and one beyond that of two fractures, give the interval of two."""
    two = tuple(2.0 * gamma(2.5).ppf(TAILS) / 2)
    for variance in (0.0, 0.5, 3.0):
        sure = _plain(np.array([0.1, 0.1, 0.1, 0.0, 0.0, variance, 0.1]))
        assert sure.intensity_interval(0) == pytest.approx(two)


def test_the_error_of_the_exposure_widens_in_logarithms() -> None:
    """Squared distances in log λ add up; without an error nothing changes."""
    plain, wide = SURE.intensity_interval(0), replace(SURE, log_error=0.2).intensity_interval(0)
    error = 0.2 * norm.ppf(0.975)
    below, above = np.log(2.0 / plain[0]), np.log(plain[1] / 2.0)
    assert np.log(2.0 / wide[0]) == pytest.approx(np.sqrt(below**2 + error**2))
    assert np.log(wide[1] / 2.0) == pytest.approx(np.sqrt(above**2 + error**2))
    none = replace(SURE, rock=Rock.of_round([DOWN], [40.0], [2.0], 0.0), log_error=0.2)
    assert none.intensity_interval(1) == (0.0, 0.0)
    assert SURE._widened((0.0, 3.0), 2.0) == (0.0, 3.0)
    assert replace(SURE, log_error=0.2)._widened((0.0, 3.0), 2.0)[0] == 0.0


def test_draws_of_a_large_set_have_its_covariance() -> None:
    """Draws about a fit: intensities of a gamma, logs and turns of a normal with the variances."""
    generator, size = np.random.default_rng(1), 40_000
    drawn = SURE.intensity_draws(0, size, generator)
    assert drawn.mean() == pytest.approx(2.0 * 80.5 / 80, rel=0.005)
    assert drawn.std() == pytest.approx(2.0 * np.sqrt(80.5) / 80, rel=0.02)
    wide = replace(SURE, log_error=0.3).intensity_draws(0, size, generator)
    assert np.log(wide).var() == pytest.approx(np.log(drawn).var() + 0.09, rel=0.03)
    rest = SURE.background_draws(size, generator)
    assert rest.mean() == pytest.approx(0.5 * 20.5 / 20, rel=0.01)
    assert rest.std() == pytest.approx(0.5 * np.sqrt(20.5) / 20, rel=0.02)
    sets = SURE.set_draws(0, size, generator)
    np.testing.assert_allclose(sets.weights, 1 / size)
    np.testing.assert_allclose(sets.background, 0.5)
    assert np.log(sets.intensities / 2.0).std() == pytest.approx(np.sqrt(1 / 80), rel=0.02)
    assert np.log(sets.concentrations / 40.0).std() == pytest.approx(np.sqrt(1 / 50), rel=0.02)
    # The two turns have a variance of 0.001 each.
    angle = np.radians(js.axis_angles_deg(sets.axes, np.array(DOWN)))
    assert (angle**2).mean() == pytest.approx(2e-3, rel=0.03)
    assert not sets.ellipticities.any()


def test_an_open_direction_gets_a_variance_of_one() -> None:
    """What the data settle is inverted; what they leave open is a factor of e, or a radian."""
    turn = np.array([[0.8, -0.6], [0.6, 0.8]])
    information = turn @ np.diag([25.0, 0.01]) @ turn.T
    expected = turn @ np.diag([0.04, 1.0]) @ turn.T
    np.testing.assert_allclose(covariance_of(information), expected)
    np.testing.assert_allclose(covariance_of(np.diag([4.0, 2.0])), np.diag([0.25, 0.5]))


def test_draws_are_made_of_a_set_of_few_fractures_alone() -> None:
    """A set of some tens has draws of its posterior, one of many hundreds none; a set of one weight
    of draws repeats them."""
    rows = RoundDensity.about(DOWN, 40.0).sample(20, 1)
    data = FitData(rows, np.ones(20), background=False)
    sure = certainty_of(data, Rock.of_round([DOWN], [40.0], [20.0]), 0.9)
    drawn = sure.draws(0)
    assert drawn is not None and sure.draws(0) is drawn
    assert sure.log_error == 0.0
    again = sure.set_draws(0, 500, np.random.default_rng(0))
    assert set(again.concentrations) <= set(drawn.concentrations)
    np.testing.assert_allclose(again.weights.sum(), 1.0)
    mean = drawn.weights @ drawn.intensities
    assert again.intensities.mean() == pytest.approx(mean, rel=0.05)
    assert sure.intensity_draws(0, 500, np.random.default_rng(0)).mean() == pytest.approx(
        mean, rel=0.05
    )
    many = certainty_of(
        replace(data, rows=np.tile(rows, (25, 1)), weights=np.ones(500)),
        Rock.of_round([DOWN], [40.0], [500.0]),
        0.9,
    )
    assert many.draws(0) is None
    # Where the tails are: nine parts of ten between them.
    np.testing.assert_allclose(sure._tails, [0.05, 0.95])


def test_coordinates_of_an_elliptical_set_stand_in_their_places() -> None:
    """A variance of the ellipticity alone moves the ellipticity alone."""
    density = EllipticalDensity(np.eye(3)[[2, 0, 1]], 40.0, 8.0)
    rock = Rock((RockSet(density, 2.0),), 0.5)
    sure = Certainty(np.diag([0.0, 0.0, 0.0, 0.04, 0.0, 0.0, 0.1]), 0.95, rock)
    drawn = sure.set_draws(0, 200, np.random.default_rng(2))
    assert drawn.kind is EllipticalDensity
    assert drawn.ellipticities.std() > 1.0
    np.testing.assert_allclose(drawn.concentrations, 40.0)
    np.testing.assert_allclose(drawn.intensities, 2.0)
    np.testing.assert_allclose(js.axis_angles_deg(drawn.axes, density.frame[0]), 0.0, atol=1e-5)
