"""Counts down a hole: P10 with its intervals, windows, cumulative curves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from jointstats.errors import InputError
from jointstats.intervals import poisson_interval
from jointstats.line.windows import (
    _widened,
    cumulative_fractures,
    frequency_in_windows,
    hole_frequency,
)


def _clustered(rng: np.random.Generator, length: float) -> np.ndarray:
    """Clusters of four fractures on average, each within half a metre."""
    parents = rng.uniform(-1, length + 1, rng.poisson(0.5 * (length + 2)))
    depth = np.concatenate([x + rng.uniform(-0.25, 0.25, rng.poisson(4)) for x in parents])
    return depth[(depth > 0) & (depth < length)]


def test_p10_counts_logged_metres_only() -> None:
    """P10 is the number over the logged metres, its interval the exact Poisson one."""
    found = hole_frequency([1, 2, 12], [(0, 5), (10, 15)])
    assert (found.n, found.logged_m, found.p10_per_m) == (3, 10.0, 0.3)
    np.testing.assert_allclose(found.p10_interval_per_m, np.array(poisson_interval(3)) / 10)
    assert found.best_interval == found.p10_interval_per_m
    assert found.pvalue is None


def test_random_fractures_pass_the_test_as_often_as_they_should() -> None:
    """Of random logs about one in twenty is called overdispersed."""
    rng = np.random.default_rng(1)
    called = [
        hole_frequency(rng.uniform(0, 100, rng.poisson(150)), [(0, 100)]).overdispersed
        for _ in range(500)
    ]
    assert 0.02 < np.mean(called) < 0.09


def test_wide_interval_covers_where_fractures_cluster() -> None:
    """For clustered fractures the Poisson interval fails and the wide one covers."""
    rng = np.random.default_rng(2)
    narrow, wide, called = [], [], []
    for _ in range(400):
        found = hole_frequency(_clustered(rng, 120.0), [(0, 120)])
        called.append(found.overdispersed)
        narrow.append(found.p10_interval_per_m[0] <= 2.0 <= found.p10_interval_per_m[1])
        wide.append(found.best_interval[0] <= 2.0 <= found.best_interval[1])
    assert np.mean(called) > 0.9
    assert np.mean(narrow) < 0.75
    assert np.mean(wide) > 0.90


def test_windows_do_not_cross_gaps() -> None:
    """Every logged metre lies in one window, every fracture too, and gaps in none."""
    depth = [0.0, 2.5, 5.0, 9.9, 20.0, 26.0]
    table = frequency_in_windows(depth, [(0, 10), (20, 26)], 5.0)
    assert table["from_m"].tolist() == [0.0, 5.0, 20.0]
    assert table["to_m"].tolist() == [5.0, 10.0, 26.0]
    assert table["n"].tolist() == [2, 2, 2]
    assert (table["p10_low_per_m"] <= table["p10_per_m"]).all()


def test_cumulative_curves() -> None:
    """Each set counts up to its number; the even line is the share of the logged metres."""
    table = cumulative_fractures([9, 1, 21], ["J2", "J1", "J2"], [(0, 10), (20, 30)])
    assert table[table["set"] == "J2"]["n"].tolist() == [1, 2]
    assert table[table["set"] == "J2"]["logged_m"].tolist() == [9.0, 11.0]
    np.testing.assert_allclose(table[table["set"] == "J2"]["even_n"], [0.9, 1.1])
    assert len(cumulative_fractures([], [], [(0, 1)])) == 0


def test_no_fractures() -> None:
    """A log without fractures has P10 zero and an upper limit."""
    found = hole_frequency([], [(0, 10)])
    assert found.p10_per_m == 0
    assert 0 < found.p10_interval_per_m[1] < 1
    assert found.to_frame().shape == (1, 12)


def test_errors() -> None:
    """Arguments out of range are named."""
    with pytest.raises(InputError, match="logged has no length"):
        hole_frequency([1], [])
    with pytest.raises(InputError, match="window_m must be finite and above 0"):
        frequency_in_windows([1], [(0, 2)], 0)
    with pytest.raises(InputError, match="sets must name one set a fracture"):
        cumulative_fractures([1, 2], ["J1"], [(0, 3)])


def test_an_interval_of_clustered_counts_by_hand() -> None:
    """Twice the variance, itself from five degrees: as half the counts, less (z / t)² of Student."""
    worth = 100 / (2.0 * (stats.t.ppf(0.975, 5) / stats.norm.ppf(0.975)) ** 2)
    expected = stats.gamma.ppf([0.025, 0.975], worth + 0.5) / worth * 100 / 50.0
    found = _widened(100, 50.0, 2.0, 5, 0.95, (1.6, 2.4))
    np.testing.assert_allclose(found, expected, rtol=1e-6)
