"""The report reads the original tables with the pairs as the geologist has edited them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pandas as pd

import jointstats as js
from jointstats.cli import main


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
