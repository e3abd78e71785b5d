"""Predicted counts: against general distributions, and against lines that were left out."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from benchmarks.uneven_counts import count_table
from jointstats.errors import InputError
from jointstats.uneven.prediction import (
    PredictedCounts,
    leave_out_lines,
    predicted_counts,
)
from jointstats.uneven.uneven_rock import UnevenDraws, unevenness


def _draws(n: int, variation: float, companions: float) -> UnevenDraws:
    return UnevenDraws(
        np.ones((n, 2)),
        np.full((n, 2), variation),
        np.zeros(n, bool),
        np.full((n, 2), companions),
        np.full(n, 0.01),
    )


def test_log_score_is_that_of_a_negative_binomial() -> None:
    """With one mean and dispersion the score is scipy's, and Poisson where there are no swarms."""
    one = PredictedCounts(np.array([[8.0, 5.0]]), np.array([[3.0, 1.0]]), np.array([[8, 5]]))
    assert one.log_score(6, 0) == pytest.approx(stats.nbinom.logpmf(6, 4.0, 1 / 3.0))
    assert one.log_score(6, 1) == pytest.approx(stats.poisson.logpmf(6, 5.0))


def test_scatter_is_that_of_the_effects_and_the_swarms() -> None:
    """The variance of the numbers is that of swarms and of the differences between lines."""
    n, mean = 40000, 20.0
    found = predicted_counts(np.full((n, 2), 2.0), _draws(n, 0.5, 2.0), [10.0, 10.0], 10.0)
    # Var = m (1 + d) + (c m)²; d = 2 within long lines.
    expected = mean * 3.0 + (0.5 * mean) ** 2
    assert found.counts[:, 0].mean() == pytest.approx(mean, rel=0.02)
    assert found.counts[:, 0].var() == pytest.approx(expected, rel=0.04)
    assert found.counts.sum(axis=1).var() == pytest.approx(2 * expected, rel=0.04)
    score = [found.log_score(number, 0) for number in range(200)]
    assert np.exp(score).sum() == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("settings", [{}, {"variation": 0.5}, {"swarm": 3}], ids=str)
def test_lines_left_out_are_predicted(settings: dict[str, float]) -> None:
    """90 % predictions of a line from the others hold in 85 to 97 %."""
    rng = np.random.default_rng(21)
    held, scores, plain = [], [], []
    for _ in range(10):
        table = count_table(rng, n_lines=5, **settings)
        for one in leave_out_lines(*table[:4], n_draws=500):
            held += [one.holds(k) for k in range(3)]
            scores += [one.log_score(k) for k in range(3)]
            rest, own = table.line != one.line, table.line == one.line
            rate = table.counts[:, rest].sum(axis=1) / table.exposure[:, rest].sum(axis=1)
            mean = rate * table.exposure[:, own].sum(axis=1)
            plain += list(stats.poisson.logpmf(one.observed, mean))
    # 150 predictions of 50 lines: standard error 2.5 to 4 %.
    assert 0.82 < np.mean(held) < 0.98
    if settings:
        assert np.mean(scores) > np.mean(plain) + 0.1


def test_a_refit_takes_the_place_of_the_counts() -> None:
    """Counts and P32 given by the caller for each line left out are the ones used."""
    metres = np.full((1, 3), 10.0)
    seen = []

    def refit(line: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        seen.append(line)
        return np.array([[10.0, 10.0, 10.0]]), metres, np.full((400, 1), 5.0)

    found = leave_out_lines([[10, 10, 10]], metres, refit=refit, n_draws=400)
    assert seen == [0, 1, 2]
    assert found[0].predicted.mean(0) == pytest.approx(50.0, rel=0.1)


def test_wrong_tables_are_refused() -> None:
    """One line alone, and draws of another shape, are named."""
    with pytest.raises(InputError, match="one line alone"):
        leave_out_lines([[3]], [[1.0]])
    found = unevenness([[3, 4]], [[1.0, 1.0]])
    with pytest.raises(InputError, match="one shape"):
        predicted_counts(np.ones((3, 1)), found.draws(4, 0), [1.0], 1.0)
