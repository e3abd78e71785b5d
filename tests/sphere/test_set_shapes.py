"""Round sets with heavy tails: density, mean exposure, draws and spread against other roads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma, multivariate_t

import jointstats as js
from jointstats.sphere.axes import axis_angles_deg, hemisphere_grid, rotation_about
from jointstats.sphere.set_shapes import HeavyTailedDensity, RoundDensity

HOLES = js.LineExposure(js.lines_from_trend([0, 130], [90, 60]), [60.0, 40.0])
TILTED = rotation_about([1, 2, 3], 0.8) @ rotation_about([0, 0, 1], 0.5)
GRID = hemisphere_grid(100_000)
CELL = 2.0 * np.pi / len(GRID)


def _set(kappa: float, freedom: float) -> HeavyTailedDensity:
    return HeavyTailedDensity(TILTED, kappa, kappa / (1.0 + freedom / 2.0))


@pytest.mark.parametrize(("kappa", "freedom"), [(5.0, 2.0), (30.0, 4.0), (60.0, 20.0)])
def test_density_exposure_and_draws_are_those_of_a_grid(kappa: float, freedom: float) -> None:
    """The density has integral one; mean exposure, draws and spread cone agree with it."""
    one = _set(kappa, freedom)
    share = CELL * np.exp(one.log_density(GRID))
    assert one.tail_freedom == pytest.approx(freedom)
    assert share.sum() == pytest.approx(1.0, abs=1e-5)
    assert one.mean_exposure(HOLES) == pytest.approx(float(share @ HOLES.at(GRID)), rel=1e-3)
    away = axis_angles_deg(GRID, one.mean)
    assert share[away < one.spread_deg(0.95)].sum() == pytest.approx(0.95, abs=1e-3)
    drawn = axis_angles_deg(one.sample(40_000, 1), one.mean)
    assert (drawn < one.spread_deg(0.5)).mean() == pytest.approx(0.5, abs=0.01)
    assert (drawn < one.spread_deg(0.95)).mean() == pytest.approx(0.95, abs=0.005)
    along = np.abs(GRID @ HOLES.directions.T)
    np.testing.assert_allclose(one.mean_cosines(HOLES.directions), share @ along, atol=5e-4)


@pytest.mark.parametrize("angle_deg", [0.0, 25.0, 60.0])
def test_it_is_a_gamma_mixture_of_fisher_sets(angle_deg: float) -> None:
    """The density is the integral over concentrations that defines it, by adaptive quadrature."""
    kappa, a = 20.0, 2.0
    turn = np.radians(angle_deg)
    row = np.array([[np.cos(turn), np.sin(turn), 0.0]]) @ TILTED

    def weight(k: float) -> float:
        return float(gamma(a, scale=kappa / a).pdf(k) * -np.expm1(-2.0 * k))

    def both(k: float) -> float:
        return weight(k) * float(np.exp(RoundDensity(TILTED, k).log_density(row)[0]))

    expected = quad(both, 1e-9, 600.0, limit=200)[0] / quad(weight, 1e-9, 600.0, limit=200)[0]
    assert np.exp(_set(kappa, 2 * a).log_density(row)[0]) == pytest.approx(expected, rel=1e-6)


def test_near_the_mean_it_is_a_t() -> None:
    """A narrow set is the bivariate t of scipy in its tangent plane, and a Fisher set for many degrees."""
    kappa, freedom = 2e4, 5.0
    away = np.radians(np.array([0.0, 0.3, 1.0, 2.0]))
    rows = np.column_stack([np.cos(away), np.sin(away), 0 * away]) @ TILTED
    flat = multivariate_t(np.zeros(2), np.eye(2) / kappa, df=freedom)
    plane = flat.logpdf(np.column_stack([away, 0 * away]))
    np.testing.assert_allclose(_set(kappa, freedom).log_density(rows), plane, atol=0.01)
    light = HeavyTailedDensity(TILTED, 40.0, 0.0)
    assert light.tail_freedom == np.inf
    np.testing.assert_allclose(
        light.log_density(rows), RoundDensity(TILTED, 40.0).log_density(rows), atol=1e-3
    )


def test_tails_heavier_than_two_degrees_are_refused() -> None:
    """More weight than ν = 2 has is no set of this kind."""
    with pytest.raises(js.InputError, match="heavy-tailed must be at most 0.5 times"):
        HeavyTailedDensity(TILTED, 10.0, 6.0)
