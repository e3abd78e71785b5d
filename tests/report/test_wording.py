"""Figures and findings in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from jointstats.report.wording import answer, design_line
from jointstats.sets.result import SiteAnalysis
from jointstats.sets.unseen import blind_spot


def test_answer_names_every_set_and_the_least_certain(result: SiteAnalysis) -> None:
    """The first sentence has every set with its plane; another names the least certain."""
    sentences = answer(result)
    for one in result.sets:
        assert f"{one.name} (dip {one.dip_deg:.0f}°" in sentences[0]
    assert "least certain" in sentences[1]


def test_one_vertical_hole_says_it_is_blind_to_steep_planes(vertical: SiteAnalysis) -> None:
    """A single vertical hole hides sin 10° = 17 % of orientations, and the report says which."""
    spot = blind_spot(vertical)
    assert spot.share == pytest.approx(np.sin(np.radians(10.0)), abs=1e-3)
    sentence = answer(vertical)[-1]
    assert "No hole could see 17 % of all orientations" in sentence
    assert "steep planes of every strike" in sentence


def test_two_holes_are_blind_to_the_plane_that_holds_both() -> None:
    """With two holes the blind orientation is the plane through both directions."""
    import jointstats as js

    site = js.simulate_site(holes=[(0.0, 90.0, 60.0), (90.0, 30.0, 60.0)], random_state=3)
    spot = blind_spot(js.analyse(site, n_sets=2, random_state=0))
    assert spot.dip_deg == pytest.approx(90.0, abs=1.5)
    assert spot.dip_direction_deg % 180.0 == pytest.approx(0.0, abs=1.5) or (
        spot.dip_direction_deg % 180.0 == pytest.approx(180.0, abs=1.5)
    )


def test_no_set_is_said_plainly(empty: SiteAnalysis) -> None:
    """Without fractures the answer claims no set."""
    assert answer(empty)[0] == "No joint set stands out from the scattered fractures."


def test_answer_does_not_rank_what_the_data_cannot(result: SiteAnalysis) -> None:
    """Sets of overlapping intervals are said to be as frequent, and equal grades as uncertain."""
    first, second, third = result.sets
    even = replace(
        second, p32_per_m=first.p32_per_m, p32_interval=first.p32_interval, n=first.n, cone_deg=3.0
    )
    told = answer(replace(result, sets=(first, even, third)))[1]
    assert f"within the intervals {even.name} may be as frequent" in told
    told = answer(replace(result, sets=(replace(first, cone_deg=3.0), even)))[1]
    assert "They are about equally certain (firm)." in told


def test_least_certain_set_is_named_with_its_figures(result: SiteAnalysis) -> None:
    """One set is the least certain, by its cone, interval and share seen; near ones are named."""
    first, second, third = result.sets
    sound = {"n": 60, "cone_deg": 3.0, "seen_share": 0.95}
    first = replace(first, p32_interval=(1.0, 1.2), **sound)
    second = replace(second, p32_interval=(1.0, 1.75), **sound)
    third = replace(third, p32_interval=(1.0, 1.7), **sound)
    told = answer(replace(result, sets=(first, second, third)))[1]
    assert (
        f"{second.name} is the least certain, with {third.name} close behind: cone 3.0°, ends of "
        "the P32 interval apart by a factor of 1.8, 95 % seen (all firm)." in told
    )
    weak = replace(second, n=4)
    assert "95 % seen (weak)." in answer(replace(result, sets=(first, weak, third)))[1]


def test_design_line_tells_a_set_that_one_hole_alone_crosses_well(result: SiteAnalysis) -> None:
    """Where only one of several holes crosses a set at 30° or more, the first screen names it."""
    first = result.sets[0]
    lone = replace(first, holes=first.holes.assign(angle_deg=[12.0, 29.9, 30.0]))
    name = first.holes["hole"].iloc[-1]
    assert design_line((lone,)).endswith(f" Only {name} crosses J1 at 30° or more.")
    all_good = replace(first, holes=first.holes.assign(angle_deg=40.0))
    assert "Only" not in design_line((all_good,))


def test_worst_seen_planes_are_told_in_square_metres_of_hole(result: SiteAnalysis) -> None:
    """What was seen worst is told as the hole square to it that would see as well."""
    spot = blind_spot(result)
    told = replace(spot, share=0.0, least_m=20.2, total_m=229.5).sentence(10.0)
    assert "the 230 m logged showed them as well as 20 m of hole square to them would" in told


def test_long_names_are_cut_in_drawings(result: SiteAnalysis) -> None:
    """A very long hole name does not push a drawing out of shape; the tables keep it whole."""
    from jointstats import plots

    long = "a hole of a name that goes on and on"
    last = result.site.holes[-1]
    holes = (*result.site.holes[:-1], replace(last, name=long))
    sets = tuple(
        replace(one, holes=one.holes.assign(hole=one.holes["hole"].replace(last.name, long)))
        for one in result.sets
    )
    renamed = replace(result, site=replace(result.site, holes=holes), sets=sets)
    forest = plots.hole_forest(renamed, "J1", plots.new_figure().add_subplot())
    assert forest.get_yticklabels()[-1].get_text() == "a hole of a nam…"
