"""One fit from a start: its criterion, what moves, Newton steps; the given sets as a start."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sklearn.base import BaseEstimator

import jointstats as js
from jointstats.fit.arrangement import given_start, in_order, labels_of, unit_rows
from jointstats.fit.data import FitData
from jointstats.fit.fitting import Fit, _free, _newton, first_fit, run_em, settle
from jointstats.fit.likelihood import (
    Expectation,
    RoundSets,
    entropy_of,
    expectation,
    log_likelihood,
    log_prior,
)
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import ShapedFit
from jointstats.sphere.axial_fisher import sample

HOLES = js.LineExposure(js.lines_from_trend([0, 315], [90, 50]), [60.0, 40.0])
MEANS = js.poles_from_dip([10, 70], [100, 200])
REST = js.poles_from_dip([80, 60, 45, 75, 30, 85, 50, 65, 70, 40], [310, 20, 300, 60, 250, 100, 90, 340, 280, 10])
ROWS = np.vstack([sample(one, 40.0, 20, random_state=k) for k, one in enumerate(MEANS)] + [REST])
WEIGHTS = np.random.default_rng(1).uniform(0.5, 1.5, 50)
DATA = FitData(ROWS, WEIGHTS, HOLES)
START = RoundSets(MEANS, np.array([20.0, 60.0]), np.array([0.5, 0.5]), 0.1)


def test_criteria_of_a_round_fit() -> None:
    """p + 1 parameters a set, one of the background; completed by twice the entropy."""
    found = expectation(ROWS, WEIGHTS, START)
    fit = Fit(START, found, 33.0, 1, True)
    n = float(WEIGHTS.sum())
    assert fit.bic(n) == pytest.approx(9 * np.log(n) - 66)
    assert fit._replace(parameters=START._replace(background=0.0)).bic(n) == pytest.approx(8 * np.log(n) - 66)
    four = START._replace(means=np.eye(4)[:2])
    assert fit._replace(parameters=four).bic(n) == pytest.approx(11 * np.log(n) - 66)
    assert fit.bic(0.3) == -66.0
    assert fit.criterion(DATA, n) == fit.bic(n)
    logs = START.rock().log_rates(ROWS)
    completed = fit.bic(n) + 2 * entropy_of(logs, WEIGHTS)
    assert fit.criterion(replace(DATA, criterion="icl"), n) == pytest.approx(completed)
    shaped = ShapedFit(START.rock(), 33.0, found.counts, 1, True)
    assert shaped.criterion(DATA) == pytest.approx(fit.bic(n))
    assert shaped.criterion(replace(DATA, criterion="icl")) == pytest.approx(completed)


def test_the_likelihood_of_a_fit_is_that_of_its_parameters() -> None:
    """EM stops after so many steps, or where it gains too little; what it says it has, it has."""
    short = run_em(DATA, START, max_iter=3)
    assert short.n_iter == 3 and not short.converged
    for fit in (short, run_em(DATA, START), settle(DATA, START), first_fit(DATA)):
        expected = log_likelihood(ROWS, WEIGHTS, fit.parameters, HOLES)
        assert fit.log_likelihood == pytest.approx(expected, abs=1e-6)
    assert run_em(DATA, START, tol=10.0).n_iter == 1
    none = run_em(DATA, START, max_iter=0)
    assert none.log_likelihood == pytest.approx(log_likelihood(ROWS, WEIGHTS, START, HOLES))


def test_a_settled_fit_is_a_maximum() -> None:
    """No parameter can be moved for the better; Newton steps have nothing to add."""
    fit = settle(DATA, START)
    assert fit.converged

    def value(sets: RoundSets) -> float:
        return log_likelihood(ROWS, WEIGHTS, sets, HOLES) + log_prior(sets, HOLES)

    best = value(fit.parameters)
    for factor in (0.98, 1.02):
        one = fit.parameters
        for other in (
            one._replace(kappas=one.kappas * [factor, 1.0]),
            one._replace(intensities=one.intensities * [1.0, factor]),
            one._replace(background=one.background * factor),
        ):
            assert value(other) < best
    again = _newton(DATA, fit)
    assert again is None or value(again.parameters) < best + 1e-7
    near = run_em(DATA, START, max_iter=8)
    better = _newton(DATA, near)
    assert better is not None and value(near.parameters) < value(better.parameters) <= best + 1e-9
    # The alternation alone comes to the same place, only later.
    slow = run_em(replace(DATA, tol=1e-12, max_iter=3000), START)
    assert value(slow.parameters) == pytest.approx(best, abs=1e-4)
    np.testing.assert_allclose(slow.parameters.kappas, fit.parameters.kappas, rtol=1e-2)


def test_what_a_newton_step_may_move() -> None:
    """Not held means, nor κ at a bound, nor what is hardly there."""
    given = RoundSets(MEANS[:1], np.array([20.0]), np.ones(1), 0.1)
    data = replace(DATA, given=given, held=np.array([True]), kappa_bounds=(4.0, 60.0))
    found = Expectation(np.array([0.04, 5.0, 0.06]), np.zeros((2, 3)), 0.0)
    free = _free(data, Fit(START, found, 0.0, 1, True))
    assert free.tolist() == [False, False, True, False, True, True, False, True, True]
    few = found._replace(counts=np.array([1.0, 0.05, 0.05]))
    low = START._replace(kappas=np.array([4.0, 5.0]))
    assert _free(data, Fit(low, few, 0.0, 1, True)).tolist() == [False, False, False, True, True, True, True, False, False]


def test_the_first_fit_is_a_background() -> None:
    """Without sets all fractures are of the background; given sets are settled."""
    fit = first_fit(DATA)
    assert fit.parameters.background == pytest.approx(WEIGHTS.sum() / HOLES.of_uniform())
    assert first_fit(replace(DATA, exposure=None)).parameters.background == pytest.approx(WEIGHTS.sum())
    given = given_start(2.5 * MEANS, ROWS, WEIGHTS, HOLES, True)
    assert given is not None
    np.testing.assert_allclose(given.means, MEANS)
    met = np.append(HOLES.of_sets(MEANS, given.kappas), HOLES.of_uniform())
    expected = np.full(3, WEIGHTS.sum() / 3)
    np.testing.assert_allclose(np.append(given.intensities, given.background) * met, expected)
    np.testing.assert_array_equal(given.kappas, 35.0)
    bare = given_start(MEANS, ROWS, WEIGHTS, None, False)
    assert bare is not None and bare.background == 0.0
    np.testing.assert_allclose(bare.intensities, WEIGHTS.sum() / 2)
    even = given_start(MEANS, ROWS, WEIGHTS, None, True)
    assert even is not None and even.background == pytest.approx(WEIGHTS.sum() / 3)
    settled = first_fit(replace(DATA, given=given))
    assert settled.log_likelihood == pytest.approx(settle(DATA, START).log_likelihood, abs=1e-4)
    for bad in ([[1.0, 2.0]], [[0.0, 0.0, 0.0]], [[1.0, np.nan, 0.0]]):
        with pytest.raises(js.InputError, match="given_means must be rows of 3 finite"):
            given_start(bad, ROWS, WEIGHTS, None, True)


def test_sets_come_in_order_of_p32() -> None:
    """By falling intensity, ties as they were; counts go with their sets."""
    rock = Rock.of_round(np.eye(3), [10.0, 20.0, 30.0], [0.5, 2.0, 0.5], 9.0)
    fit, order = in_order(ShapedFit(rock, 1.0, np.array([3.0, 1.0, 4.0, 7.0]), 1, True))
    assert order.tolist() == [1, 0, 2]
    np.testing.assert_array_equal(fit.rock.kappas, [20.0, 10.0, 30.0])
    np.testing.assert_array_equal(fit.counts, [1.0, 3.0, 4.0, 7.0])


def test_labels_are_of_the_largest_rate() -> None:
    """−1 for the background, and for a row without a direction."""
    logs = np.array([[0.0, 1.0, -1.0], [0.0, -1.0, 0.5], [2.0, 0.0, 0.0]])
    rows = np.array([[1.0, 0, 0], [1.0, 0, 0], [0.0, 0, 0]])
    assert labels_of(logs, rows).tolist() == [1, -1, -1]
    assert labels_of(logs, rows[[0, 0, 0]]).tolist() == [1, -1, 0]


def test_rows_of_any_length_come_to_unit_length() -> None:
    """Tiny and huge ones too; a row of zeros stays."""
    rows = np.array([[3e-200, 4e-200, 0.0], [0.0, -5e200, 12e200], [0.0, 0.0, 0.0], [0.0, 0.6, 0.8]])
    found = unit_rows(BaseEstimator(), rows, reset=True)
    expected = [[0.6, 0.8, 0.0], [0.0, -5 / 13, 12 / 13], [0.0, 0.0, 0.0], [0.0, 0.6, 0.8]]
    np.testing.assert_allclose(found, expected)
