"""The bedding by hole and interval, and what is levelled with it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import SiteError

HOLES = pd.DataFrame({"hole": ["A", "B"], "trend_deg": 0, "plunge_deg": 90, "length_m": 60})
BEDDING = pd.DataFrame(
    {
        "hole": ["A", "A", "B"],
        "from_m": [0.0, 20, 0],
        "to_m": [20.0, 60, 30],
        "dip_deg": [30.0, 60, 40],
        "dip_direction_deg": [90.0, 90, 350],
        "overturned": ["", "yes", "no"],
        "fold_trend_deg": [np.nan, np.nan, 20],
        "fold_plunge_deg": [np.nan, np.nan, 15],
    }
)


def levels(bedding: pd.DataFrame | None, settings: js.SiteSettings, rows: dict) -> np.ndarray:
    """Level poles of planes in these holes."""
    site = js.Site.from_frames(HOLES, pd.DataFrame(rows), bedding=bedding, settings=settings)
    table = js.orient_fractures(site, level_bedding=True)
    known = table["level_dip_deg"].notna()
    poles = np.full((len(table), 3), np.nan)
    poles[known] = js.poles_from_dip(
        table["level_dip_deg"][known], table["level_dip_direction_deg"][known]
    )
    return poles


@pytest.mark.parametrize("declination", [0.0, 12.0])
def test_each_length_has_its_bedding_and_the_rest_that_of_the_site(declination: float) -> None:
    """Beds themselves come level in each interval, overturned and folded ones too, from any north."""
    settings = js.SiteSettings(
        bedding=(10.0, 45.0),
        north="magnetic" if declination else "true",
        declination_deg=declination,
    )
    rows = {
        "hole": ["A", "A", "B", "B"],
        "depth_m": [5.0, 40, 10, 50],
        "dip_deg": [30.0, 60, 40, 10],
        "dip_direction_deg": [90.0, 90, 350, 45],
    }
    poles = levels(BEDDING, settings, rows)
    np.testing.assert_allclose(poles, [[0, 0, -1.0]] * 4, atol=1e-9)


def test_overturned_beds_are_turned_past_vertical() -> None:
    """A joint in overturned beds is turned by 180° less the dip, the other way, as tilt_correct does."""
    rows = {"hole": ["A"], "depth_m": [40.0], "dip_deg": [70.0], "dip_direction_deg": [200.0]}
    expected = js.tilt_correct(js.poles_from_dip(70, 200), 120, 270)
    apart = js.axis_angles_deg(levels(BEDDING, js.SiteSettings(), rows), expected)
    assert apart[0] < 1e-6


def test_where_there_is_no_bedding_nothing_is_levelled() -> None:
    """Without a bedding of the site, rows outside the intervals stay empty."""
    rows = {"hole": ["B"], "depth_m": [50.0], "dip_deg": [10.0], "dip_direction_deg": [45.0]}
    assert np.isnan(levels(BEDDING, js.SiteSettings(), rows)).all()


def test_half_a_fold_axis_is_a_fault() -> None:
    """A fold has a trend and a plunge; intervals of one hole do not overlap."""
    rows = pd.DataFrame({"hole": ["B"], "depth_m": [50.0]})
    wrong = BEDDING.assign(fold_plunge_deg=np.nan, from_m=[0.0, 15, 0])
    with pytest.raises(SiteError) as caught:
        js.Site.from_frames(HOLES, rows, bedding=wrong)
    told = [str(fault) for fault in caught.value.faults]
    assert any("fold_plunge_deg: is empty beside fold_trend_deg; give both" in one for one in told)
    assert any("column from_m: '15': overlaps row 0, 0 to 20" in one for one in told)
