"""Recovery and RQD with lost core."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.spans import Spans
from jointstats.line.recovery import RockZone, recovery_in_windows, zones_of


def test_windows_agree_with_a_count_of_millimetres() -> None:
    """Pieces are found again by walking down the core in millimetres, lost lengths being broken."""
    depth = np.sort(np.random.default_rng(2).uniform(0, 20, 90)).round(3)
    logged = Spans([(0.5, 7.25), (9.0, 20.0)])
    table = recovery_in_windows(depth, logged, 20.0, 5.0)
    breaks = set((depth * 1000).round().astype(int)) | {500, 7250, 9000, 20000, *range(0, 20001, 5000)}
    there = np.zeros(20000, dtype=bool)
    there[500:7250] = there[9000:20000] = True
    edges = sorted(breaks)
    sound = np.zeros(20000, dtype=bool)
    for start, end in zip(edges[:-1], edges[1:], strict=True):
        sound[start:end] = there[start] and end - start >= 100
    for row in table.to_dict("records"):
        part = slice(int(row["from_m"] * 1000), int(row["to_m"] * 1000))
        assert row["recovery_percent"] == pytest.approx(100 * there[part].mean(), abs=0.05)
        assert row["rqd_percent"] == pytest.approx(100 * sound[part].mean(), abs=0.05)


def test_core_lost_somewhere_in_a_zone_lowers_recovery_and_rqd() -> None:
    """A metre of which 40 % came out: recovery and RQD of its window lose 0.6 m, and no more."""
    zone = RockZone("A", 6.0, 7.0, "broken", "", 0.4, None, None)
    depth = [1.0, 6.02, 6.04, 6.5]
    logged = Spans([(0.0, 10.0)])
    plain = recovery_in_windows(depth, logged, 10.0, 5.0)
    lost = recovery_in_windows(depth, logged, 10.0, 5.0, [zone])
    assert zone.partly_lost_m == pytest.approx(0.6)
    np.testing.assert_allclose(lost["recovery_percent"], [100, 88])
    np.testing.assert_allclose(plain["rqd_percent"] - lost["rqd_percent"], [0, 12])


def test_zones_come_from_their_table_with_bounds_from_true_north() -> None:
    """Bounds are turned by the north of the fractures; lost core counts in RQD of the hole."""
    holes = pd.DataFrame({"hole": ["A"], "trend_deg": 20.0, "plunge_deg": 60.0, "length_m": 40.0})
    fractures = pd.DataFrame(
        {"hole": "A", "depth_m": [3.0, 5, 9], "method": "core", "dip_deg": 40.0}
        | {"dip_direction_deg": 100.0}
    )
    zones = pd.DataFrame(
        {
            "hole": "A",
            "from_m": [20.0, 10],
            "to_m": [22.0, 14],
            "kind": ["lost", "sheared"],
            "upper_dip_deg": [np.nan, 60],
            "upper_dip_direction_deg": [np.nan, 355],
            "recovery_percent": [0.0, 25],
        }
    )
    logged = pd.DataFrame({"hole": ["A"], "from_m": 0.0, "to_m": 40.0, "method": "core"})
    settings = js.SiteSettings(north="magnetic", declination_deg=10.0)
    site = js.Site.from_frames(holes, fractures, logged=logged, zones=zones, settings=settings)
    first, second = zones_of(site)
    assert first.upper == (60.0, 5.0)
    assert (second.kind, second.lower, second.recovery) == ("lost", None, 0.0)
    row = js.analyse(site, n_sets=0).holes.iloc[0]
    assert row["lost_m"] == pytest.approx(2 + 3)
    assert row["recovered_share"] == pytest.approx(35 / 40)
    bare = js.line.rqd_from_frequency(row["p10_per_m"])
    assert row["rqd_theoretical"] == pytest.approx(bare * 35 / 40)
