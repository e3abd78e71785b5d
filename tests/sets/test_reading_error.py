"""Errors of reading: taken out of κ, split from what a hole shares, and held by the cone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.settings import ReadingErrors
from jointstats.sets.reading_error import (
    common_error_deg,
    fit_scatter,
    reading_error,
    widened_cone_deg,
)
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import (
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
    RoundDensity,
)


def read_with_error(
    poles: np.ndarray, error_deg: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Poles turned by a normal error about each of two axes square to them."""
    turn = np.radians(error_deg / np.sqrt(2.0))[:, None] * rng.normal(size=poles.shape)
    turn -= (turn * poles).sum(axis=1, keepdims=True) * poles
    angle = np.linalg.norm(turn, axis=1, keepdims=True)
    return poles * np.cos(angle) + turn * np.sinc(angle / np.pi)


@pytest.mark.parametrize("kappa", [15.0, 60.0, 300.0])
@pytest.mark.parametrize("error_deg", [(2.0, 2.0), (3.0, 12.0)])
def test_kappa_of_the_rock_comes_back(kappa: float, error_deg: tuple[float, float]) -> None:
    """κ of simulated poles, read with even and uneven errors, comes back within Monte Carlo error."""
    rng, n = np.random.default_rng(7), 20_000
    errors = np.resize(error_deg, n)
    poles = AxialFisher(np.array([0.0, 0.0, -1.0]), kappa).rvs(n, random_state=rng)
    seen = read_with_error(poles, errors, rng)
    scatter = 0.5 * np.radians(errors) ** 2
    model = js.JointSetMixture(1, background=False, kappa_bounds=(4.0, 2000.0)).fit(
        seen, scatter=scatter
    )
    # The relative error of κ is 1/√n; taking the errors out magnifies it by κ / κ as read.
    # Errors here are normal, not Fisher, which their κ misses by σ²/2 of σ² at the most.
    read = model.read_rock_.kappas[0]
    spare = 0.5 * np.mean(scatter**2) * kappa
    assert abs(model.kappas_[0] / kappa - 1.0) < 3.5 * (kappa / read) / np.sqrt(n) + spare
    assert read < model.kappas_[0]


def test_spread_of_a_density_agrees_with_quadrature() -> None:
    """The mean resultant of Fisher poles, each moved by a Fisher error, is that of κ as read."""
    nodes, weights = np.polynomial.legendre.leggauss(400)

    def resultant(kappa: float) -> float:
        density = np.exp(kappa * (nodes - 1.0))
        return float(weights @ (density * nodes) / (weights @ density))

    for rock, error in ((8.0, 20.0), (60.0, 200.0), (30.0, 30.0)):
        scatter = 1.0 - resultant(error)
        read = RoundDensity.about([0, 0, 1], rock).read_with(scatter)
        assert resultant(read.concentration) == pytest.approx(
            resultant(rock) * resultant(error), rel=1e-4
        )


@pytest.mark.parametrize(
    "density",
    [
        EllipticalDensity(np.eye(3), 40.0, 12.0),
        GirdleDensity(np.eye(3), 30.0, 4.0),
        HeavyTailedDensity(np.eye(3), 40.0, 8.0),
    ],
    ids=lambda one: one.shape,
)
def test_readings_of_a_set_scatter_as_its_spread_density(density: SetDensity) -> None:
    """Second moments of simulated axes, moved by an error of 6°, are those of the density as read."""
    rng, n = np.random.default_rng(4), 60_000
    moved = read_with_error(density.sample(n, rng), np.full(n, 6.0), rng)
    foretold = density.read_with(0.5 * np.radians(6.0) ** 2).sample(n, rng)
    ours, theirs = (np.mean(rows**2, axis=0) for rows in (foretold, moved))
    np.testing.assert_allclose(ours, theirs, atol=0.006)
    assert abs(ours[1] / theirs[1] - 1.0) < 0.06


def test_common_part_of_errors_turns_the_mean_and_is_no_scatter() -> None:
    """Turn of the mean, and scatter about it, of simulated holes are those that are foretold."""
    rng, trials = np.random.default_rng(3), 4000
    hole = np.repeat(["A", "B", "C"], [50, 30, 20])
    own, common = np.full(100, 4.0), np.full(100, 3.0)
    table = pd.DataFrame({"hole": hole, "angular_error_deg": np.hypot(own, common)})
    found = reading_error(table, common)
    shared = rng.normal(size=(trials, 3, 2)) * 3.0 / np.sqrt(2.0)
    shift = np.repeat(shared, [50, 30, 20], axis=1)
    assert found.mean_deg == pytest.approx(
        np.sqrt(np.mean((shift.mean(axis=1) ** 2).sum(axis=1))), rel=0.03
    )
    moved = shift + rng.normal(size=shift.shape) * 4.0 / np.sqrt(2.0)
    about = np.mean((moved - moved.mean(axis=1, keepdims=True)) ** 2) * 100 / 99
    assert np.degrees(1.0) ** 2 * found.scatter.mean() == pytest.approx(about, rel=0.03)


def test_widened_cone_covers() -> None:
    """With a common error in one direction or in all, the cone holds at least its level."""
    rng, n = np.random.default_rng(5), 40_000
    alone = np.sqrt(-2.0 * np.log(0.05))  # radius of 95 % of a round normal of deviation one
    for error in (0.5, 1.0, 3.0):
        cone = widened_cone_deg(alone, error, 0.95)
        for axes in (np.array([1.0, 0.0]), np.sqrt([0.5, 0.5])):
            miss = rng.normal(size=(n, 2)) + error * axes * rng.normal(size=(n, 2))
            held = np.mean(np.hypot(*miss.T) < cone)
            assert 0.947 < held < 0.98


def test_part_of_an_unknown_error() -> None:
    """One fracture without a stated error leaves the set without one; no fracture likewise."""
    table = pd.DataFrame({"hole": ["A", "A"], "angular_error_deg": [4.0, np.nan]})
    assert reading_error(table, np.zeros(2)).total_deg is None
    assert reading_error(table.head(0), np.zeros(0)).total_deg is None
    assert fit_scatter(table, np.zeros(2)) is None


def test_roll_is_the_part_that_a_hole_shares() -> None:
    """Of an error of reading and of roll, the roll is common: σ cos α about the hole."""
    hole = pd.DataFrame(
        {"hole": ["B"], "trend_deg": [136.0], "plunge_deg": [55.0], "length_m": [100.0]}
    )
    rows = pd.DataFrame(
        {"hole": "B", "depth_m": [10.0, 20.0], "alpha_deg": [30.0, 60.0], "beta_deg": [10.0, 200.0]}
    )
    errors = ReadingErrors(alpha_deg=2.0, beta_deg=3.0, roll_deg=5.0)
    site = js.Site.from_frames(
        hole, rows, settings=js.SiteSettings(reference="low side", errors=errors)
    )
    found = common_error_deg(site, js.orient_fractures(site))
    np.testing.assert_allclose(found, 5.0 * np.cos(np.radians([30.0, 60.0])), rtol=1e-9)


def _site_with_errors(seed: int, sigma: float) -> js.Site:
    """One set of κ 60, dips and dip directions read with a stated error."""
    site = js.simulate_site(
        sets=[(60.0, 130.0, 60.0, 6.0)], background_per_m=0.1, random_state=seed
    )
    rng, table = np.random.default_rng(seed + 100), site.fractures.copy()
    dip, direction = table["dip_deg"].to_numpy(float), table["dip_direction_deg"].to_numpy(float)
    table["dip_deg"] = np.clip(dip + sigma * rng.normal(size=len(dip)), 0.0, 90.0)
    table["dip_direction_deg"] = (direction + sigma * rng.normal(size=len(dip))) % 360.0
    errors = ReadingErrors(dip_deg=sigma, dip_direction_deg=sigma)
    return replace(site, fractures=table, settings=replace(site.settings, errors=errors))


def test_analysis_carries_the_errors_to_each_set() -> None:
    """Over simulated sites κ as read is too low, and κ of the rock is right on the mean."""
    found = [js.analyse(_site_with_errors(s, 5.0), n_sets=1).sets[0] for s in range(6)]
    read = np.array([one.kappa for one in found])
    rock = np.array([one.kappa_rock for one in found])
    mean_error = rock.std(ddof=1) / np.sqrt(len(rock))
    assert abs(rock.mean() - 60.0) < 3.0 * max(mean_error, 1.0)
    assert read.mean() < 50.0
    inside = [one.kappa_rock_interval[0] < 60.0 < one.kappa_rock_interval[1] for one in found]
    assert sum(inside) >= 4
    assert 5.0 < found[0].reading_error_deg < 5.0 * np.sqrt(2.0)
    assert [one.density.concentration for one in found] == rock.tolist()
    drawn = found[0].sample(20_000, 0)
    poles = drawn[["pole_east", "pole_north", "pole_up"]].to_numpy()
    assert js.fisher_statistics(poles).kappa_mle == pytest.approx(rock[0], rel=0.03)


def test_nothing_stated_nothing_taken_out() -> None:
    """Without stated errors there is no κ of the rock, and the cone is that of the scatter."""
    result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    for k, one in enumerate(result.sets):
        assert one.kappa_rock is None
        assert one.kappa_rock_interval == (None, None)
        assert one.reading_error_deg is None
        assert one.cone_deg == result.mixture.certainty_.cone_deg(k)
