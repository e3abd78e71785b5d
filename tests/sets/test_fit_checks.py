"""The fractures of a set beside the model."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta

from jointstats.intervals import uniform_order_limits
from jointstats.sets.fit_checks import ordered_angles, ordered_directions, ring_counts
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.axes import axis_angles_deg


def test_rings_hold_all_that_is_expected_and_observed(result: SiteAnalysis) -> None:
    """Over all rings the expected count is that of the closed form, the observed that of the fit."""
    first = result.sets[0]
    rings = ring_counts(result, first, np.linspace(0, 90, 19))
    exact = first.p32_per_m * result.exposure.of_set(first.mean, first.kappa)
    assert rings["expected_of_set"].sum() == pytest.approx(exact, rel=2e-3)
    everything = result.background_per_m * result.exposure.of_uniform() + sum(
        one.p32_per_m * result.exposure.of_set(one.mean, one.kappa) for one in result.sets
    )
    assert rings["expected"].sum() == pytest.approx(everything, rel=2e-3)
    assert rings["n"].sum() == result.counts.in_a_set + result.counts.unassigned


def test_ordered_angles_are_those_to_the_own_mean(result: SiteAnalysis) -> None:
    """Every fracture of the set stands once, in order, within limits that hold it in most cases."""
    one = result.sets[0]
    table = ordered_angles(result, one)
    rows = result.fractures[(result.fractures["set"] == one.name)]
    poles = rows.loc[rows["status"] == "in a set", ["pole_east", "pole_north", "pole_up"]]
    expected = np.sort(axis_angles_deg(poles.to_numpy(), one.statistics.mean))
    np.testing.assert_allclose(table["angle_deg"], expected, atol=1e-6)
    inside = (table["low_deg"] <= table["angle_deg"]) & (table["angle_deg"] <= table["high_deg"])
    assert inside.mean() > 0.8
    turn = ordered_directions(result, one)["direction_deg"]
    assert len(turn) == one.n and (np.diff(turn) >= 0).all()


def test_limits_of_ordered_numbers_are_those_of_beta() -> None:
    """The limits are scipy's quantiles of Beta(i, n + 1 - i)."""
    low, _, high = uniform_order_limits(7, 0.9)
    place = np.arange(1, 8)
    np.testing.assert_allclose(low, beta.ppf(0.05, place, 8 - place), rtol=1e-10)
    np.testing.assert_allclose(high, beta.ppf(0.95, place, 8 - place), rtol=1e-10)
