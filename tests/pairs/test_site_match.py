"""Core and image of a whole site: pairs edited and given back, core oriented, ties carried on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.fractures import Fractures


@pytest.fixture(scope="module")
def site() -> js.Site:
    """Two holes logged twice, all core of the first spun, a third with an image alone."""
    first = js.pairs.simulate_core_and_image(30.0, random_state=3)
    second = js.pairs.simulate_core_and_image(30.0, trend_deg=100.0, spun=0.25, random_state=4)
    third = js.pairs.simulate_core_and_image(15.0, random_state=5)
    image = third.fractures[third.fractures["method"] == "image"]
    tables = [first.fractures, second.fractures.assign(hole="H2"), image.assign(hole="H3")]
    tables[1] = tables[1].assign(true_fracture=tables[1]["true_fracture"] + 10_000)
    holes = (
        first.holes[0],
        replace(second.holes[0], name="H2"),
        replace(third.holes[0], name="H3"),
    )
    return replace(first, holes=holes, fractures=pd.concat(tables, ignore_index=True))


@pytest.fixture(scope="module")
def found(site: js.Site) -> js.pairs.SiteMatch:
    """Their match."""
    return js.pairs.match_site(site)


def test_every_hole_is_matched_or_named(found: js.pairs.SiteMatch) -> None:
    """Both holes with core are matched; the third is named with its reason."""
    assert [one.hole for one in found.matches] == ["H1", "H2"]
    assert set(found.pairs["hole"]) == {"H1", "H2"}
    assert any("hole H3 has no core fracture" in note for note in found.notes)
    assert "2 holes" in repr(found)


def test_pairs_come_back_as_they_were_edited(site: js.Site, found: js.pairs.SiteMatch) -> None:
    """Rows as the file counts them: a pair taken out of one hole is out, the other stays."""
    assert found.pairs["core_row"].min() >= 2
    line = found.pairs.iloc[0]
    row = site.fractures.iloc[int(line["core_row"]) - 2]
    assert row["method"] == "core"
    assert row["depth_m"] == line["core_depth_m"]
    edited = found.pairs.drop(index=0)
    again = js.pairs.match_site(site, pairs=edited.astype(str))
    columns = ["hole", "core_row", "image_row"]
    pd.testing.assert_frame_equal(again.pairs[columns], edited[columns].reset_index(drop=True))
    some = edited[edited["hole"] == "H1"]
    assert set(js.pairs.match_site(site, pairs=some).pairs["hole"]) == {"H1", "H2"}


def test_merged_log_has_each_fracture_once(site: js.Site, found: js.pairs.SiteMatch) -> None:
    """Every row of both logs stands in the merged log once, with what both say side by side."""
    merged = found.merged
    used = [*merged["core_row"].dropna(), *merged["image_row"].dropna()]
    own = site.fractures["hole"] != "H3"
    assert sorted(int(row) - 2 for row in used) == np.flatnonzero(own).tolist()
    words = np.array(["clean", "clay"])[site.fractures["true_fracture"].to_numpy() % 2]
    told = js.pairs.match_site(replace(site, fractures=site.fractures.assign(infilling=words)))
    both = told.merged[told.merged["found"] == "both"]
    assert (both["core_infilling"] == both["image_infilling"]).mean() > 0.9
    assert told.merged.loc[told.merged["found"] == "core only", "image_infilling"].isna().all()
    assert told.lost["infilling"].isin(["clean", "clay"]).all()
    assert len(told.lost) == (told.merged["found"] == "image only").sum()
    assert told.lost["dip_deg"].notna().all()


def test_core_is_oriented_and_on_the_depths_of_the_image(
    site: js.Site, found: js.pairs.SiteMatch
) -> None:
    """Planes of spun and of α-only core agree with those of the same fractures on the image."""
    half = site.fractures.copy()
    alone = (half["hole"] == "H2") & (half["true_fracture"] % 3 == 0)
    half.loc[alone, "beta_deg"] = np.nan
    matched = js.pairs.match_site(replace(site, fractures=half))
    table = js.orient_fractures(matched.oriented_site())
    poles = Fractures(table).poles
    pairs = matched.pairs
    core, image = pairs["core_row"].to_numpy() - 2, pairs["image_row"].to_numpy() - 2
    angles = js.axis_angles_deg(poles[core], poles[image])
    assert np.isfinite(angles).all()
    assert np.median(angles) < 10
    assert np.quantile(angles, 0.9) < 25
    apart = table["depth_m"].to_numpy()[core] - table["depth_m"].to_numpy()[image]
    assert np.sqrt((apart**2).mean()) < 0.12


def test_ties_rise_and_bring_depths_together(site: js.Site, found: js.pairs.SiteMatch) -> None:
    """Interpolated between the ties, core depths fall on those of the true fracture's image."""
    for hole, ties in found.ties.groupby("hole"):
        assert (ties[["core_depth_m", "image_depth_m"]].diff().dropna() > 0).all(axis=None)
        own = found.pairs[found.pairs["hole"] == hole]
        there = np.interp(own["core_depth_m"], ties["core_depth_m"], ties["image_depth_m"])
        assert np.sqrt(((there - own["image_depth_m"]) ** 2).mean()) < 0.15
    runs = found.runs[found.runs["hole"] == "H2"]
    assert runs["disagrees"].any()
    assert found.runs["beta_offset_deg"].between(0, 360).all()


def test_refusals(site: js.Site, found: js.pairs.SiteMatch) -> None:
    """Edited pairs that lack a column or a number, and sites or holes without core."""
    pairs = found.pairs
    with pytest.raises(js.InputError, match="has no column core_row"):
        js.pairs.match_site(site, pairs=pairs.drop(columns="core_row"))
    with pytest.raises(js.InputError, match="must be whole numbers"):
        js.pairs.match_site(site, pairs=pairs.assign(core_row="x"))
    with pytest.raises(js.InputError, match="name holes that are not matched: H3"):
        js.pairs.match_site(site, pairs=pairs.replace({"hole": {"H2": "H3"}}))
    image = site.fractures[site.fractures["method"] == "image"].reset_index(drop=True)
    with pytest.raises(js.InputError, match="has no hole to match"):
        js.pairs.match_site(replace(site, fractures=image))
