"""Draws of a set for Monte Carlo design: against the law they claim, and with its uncertainty."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2, expon, kstest, norm

import jointstats as js
from jointstats.design.draws import _drawn_sets
from jointstats.errors import InputError
from jointstats.sphere.axes import frame_about, hemisphere_grid
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity

COLUMNS = ["dip_deg", "dip_direction_deg", "pole_east", "pole_north", "pole_up", "spacing_m"]
N = 20_000


@pytest.fixture(scope="module")
def one() -> js.JointSet:
    """A set of known figures, its means and intervals set by hand."""
    site = js.simulate_site(holes=[(0.0, 60.0, 40.0), (120.0, 50.0, 40.0)], random_state=2)
    return dataclasses.replace(
        js.analyse(site, n_sets=1, random_state=0).sets[0],
        name="J1",
        density=RoundDensity.about(js.poles_from_dip(62, 135)[0], 30.0),
        read_density=RoundDensity.about(js.poles_from_dip(62, 135)[0], 30.0),
        kappa_read_interval=(20.0, 42.0),
        cone_deg=6.0,
        concentration_interval=(20.0, 42.0),
        p32_per_m=1.25,
        p32_interval=(0.8, 1.9),
        confidence=0.95,
        posterior=None,
    )


def _poles(draws: pd.DataFrame) -> np.ndarray:
    return draws[COLUMNS[2:5]].to_numpy()


def test_draws_follow_the_set(one: js.JointSet) -> None:
    """Angles to the mean follow the axial Fisher law, azimuths about it the uniform one."""
    poles = _poles(one.sample(N, random_state=4))
    angles = js.axis_angles_deg(poles, one.mean)
    # P(θ ≤ t) = 1 − sinh(κ cos t) / sinh κ, written out here and not taken from the package.
    share = 1 - np.sinh(one.kappa * np.cos(np.radians(angles))) / np.sinh(one.kappa)
    assert kstest(share, "uniform").pvalue > 1e-3
    east, up = np.cross(one.mean, [0, 0, 1.0]), np.cross(one.mean, np.cross(one.mean, [0, 0, 1.0]))
    signs = np.where(poles @ one.mean < 0, -1.0, 1.0)[:, np.newaxis]
    around = np.arctan2(signs * poles @ up[:, np.newaxis], signs * poles @ east[:, np.newaxis])
    assert kstest((around.ravel() + np.pi) / (2 * np.pi), "uniform").pvalue > 1e-3


def test_spacings_have_the_mean_normal_spacing(one: js.JointSet) -> None:
    """Spacings are exponential with mean 1 / P32, and not tied to the orientation."""
    draws = one.sample(N, random_state=5)
    assert kstest(draws["spacing_m"], expon(scale=1 / one.p32_per_m).cdf).pvalue > 1e-3
    angles = js.axis_angles_deg(_poles(draws), one.mean)
    assert abs(np.corrcoef(angles, draws["spacing_m"])[0, 1]) < 4 / np.sqrt(N)


def test_columns_agree_with_each_other(one: js.JointSet) -> None:
    """Dip and dip direction are those of the pole, on the lower hemisphere, of unit length."""
    draws = one.sample(500, random_state=6, uncertain=True)
    assert list(draws.columns) == COLUMNS
    poles = js.poles_from_dip(draws["dip_deg"], draws["dip_direction_deg"])
    assert js.axis_angles_deg(poles, _poles(draws)).max() < 1e-9
    assert (draws["pole_up"] <= 0).all()
    np.testing.assert_allclose(np.linalg.norm(_poles(draws), axis=1), 1.0)


@pytest.mark.parametrize("uncertain", [False, True])
def test_a_seed_gives_the_same_draws(one: js.JointSet, uncertain: bool) -> None:
    """The same seed gives the same draws, a generator moves on, no seed differs."""
    first = one.sample(20, random_state=7, uncertain=uncertain)
    pd.testing.assert_frame_equal(first, one.sample(20, random_state=7, uncertain=uncertain))
    generator = np.random.default_rng(7)
    pd.testing.assert_frame_equal(first, one.sample(20, generator, uncertain=uncertain))
    assert not first.equals(one.sample(20, generator, uncertain=uncertain))
    assert not first.equals(one.sample(20, uncertain=uncertain))


def test_uncertain_draws_are_wider(one: js.JointSet) -> None:
    """Uncertain draws scatter more, in orientation and in spacing, by what the intervals say."""
    plain, wide = (one.sample(N, random_state=8, uncertain=flag) for flag in (False, True))
    assert 1.1 < wide["spacing_m"].std() / plain["spacing_m"].std() < 1.4
    spread = [
        np.mean(1 - np.cos(np.radians(js.axis_angles_deg(_poles(draws), one.mean))))
        for draws in (plain, wide)
    ]
    # The mean of cos is that of the set times that of the drawn mean: 1 − σ² for small σ, with σ²
    # from the cone (radius² / σ² is a chi-square of two), and E[1/κ] from the lognormal of κ.
    sigma2 = np.radians(one.cone_deg) ** 2 / chi2.ppf(one.confidence, 2)
    low, high = np.log(one.kappa_interval)
    deviation = (high - low) / 2 / norm.ppf(0.975)
    expected = sigma2 + np.exp(-(low + high) / 2 + deviation**2 / 2)
    assert spread[0] == pytest.approx(1 / one.kappa, rel=0.03)
    assert spread[1] == pytest.approx(expected, rel=0.03)


def test_the_parts_of_the_uncertainty_fill_their_intervals(one: js.JointSet) -> None:
    """95 % of the drawn means lie in the cone, and the spacing has the mean of 1 / P32 drawn."""
    tight = dataclasses.replace(one, concentration_interval=(1e9, 1e9), p32_interval=(1.25, 1.25))
    angles = js.axis_angles_deg(_poles(tight.sample(N, random_state=9, uncertain=True)), one.mean)
    assert np.mean(angles < one.cone_deg) == pytest.approx(0.95, abs=0.006)
    low, high = np.log(one.p32_interval)
    deviation = (high - low) / 2 / norm.ppf(0.975)
    mean = one.sample(N, random_state=10, uncertain=True)["spacing_m"].mean()
    assert mean == pytest.approx(np.exp(-(low + high) / 2 + deviation**2 / 2), rel=0.04)


def test_degenerate_sets_have_finite_draws(one: js.JointSet) -> None:
    """No draws, κ of zero, κ of a million and a cone of 90° give finite rows on the hemisphere."""
    assert one.sample(0).shape == (0, 6)
    assert one.sample(0, uncertain=True).shape == (0, 6)
    for kappa in (0.0, 1e-9, 1e6):
        loose = RoundDensity.about(one.mean, kappa)
        for uncertain in (False, True):
            draws = dataclasses.replace(one, density=loose, cone_deg=90.0).sample(
                200, random_state=0, uncertain=uncertain
            )
            assert np.isfinite(draws.to_numpy()).all()
    wide = dataclasses.replace(one, cone_deg=90.0).sample(200, random_state=0, uncertain=True)
    assert np.isfinite(wide.to_numpy()).all()
    uniform = dataclasses.replace(one, density=RoundDensity.about(one.mean, 0.0))
    assert kstest(uniform.sample(N, random_state=1)["pole_up"] + 1, "uniform").pvalue > 1e-3


def test_draws_that_make_no_sense_are_refused(one: js.JointSet) -> None:
    """A number that is not whole or below zero, no P32, and an open interval are named errors."""
    with pytest.raises(InputError, match="whole number of draws; got 2.5"):
        one.sample(2.5)
    with pytest.raises(InputError, match="zero or more; got -1"):
        one.sample(-1)
    with pytest.raises(InputError, match="J1 has P32 0 per m"):
        dataclasses.replace(one, p32_per_m=0.0).sample(3)
    with pytest.raises(InputError, match="concentration interval of 0 to 42"):
        dataclasses.replace(one, concentration_interval=(0.0, 42.0)).sample(3, uncertain=True)
    with pytest.raises(InputError, match="P32 interval of 1 to inf"):
        dataclasses.replace(one, p32_interval=(1.0, np.inf)).sample(3, uncertain=True)


def test_draws_of_a_posterior_have_its_intervals() -> None:
    """With a posterior, κ and the means drawn have the interval and the cone of the set."""
    site = js.simulate_site(holes=[(0.0, 60.0, 40.0), (120.0, 50.0, 40.0)], random_state=2)
    one = js.analyse(site, n_sets=1, random_state=0).sets[0]
    frames, kappas, _, intensities = _drawn_sets(one, N, np.random.default_rng(3))
    for values, ends in ((kappas, one.kappa_interval), (intensities, one.p32_even_interval)):
        np.testing.assert_allclose(np.quantile(values, [0.025, 0.975]), ends, rtol=0.03)
    inside = js.axis_angles_deg(frames[:, 0], one.mean) <= one.cone_deg
    assert inside.mean() == pytest.approx(0.95, abs=0.01)
    wide = dataclasses.replace(one, cone_deg=2 * one.cone_deg)
    frames, _, _, _ = _drawn_sets(wide, N, np.random.default_rng(3))
    inside = js.axis_angles_deg(frames[:, 0], one.mean) <= wide.cone_deg
    assert inside.mean() == pytest.approx(0.95, abs=0.01)


def test_a_mean_in_the_blind_zone_comes_with_a_high_p32() -> None:
    """Beside the blind zone of the only hole, drawn P32 rises as the mean turns away from it."""
    rock = [(76.0, 90.0, 40.0, 2.0)]
    site = js.simulate_site(rock, [(0.0, 90.0, 60.0)], background_per_m=0.05, random_state=4)
    one = js.analyse(site, n_sets=1, random_state=0).sets[0]
    frames, _, _, intensities = _drawn_sets(one, 4000, np.random.default_rng(5))
    steep = np.abs(frames[:, 0, 2])
    assert np.corrcoef(steep, np.log(intensities))[0, 1] < -0.6


SHAPED = [
    EllipticalDensity(frame_about([0.3, -0.4, 0.8]), 40.0, 15.0),
    GirdleDensity(frame_about([0.2, 0.7, 0.1]), 30.0, 5.0),
]


@pytest.mark.parametrize("density", SHAPED, ids=repr)
def test_draws_follow_the_density_of_a_shaped_set(one: js.JointSet, density: SetDensity) -> None:
    """Second moments of the poles drawn are those of the density, summed over a grid."""
    poles = _poles(dataclasses.replace(one, density=density).sample(N, random_state=1))
    grid = hemisphere_grid(100000)
    share = np.exp(density.log_density(grid)) * 2 * np.pi / len(grid)
    local, drawn = grid @ density.frame.T, poles @ density.frame.T
    for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)):
        product = drawn[:, i] * drawn[:, j]
        exact = share @ (local[:, i] * local[:, j])
        assert product.mean() == pytest.approx(exact, abs=4 * product.std() / np.sqrt(N) + 1e-4)


@pytest.mark.parametrize("density", SHAPED, ids=repr)
def test_uncertain_draws_of_a_shaped_set(one: js.JointSet, density: SetDensity) -> None:
    """The drawn axes fill the cone, the concentration its interval, and the shape is kept."""
    shaped = dataclasses.replace(one, density=density)
    frames, c, e, _ = _drawn_sets(shaped, N, np.random.default_rng(2))
    inside = js.axis_angles_deg(frames[:, 0], density.frame[0]) < one.cone_deg
    assert inside.mean() == pytest.approx(0.95, abs=0.006)
    np.testing.assert_allclose(
        np.quantile(c, [0.025, 0.975]), one.concentration_interval, rtol=0.03
    )
    np.testing.assert_allclose(e / c, density.ellipticity / density.concentration)
    np.testing.assert_allclose(
        frames @ frames.transpose(0, 2, 1), np.broadcast_to(np.eye(3), (N, 3, 3)), atol=1e-9
    )
    draws = shaped.sample(200, random_state=0, uncertain=True)
    assert np.isfinite(draws.to_numpy()).all()
