"""Frequency along lines through the rock of an analysis."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.sets.frequency import frequency_range, rate_along, rate_interval
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.axial_fisher import sample


def test_frequency_is_that_met_by_simulated_fractures(result: SiteAnalysis) -> None:
    """Along a line, the rate equals the mean of |n · d| over draws of each set, times its P32."""
    line = js.lines_from_trend(77, 13)
    rate = 0.5 * result.background_per_m
    for one in result.sets:
        poles = sample(one.mean, one.kappa, 40_000, random_state=4)
        rate += one.p32_per_m * np.abs(poles @ line[0]).mean()
    assert rate_along(result, line)[0] == pytest.approx(rate, rel=0.01)


def test_interval_of_a_rate_is_that_of_draws_of_its_parts(result: SiteAnalysis) -> None:
    """Added in quadrature, the ends are near those of independent lognormal draws of each P32."""
    line = js.lines_from_trend(77, 13)
    rng = np.random.default_rng(4)
    drawn = np.zeros(20_000)
    for one in result.sets:
        share = rate_along(replace(result, sets=(one,), background_per_m=0.0), line)[0]
        low, high = one.p32_interval
        drawn += share * np.exp(rng.normal(0, np.log(high / low) / 3.92, len(drawn)))
    low, high = result.background_interval
    drawn += 0.5 * np.exp(
        rng.normal(np.log(result.background_per_m), np.log(high / low) / 3.92, len(drawn))
    )
    found = rate_interval(result, line[0])
    np.testing.assert_allclose(found, np.quantile(drawn, [0.025, 0.975]), rtol=0.04)


def test_range_holds_every_direction(result: SiteAnalysis) -> None:
    """No line of a thousand random ones meets more than the most, or fewer than the least."""
    lines = np.random.default_rng(1).normal(size=(1000, 3))
    lines /= np.linalg.norm(lines, axis=1, keepdims=True)
    least, low, most, high = frequency_range(result)
    rate = rate_along(result, lines)
    assert low * 0.999 <= rate.min() and rate.max() <= high * 1.001
    assert least[2] <= 0 and most[2] <= 0
