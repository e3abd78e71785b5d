"""Intervals of counts, shares and medians against scipy, and their coverage summed exactly."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from jointstats.intervals import gamma_limits, holm, median_interval, share_interval


@pytest.mark.parametrize("n", [6, 25, 198])
def test_interval_of_a_median_is_that_of_the_sign_test(n: int) -> None:
    """The interval is that of scipy's test of a quantile."""
    values = np.random.default_rng(n).exponential(1.0, n)
    expected = stats.quantile_test(values).confidence_interval(0.95)
    assert median_interval(values) == pytest.approx((expected.low, expected.high))


@pytest.mark.parametrize(("count", "n"), [(0, 7), (3, 7), (7, 7), (40, 1000)])
def test_exact_share_is_that_of_scipy(count: int, n: int) -> None:
    """The exact interval of a share is Clopper and Pearson's."""
    judge = stats.binomtest(count, n).proportion_ci(0.9, method="exact")
    np.testing.assert_allclose(share_interval(count, n, 0.9), judge, atol=1e-12)


def test_jeffreys_share_covers_on_average() -> None:
    """Averaged over the share, the interval by Jeffreys' prior covers as often as it says."""
    n = 12
    limits = [share_interval(count, n, 0.9, method="Jeffreys") for count in range(n + 1)]
    shares = (np.arange(2000) + 0.5) / 2000
    chances = stats.binom.pmf(np.arange(n + 1)[:, np.newaxis], n, shares)
    inside = np.array([(low <= shares) & (shares <= high) for low, high in limits])
    assert (chances * inside).sum(axis=0).mean() == pytest.approx(0.9, abs=0.012)
    exact = np.array([share_interval(count, n, 0.9) for count in range(n + 1)])
    held = (exact[:, :1] <= shares) & (shares <= exact[:, 1:])
    assert (chances * held).sum(axis=0).min() >= 0.9


def test_gamma_limits_are_quantiles() -> None:
    """The limits are the quantiles of a gamma variable."""
    np.testing.assert_allclose(gamma_limits(4.5, 0.8), stats.gamma.ppf([0.1, 0.9], 4.5))


def test_holm_keeps_the_error_of_all() -> None:
    """Of true hypotheses, any is rejected in one family of twenty; 4000 families, error 0.0035."""
    generator = np.random.default_rng(5)
    families = generator.random((4000, 6))
    wrong = np.mean([holm(family).min() < 0.05 for family in families])
    assert wrong == pytest.approx(1.0 - (1.0 - 0.05 / 6) ** 6, abs=3 * 0.0035)
