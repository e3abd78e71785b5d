"""Scanlines beside holes: straight, bent and circular lines, their exposure, and the sites they make."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.path import circle_path
from jointstats.borehole.sampling import Sampling
from jointstats.errors import SiteError

HOLES = pd.DataFrame(
    {
        "hole": ["B1", "S1", "C1"],
        "kind": ["borehole", "scanline", "circle"],
        "easting_m": [0.0, 5.0, 10.0],
        "northing_m": [0.0, 0.0, 0.0],
        "elevation_m": [0.0, 0.0, 1.5],
        "length_m": [30.0, 20.0, None],
        "trend_deg": [0.0, 45.0, None],
        "plunge_deg": [90.0, 0.0, None],
        "diameter_mm": [96.0, None, None],
        "circle_radius_m": [None, None, 2.0],
        "face_dip_deg": [None, None, 70.0],
        "face_dip_direction_deg": [None, None, 140.0],
    }
)
FRACTURES = pd.DataFrame(
    {
        "hole": ["B1", "S1", "C1", "C1"],
        "depth_m": [4.0, 6.0, 1.0, 12.0],
        "method": ["core", "scanline", "scanline", None],
        "dip_deg": [30.0, 80.0, 20.0, 60.0],
        "dip_direction_deg": [10.0, 200.0, 90.0, 300.0],
        "persistence_m": ["2", "3-5", "", ""],
    }
)


def test_three_kinds_of_line_make_one_site() -> None:
    """A hole, a scanline and a circle are read together, each logged by its own method."""
    site = js.Site.from_frames(HOLES, FRACTURES)
    assert [one.kind for one in site.holes] == ["borehole", "scanline", "scanline"]
    assert [one.logged[0].method for one in site.holes] == ["core", "scanline", "scanline"]
    assert site.hole("C1").length_m == pytest.approx(4 * np.pi)
    result = js.analyse(site, n_sets=0, blind_angle_deg=0)
    assert result.counts.unassigned == len(FRACTURES)
    assert result.exposure.total_m == pytest.approx(50 + 4 * np.pi)


def test_a_circle_runs_round_its_centre_on_its_face() -> None:
    """Every point of the path lies at the radius from the centre and on the face; it ends where it began."""
    path, start = circle_path(2.0, 70.0, 140.0)
    normal = js.poles_from_dip(70.0, 140.0)[0]
    points = start + path.position(np.linspace(0.0, 4 * np.pi, 50))
    np.testing.assert_allclose(np.linalg.norm(points, axis=1), 2.0, atol=1e-9)
    np.testing.assert_allclose(points @ normal, 0.0, atol=1e-9)
    np.testing.assert_allclose(points[0], points[-1], atol=1e-9)
    assert start[2] == pytest.approx(0.0) and points[3][2] < 0
    site = js.Site.from_frames(HOLES, FRACTURES)
    np.testing.assert_allclose(site.hole("C1").collar, [10.0, 0.0, 1.5] + start, atol=1e-12)


def test_a_circle_meets_planes_by_their_angle_to_the_face() -> None:
    """A full circle of radius R meets 4 R sin(angle to the face) per P32, whatever the turn of the trace.

    Two crossings a trace, of P21 = P32 sin(angle): N / (4 R) estimates P21 (Mauldon, Dunne & Rohrbaugh
    2001, J. Struct. Geol. 23:247-258; from memory).
    """
    site = js.Site.from_frames(HOLES, FRACTURES)
    exposure = Sampling.of(site, blind_angle_deg=0.0).line("C1").exposure
    poles = js.poles_from_dip([10.0, 40.0, 85.0, 70.0], [0.0, 77.0, 230.0, 140.0])
    sine = np.sqrt(1.0 - (poles @ js.poles_from_dip(70.0, 140.0)[0]) ** 2)
    np.testing.assert_allclose(exposure.at(poles), 4.0 * 2.0 * sine, rtol=2e-3, atol=2e-2)


def test_scanlines_are_lines_where_holes_have_thickness() -> None:
    """A radius of the fractures thickens holes alone."""
    settings = js.SiteSettings(fracture_radius_m=0.5)
    site = js.Site.from_frames(HOLES.assign(diameter_mm=96.0), FRACTURES, settings=settings)
    result = js.analyse(site, n_sets=0)
    assert [one.girth for one in result.sampling.lines] == pytest.approx([0.096, 0.0, 0.0])


def test_a_hole_and_a_scanline_agree_on_p32() -> None:
    """One rock seen by a hole and a scanline: together they give its P32 (40 sites, within 5 %)."""
    found = []
    for seed in range(40):
        site = js.simulate_site(
            [(40.0, 90.0, 40.0, 1.5)], [(0, 90, 40), (90, 5, 40)], random_state=seed
        )
        table = site.fractures.drop(columns="true_set")
        table["method"] = np.where(table["hole"] == "H2", "scanline", "image")
        holes = pd.DataFrame(
            {
                "hole": ["H1", "H2"],
                "kind": ["borehole", "scanline"],
                "length_m": [40.0, 40.0],
                "trend_deg": [0.0, 90.0],
                "plunge_deg": [90.0, 5.0],
            }
        )
        mixed = js.Site.from_frames(holes, table)
        result = js.analyse(mixed, n_sets=1, shape="round", domains="none")
        found.append(result.sets[0].p32_per_m / 1.5)
    assert np.mean(found) == pytest.approx(1.0, abs=0.05)


def test_a_circle_without_its_face_is_a_fault() -> None:
    """A circle needs its radius and the attitude of its face."""
    with pytest.raises(SiteError, match="a circle needs circle_radius_m"):
        js.Site.from_frames(HOLES.drop(columns="face_dip_deg"), FRACTURES)


def test_lines_are_written_and_read_again(tmp_path: Path) -> None:
    """A site with scanlines is the same after writing and reading."""
    site = js.Site.from_frames(HOLES, FRACTURES)
    js.write_site(site, tmp_path / "site")
    again = js.read_site(tmp_path / "site")
    assert [one.kind for one in again.holes] == [one.kind for one in site.holes]
    here, there = (one.hole("C1") for one in (site, again))
    np.testing.assert_allclose(here.path.position(3.0), there.path.position(3.0), atol=1e-9)
