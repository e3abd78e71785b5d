"""The rules of a fit: fractures of several rows, errors of reading, parts, order."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.likelihood import RoundSets

ROWS = np.random.default_rng(1).normal(size=(6, 3))
ROWS /= np.linalg.norm(ROWS, axis=1, keepdims=True)
#: Three fractures, of one, two and three places.
PARTS = np.array([0, 1, 1, 2, 2, 2])
WEIGHTS = np.array([1.0, 0.2, 0.6, 0.3, 0.3, 0.4])
GIVEN = RoundSets(np.eye(3)[:2], np.array([20.0, 30.0]), np.ones(2), 1.0)


def test_fractures_of_several_places_have_the_mean_rate() -> None:
    """Rates of a fracture are averaged over its places with their weights."""
    data = FitData(ROWS, WEIGHTS, part_of=PARTS)
    rates = np.array([2.0, 3.0, 5.0, 1.0, 0.5, 4.0])
    means = np.array([2.0, (0.6 + 3.0) / 0.8, (0.3 + 0.15 + 1.6) / 1.0])
    np.testing.assert_allclose(data.fracture_weights, [1.0, 0.8, 1.0])
    np.testing.assert_allclose(data.summed(rates), [2.0, 8.0, 5.5])
    np.testing.assert_allclose(data.summed_top(rates), [2.0, 5.0, 4.0])
    # So far from every set that a rate by itself would be nothing.
    logs = np.log(rates) - 2000.0
    np.testing.assert_allclose(data.log_means(logs), np.log(means)[PARTS] - 2000.0)
    both = np.column_stack([rates, 2 * rates])
    expected = [1.0, 0.8, 1.0] @ np.log(means)
    np.testing.assert_allclose(data.log_likelihoods(both), [expected, expected + 2.8 * np.log(2)])


def test_rows_alone_are_their_fractures() -> None:
    """Without parts every row stands for itself."""
    data, rates = FitData(ROWS, WEIGHTS), np.arange(1.0, 7.0)
    assert data.fracture_weights is data.weights
    np.testing.assert_array_equal(data.summed(rates), rates)
    np.testing.assert_array_equal(data.log_means(rates), rates)
    np.testing.assert_allclose(data.log_likelihoods(rates[:, np.newaxis]), WEIGHTS @ np.log(rates))
    assert data.total == pytest.approx(2.8)
    assert (data.uniform, data.n_given, data.read) == (1.0, 0, ())


def test_rows_are_read_in_at_most_four_groups() -> None:
    """Groups by quarters of the errors, each with its mean; every row in one of them."""
    scatter = np.linspace(0.001, 0.08, 40)[np.random.default_rng(0).permutation(40)]
    data = FitData(np.resize(ROWS, (40, 3)), np.ones(40), scatter=scatter)
    assert [len(part) for part, _ in data.read] == [10] * 4
    quarters = np.sort(scatter).reshape(4, 10).mean(axis=1)
    np.testing.assert_allclose([mean for _, mean in data.read], quarters)
    assert sorted(np.concatenate([part for part, _ in data.read])) == list(range(40))
    alike = FitData(ROWS, WEIGHTS, scatter=np.full(6, 0.01)).read
    assert len(alike) == 1 and alike[0].scatter == pytest.approx(0.01)
    assert FitData(ROWS, WEIGHTS, scatter=np.zeros(6)).read == ()


def test_held_and_closed_go_with_their_set() -> None:
    """Sets put in an order take their rules along; found sets have none."""
    closed = np.zeros((6, 2), bool)
    closed[0, 0] = closed[1, 1] = True
    data = FitData(ROWS, WEIGHTS, given=GIVEN, held=np.array([True, False]), closed=closed)
    assert data.n_given == 2
    assert data.held_of(3).tolist() == [True, False, False]
    other = data.reordered(np.array([2, 1, 0]))
    assert other.held is not None and other.closed is not None and other.given is None
    assert other.held.tolist() == [False, False, True]
    assert other.closed.sum(axis=0).tolist() == [0, 1, 1]
    assert other.closed[0, 2] and other.closed[1, 1]
    free = FitData(ROWS, WEIGHTS, given=GIVEN, held=np.zeros(2, bool)).reordered(np.arange(2))
    assert free.held is None and free.closed is None


def test_a_part_carries_the_weight_of_the_whole() -> None:
    """Places of one fracture stay together; weights are scaled to the same sum."""
    data = FitData(ROWS, WEIGHTS, part_of=PARTS, scatter=np.arange(6) * 0.01)
    assert data.thinned(np.random.RandomState(0), 3) is data
    part = data.thinned(np.random.RandomState(0), 2)
    assert part.part_of is not None and part.scatter is not None
    assert part.total == pytest.approx(data.total)
    assert part.part_of.max() == 1
    kept = np.round(part.scatter * 100).astype(int)
    np.testing.assert_allclose(part.rows, ROWS[kept])
    assert set(PARTS[kept]) == {PARTS[kept][0], PARTS[kept][-1]}
    assert len(kept) == np.isin(PARTS, PARTS[kept]).sum()
    np.testing.assert_allclose(part.weights / WEIGHTS[kept], part.weights[0] / WEIGHTS[kept[0]])
    plain = FitData(ROWS, WEIGHTS).thinned(np.random.RandomState(0), 4)
    assert len(plain.rows) == 4 and plain.part_of is None


def test_rules_for_a_part_of_the_rows() -> None:
    """Closed and scatter follow the rows kept, unless the rows are others."""
    closed, kept = np.zeros((6, 1), bool), np.array([1, 0, 1, 0, 0, 1], bool)
    closed[2] = True
    data = FitData(ROWS, WEIGHTS, closed=closed, scatter=np.arange(6.0))
    part = data.of_rows(ROWS, kept, None)
    assert part.closed is not None and part.scatter is not None
    assert part.closed[:, 0].tolist() == [False, True, False]
    assert part.scatter.tolist() == [0.0, 2.0, 5.0]
    assert part.weights.tolist() == [1.0] * 3
    other = data.of_rows(ROWS[:5], kept[:5], None)
    assert other.closed is None and other.scatter is None


def test_rules_made_by_hand_are_those_of_the_estimator() -> None:
    """What a fit is not told it does as the estimator's documented settings say."""
    told = js.JointSetMixture().get_params()
    rules = FitData(ROWS, WEIGHTS)
    for name in ("background", "kappa_bounds", "candidates", "tol", "max_iter", "criterion"):
        assert getattr(rules, name) == told[name]
    assert rules.smallest == told["smallest_set"]
