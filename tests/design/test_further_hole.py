"""The next hole: information by brute force, errors by simulation, the direction by sense."""

from __future__ import annotations

from types import SimpleNamespace as Set

import numpy as np
import pytest

import jointstats as js
from jointstats.design.further_hole import _slopes, _Sphere, expected_errors, next_hole
from jointstats.errors import InputError
from jointstats.sphere.axes import frame_about, rotation_about

STEEP = Set(mean=js.poles_from_dip(84, 90)[0], kappa=40.0, p32_per_m=1.2)
LEVEL = Set(mean=js.poles_from_dip(8, 200)[0], kappa=60.0, p32_per_m=1.0)
VERTICAL = js.LineExposure([[0, 0, -1]], [60.0])


def _density(sets: list[Set], background: float, poles: np.ndarray) -> np.ndarray:
    total = np.full(len(poles), background / (2 * np.pi))
    for one in sets:
        total += one.p32_per_m * np.exp(js.sphere.AxialFisher(one.mean, one.kappa).logpdf(poles))
    return total


def test_slopes_are_those_of_the_density() -> None:
    """The slopes of the rock's density are its finite differences in every parameter."""
    poles = js.sphere.AxialFisher([0.3, 0.2, 1.0], 1.0).rvs(50, random_state=1)
    sets, background, step = [STEEP, LEVEL], 0.2, 1e-5
    density, slopes = _slopes(sets, background, poles)
    np.testing.assert_allclose(density, _density(sets, background, poles))

    def moved(k: int, which: int, h: float) -> list[Set]:
        one = Set(**vars(sets[k]))
        if which < 2:
            one.mean = one.mean + h * frame_about(one.mean)[which]
        elif which == 2:
            one.kappa *= np.exp(h)
        else:
            one.p32_per_m *= np.exp(h)
        return [one if i == k else other for i, other in enumerate(sets)]

    for k in range(2):
        for which in range(4):
            up, down = (_density(moved(k, which, h), background, poles) for h in (step, -step))
            # Above 1e-6 of a pole's density rounding hides nothing.
            np.testing.assert_allclose(
                slopes[:, 4 * k + which], (up - down) / (2 * step), rtol=1e-5, atol=1e-7
            )
    np.testing.assert_allclose(slopes[:, -1], background / (2 * np.pi))


def test_information_against_a_grid() -> None:
    """The information is the integral over the hemisphere, summed on a fine even grid."""
    sets, background = [STEEP, LEVEL], 0.2
    sphere = _Sphere(sets, background)
    found = sphere.information(VERTICAL.at(sphere.poles))
    from jointstats.sphere.axes import hemisphere_grid

    grid = hemisphere_grid(60000)
    density, slopes = _slopes(sets, background, grid)
    weight = VERTICAL.at(grid) / density * 2 * np.pi / len(grid)
    exact = (slopes * weight[:, np.newaxis]).T @ slopes
    scale = np.sqrt(np.outer(np.diag(exact), np.diag(exact)))
    assert np.abs((found - exact) / scale).max() < 0.02


def test_expected_error_is_met_by_fits() -> None:
    """Fits of simulated investigations report, on average, the error that was expected."""
    rng = np.random.default_rng(2)
    exposure = js.LineExposure([[0, 0, -1], js.lines_from_trend(90, 30)[0]], [60.0, 30.0])
    sets, errors = [STEEP, LEVEL], []
    for _ in range(6):
        poles = []
        for line, length in zip(exposure.directions, exposure.lengths_m, strict=True):
            for one in sets:
                drawn = js.sphere.AxialFisher(one.mean, one.kappa).rvs(
                    rng.poisson(one.p32_per_m * length), rng
                )
                cosine = np.abs(drawn @ line)
                hit = (rng.random(len(drawn)) < cosine) & (cosine > np.sin(np.radians(10)))
                poles.append(drawn[hit])
        model = js.JointSetMixture(2, background=False, random_state=0)
        model.fit(np.vstack(poles), exposure=exposure)
        near = [int(js.axis_angles_deg(model.means_, one.mean).argmin()) for one in sets]
        errors.append(np.sqrt([model.certainty_.covariance[4 * k + 3, 4 * k + 3] for k in near]))
    np.testing.assert_allclose(np.mean(errors, axis=0), expected_errors(sets, exposure), rtol=0.15)


def test_worst_set_and_best_direction() -> None:
    """After a vertical hole the steep set is known worst, and the best hole runs across it."""
    found = next_hole([LEVEL, STEEP], VERTICAL, 40.0, background_per_m=0.1)
    assert found.set_index == 1
    assert js.axis_angles_deg(found.direction, STEEP.mean)[0] < 25
    assert found.half_width_after < found.half_width_at_random < found.half_width_now
    table = found.to_frame()
    assert table["half_width_after"].is_monotonic_increasing
    assert len(table) == 400


def test_only_the_directions_offered() -> None:
    """Among the directions offered the best is chosen, for the set asked for."""
    offered = js.lines_from_trend([90, 0], [20, 90])
    assert next_hole(
        [LEVEL, STEEP], VERTICAL, 40.0, directions=offered
    ).plunge_deg == pytest.approx(20)
    level = next_hole([LEVEL, STEEP], VERTICAL, 40.0, directions=offered, set_index=0)
    assert level.plunge_deg == pytest.approx(90)


def test_turning_everything_turns_the_answer() -> None:
    """Turned sets and holes have the same errors, up to the quadrature."""
    turn = rotation_about([1, 1, 0.2], 1.0)
    sets = [Set(mean=-turn @ s.mean, kappa=s.kappa, p32_per_m=s.p32_per_m) for s in (STEEP, LEVEL)]
    turned = js.LineExposure(VERTICAL.directions @ turn.T, VERTICAL.lengths_m)
    np.testing.assert_allclose(
        expected_errors(sets, turned), expected_errors([STEEP, LEVEL], VERTICAL), rtol=0.03
    )


def test_errors() -> None:
    """Arguments out of range are named."""
    with pytest.raises(InputError, match="sets is empty"):
        next_hole([], VERTICAL, 10.0)
    with pytest.raises(InputError, match="must have kappa and p32_per_m above zero"):
        expected_errors([Set(mean=[0, 0, 1], kappa=10.0, p32_per_m=0.0)], VERTICAL)
    with pytest.raises(InputError, match="length_m must be finite and above 0"):
        next_hole([LEVEL], VERTICAL, 0)
    with pytest.raises(InputError, match="set_index must lie between 0 and 0"):
        next_hole([LEVEL], VERTICAL, 10.0, set_index=3)
    with pytest.raises(InputError, match="offer at least one direction"):
        next_hole([LEVEL], VERTICAL, 10.0, directions=np.empty((0, 3)))
