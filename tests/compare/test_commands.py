"""The commands compare and match, and the pages they write."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.plots.comparison import estimate_forest, group_net
from jointstats.report.comparison import comparison_html
from jointstats.report.match import match_html

HOLES = "hole,trend_deg,plunge_deg,length_m\nH1,0,90,30\nH2,315,55,30\n"


def write_site(folder: Path, seed: int) -> Path:
    """A small simulated site as tables."""
    site = js.simulate_site(holes=((0.0, 90.0, 30.0), (315.0, 55.0, 30.0)), random_state=seed)
    folder.mkdir()
    (folder / "holes.csv").write_text(HOLES, encoding="utf-8")
    table = site.fractures.drop(columns="true_set").round(3)
    table = table.assign(dip_direction_deg=table["dip_direction_deg"] % 360)
    table.to_csv(folder / "fractures.csv", index=False)
    return folder


def test_compare_one_site(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One site: its holes are compared, lengths of a hole too, and the page is written."""
    place = write_site(tmp_path / "one", 1)
    assert main(["compare", str(place), "--cut", "H1=15", "--output", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert "H1 0–15 m" in told
    page = (tmp_path / "out" / "comparison.html").read_text(encoding="utf-8")
    assert page.count("<svg") > 6
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert (tmp_path / "out" / "tests.csv").exists()


def test_compare_many_sites(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Several sites: one table of their sets, and a line for the one that failed."""
    places = [str(write_site(tmp_path / name, seed)) for seed, name in enumerate("ab")]
    out = ["--output", str(tmp_path / "out"), "--resume", str(tmp_path / "done.jsonl")]
    assert main(["compare", *places, str(tmp_path / "c"), *out]) == 3
    told = capsys.readouterr()
    assert told.out.startswith("item,status,message,set,")
    assert "does not exist" in told.err
    assert (tmp_path / "out" / "sets_of_sites.csv").read_text(encoding="utf-8") == told.out
    assert main(["compare", str(tmp_path / "c"), str(tmp_path / "d")]) == 2
    assert main(["compare", *places, "--cut", "H1=15"]) == 2
    assert "--cut is for one site" in capsys.readouterr().err


def test_match_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Core and image of a hole in tables are matched, and the page is written."""
    site = js.pairs.simulate_core_and_image(12.0, random_state=1)
    place = tmp_path / "site"
    place.mkdir()
    (place / "holes.csv").write_text(
        f"hole,trend_deg,plunge_deg,length_m\nH1,315,60,{site.holes[0].length_m}\n",
        encoding="utf-8",
    )
    (place / "logged.csv").write_text(
        "hole,from_m,to_m,method\nH1,0,13,image\nH1,0,13,core\n", encoding="utf-8"
    )
    columns = ["hole", "depth_m", "method", "dip_deg", "dip_direction_deg", "alpha_deg"]
    table = site.fractures[[*columns, "run_beta_deg", "run"]]
    table = table.assign(run_beta_deg=table["run_beta_deg"].round(6) % 360)
    table.assign(beta_deg="").to_csv(place / "fractures.csv", index=False)
    assert main(["match", str(place), "--hole", "H1", "--output", str(tmp_path / "out")]) == 0
    assert "pairs" in capsys.readouterr().out
    assert "<svg" in (tmp_path / "out" / "match.html").read_text(encoding="utf-8")
    assert main(["match", str(place), "--hole", "H9"]) == 2
    pairs = tmp_path / "out" / "site" / "pairs.csv"
    lines = pairs.read_text(encoding="utf-8").splitlines()
    core = int(lines[1].split(",")[lines[0].split(",").index("core_row")])
    rows = (place / "fractures.csv").read_text(encoding="utf-8").splitlines()
    assert "core" in rows[core - 1]
    edited = tmp_path / "edited.csv"
    edited.write_text("\n".join([lines[0], *lines[2:]]) + "\n", encoding="utf-8")
    again = ["match", str(place), "--pairs", str(edited), "--output", str(tmp_path / "again")]
    assert main(again) == 0
    back = (tmp_path / "again" / "site" / "pairs.csv").read_text(encoding="utf-8").splitlines()
    assert len(back) == len(lines) - 1
    assert main(["match", str(place), "--pairs", str(tmp_path / "none.csv")]) == 2
    assert "none.csv: this is no file" in capsys.readouterr().err


def test_pages_are_the_same_twice(tmp_path: Path) -> None:
    """The same result gives the same page, byte for byte, with every hole and set on it."""
    holes = ((0.0, 90.0, 30.0), (315.0, 55.0, 30.0))
    found = js.compare_holes(js.simulate_site(holes=holes, random_state=1), draws=19)
    page = comparison_html(found)
    assert page == comparison_html(found)
    assert all(name in page for name in found.names)
    match = js.match_core_to_image(js.pairs.simulate_core_and_image(12.0, random_state=1), "H1")
    assert match_html(match) == match_html(match)
    (tmp_path / "file").write_text("")
    for write, thing in ((js.write_comparison, found), (js.write_match, match)):
        with pytest.raises(js.InputError, match="output must be a directory"):
            write(thing, tmp_path / "file")
    with pytest.raises(js.InputError, match="nothing called 'H9' was compared"):
        group_net(found, "H9")
    with pytest.raises(js.InputError, match="set_name must be one of"):
        estimate_forest(found, "J9")


def test_page_of_rock_without_sets() -> None:
    """A site whose fractures make no set still has a page."""
    site = js.simulate_site(holes=((0.0, 90.0, 20.0), (315.0, 55.0, 20.0)), random_state=1)
    few = replace(site, fractures=site.fractures.groupby("hole").head(2).reset_index(drop=True))
    assert "<h1>" in comparison_html(js.compare_holes(few, draws=19))
