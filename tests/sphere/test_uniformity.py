"""Tests of uniformity: printed limits, simulation, and the join of exact and approximate."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import chdtrc

from jointstats import InputError
from jointstats.sphere import AxialFisher, shape_test, uniformity, uniformity_test
from tests import references as ref


def _uniform(generator: np.random.Generator, *shape: int) -> np.ndarray:
    rows = generator.standard_normal((*shape, 3))
    return rows / np.linalg.norm(rows, axis=-1, keepdims=True)


@pytest.mark.parametrize(("n", "printed"), ref.WATSON_UNIFORM)
def test_printed_limits_of_the_resultant(n: int, printed: ref.Reference) -> None:
    """The printed limits at 95% and 99% bracket the tail between one half digit each way."""
    # 7.36 at n 15 is printed for 7.3652: a hair more than half a digit off.
    slack = 1.1 * printed.tolerance
    for limit, level in zip(printed.value, (0.05, 0.01), strict=True):
        high = uniformity.resultant_tail(n, limit - slack)
        low = uniformity.resultant_tail(n, limit + slack)
        assert low <= level <= high


def test_tail_agrees_with_simulation() -> None:
    """For 7 directions the exact tail agrees with 20,000 draws (4 standard errors)."""
    lengths = np.linalg.norm(_uniform(np.random.default_rng(1), 20_000, 7).sum(axis=1), axis=1)
    for r in (1.0, 2.5, 4.0, 4.9):
        tail = uniformity.resultant_tail(7, r)
        assert (lengths >= r).mean() == pytest.approx(tail, abs=4 * np.sqrt(tail / 20_000))


def test_exact_and_approximate_tails_meet(monkeypatch: pytest.MonkeyPatch) -> None:
    """At 41 directions the approximation is within 1% of the exact tail down to 1%."""
    lengths = [np.sqrt(s * 41 / 3) for s in (1.0, 3.0, 7.8, 11.0)]
    approximate = [uniformity.resultant_tail(41, r) for r in lengths]
    monkeypatch.setattr(uniformity, "EXACT_UP_TO", 41)
    exact = [uniformity.resultant_tail(41, r) for r in lengths]
    np.testing.assert_allclose(approximate, exact, rtol=0.01)


@pytest.mark.parametrize("n", [20, 100, 101])
def test_tensor_tail_agrees_with_chi_squared(n: int) -> None:
    """The statistic of axes is near χ² with 5 degrees of freedom (draws, 0.02 in p)."""
    statistic = uniformity.tensor_statistic(_uniform(np.random.default_rng(2), 4000, n))
    assert np.mean(chdtrc(5, statistic) < 0.5) == pytest.approx(0.5, abs=0.04)
    verdict = uniformity_test(_uniform(np.random.default_rng(3), n))
    assert verdict.pvalue == pytest.approx(chdtrc(5, verdict.statistic), abs=0.02)


def test_size_of_the_test_of_axes() -> None:
    """At n 5 the test of axes rejects 5% (1500 draws, 3 standard errors)."""
    sets = _uniform(np.random.default_rng(4), 1500, 5)
    draws = uniformity.tensor_statistic(_uniform(np.random.default_rng(5), 20_000, 5))
    limit = np.quantile(draws, 0.95)
    verdict = uniformity_test(sets[0])
    tail = (draws >= verdict.statistic).mean()
    assert verdict.pvalue == pytest.approx(tail, abs=0.015)
    assert np.mean(uniformity.tensor_statistic(sets) > limit) == pytest.approx(0.05, abs=0.017)


def test_clusters_and_girdles_are_told_apart() -> None:
    """A cluster and a girdle are both rejected, by the fitting test, and uniform axes are not."""
    cluster = AxialFisher([0, 0.5, -1.0], 10.0).rvs(30, random_state=0)
    girdle = cluster.copy()
    girdle[:, 0] = np.linspace(-3, 3, 30)
    uniform = _uniform(np.random.default_rng(8), 30)
    assert uniformity_test(cluster).pvalue < 0.001
    assert shape_test(cluster, kind="cluster").pvalue < 0.001
    assert shape_test(girdle, kind="girdle").pvalue < 0.001
    assert min(shape_test(uniform, kind=k).pvalue for k in ("cluster", "girdle")) > 0.05
    assert uniformity_test(np.vstack([cluster, cluster]), axial=False).pvalue < 0.001


def test_large_sets_use_the_limit_of_the_tensor() -> None:
    """For 200 uniform axes the near-normal tail agrees with draws of axes (0.03)."""
    rows = _uniform(np.random.default_rng(9), 200)
    largest = np.linalg.eigvalsh(rows.T @ rows / 200)[-1]
    sets = _uniform(np.random.default_rng(10), 2000, 200)
    drawn = np.linalg.eigvalsh(np.swapaxes(sets, 1, 2) @ sets / 200)[:, -1]
    got = shape_test(rows, kind="cluster").pvalue
    assert got == pytest.approx((drawn >= largest).mean(), abs=0.04)


def test_same_poles_same_pvalue() -> None:
    """Flipped and reordered axes have the same p-value to the last digit shown."""
    rows = _uniform(np.random.default_rng(6), 12)
    assert uniformity_test(rows).pvalue == pytest.approx(uniformity_test(-rows[::-1]).pvalue)


def test_bad_arguments_are_named() -> None:
    """No poles and an unknown kind are refused."""
    with pytest.raises(InputError, match="at least 1 rows"):
        uniformity_test([])
    with pytest.raises(InputError, match="kind must be 'cluster' or 'girdle'"):
        shape_test(np.eye(3), kind="blob")
