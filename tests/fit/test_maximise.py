"""The M step: concentrations, slopes and steps against scipy and differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, minimize
from scipy.special import ive

import jointstats as js
from jointstats.fit.likelihood import Expectation, RoundSets, log_scale
from jointstats.fit.maximise import (
    _classical,
    _derivatives,
    _newton_steps,
    _score,
    kappa_of_resultant,
    maximise,
    mean_resultant,
)
from jointstats.sphere.axes import frames_about, moved_along

HOLES = js.LineExposure(js.lines_from_trend([0, 315], [90, 50]), [60.0, 40.0])
MEANS = js.poles_from_dip([62, 20], [135, 20])
KAPPAS = np.array([12.0, 30.0])
SUMS = 0.9 * moved_along(MEANS, 0.05 * frames_about(MEANS)[:, 0])
WEIGHT = np.array([0.95, 0.9])
BOUNDS = (4.0, 1000.0)


@pytest.mark.parametrize("columns", [2, 3, 5])
def test_concentrations_answer_resultants(columns: int) -> None:
    """A(κ) is a ratio of Bessel functions, whose inverse a general root finder gives too."""
    for kappa in (0.5, 3.0, 80.0):
        ratio = ive(columns / 2, kappa) / ive(columns / 2 - 1, kappa)
        assert mean_resultant(kappa, columns) == pytest.approx(ratio, rel=1e-9)
    for resultant in (0.05, 0.4, 0.9, 0.99):
        root = brentq(lambda k, r=resultant: mean_resultant(k, columns) - r, 1e-3, 1e3)
        found = kappa_of_resultant(resultant, columns, (1e-3, 1e3))
        assert found == pytest.approx(root, rel=1e-8)
    assert kappa_of_resultant(0.999999, columns, (2.0, 50.0)) == 50.0
    assert kappa_of_resultant(0.01, columns, (2.0, 50.0)) == 2.0


def _value(change: np.ndarray) -> np.ndarray:
    """Q / N of each set moved by (two tangents, log κ)."""
    means = moved_along(MEANS, np.einsum("ka,kai->ki", change[:, :2], frames_about(MEANS)[:, :2]))
    kappas = KAPPAS * np.exp(change[:, 2])
    return _score(means, kappas, HOLES.of_sets(means, kappas), SUMS, WEIGHT)


def test_slopes_and_curvature_are_derivatives() -> None:
    """Gradient and Hessian of one set agree with differences of the value, at no stationary point."""
    frames = frames_about(MEANS)[:, :2]
    met = HOLES.of_sets_slopes(MEANS, KAPPAS)
    gradient, hessian = _derivatives(MEANS, KAPPAS, met, SUMS, frames, WEIGHT)
    h = 1e-2
    steps = [np.tile(h * one, (2, 1)) for one in np.eye(3)]
    slope = np.column_stack([(_value(s) - _value(-s)) / (2 * h) for s in steps])
    np.testing.assert_allclose(gradient, slope, atol=2e-3)
    for a, one in enumerate(steps):
        for b, two in enumerate(steps):
            across = _value(one + two) - _value(one - two) - _value(two - one) + _value(-one - two)
            np.testing.assert_allclose(hessian[:, a, b], across / (4 * h * h), atol=0.02)


def test_the_value_is_the_mean_log_density_less_what_is_met() -> None:
    """log c + κ(μ·s − 1) − w log E."""
    met = np.array([20.0, 0.5])
    expected = log_scale(KAPPAS, 3) + KAPPAS * (np.einsum("ki,ki->k", MEANS, SUMS) - 1)
    expected -= WEIGHT * np.log(met)
    np.testing.assert_allclose(_score(MEANS, KAPPAS, met, SUMS, WEIGHT), expected)


def test_newton_steps_of_plain_parabolas() -> None:
    """A step to the top of a parabola; held coordinates stay; a valley is climbed; none too long."""
    hessian = np.array([[[-4.0, 1.0, 0.0], [1.0, -2.0, 0.5], [0.0, 0.5, -3.0]]])
    gradient, free = np.array([[0.2, -0.1, 0.3]]), np.ones((1, 3), bool)
    top = -np.linalg.solve(hessian[0], gradient[0])
    np.testing.assert_allclose(_newton_steps(gradient, hessian, free)[0], top, atol=1e-12)
    held = np.array([[False, False, True]])
    np.testing.assert_allclose(_newton_steps(gradient, hessian, held)[0], [0, 0, 0.1], atol=1e-12)
    valley = _newton_steps(gradient, -hessian, free)[0]
    np.testing.assert_allclose(valley, top, atol=1e-12)
    far = _newton_steps(np.array([[30.0, 40.0, 0.0]]), -10.0 * np.eye(3)[np.newaxis], free)[0]
    np.testing.assert_allclose(far, [0.35 * 0.6, 0.35 * 0.8, 0.0], atol=1e-12)
    far = _newton_steps(np.array([[0.0, 1.0, 40.0]]), -10.0 * np.eye(3)[np.newaxis], free)[0]
    np.testing.assert_allclose(far, [0.0, 0.02, 0.8], atol=1e-12)


def test_without_an_exposure_the_answer_is_the_classical_one() -> None:
    """Means along the sums, unless they are held or the sum is nothing."""
    sums = np.array([[0.0, 0.6, 0.0], [0.3, 0.4, 0.0], [0.0, 0.0, 0.0]])
    means, held = np.eye(3), np.array([False, True, False])
    got, kappas = _classical(means, sums, BOUNDS, held)
    np.testing.assert_allclose(got, [[0, 1, 0], [0, 1, 0], [0, 0, 1]])
    along = kappa_of_resultant(0.6, 3, BOUNDS), kappa_of_resultant(0.4, 3, BOUNDS), 4.0
    np.testing.assert_allclose(kappas, along)
    found = Expectation(np.array([10.0, 5.0]), np.array([[0.0, 9.0, 0.0]]), 0.0)
    plain = RoundSets(np.eye(3)[:1], np.array([20.0]), np.ones(1), 1.0)
    step = maximise(found, plain, None, kappa_bounds=BOUNDS)
    np.testing.assert_allclose(step.means, [[0, 1, 0]])
    assert step.kappas[0] == pytest.approx(kappa_of_resultant(0.9, 3, BOUNDS))
    assert (step.intensities[0], step.background) == (10.0, 5.0)
    nothing = Expectation(np.array([7.0]), np.empty((0, 3)), 0.0)
    none = maximise(nothing, plain.take([]), HOLES, kappa_bounds=BOUNDS)
    assert none.background == pytest.approx(7.0 / HOLES.of_uniform())


def test_steps_lead_to_the_maximum_that_scipy_finds() -> None:
    """Repeated M steps of one set end where a general optimiser does; held means stay."""
    found = Expectation(np.array([20.0, 3.0]), 20.0 * SUMS[:1], 0.0)
    start = RoundSets(MEANS[:1], KAPPAS[:1], np.ones(1), 1.0)
    sets = start
    for _ in range(12):
        sets = maximise(found, sets, HOLES, kappa_bounds=BOUNDS)
    frame, weight = frames_about(MEANS[:1])[:, :2], np.array([1 - 0.5 / 20])

    def loss(x: np.ndarray) -> float:
        means = moved_along(MEANS[:1], (x[:2] @ frame[0])[np.newaxis])
        kappas = KAPPAS[:1] * np.exp(x[2])
        return -float(_score(means, kappas, HOLES.of_sets(means, kappas), SUMS[:1], weight)[0])

    judge = minimize(loss, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-9})
    best = moved_along(MEANS[:1], (judge.x[:2] @ frame[0])[np.newaxis])
    assert js.axis_angles_deg(sets.means, best).max() < 0.05
    assert sets.kappas[0] == pytest.approx(KAPPAS[0] * np.exp(judge.x[2]), rel=1e-3)
    assert sets.intensities[0] * HOLES.of_sets(*sets[:2])[0] == pytest.approx(20.0)
    assert sets.background * HOLES.of_uniform() == pytest.approx(3.0)
    held = maximise(found, start, HOLES, kappa_bounds=BOUNDS, fixed=np.array([True]))
    np.testing.assert_array_equal(held.means, start.means)
    assert held.kappas[0] != start.kappas[0]
    # The set is tighter than it may be: κ stays at the bound, and the mean goes its way.
    tight = start._replace(kappas=np.array([6.0]))
    for _ in range(12):
        tight = maximise(found, tight, HOLES, kappa_bounds=(4.0, 6.0))
    assert tight.kappas[0] == 6.0 < sets.kappas[0]
    assert js.axis_angles_deg(tight.means, start.means)[0] > 0.5
