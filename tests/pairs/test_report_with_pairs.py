"""The report reads the original tables with the pairs as the geologist has edited them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.pairs.site_match import read_pairs


def test_the_report_takes_the_edited_pairs(tmp_path: Path) -> None:
    """Spun core is oriented by the pairs that were kept; the original tables stay as they are."""
    site = js.pairs.simulate_core_and_image(30.0, random_state=3)
    own = [name for name in site.fractures if not name.startswith("true_")]
    home = js.write_site(replace(site, fractures=site.fractures[own]), tmp_path / "site")
    before = {file.name: file.read_bytes() for file in home.iterdir()}
    assert main(["match", str(home), "--output", str(tmp_path / "match")]) == 0
    pairs = pd.read_csv(tmp_path / "match" / "site" / "pairs.csv")
    edited = tmp_path / "edited.csv"
    pairs.drop(index=[0, 1]).to_csv(edited, index=False)
    out = tmp_path / "report"
    command = ["report", str(home), "--pairs", str(edited), "--sets", "3", "--output", str(out)]
    assert main([*command, "--domains", "none"]) == 0
    told = json.loads((out / "sets.json").read_text("utf-8"))["notes"]
    assert any(f"Core was oriented by its image: {len(pairs) - 2} pairs in 1 holes" in one for one in told)
    table = pd.read_csv(out / "fractures.csv")
    core = table[table["method"] == "core"]
    assert core["oriented_from"].eq("alpha and beta").mean() > 0.9
    plain = js.orient_fractures(site)
    assert not plain.loc[plain["method"] == "core", "true_dip_deg"].notna().any()
    assert {file.name: file.read_bytes() for file in home.iterdir()} == before


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("hole,core_row,image_row\nB1,2,1e300\n", "row 2, column image_row: '1e\\+300'"),
        ("hole,core_row,image_row\nB1,2,3\nB1,,4.5\n", "row 3, column core_row: the cell is empty"),
        ("hole,core_row,image_row\nB1,2,4.5\n", "row 2, column image_row: '4.5': .* whole number"),
        ("hole,core_row\nB1,2\n", "column image_row: the column is missing"),
        ("hole,core_row,image_row\n", "a header and no rows"),
        ("", "the file is empty"),
        (None, "this is no file"),
    ],
)
def test_wrong_pairs_are_told_by_row(tmp_path: Path, text: str | None, told: str) -> None:
    """Every cell of edited pairs that is no row of the table is named with its file and row."""
    if text is not None:
        (tmp_path / "pairs.csv").write_text(text, encoding="utf-8")
    with pytest.raises(js.InputError, match=told):
        read_pairs(tmp_path / "pairs.csv")


def test_edited_pairs_are_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A second match lays nothing over pairs that were edited, whether they are given or not."""
    site = js.pairs.simulate_core_and_image(20.0, random_state=3)
    own = [name for name in site.fractures if not name.startswith("true_")]
    home = str(js.write_site(replace(site, fractures=site.fractures[own]), tmp_path / "home"))
    out, match = tmp_path / "out", ["match", home, "--output", str(tmp_path / "out")]
    assert main(match) == 0 and main(match) == 0
    pairs = out / "site" / "pairs.csv"
    edited = pairs.read_text("utf-8").splitlines()[:-2]
    pairs.write_text("\n".join(edited), encoding="utf-8")
    files = {file: file.read_bytes() for file in out.rglob("*") if file.is_file()}
    assert main(match) == 2 and "perhaps with your edits" in capsys.readouterr().err
    assert main([*match, "--pairs", str(pairs)]) == 2
    assert "belongs to the input, which is never overwritten" in capsys.readouterr().err
    assert {file: file.read_bytes() for file in out.rglob("*") if file.is_file()} == files
