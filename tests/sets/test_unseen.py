"""What was not seen: the bound on a missed set, and the share that weights leave out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import poisson

import jointstats as js
from jointstats.borehole.sampling import Sampling
from jointstats.sets.result import SiteAnalysis
from jointstats.sets.unseen import KAPPA_MISSED, share_by_metres
from jointstats.sphere.axial_fisher import sample


def test_bound_leaves_a_probability_of_one_in_twenty(result: SiteAnalysis) -> None:
    """At the bound a set is met fewer than five times in 5 % of investigations (scipy's Poisson)."""
    spot = result.blind_spot
    pole = js.poles_from_dip(spot.dip_deg, spot.dip_direction_deg)[0]
    mean = spot.most_p32_per_m * result.exposure.of_set(pole, KAPPA_MISSED)
    assert spot.fewest == 5
    assert poisson.cdf(4, mean) == pytest.approx(0.05, rel=1e-6)


def test_bound_is_told(result: SiteAnalysis, empty: SiteAnalysis) -> None:
    """The sentence says how frequent a missed set may be; it does so without any fracture too."""
    for one in (result, empty):
        assert "could have been missed" in one.blind_spot.sentence


def test_no_bound_where_nothing_was_seen(result: SiteAnalysis) -> None:
    """A hole blind to all but planes square to it bounds no set along it."""
    down = js.simulate_site(holes=[(0.0, 90.0, 50.0)], random_state=1)
    spot = replace(result, sampling=Sampling.of(down, blind_angle_deg=60.0)).blind_spot
    assert spot.most_p32_per_m is None
    assert "Nothing bounds the P32" in spot.sentence


def test_one_vertical_hole_is_blind_to_steep_planes(vertical: SiteAnalysis) -> None:
    """A single vertical hole hides sin 10° = 17 % of orientations, and the sentence says which."""
    spot = vertical.blind_spot
    assert spot.share == pytest.approx(np.sin(np.radians(10.0)), abs=1e-3)
    assert "No hole could observe 17 % of all orientations" in spot.sentence
    assert "steep planes of every strike" in spot.sentence


def test_worst_observed_planes_are_told_as_an_equivalent_length(result: SiteAnalysis) -> None:
    """What was observed worst is told as the hole square to it that would observe as well."""
    told = replace(result.blind_spot, share=0.0, least_m=20.2, total_m=229.5).sentence
    assert "the 230 m logged are as good as 20 m square to them" in told


def test_share_by_metres_is_that_of_simulated_poles(result: SiteAnalysis) -> None:
    """Of poles drawn from a set, the share above the blind angle, metre by metre."""
    smallest = np.sin(np.radians(result.exposure.blind_angle_deg))
    for one in result.sets:
        poles = sample(one.mean, one.kappa, 20_000, random_state=5)
        seen = np.abs(poles @ result.exposure.directions.T) >= smallest
        share = seen.mean(axis=0) @ result.exposure.lengths_m / result.exposure.total_m
        assert share_by_metres(result.exposure, one.density) == pytest.approx(share, abs=0.01)


def test_worst_planes_of_a_set_are_said_to_be_its_own(result: SiteAnalysis) -> None:
    """Where the planes observed worst belong to a set, the sentence says so and speaks of no other."""
    spot = result.blind_spot
    mine = replace(spot, of_set="J2", most_p32_per_m=0.2)
    assert mine.sentence.endswith("They are outer planes of J2; there its P32 rests on the fitted shape.")
    assert "missed" not in mine.sentence
