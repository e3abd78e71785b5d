"""The simulator of real rock, against the exposure and the densities of the package."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import jointstats as js
from benchmarks.real_rock import ROWS, found_truth, rock_of, round_sets, score
from benchmarks.simulated_rock import (
    Departure,
    Elliptical,
    Girdle,
    HeavyTailed,
    HoleLine,
    RockSet,
    means_apart,
    random_holes,
    random_means,
    read_site_model,
    simulated_rock,
    with_number,
)
from jointstats.sphere.axes import frame_about, hemisphere_grid
from jointstats.sphere.set_shapes import EllipticalDensity

HOLES = (HoleLine(0, 90, 60), HoleLine(120, 40, 50), HoleLine(300, 15, 70))
MEAN = js.poles_from_dip(55, 130)[0]


def _exposure() -> js.LineExposure:
    lines = [one.direction for one in HOLES]
    return js.LineExposure(lines, [one.length_m for one in HOLES], blind_angle_deg=0)


@pytest.mark.parametrize("swarm", [0.0, 4.0])
def test_counts_agree_with_the_exposure(swarm: float) -> None:
    """Holes meet P32 times the mean exposure of each set, in swarms too, scattered by their size."""
    rng = np.random.default_rng(3)
    long = Elliptical.of_ratio(js.poles_from_dip(80, 20)[0], 40.0, 3.0, 1.0)
    sets = [RockSet(js.sphere.AxialFisher(MEAN, 30.0), 0.8), RockSet(long, 0.6)]
    metres = [
        _exposure().of_set(MEAN, 30.0),
        EllipticalDensity(long.frame, 40.0, long.beta).mean_exposure(_exposure()),
    ]
    counts = [
        np.bincount(simulated_rock(sets, HOLES, rng, departure=Departure(swarm=swarm)).truth)
        for _ in range(60)
    ]
    expected = np.array(metres) * [0.8, 0.6]
    # One and a half per cent for Poisson counts of 80 in 60 sites, and √5 times that in swarms.
    np.testing.assert_allclose(np.mean(counts, axis=0)[1:], expected, rtol=0.05)
    ratio = np.var(counts, axis=0)[1:] / expected
    # Swarms of a Poisson number m have variance over mean 1 + m; its standard error is 18 %.
    np.testing.assert_allclose(ratio, 1.0 + swarm, rtol=0.4)


@pytest.mark.parametrize(
    "density",
    [
        Girdle(np.array([MEAN, *frame_about(MEAN)[:2]]), 0.8, 20.0),
        HeavyTailed(MEAN, 40.0),
        Elliptical.of_ratio(MEAN, 40.0, 3.0, 0.4),
    ],
    ids=lambda one: type(one).__name__,
)
def test_draws_have_their_density(density: Girdle | HeavyTailed | Elliptical) -> None:
    """The density is one over the hemisphere, and its moments are those of the draws."""
    grid = hemisphere_grid(40000)
    chance = np.exp(density.logpdf(grid)) * 2 * np.pi / len(grid)
    assert chance.sum() == pytest.approx(1.0, abs=2e-3)
    drawn = density.rvs(20000, np.random.default_rng(4))
    tensor = np.einsum("ni,nj,n->ij", grid, grid, chance)
    np.testing.assert_allclose(drawn.T @ drawn / len(drawn), tensor, atol=0.01)


def test_axial_ratio_is_that_of_the_scatter() -> None:
    """A set of axial ratio 3 scatters three times as far along as across."""
    poles = Elliptical.of_ratio(MEAN, 1500.0, 3.0, 0.4)
    along, across = (poles.rvs(20000, np.random.default_rng(5)) @ poles.frame[1:].T).std(axis=0)
    assert along / across == pytest.approx(3.0, rel=0.05)


def test_effects_move_the_number_of_a_hole() -> None:
    """Each hole meets P32 times its own effect, one for all sets where it is shared."""
    rng = np.random.default_rng(6)
    sets = [RockSet(js.sphere.AxialFisher(MEAN, 1000.0), 40.0)] * 2
    shared = simulated_rock(sets, HOLES, rng, departure=Departure(variation=0.5, shared=True))
    np.testing.assert_array_equal(shared.effects[1], shared.effects[2])
    own = simulated_rock(sets, HOLES, rng, departure=Departure(variation=0.5))
    hole = own.site.fractures["hole"]
    for h, line in enumerate(HOLES):
        met = ((hole == f"H{h + 1}") & (own.truth == 2)).sum()
        expected = 40.0 * own.effects[2, h] * line.length_m * abs(MEAN @ line.direction)
        assert met == pytest.approx(expected, abs=4 * np.sqrt(expected) + 0.01 * expected)


@pytest.mark.parametrize("fault", ["beta turned", "beta mirrored", "azimuth off"])
def test_a_misread_hole_keeps_its_angles_to_the_core(fault: str) -> None:
    """Faults of β and azimuth leave the angle between plane and hole, and all other holes."""
    rng = np.random.default_rng(7)
    sets = with_number(round_sets(rng), HOLES, 40.0, rng)
    rock = simulated_rock(sets, HOLES, rng, departure=Departure(misread=fault))
    table = rock.site.fractures
    read = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    last = (table["hole"] == "H3").to_numpy()
    moved = js.axis_angles_deg(read[last], rock.poles[last])
    assert js.axis_angles_deg(read[~last], rock.poles[~last]).max() < 1e-4
    assert np.median(moved) > 10.0
    recorded = rock.site.hole("H3").path.direction([1.0])[0]
    np.testing.assert_allclose(
        np.abs(read[last] @ recorded),
        np.abs(rock.poles[last] @ HOLES[2].direction),
        atol=1e-9,
    )


def test_layouts_and_pairs_are_as_asked() -> None:
    """Three to six holes, not all along one line; two means at their angle."""
    rng = np.random.default_rng(8)
    assert {len(random_holes(rng)) for _ in range(60)} == {3, 4, 5, 6}
    assert js.axis_angles_deg(*means_apart(25.0, rng)[:, np.newaxis]) == pytest.approx(25.0)


def test_a_site_model_is_read(tmp_path: Path) -> None:
    """A table of mean poles, κ and P32 gives its sets."""
    text = "pole_trend_deg,pole_plunge_deg,fisher_kappa,p32_per_m\n90,10,20,0.5\n0,80,8,1.5\n"
    (tmp_path / "model.csv").write_text(text)
    one, two = read_site_model(tmp_path / "model.csv")
    assert (one.density.kappa, two.p32_per_m) == (20.0, 1.5)
    np.testing.assert_allclose(two.density.mean, js.lines_from_trend(0, 80)[0])


def test_a_set_that_was_split_has_no_truth_of_its_own() -> None:
    """The truth of a set found is that of the true sets it has most of; a spare half has none."""
    rock = rock_of(round_sets, holes=HOLES)(np.random.default_rng(9))
    right, split = js.analyse(rock.site, 3), js.analyse(rock.site, 4)
    assert found_truth(rock, right).min() > 0 == found_truth(rock, split).min()
    assert found_truth(rock, split).sum() == pytest.approx(rock.p32.sum())
    found = score(rock, right)
    assert found["number"] == 1.0 and found["rand"] > 0.9 * found["best"]


@pytest.mark.parametrize("name", ROWS)
def test_every_row_makes_a_site(name: str) -> None:
    """Each rock of the table has fractures of every set, and the best labels are mostly right."""
    rock = ROWS[name](np.random.default_rng(10))
    assert len(rock.truth) == len(rock.site.fractures) == len(rock.poles)
    assert set(np.unique(rock.truth)) >= set(range(1, len(rock.sets) + 1))
    assert (rock.best_labels == rock.truth).mean() > 0.75


def test_a_misread_hole_that_made_a_set_long_is_named() -> None:
    """The holes agree if a set is taken as long; round sets with β put right describe them better."""
    rng = np.random.default_rng([9, 1])
    lines = random_holes(rng)
    densities = [
        js.sphere.AxialFisher(mean, kappa)
        for mean, kappa in zip(random_means(3, rng), rng.uniform(20, 60, 3), strict=True)
    ]
    sets = with_number(densities, lines, 40.0, rng)
    background = 0.1 * sum(one.p32_per_m for one in sets)
    fault = Departure(misread="beta turned")
    rock = simulated_rock(sets, lines, rng, background_per_m=background, departure=fault)
    found = js.analyse(rock.site)
    assert "elliptical" in [one.shape for one in found.sets]
    assert found.agreement is not None
    assert [(one.hole, one.cause) for one in found.agreement.faults] == [(3, "beta_180")]
    assert {found.confidence_in(one.name) for one in found.sets} == {"low"}
