"""Depths of core and image brought together by the table of ties."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import SiteError

HOLES = "hole,trend_deg,plunge_deg,length_m\nB,0,90,60\nC,0,90,60\n"
LOGGED = "hole,from_m,to_m,method\nB,0,50,core\nB,1,49,image\nC,0,50,core\n"
FRACTURES = """hole,depth_m,method,dip_deg,dip_direction_deg
B,5,image,10,20
B,20,image,10,20
B,45,image,10,20
B,20,core,10,20
C,20,core,10,20
"""
PAIRS = "hole,core_depth_m,image_depth_m\nB,10,10.2\nB,30,30.6\n"


def site_of(folder: Path, ties: str, toml: str = 'depths_follow = "core"\n', **more: str) -> Path:
    """A site with these ties."""
    tables = {"holes": HOLES, "logged": LOGGED, "fractures": FRACTURES, "ties": ties} | more
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text)
    (folder / "site.toml").write_text(toml)
    return folder


def test_depths_follow_the_log_that_is_named(tmp_path: Path) -> None:
    """Image depths go to core depths by straight lines between ties, by the nearest tie beyond."""
    site = js.read_site(site_of(tmp_path, PAIRS))
    # By hand: at 20 in the image the shift lies between -0.2 at 10.2 and -0.6 at 30.6.
    at_20 = 20 - (0.2 + 0.4 * (20 - 10.2) / 20.4)
    np.testing.assert_allclose(site.fractures["depth_m"], [4.8, at_20, 44.4, 20, 20], atol=1e-12)
    assert site.fractures["logged_depth_m"].tolist() == [5, 20, 45, 20, 20]
    spans = {(one.from_m, one.to_m) for one in site.hole("B").logged if one.method == "image"}
    np.testing.assert_allclose(list(spans), [(0.8, 48.4)])
    assert any("Depths of 3 fractures were moved by ties, by up to 0.6 m" in n for n in site.notes)
    assert any("2 fractures lie beyond the outermost tie" in note for note in site.notes)
    other = js.read_site(site_of(tmp_path, PAIRS, 'depths_follow = "image"\n'))
    core = other.fractures["depth_m"].to_numpy()
    np.testing.assert_allclose(core, [5, 20, 45, 20.4, 20], atol=1e-12)


def test_a_stretch_and_offset_is_of_one_log_and_run(tmp_path: Path) -> None:
    """Each logging run has its own; depths are d (1 + stretch) + offset there alone."""
    ties = "hole,method,from_m,to_m,stretch_mm_per_m,offset_m\nB,image,0,30,2,-0.1\nB,core,,,,0.5\n"
    site = js.read_site(site_of(tmp_path, ties, ""))
    expected = [5 * 1.002 - 0.1, 20 * 1.002 - 0.1, 45, 20.5, 20]
    np.testing.assert_allclose(site.fractures["depth_m"], expected, atol=1e-12)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_tied_site_written_and_read_is_the_same(kind: str, tmp_path: Path) -> None:
    """The tables go out at the depths of their own log, so the ties count once."""
    site = js.read_site(site_of(tmp_path, PAIRS))
    again = js.read_site(js.write_site(site, tmp_path / f"out.{kind}"))
    assert again == site
    if kind == "csv":
        written = pd.read_csv(tmp_path / "out.csv" / "fractures.csv")
        assert written["depth_m"].tolist() == [5, 20, 45, 20, 20]


def test_roll_is_looked_up_at_the_depth_of_the_image(tmp_path: Path) -> None:
    """The rotation of the tool was measured on the image's own depths, before any tie."""
    rolls = "hole,depth_m,roll_deg\nB,0,0\nB,50,50\n"
    fractures = "hole,depth_m,method,image_dip_deg,image_azimuth_deg\nB,20,image,40,10\n"
    toml = 'reference = "north"\n'
    ties = "hole,method,offset_m\nB,image,3\n"
    site = js.read_site(site_of(tmp_path, ties, toml, rolls=rolls, fractures=fractures))
    table = js.orient_fractures(site)
    assert table["depth_m"][0] == 23
    # In a vertical hole with north as its reference the azimuth read plus the roll is the answer.
    assert table["true_dip_direction_deg"][0] == pytest.approx(10 + 20)


@pytest.mark.parametrize(
    ("ties", "toml", "rule"),
    [
        (PAIRS, "", "column depths_follow: the setting is missing, and ties.csv ties depths"),
        (
            PAIRS + "B,20,31\n",
            'depths_follow = "core"',
            "row 3, column image_depth_m: '30.6': ties of a hole rise in both logs, and row 4",
        ),
        (
            "hole,core_depth_m,image_depth_m\nB,10,\n",
            'depths_follow = "core"',
            "row 2, column hole: 'B': a row holds core_depth_m and image_depth_m, or method with",
        ),
        ("hole,offset_m\nB,1\n", "", "row 2, column method: the cell is empty; a row holds core_d"),
        ("hole,method,offset_m\nBB,core,1\n", "", "no such hole in holes.csv"),
    ],
)
def test_ties_that_say_nothing_sure_are_faults(
    ties: str, toml: str, rule: str, tmp_path: Path
) -> None:
    """Crossed ties, half a tie, an offset of no log, and a log to follow that is not named."""
    with pytest.raises(SiteError, match=rule):
        js.read_site(site_of(tmp_path, ties, toml))


def test_a_fracture_of_no_method_in_a_tied_hole_is_asked_about(tmp_path: Path) -> None:
    """Which log a depth is of can't be guessed where the two differ."""
    fractures = FRACTURES.replace("B,20,core", "B,20,")
    with pytest.raises(SiteError, match="row 5, column method: is empty, and ties.csv moves depth"):
        js.read_site(site_of(tmp_path, PAIRS, fractures=fractures))
