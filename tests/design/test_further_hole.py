"""The next hole: information by brute force, errors by simulation, the direction by sense."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.design.further_hole import _slopes, _Sphere, expected_errors, next_hole
from jointstats.errors import InputError
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.shaped import PER_SET
from jointstats.sphere.axes import frame_about, hemisphere_grid, rotation_about
from jointstats.sphere.set_chart import SetChart
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity

STEEP = RockSet(RoundDensity.about(js.poles_from_dip(84, 90)[0], 40.0), 1.2)
LEVEL = RockSet(RoundDensity.about(js.poles_from_dip(8, 200)[0], 60.0), 1.0)
BOTH = Rock((STEEP, LEVEL), 0.2)
SHAPED = Rock(
    (
        RockSet(EllipticalDensity(frame_about([0.3, -0.4, 0.8]), 40.0, 12.0), 1.0),
        RockSet(GirdleDensity(frame_about([0.2, 0.7, 0.1]), 25.0, 4.0), 1.5),
    ),
    0.2,
)
VERTICAL = js.LineExposure([[0, 0, -1]], [60.0])


def _density(rock: Rock, poles: np.ndarray) -> np.ndarray:
    total = np.full(len(poles), rock.background_per_m / (2 * np.pi))
    for one in rock.sets:
        total += one.p32_per_m * np.exp(one.density.log_density(poles))
    return total


def _slope(rock: Rock, k: int, which: int, poles: np.ndarray) -> np.ndarray:
    """Central difference of the rock's density by a coordinate of set k, the last its log P32."""
    density, p32 = rock.sets[k]
    chart, step, sides = SetChart(density, (1e-3, 1e6)), 1e-5, []
    for h in (step, -step):
        if which == PER_SET - 1:
            moved = rock.replaced(k, density, p32 * np.exp(h))
        else:
            moved = rock.replaced(k, chart.at(h * np.eye(PER_SET - 1)[which]))
        sides.append(_density(moved, poles))
    return (sides[0] - sides[1]) / (2 * step)


@pytest.mark.parametrize("rock", [BOTH, SHAPED], ids=["round", "shaped"])
def test_slopes_are_those_of_the_density(rock: Rock) -> None:
    """The slopes of the rock's density are its finite differences in every parameter."""
    poles = js.sphere.AxialFisher([0.3, 0.2, 1.0], 1.0).rvs(50, random_state=1)
    density, slopes = _slopes(rock, poles)
    np.testing.assert_allclose(density, _density(rock, poles))
    for k in range(2):
        for which in range(PER_SET):
            # Above 1e-6 of a pole's density rounding hides nothing.
            np.testing.assert_allclose(
                slopes[:, PER_SET * k + which],
                _slope(rock, k, which, poles),
                rtol=1e-5,
                atol=1e-7,
            )
    np.testing.assert_allclose(slopes[:, -1], rock.background_per_m / (2 * np.pi))


def test_coordinates_of_a_round_set() -> None:
    """The slopes by turns and log κ are those of the axial Fisher density moved by hand."""
    poles = js.sphere.AxialFisher([0.3, 0.2, 1.0], 1.0).rvs(50, random_state=1)
    (density, p32), step = STEEP, 1e-5
    _, slopes = _slopes(Rock((STEEP,), 0.0), poles)

    def at(which: int, h: float) -> np.ndarray:
        mean, kappa = density.frame[0].copy(), density.concentration
        if which < 2:
            mean = mean + h * density.frame[1 + which]
        else:
            kappa *= np.exp(h)
        return p32 * np.exp(js.sphere.AxialFisher(mean, kappa).logpdf(poles))

    for which in range(3):
        by_hand = (at(which, step) - at(which, -step)) / (2 * step)
        np.testing.assert_allclose(slopes[:, which], by_hand, rtol=1e-5, atol=1e-7)
    assert not slopes[:, 3:5].any()  # a round set has no ellipticity to learn


@pytest.mark.parametrize("rock", [BOTH, SHAPED], ids=["round", "shaped"])
def test_information_against_a_grid(rock: Rock) -> None:
    """The information is the integral over the hemisphere, summed on a fine even grid."""
    sphere = _Sphere(rock)
    at = VERTICAL.at(sphere.poles)
    found = sphere.information(at)
    grid = hemisphere_grid(60000)
    density, slopes = _slopes(rock, grid)
    weight = VERTICAL.at(grid) / density * 2 * np.pi / len(grid)
    exact = (slopes * weight[:, np.newaxis]).T @ slopes
    size = np.sqrt(np.diag(exact))
    scale = np.outer(size, size) + (np.outer(size, size) == 0)
    # The nodes of a set are a fixed sample, no longer a quadrature: 0.02 holds beside four
    # standard errors of the sum over 2000 nodes, from the scatter of its terms.
    terms = np.einsum("ni,nj,n->nij", sphere.scaled, sphere.scaled, at)
    parts = np.split(terms, 2000 * np.arange(1, 1 + len(rock.sets)))[: len(rock.sets)]
    error = np.sqrt(sum(len(one) * one.var(axis=0) for one in parts))
    assert (np.abs(found - exact) < 4 * error + 0.02 * scale).all()
    assert (error < 0.06 * scale).all()
    # What is read from it, the errors of log P32, hardly feels the sample.
    known = np.sqrt(np.diag(np.linalg.inv(exact + np.eye(len(exact)))))[PER_SET - 1 :: PER_SET]
    np.testing.assert_allclose(expected_errors(rock, VERTICAL), known, rtol=0.02)


def test_expected_error_is_met_by_fits() -> None:
    """Fits of simulated investigations report, on average, the error that was expected."""
    rng = np.random.default_rng(2)
    exposure = js.LineExposure([[0, 0, -1], js.lines_from_trend(90, 30)[0]], [60.0, 30.0])
    rock, errors = Rock((STEEP, LEVEL), 0.0), []
    for _ in range(6):
        poles = []
        for line, length in zip(exposure.directions, exposure.lengths_m, strict=True):
            for mean, kappa, p32 in zip(rock.means, rock.kappas, rock.intensities, strict=True):
                drawn = js.sphere.AxialFisher(mean, kappa).rvs(rng.poisson(p32 * length), rng)
                cosine = np.abs(drawn @ line)
                hit = (rng.random(len(drawn)) < cosine) & (cosine > np.sin(np.radians(10)))
                poles.append(drawn[hit])
        model = js.JointSetMixture(2, background=False, random_state=0)
        model.fit(np.vstack(poles), exposure=exposure)
        near = [int(js.axis_angles_deg(model.means_, mean).argmin()) for mean in rock.means]
        variance = np.diag(model.certainty_.covariance)[PER_SET - 1 :: PER_SET]
        errors.append(np.sqrt(variance[near]))
    np.testing.assert_allclose(np.mean(errors, axis=0), expected_errors(rock, exposure), rtol=0.15)


def test_expected_error_of_an_elliptical_set_is_met_by_fits() -> None:
    """Fits of a simulated elliptical set report the errors expected of all its coordinates."""
    rng = np.random.default_rng(7)
    exposure = js.LineExposure([[0, 0, -1], js.lines_from_trend(90, 30)[0]], [60.0, 30.0])
    frame = RoundDensity.about(js.poles_from_dip(70, 90)[0], 1.0).frame
    rock, errors = Rock((RockSet(EllipticalDensity(frame, 40.0, 12.0), 2.0),), 0.0), []
    for _ in range(6):
        poles = []
        for line, length in zip(exposure.directions, exposure.lengths_m, strict=True):
            drawn, _ = rock.sample(rng.poisson(2.0 * length), rng)
            cosine = np.abs(drawn @ line)
            hit = (rng.random(len(drawn)) < cosine) & (cosine > np.sin(np.radians(10)))
            poles.append(drawn[hit])
        model = js.JointSetMixture(1, background=False, shape="elliptical", random_state=0)
        model.fit(np.vstack(poles), exposure=exposure)
        assert model.rock_.shapes == ("elliptical",)
        errors.append(np.sqrt(np.diag(model.certainty_.covariance)[:PER_SET]))
    sphere = _Sphere(rock)
    information = sphere.information(exposure.at(sphere.poles))[:PER_SET, :PER_SET]
    expected = np.sqrt(np.diag(np.linalg.inv(information)))
    found = np.mean(errors, axis=0)
    np.testing.assert_allclose(found, expected, rtol=0.15)
    assert found[-1] == pytest.approx(expected_errors(rock, exposure)[0], rel=0.15)


def test_worst_set_and_best_direction() -> None:
    """After a vertical hole the steep set is known worst, and the best hole runs across it."""
    found = next_hole(Rock((LEVEL, STEEP), 0.1), VERTICAL, 40.0)
    assert found.set_index == 1
    assert js.axis_angles_deg(found.direction, STEEP.density.mean)[0] < 25
    assert found.half_width_after < found.half_width_at_random < found.half_width_now
    table = found.to_frame()
    assert table["half_width_after"].is_monotonic_increasing
    assert len(table) == 400


def test_only_the_directions_offered() -> None:
    """Among the directions offered the best is chosen, for the set asked for."""
    offered, rock = js.lines_from_trend([90, 0], [20, 90]), Rock((LEVEL, STEEP), 0.0)
    steep = next_hole(rock, VERTICAL, 40.0, directions=offered)
    assert steep.plunge_deg == pytest.approx(20)
    level = next_hole(rock, VERTICAL, 40.0, directions=offered, set_index=0)
    assert level.plunge_deg == pytest.approx(90)


def test_turning_everything_turns_the_answer() -> None:
    """Turned sets and holes have the same errors, up to the nodes."""
    turn = rotation_about([1, 1, 0.2], 1.0)
    rock = Rock((STEEP, LEVEL), 0.0)
    turned_rock = Rock.of_round(-rock.means @ turn.T, rock.kappas, rock.intensities)
    turned = js.LineExposure(VERTICAL.directions @ turn.T, VERTICAL.lengths_m)
    np.testing.assert_allclose(
        expected_errors(turned_rock, turned), expected_errors(rock, VERTICAL), rtol=0.03
    )


def test_a_shape_to_learn_costs_precision() -> None:
    """No shape is known better than the count allows, and a free shape never helps.

    The least error is that of a Poisson count of the fractures met, drawn here one by one.
    """
    line = js.lines_from_trend(40.0, 50.0)[0]
    exposure = js.LineExposure([line], [80.0])
    for one in SHAPED.sets:
        cosine = np.abs(one.density.sample(40000, 3) @ line)
        seen = cosine * (cosine >= np.sin(np.radians(exposure.blind_angle_deg)))
        least = 1.0 / np.sqrt(one.p32_per_m * 80.0 * seen.mean())
        found = expected_errors(Rock((one,), 0.0), exposure)[0]
        # The floor of the information counts as one fracture more.
        assert 0.98 * least / np.sqrt(1 + least**2) < found < 2 * least


def test_the_hole_that_a_shaped_set_asks_for() -> None:
    """After a vertical hole a level fold or a steep set asks for a hole across its planes."""
    north, east, up = np.eye(3)[[1, 0, 2]]
    fold = RockSet(GirdleDensity([north, east, up], 30.0, 8.0), 1.0)
    long = RockSet(EllipticalDensity([east, north, up], 40.0, 12.0), 1.0)
    for one in (fold, long):
        found = next_hole(Rock((one,), 0.05), VERTICAL, 60.0)
        assert js.axis_angles_deg(found.direction, east)[0] < 30
        assert found.half_width_after < found.half_width_at_random < found.half_width_now


def test_errors() -> None:
    """Arguments out of range are named."""
    with pytest.raises(InputError, match="the rock has no set"):
        next_hole(Rock((), 1.0), VERTICAL, 10.0)
    with pytest.raises(InputError, match="must have a concentration and p32_per_m above zero"):
        expected_errors(Rock.of_round([[0, 0, 1]], 10.0, 0.0), VERTICAL)
    with pytest.raises(InputError, match="length_m must be finite and above 0"):
        next_hole(Rock((LEVEL,), 0.0), VERTICAL, 0)
    with pytest.raises(InputError, match="set_index must lie between 0 and 0"):
        next_hole(Rock((LEVEL,), 0.0), VERTICAL, 10.0, set_index=3)
    with pytest.raises(InputError, match="offer at least one direction"):
        next_hole(Rock((LEVEL,), 0.0), VERTICAL, 10.0, directions=np.empty((0, 3)))
