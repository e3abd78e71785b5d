"""What was not seen: the bound on a missed set, and the share that weights leave out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import poisson

import jointstats as js
from jointstats.borehole.sampling import Sampling
from jointstats.report.unseen import unseen_lines
from jointstats.sets.result import SiteAnalysis
from jointstats.sets.unseen import (
    KAPPA_MISSED,
    blind_spot,
    most_p32_unmet,
    share_by_metres,
)
from jointstats.sphere.axial_fisher import sample


def test_bound_leaves_a_chance_of_one_in_twenty(result: SiteAnalysis) -> None:
    """At the bound a set is met fewer than five times with a chance of 5 % (scipy's Poisson)."""
    spot = blind_spot(result)
    pole = js.poles_from_dip(spot.dip_deg, spot.dip_direction_deg)[0]
    mean = most_p32_unmet(result, spot) * result.exposure.of_set(pole, KAPPA_MISSED)
    assert result.mixture.smallest_set == 5
    assert poisson.cdf(4, mean) == pytest.approx(0.05, rel=1e-9)


def test_bound_is_told(result: SiteAnalysis, empty: SiteAnalysis) -> None:
    """The page says how frequent a missed set may be; it does so without any fracture too."""
    for one in (result, empty):
        assert "still have been met fewer than 5 times" in unseen_lines(one)[0]
        assert "upper limit at 95 %" in unseen_lines(one)[0]


def test_no_bound_where_nothing_was_seen(result: SiteAnalysis) -> None:
    """A hole blind to all but planes square to it bounds no set along it."""
    down = js.simulate_site(holes=[(0.0, 90.0, 50.0)], random_state=1)
    other = replace(result, sampling=Sampling.of(down, blind_angle_deg=60.0))
    spot = replace(blind_spot(result), dip_deg=90.0, dip_direction_deg=0.0)
    assert most_p32_unmet(other, spot) is None


def test_share_by_metres_is_that_of_simulated_poles(result: SiteAnalysis) -> None:
    """Of poles drawn from a set, the share above the blind angle, metre by metre."""
    smallest = np.sin(np.radians(result.exposure.blind_angle_deg))
    for one in result.sets:
        poles = sample(one.mean, one.kappa, 20_000, random_state=5)
        seen = np.abs(poles @ result.exposure.directions.T) >= smallest
        share = seen.mean(axis=0) @ result.exposure.lengths_m / result.exposure.total_m
        assert share_by_metres(result, one) == pytest.approx(share, abs=0.01)


def test_expected_and_picked_below_the_blind_angle_are_told_apart(result: SiteAnalysis) -> None:
    """What the fit expects below the blind angle is not given as what was picked there."""
    first = replace(result.sets[0], seen_share=0.8, n_blind=1)
    line = unseen_lines(replace(result, sets=(first,)))[1]
    assert f"Below it {first.missed:.0f}" in line.replace(".0 fractures", " fractures")
    assert "1 was picked, and left out of the fit" in line
