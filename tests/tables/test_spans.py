"""Zones of lost core: taken from what core logged, and counted against RQD."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.sampling import Sampling
from jointstats.borehole.simulate import HOLES as SIMULATED
from jointstats.errors import SiteError
from tests.tables.site_tables import write_tables

HOLES = pd.DataFrame({"hole": ["B"], "trend_deg": 0, "plunge_deg": 90, "length_m": 50.0})
LOGGED = pd.DataFrame(
    {"hole": "B", "from_m": [0.0, 10], "to_m": [40.0, 50], "method": ["core", "image"]}
)
ZONES = pd.DataFrame(
    {
        "hole": "B",
        "from_m": [5.0, 20, 30],
        "to_m": [7.0, 24, 31],
        "kind": ["lost", "lost", "broken"],
        "recovery_percent": [0.0, 0, 60],
    }
)


def site_of(logged: pd.DataFrame | None = LOGGED, depth: float = 3.0, **zones: object) -> js.Site:
    """A site with zones and one fracture of core."""
    fractures = pd.DataFrame({"hole": ["B"], "depth_m": depth, "method": "core"})
    return js.Site.from_frames(HOLES, fractures, logged=logged, zones=ZONES.assign(**zones))


def test_lost_core_was_not_logged_by_core_and_may_be_by_image() -> None:
    """Lengths of no recovery leave those of core alone; what came out in part stays, and is said."""
    site = site_of()
    hole = site.hole("B")
    core = [(one.from_m, one.to_m) for one in hole.logged if one.method == "core"]
    assert core == [(0, 5), (7, 20), (24, 30), (30, 31), (31, 40)]
    assert [one.recovered for one in hole.logged if one.recovered < 1] == [0.6]
    assert [(one.from_m, one.to_m) for one in hole.logged if one.method == "image"] == [(10, 50)]
    assert hole.lost == ((5, 7), (20, 24))
    text = "\n".join(site.notes)
    assert "Hole B: 6 m of which no core came out (zones) do not count as logged by core" in text
    assert "1 zones have a recovery between 0 and 100 %" in text


def test_without_a_table_of_logged_lengths_lost_core_is_lost_all_the_same() -> None:
    """A hole taken as logged whole is not taken as logged where its core was lost."""
    site = site_of(None)
    assert len(site.notes) == len(set(site.notes))
    core = [(one.from_m, one.to_m) for one in site.hole("B").logged]
    assert core == [(0, 5), (7, 20), (24, 30), (30, 31), (31, 50)]


def test_a_fracture_read_on_lost_core_is_a_fault() -> None:
    """No core came out at 6 m, so nothing was read on it."""
    with pytest.raises(SiteError, match="'6': hole 'B' has no core there, as zones says"):
        site_of(depth=6.0)


def test_core_that_came_out_in_part_shows_that_share_of_the_fractures() -> None:
    """0.6 of the metre that core alone logged counts; where the image saw it too, all of it."""
    sampling = Sampling.of(site_of())
    assert sampling.logged_m == pytest.approx(5 + 3 + 40)
    assert sampling.exposure.total_m == pytest.approx(48)
    alone = Sampling.of(site_of(LOGGED[:1]))
    assert alone.logged_m == pytest.approx(5 + 13 + 16)
    assert alone.exposure.total_m == pytest.approx(34 - 0.4)


def test_p32_is_that_of_the_rock_where_core_was_lost_at_random() -> None:
    """Two fractures in three lost over half of each hole, and told: P32 is that of the whole log."""
    whole = js.simulate_site(random_state=4)
    table = whole.fractures.assign(method="core")
    inside = table["depth_m"].between(10, 50)
    kept = table[~inside | (np.random.default_rng(3).random(len(table)) < 1 / 3)]
    logged = pd.DataFrame({"hole": [one.name for one in whole.holes], "from_m": 0.0, "method": "core"})
    logged["to_m"] = [one.length_m for one in whole.holes]
    zones = logged[["hole"]].assign(from_m=10.0, to_m=50.0, recovery_percent=100 / 3)
    holes = logged[["hole"]].assign(length_m=logged["to_m"])
    holes["trend_deg"], holes["plunge_deg"] = zip(*(one[:2] for one in SIMULATED), strict=True)
    totals = [
        js.analyse(js.Site.from_frames(holes, rows, logged=logged, zones=given), 0).background_per_m
        for rows, given in ((table, None), (kept, zones), (kept, None))
    ]
    assert totals[1] == pytest.approx(totals[0], rel=0.1)
    assert totals[2] < 0.75 * totals[0]


def test_zones_that_cannot_be_are_faults() -> None:
    """A zone upside down, or with half a bounding plane, is told by row."""
    with pytest.raises(SiteError, match="column to_m: '24': ends above its start, and from_m is 26"):
        site_of(from_m=[5.0, 26, 30])
    half = "upper_dip_direction_deg: is empty beside upper_dip_deg"
    with pytest.raises(SiteError, match=half):
        site_of(upper_dip_deg=[40.0, None, None], upper_dip_direction_deg=[None] * 3)


def test_rotations_of_the_tool_rise_down_the_hole(tmp_path: Path) -> None:
    """A rotation above the one before it is a fault with both rows, told in the unit of the file."""
    rolls = "hole,depth_ft,roll_deg\nB1,10,30\nB1,5,40\nB2,5,10\n"
    write_tables(tmp_path)
    (tmp_path / "rolls.csv").write_text(rolls)
    rule = "rolls.csv, row 3, column depth_ft: '5': depths of hole 'B1' rise .* row 2, stands at 10 ft"
    with pytest.raises(SiteError, match=rule):
        js.read_site(tmp_path)
