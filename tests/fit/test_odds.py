"""Readings of one rock, with probabilities by hand."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.fit.data import FitData
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.odds import Reading, presence, readings_of
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import ShapedFit

ROWS = np.repeat(np.eye(3), 10, axis=0)
DATA = FitData(ROWS, np.ones(30))
LOG = np.log(30.0)


def _fit(counts: list[float], likelihood: float) -> ShapedFit:
    sets = len(counts) - 1
    axes = np.eye(3)[np.arange(sets) % 3]
    rock = Rock.of_round(axes, np.full(sets, 30.0), np.ones(sets), 0.1)
    return ShapedFit(rock, likelihood, np.array(counts), 1, True)


def _likelihood(sets: int, above: float) -> float:
    """Log likelihood whose BIC, of four parameters a set and one, is so far above nothing."""
    return 0.5 * ((4 * sets + 1) * LOG - above)


def test_probabilities_are_quarter_powers_of_the_criterion() -> None:
    """exp(−ΔBIC / 4) of the best fit of each number of sets, shared out."""
    fits = [
        _fit([10.0, 10.0, 10.0], _likelihood(2, 0.0)),
        _fit([20.0, 10.0], _likelihood(1, 4.0)),
        _fit([10.0, 11.0, 9.0], _likelihood(2, 1.0)),  # as many sets as the first
        _fit([8.0, 8.0, 4.9, 9.1], _likelihood(3, 0.5)),  # too small a set
        _fit([8.0, 8.0, 5.0, 9.0], _likelihood(3, 2.0)),
        _fit([8.0, 8.0, 5.0, 5.0, 4.0], _likelihood(4, 9.0)),
    ]
    found = readings_of(fits, DATA)
    weights = np.exp(-np.array([0.0, 4.0, 2.0, 9.0]) / 4)
    shares = weights / weights.sum()
    assert [len(one.rock.sets) for one in found] == [2, 3, 1]
    np.testing.assert_allclose([one.probability for one in found], shares[[0, 2, 1]])
    np.testing.assert_allclose([one.bic for one in found], [0.0, 2.0, 4.0], atol=1e-9)


def test_readings_of_little_probability_are_not_shown() -> None:
    """One twentieth is asked of every reading but the first; a small set does not unseat the best."""
    limit = 4 * np.log(19.0)  # 1 to 19
    for above, number in ((limit - 0.01, 2), (limit + 0.01, 1)):
        fits = [_fit([26.0, 4.0, 0.0], _likelihood(2, 0.0)), _fit([30.0, 0.0], _likelihood(1, above))]
        assert len(readings_of(fits, DATA)) == number


def test_given_sets_may_be_small() -> None:
    """A set that the analyst gave is a set of however few fractures."""
    given = RoundSets(np.eye(3)[:1], np.array([30.0]), np.ones(1), 0.1)
    data = FitData(ROWS, np.ones(30), given=given)
    fits = [_fit([25.0, 5.0], _likelihood(1, 0.0)), _fit([2.0, 25.0, 3.0], _likelihood(2, 1.0))]
    assert len(readings_of(fits, data)) == 2
    assert len(readings_of(fits, DATA)) == 1


@pytest.mark.parametrize(("n", "there"), [(20, 1.0), (19, 0.7)])
def test_a_set_is_there_by_more_than_two_thirds_of_its_fractures(n: int, there: float) -> None:
    """Of 29 fractures of the first reading's set another holds 20, or 19, and no others."""
    one = Rock.of_round(np.eye(3)[:2], [30.0, 30.0], [1.0, 1.0], 0.01)
    # The second reading has a set of its own where the rest of the first's lie.
    turned = np.array([[np.cos(0.3), 0.0, np.sin(0.3)]])
    two = Rock.of_round(np.vstack([np.eye(3)[:2], turned]), [300.0, 30.0, 300.0], np.ones(3), 0.01)
    rows = np.vstack([np.repeat(np.eye(3)[:1], n, axis=0), np.repeat(turned, 29 - n, axis=0)])
    rows = np.vstack([rows, np.eye(3)[[1, 1]]])
    found = presence([Reading(one, 0.7, 0.0), Reading(two, 0.3, 1.0)], rows)
    np.testing.assert_allclose(found, [there, 1.0])
