"""What difference between holes would have been found."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from jointstats.compare.detectable import detectable_factor


@pytest.mark.parametrize(("n", "rest"), [(60, 180), (30, 90)])
def test_the_factor_is_found_in_80_of_100_simulated_comparisons(n: int, rest: int) -> None:
    """Poisson counts with that ratio are told apart by the exact binomial test in about 80 %.

    The exact test is a little less powerful than the normal law says; 500 pairs have a standard
    error of 2 %.
    """
    factor = detectable_factor(n, rest)
    rng = np.random.default_rng(5)
    # The expected total stays as it is; the hole has `factor` times the rate of the others.
    share = n * factor / (n * factor + rest)
    found = [
        binomtest(int(rng.binomial(n + rest, share)), n + rest, n / (n + rest)).pvalue < 0.05
        for _ in range(500)
    ]
    assert np.mean(found) == pytest.approx(0.8, abs=0.08)


def test_next_to_no_fractures_make_no_difference_detectable() -> None:
    """A count expected to be almost nothing has no factor that would be found: infinite, no noise."""
    for n, rest in [(1e-8, 10.0), (10.0, 1e-300), (5e-324, 5e-324), (0.0, 4.0)]:
        assert detectable_factor(n, rest) == np.inf
