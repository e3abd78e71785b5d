"""Log sheets: at a true scale, every fracture once, whatever a hole is called."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.report.hole_notes import zone_table
from jointstats.report.log_sheet import log_html, log_names, scale_of, write_log
from jointstats.report.logged import section as logged
from jointstats.sets.record import fractures_csv
from jointstats.sets.result import SiteAnalysis


def _paths(html: str) -> list[str]:
    return re.findall(r'<path d="([^"]+)"', html[html.index('id="sheet-1"') :])


def test_depth_is_drawn_at_the_scale_that_is_printed(result: SiteAnalysis) -> None:
    """Ticks a metre apart stand 1000 / scale millimetres apart on paper."""
    hole = result.site.holes[1]
    scale = scale_of(hole.length_m)
    html = log_html(result, hole.name)
    assert f"scale 1:{scale}" in html
    assert "width: 184mm" in html and 'viewBox="0 0 184 ' in html
    ticks = next(path for path in _paths(html) if "h2M" in path)
    at = [float(y) for y in re.findall(r"M[\d.]+ ([\d.]+)h2", ticks)]
    marks = [float(m) for m in re.findall(r"text-anchor:end[^>]*>([\d.]+)<", html)][: len(at)]
    apart = (at[-1] - at[0]) / (marks[-1] - marks[0])
    assert apart == pytest.approx(1000.0 / scale, rel=1e-3)


def test_every_fracture_of_the_hole_has_a_tick(result: SiteAnalysis) -> None:
    """Ticks of core and image, and dashes of those without orientation, add up to the hole."""
    for hole in result.site.holes:
        drawn = sum(path.count("h10") for path in _paths(log_html(result, hole.name)))
        assert drawn == (result.fractures["hole"] == hole.name).sum()


def test_odd_names_make_safe_files(result: SiteAnalysis, tmp_path: Path) -> None:
    """A hole called <script> is shown as written, in a file of plain letters of its own."""
    names = log_names(result)
    assert len(set(names.values())) == len(names)
    assert all(re.fullmatch(r"log-[A-Za-z0-9_-]+\.html", name) for name in names.values())
    page = write_log(result, result.site.holes[0].name, tmp_path)
    text = page.read_text(encoding="utf-8")
    assert "<script" not in text and "&lt;script&gt;" in text
    twins = [replace(hole, name=name) for hole, name in zip(result.site.holes, "a! a? b".split())]
    twin = replace(result, site=replace(result.site, holes=tuple(twins)))
    assert len(set(log_names(twin).values())) == 3


def test_command_writes_the_log_of_a_hole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`log` writes one page; a hole that is not there is named, and nothing is written."""
    site = js.write_site(js.simulate_site(random_state=1), tmp_path / "site")
    out = str(tmp_path / "out")
    assert main(["log", str(site), "--hole", "H9", "--output", out]) == 2
    assert "H9" in capsys.readouterr().err and not (tmp_path / "out").exists()
    assert main(["log", str(site), "--hole", "H2", "--sets", "3", "--output", out]) == 0
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["log-H2.html"]


@pytest.mark.parametrize("name", ["scant", "empty", "vertical"])
def test_thin_logs_are_drawn(name: str, request: pytest.FixtureRequest) -> None:
    """Three fractures, none, or one hole: a sheet without nan."""
    found = request.getfixturevalue(name)
    html = log_html(found, found.site.holes[0].name)
    assert not re.search(r"\b(nan|inf|None)\b", re.sub(r"<style.*?</style>", "", html, flags=re.S))


def test_photographs_are_linked_where_the_file_exists(tmp_path: Path) -> None:
    """A file beside the tables is linked from the sheets, any other reference is told."""
    site = js.simulate_site(random_state=1)
    photo = ["pictures/a b.jpg", "box 3, no 7", "../../etc/none"] + [""] * (len(site.fractures) - 3)
    home = js.write_site(replace(site, fractures=site.fractures.assign(photo=photo)), tmp_path / "in")
    (home / "pictures").mkdir()
    (home / "pictures" / "a b.jpg").write_bytes(b"")
    result = js.analyse(js.read_site(home), n_sets=2)
    page = js.write_log(result, site.fractures["hole"][0], tmp_path / "out").read_text("utf-8")
    assert page.count("<li>") == 3
    assert '<li><a href="../in/pictures/a%20b.jpg">' in page
    assert re.search(r"<li>[\d.]+ m, [J\w ]+: box 3, no 7</li>", page)
    assert (tmp_path / "out" / "../in/pictures/a b.jpg").exists()


def test_zones_stand_on_the_sheets_and_in_the_report() -> None:
    """Kind, bounds with the set nearest to each, and recovery; a band and squares on the sheet."""
    site = js.simulate_site(random_state=1)
    zones = pd.DataFrame(
        {"hole": "H1", "from_m": [10.0], "to_m": [11.5], "kind": "sheared", "condition": "clay"}
        | {"upper_dip_deg": 60.0, "upper_dip_direction_deg": 200.0, "recovery_percent": 35.0}
    )
    result = js.analyse(replace(site, tables={"zones": zones}), n_sets=2)
    table = zone_table(result)
    assert table is not None
    place, kind, upper, lower, condition, recovery = table.rows[0]
    assert (place, kind, lower, condition) == ("H1, 10.0 to 11.5 m", "sheared", "–", "clay")
    assert upper.startswith("dip 60° toward 200° (")
    assert recovery == "35"
    assert table in logged(result).tables
    page = log_html(result, "H1")
    assert ">sheared</text>" in page
    assert page.count("fill:var(--warning)") == 1


def test_a_site_in_feet_has_its_logs_and_tables_in_feet(tmp_path: Path) -> None:
    """Depth ticks are whole feet, and fractures.csv has depth_ft as it was given beside depth_m."""
    site = js.simulate_site(random_state=1)
    feet = replace(site, settings=replace(site.settings, depth_unit="ft"))
    result = js.analyse(js.read_site(js.write_site(feet, tmp_path / "site")), n_sets=2)
    page = log_html(result, "H1")
    assert "ft along the hole from the collar" in page
    last = int(site.hole("H1").length_m / 0.3048)
    step = 20
    assert f">{last // step * step}</text>" in page
    table = pd.read_csv(io.StringIO(fractures_csv(result)))
    assert table.columns.get_loc("depth_ft") == table.columns.get_loc("depth_m") - 1
    assert (table["depth_ft"] * 0.3048 - table["depth_m"]).abs().max() < 1e-9
