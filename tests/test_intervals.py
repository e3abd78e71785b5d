"""Intervals of counts and of medians."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import quantile_test

from jointstats.intervals import median_interval


@pytest.mark.parametrize("n", [6, 25, 198])
def test_interval_of_a_median_is_that_of_the_sign_test(n: int) -> None:
    """The interval is that of scipy's test of a quantile."""
    values = np.random.default_rng(n).exponential(1.0, n)
    expected = quantile_test(values).confidence_interval(0.95)
    assert median_interval(values) == pytest.approx((expected.low, expected.high))
