"""What is exported reads back to the same numbers."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.fractures import Fractures
from jointstats.errors import InputError
from jointstats.export.places import plain_value
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.angles import turn_in_azimuth

PLACES = ["easting_m", "northing_m", "elevation_m"]


@pytest.fixture(scope="module")
def placed() -> SiteAnalysis:
    """Three holes of which two have a collar, on a grid turned by 2°."""
    site = js.simulate_site(random_state=4)
    collars = [(500_100.25, 5_200_300.5, 410.125), (500_150.0, 5_200_280.0, 405.0), None]
    holes = [replace(hole, collar=at) for hole, at in zip(site.holes, collars, strict=True)]
    settings = replace(site.settings, convergence_deg=2.0, north="grid")
    rows = site.fractures.assign(
        dip_direction_deg=(site.fractures["dip_direction_deg"] - 2.0) % 360.0,
        aperture_mm=np.where(np.arange(len(site.fractures)) % 3 == 0, np.nan, 0.5),
        infilling="clay",
    )
    return js.analyse(replace(site, holes=tuple(holes), fractures=rows, settings=settings), 3)


def test_geojson_has_lines_and_points(placed: SiteAnalysis, tmp_path: Path) -> None:
    """Coordinates and columns come back to the last digit, and what has no place is named."""
    file = js.export.write_geojson(placed, tmp_path / "a.geojson", coordinate_system="EPSG:25832")
    whole = json.loads(file.read_text(encoding="utf-8"))
    assert whole["crs"]["properties"]["name"] == "EPSG:25832"
    assert whole["notice"] == placed.notice
    assert whole["cautions"]
    assert "left out, with their fractures: H3" in whole["notes"]
    by_kind: dict[str, list] = {"LineString": [], "Point": []}
    for one in whole["features"]:
        by_kind[one["geometry"]["type"]].append(one)
    assert [one["properties"]["hole"] for one in by_kind["LineString"]] == ["H1", "H2"]
    assert by_kind["LineString"][0]["geometry"]["coordinates"][0] == [500_100.25, 5_200_300.5, 410.125]
    known = placed.fractures[placed.fractures["hole"] != "H3"]
    assert [one["geometry"]["coordinates"] for one in by_kind["Point"]] == known[PLACES].values.tolist()
    for column in ("depth_m", "true_dip_deg", "membership", "set"):
        assert [one["properties"][column] for one in by_kind["Point"]] == [
            plain_value(one) for one in known[column]
        ]


def test_a_map_without_a_named_system_is_refused(placed: SiteAnalysis, tmp_path: Path) -> None:
    """No coordinate system, no collar, or poles alone: each says what to give."""
    with pytest.raises(InputError, match="the coordinate system is not named"):
        js.export.write_geojson(placed, tmp_path / "a.geojson")
    bare = js.analyse(js.simulate_site(random_state=4), 3, domains="none")
    with pytest.raises(InputError, match="no fracture has a place"):
        js.export.write_vtk(bare, tmp_path / "a.vtk")
    poles = js.analyse_poles(Fractures(placed.fractures).oriented.poles, n_sets=3)
    with pytest.raises(InputError, match="poles alone have no place"):
        js.export.write_geojson(poles, tmp_path / "a.geojson", coordinate_system="local")
    with pytest.raises(InputError, match=r"must be what analyse gave"):
        js.export.write_ags(poles, tmp_path / "a.ags")
    with pytest.raises(InputError, match=r"must be what analyse gave"):
        js.export.write_parquet(poles, tmp_path / "a.parquet")
    with pytest.raises(InputError, match=r"ends in \.ags; got a\.csv"):
        js.export.write_ags(placed, tmp_path / "a.csv")
    with pytest.raises(InputError, match="radius_m"):
        js.export.write_vtk(placed, tmp_path / "a.vtk", radius_m=0)


def _read_vtk(file: Path) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Points, polygons and values of a legacy file, word by word as the format says."""
    lines = file.read_text(encoding="ascii").splitlines()
    words = " ".join(lines[4:]).split()
    n = int(words[1])
    points = np.array(words[3 : 3 + 3 * n], float).reshape(n, 3)
    words = words[3 + 3 * n :]
    assert words[0] == "POLYGONS"
    cells, size = int(words[1]), int(words[2])
    polygons = np.array(words[3 : 3 + size], int).reshape(cells, -1)
    words = words[3 + size :]
    assert words[:2] == ["CELL_DATA", str(cells)]
    words, values = words[2:], {}
    while words:
        assert (words[0], *words[2:6]) == ("SCALARS", "double", "1", "LOOKUP_TABLE", "default")
        values[words[1]] = np.array(words[6 : 6 + cells], float)
        words = words[6 + cells :]
    return points, polygons, values


def test_discs_have_the_place_and_plane_of_their_fracture(placed: SiteAnalysis, tmp_path: Path) -> None:
    """The middle of each polygon is the place; its normal, from true north, is the pole."""
    file = js.export.write_vtk(placed, tmp_path / "a.vtk", radius_m=2.0)
    points, polygons, values = _read_vtk(file)
    known = Fractures(placed.fractures[placed.fractures["hole"] != "H3"]).oriented
    corners = points[polygons[:, 1:]]
    assert (polygons[:, 0] == 16).all()
    middle = corners.mean(axis=1)
    assert np.allclose(middle, known.table[PLACES], atol=1e-3)
    assert np.allclose(np.linalg.norm(corners - middle[:, None], axis=2), 2.0, atol=1e-3)
    normals = np.cross(corners[:, 0] - middle, corners[:, 4] - middle)
    # On the grid a plane bears 2° less than from true north.
    dip, direction = js.dip_from_poles(normals)
    assert np.allclose(dip, known.table["true_dip_deg"], atol=0.02)
    steep = dip > 5
    off = (direction - known.table["true_dip_direction_deg"] + 2.0 + 180.0) % 360.0 - 180.0
    assert np.abs(off[steep]).max() < 0.1
    assert np.allclose(values["dip_deg"], known.table["true_dip_deg"], rtol=1e-5)
    names = ["", *(one.name for one in placed.sets)]
    told = [names[int(one)] for one in values["set"]]
    assert told == [one if one in names else "" for one in known.table["set"]]


def test_ags_is_read_back_by_our_reader(placed: SiteAnalysis, tmp_path: Path) -> None:
    """Holes, paths, depths, planes, apertures and sets come back within half of their last digit."""
    again = js.read_site(js.export.write_ags(placed, tmp_path / "a.ags"))
    assert [hole.name for hole in again.holes] == ["H1", "H2", "H3"]
    assert again.holes[0].collar == placed.site.holes[0].collar
    for ours, theirs in zip(again.holes, placed.site.holes, strict=True):
        assert np.allclose(ours.path.position([10.0, 60.0]), theirs.path.position([10.0, 60.0]), atol=2e-3)
    given, read = placed.fractures, again.fractures
    assert np.allclose(read["depth_m"], given["depth_m"], atol=5.1e-5)
    assert np.allclose(read["dip_deg"], given["true_dip_deg"], atol=5.1e-4)
    assert np.allclose(read["dip_direction_deg"], given["true_dip_direction_deg"], atol=5.1e-4)
    assert np.allclose(read["aperture_mm"], given["aperture_mm"], equal_nan=True)
    assert read["infilling"].tolist() == given["infilling"].tolist()
    assert read["frac_set"].tolist() == given["set"].tolist()


def test_lengths_on_core_are_told_or_said_not_to_be(placed: SiteAnalysis, tmp_path: Path) -> None:
    """CORE comes back where it holds all fractures; a site of images says that lengths are not told."""
    file = js.export.write_ags(placed, tmp_path / "a.ags")
    assert "Which lengths were logged is not in this file" in file.read_text(encoding="utf-8")
    site = js.pairs.simulate_core_and_image(random_state=1)
    kept = site.fractures[site.fractures["method"] == "core"].reset_index(drop=True)
    holes = tuple(
        replace(one, logged=tuple(each for each in one.logged if each.method == "core"))
        for one in site.holes
    )
    core = js.analyse(replace(site, holes=holes, fractures=kept), domains="none")
    file = js.export.write_ags(core, tmp_path / "b.ags")
    assert "Which lengths" not in file.read_text(encoding="utf-8")
    again = js.read_site(file)
    assert [one.logged for one in again.holes] == [one.logged for one in holes]
    assert len(again.fractures) == core.counts.total


def test_parquet_keeps_the_table(placed: SiteAnalysis, tmp_path: Path) -> None:
    """Every number and word comes back, with the cautions; without the library it is asked for."""
    pytest.importorskip("pyarrow")
    file = js.export.write_parquet(placed, tmp_path / "a.parquet")
    back = pd.read_parquet(file)
    assert list(back) == list(placed.fractures)
    for column in placed.fractures:
        ours, theirs = back[column], placed.fractures[column]
        assert ours.isna().equals(theirs.isna())
        assert ours.dropna().tolist() == theirs.dropna().tolist(), column
    assert back.attrs["notice"] == placed.notice


def test_parquet_says_what_to_install(
    placed: SiteAnalysis, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without pyarrow the extra is named."""
    monkeypatch.setattr("jointstats.export.parquet.find_spec", lambda name: None)
    with pytest.raises(InputError, match=r"jointstats\[parquet\]"):
        js.export.write_parquet(placed, tmp_path / "a.parquet")


def test_a_geopackage_has_the_layers_of_a_map(placed: SiteAnalysis, tmp_path: Path) -> None:
    """geopandas reads holes and fractures where they are, with their sets, the system and the cautions."""
    geopandas = pytest.importorskip("geopandas")
    file = js.export.write_geopackage(placed, tmp_path / "a.gpkg", coordinate_system="EPSG:25832")
    holes, fractures = (geopandas.read_file(file, layer=one) for one in ("holes", "fractures"))
    assert holes.crs.to_epsg() == 25832
    with_place = placed.fractures[placed.fractures["easting_m"].notna()]
    assert fractures["set"].fillna("").tolist() == with_place["set"].tolist()
    points = np.array([(one.x, one.y, one.z) for one in fractures.geometry])
    np.testing.assert_allclose(points, with_place[["easting_m", "northing_m", "elevation_m"]])
    lengths = {one.name: one.length_m for one in placed.site.holes}
    assert dict(zip(holes["hole"], holes["length_m"], strict=True)).items() <= lengths.items()
    planes = geopandas.read_file(file, layer="planes")
    corners = np.array([one.exterior.coords for one in planes.geometry])
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 1])
    shown = Fractures(with_place).oriented
    # Against the north of the map, as the coordinates are.
    poles = shown.poles @ turn_in_azimuth(-placed.site.settings.convergence_deg).T
    assert js.axis_angles_deg(normals, poles).max() < 1e-4 and len(planes) == len(shown)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1.0)
    np.testing.assert_allclose(corners[:, :4].mean(axis=1)[:, 0], shown.table["easting_m"])
    told = geopandas.read_file(file, layer="cautions")
    assert told["text"].iloc[-1] == placed.notice
    with pytest.raises(InputError, match="the coordinate system 'the moon' is not known"):
        js.export.write_geopackage(placed, tmp_path / "b.gpkg", coordinate_system="the moon")
