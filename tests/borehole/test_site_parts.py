"""A site is selected from, merged and split, and tells where each fracture lies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import InputError
from tests.tables.site_tables import write_tables

DEMO = Path(__file__).parents[2] / "examples" / "dam_site"


def _small(folder: Path, **changed: str) -> js.Site:
    folder.mkdir()
    write_tables(folder, **changed)
    return js.read_site(folder)


def test_a_selection_has_the_holes_depths_and_fractures_asked_for(tmp_path: Path) -> None:
    """Logged lengths are cut at the depths, other holes go, and reading it again changes nothing."""
    site = _small(tmp_path / "given")
    part = site.select(holes=["B3", "B1"], depth=(10, 40))
    assert [hole.name for hole in part.holes] == ["B1", "B3"]
    assert [(one.from_m, one.to_m, one.method) for one in part.hole("B1").logged] == [
        (10, 25, "image"),
        (10, 40, "core"),
        (27, 40, "image"),
    ]
    assert part.describe()["logged_m"].tolist() == [30.0, 30.0]
    assert part.fractures["depth_m"].tolist() == [12.25, 14, 31]
    assert part.rows == (3, 4, 5)
    again = js.read_site(js.write_site(part, tmp_path / "again"))
    assert again.fractures.equals(part.fractures)
    assert [hole.logged for hole in again.holes] == [hole.logged for hole in part.holes]


def test_selected_fractures_keep_the_whole_length_and_say_so(tmp_path: Path) -> None:
    """A class or a term takes fractures and no length, and a note tells it."""
    site = _small(tmp_path / "given")
    veins = site.select(type="vein")
    assert veins.fractures["depth_m"].tolist() == [31]
    assert veins.holes == site.holes
    assert "of class vein were taken (1 of 9)" in veins.notes[-1]
    open_ones = site.select(condition={"aperture_mm": ["tight", "moderately wide"]})
    assert open_ones.fractures["aperture_mm"].tolist() == [0.2, 3.0]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"holes": ["B9"]}, "has no hole 'B9'"),
        ({"holes": "B1"}, "must be a list of names"),
        ({"depth": (5, 5)}, "to_m must lie beyond from_m"),
        ({"type": "granite"}, "a class is one of"),
        ({"condition": {"colour": "red"}}, "no column 'colour'"),
        ({"condition": {"aperture_mm": "huge"}}, "no fracture is 'huge' in aperture_mm"),
    ],
)
def test_what_is_not_there_can_not_be_selected(asked: dict, said: str, tmp_path: Path) -> None:
    """A hole, class, column or term that the site has not is refused by name."""
    with pytest.raises(InputError, match=said):
        _small(tmp_path / "given").select(**asked)


def test_split_and_merged_again_a_site_has_all_its_fractures(tmp_path: Path) -> None:
    """Halves that touch share no fracture, and holes taken apart come together as they were."""
    site = _small(tmp_path / "given")
    parts = site.split({"upper": [("B3", 1, 9)], "lower": [("B3", 9, 50)]})
    assert [len(one.fractures) for one in parts.values()] == [1, 1]
    assert parts["lower"].notes[-1] == "7 of 9 fractures lie in no domain and are left out."
    whole = site.select(["B1"]).merge(site.select(["B2", "B3"]), site.name)
    assert whole == site
    assert whole.rows == site.rows
    assert js.read_site(js.write_site(whole, tmp_path / "again")).holes == site.holes


def test_sites_that_mean_different_things_are_not_merged(tmp_path: Path) -> None:
    """A hole in both, other settings, other words, or one site without tables: each is named."""
    site = _small(tmp_path / "given")
    one, two = site.select(["B1"]), site.select(["B2"])
    with pytest.raises(InputError, match="hole B1 is in both"):
        site.merge(one)
    with pytest.raises(InputError, match="differ in north: 'true' and 'grid'"):
        one.merge(replace(two, settings=replace(two.settings, north="grid")))
    words = {**two.tables, "terms": pd.DataFrame({"column": ["type"], "word": ["x"], "term": ["vein"]})}
    with pytest.raises(InputError, match="the tables terms of the two sites differ"):
        one.merge(replace(two, tables=words))
    with pytest.raises(InputError, match="one was made by hand"):
        one.merge(replace(two, tables={}))


def test_domains_of_an_analysis_split_its_site() -> None:
    """The domains that an analysis gives are taken as they are, ties of depth and all."""
    site = js.read_site(DEMO)
    domains = js.analyse(site, 3).agreement.domains
    parts = site.split(domains)
    assert list(parts) == [one.name for one in domains]
    assert sum(len(one.fractures) for one in parts.values()) <= len(site.fractures)
    with pytest.raises(InputError, match="cut at depths that ties had moved"):
        js.write_site(site.select(depth=(0, 20)), "never")


def test_a_fracture_lies_at_its_collar_and_its_path(tmp_path: Path) -> None:
    """A straight hole gives its place by plain trigonometry; without a collar it stays empty."""
    holes = "hole,easting_m,northing_m,elevation_m,length_m,trend_deg,plunge_deg\nB1,100,200,50,60,90,60\n"
    rows = "hole,depth_m,dip_deg,dip_direction_deg\nB1,10,45,120\n"
    none = {"surveys_csv": None, "logged_csv": None}
    site = _small(tmp_path / "a", holes_csv=holes, fractures_csv=rows, **none)
    places = ["easting_m", "northing_m", "elevation_m"]
    found = js.orient_fractures(site)[places].to_numpy()
    assert np.allclose(found, [[105.0, 200.0, 50.0 - 5.0 * np.sqrt(3.0)]])
    # Grid north lies 10° east of true north: the hole bears 80° on the grid.
    turned = replace(site, settings=replace(site.settings, convergence_deg=10.0))
    found = js.orient_fractures(turned)[places].to_numpy()
    bearing = np.radians(80.0)
    assert np.allclose(found[0, :2], [100 + 5 * np.sin(bearing), 200 + 5 * np.cos(bearing)])
    bare = _small(tmp_path / "b", holes_csv=holes.replace("100,200,50", ",,"), fractures_csv=rows, **none)
    assert js.orient_fractures(bare)[places].isna().all(axis=None)
