"""The test over the holes agrees with scipy's, and is told whatever it finds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chisquare

from jointstats.sets.evenness import evenness_of
from jointstats.sets.result import SiteAnalysis


def test_chance_is_that_of_the_chi_square_test(result: SiteAnalysis) -> None:
    """Statistic and p are scipy's, the expected counts being shares of the number counted."""
    for one in result.sets:
        found = evenness_of(result, one)
        mine = result.fractures[
            (result.fractures["set"] == one.name) & (result.fractures["status"] == "in a set")
        ]
        counted = [int((mine["hole"] == name).sum()) for name in one.holes["hole"]]
        share = one.holes["n_expected"] / one.holes["n_expected"].sum()
        other = chisquare(counted, share * sum(counted))
        assert found.observed.tolist() == counted
        assert found.statistic == pytest.approx(other.statistic, rel=1e-12)
        assert found.pvalue == pytest.approx(other.pvalue, rel=1e-12)


def test_every_outcome_is_told(result: SiteAnalysis) -> None:
    """Even counts, uneven ones, and counts that cannot be tested each have their sentence."""
    first = result.sets[0]
    own = evenness_of(result, first).observed

    def told(expected: list[float]) -> str:
        holes = first.holes.assign(n_expected=expected)
        return evenness_of(result, replace(first, holes=holes)).sentence

    assert "consistent with chance (p 1;" in told(list(own))
    uneven = told([first.n * 0.9, first.n * 0.05, first.n * 0.05])
    assert "more uneven than chance explains (p below 0.0001;" in uneven
    assert "cannot be tested" in told([float(first.n), 0.2, 0.2])
    assert np.isfinite(evenness_of(result, first).pvalue)
