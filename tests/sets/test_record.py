"""The files beside the page hold every set and every fracture."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.export.json_rules import broken_rules
from jointstats.export.load import schema
from jointstats.line.spacing_terms import spacing_term
from jointstats.report.first import set_table
from jointstats.report.terminal import sets_text
from jointstats.sets.joint_set import JointSet
from jointstats.sets.record import fractures_csv, sets_csv, sets_json
from jointstats.sets.result import SiteAnalysis
from jointstats.tables.csv_text import as_written
from jointstats.words import NOTICE, number

LINE = ["trend_deg", "plunge_deg"]


def test_fractures_keep_their_columns_and_order(result: SiteAnalysis) -> None:
    """Every input column comes back as it was, in the same order of rows, then what was added."""
    table = pd.read_csv(io.StringIO(fractures_csv(result)), dtype={"depth_m": str})
    given = result.site.fractures
    assert list(table.columns[: len(given.columns)]) == list(given.columns)
    assert [float(one) for one in table["depth_m"]] == given["depth_m"].tolist()
    remarks = [as_written(remark) for remark in table["remark"].fillna("")]
    assert remarks == given["remark"].tolist()
    assert {"true_dip_deg", "true_dip_direction_deg", "set", "membership", "status"} <= set(table)


def test_sets_csv_agrees_with_the_result(result: SiteAnalysis) -> None:
    """One row a set, to six digits."""
    table = pd.read_csv(io.StringIO(sets_csv(result)))
    assert table["set"].tolist() == [one.name for one in result.sets]
    assert table["p32_per_m"].tolist() == pytest.approx(
        [one.p32_per_m for one in result.sets], rel=1e-5
    )


def _censored_mean(result: SiteAnalysis, one: JointSet) -> float:
    """Logged metres of straight holes along the mean normal, over the fractures and one more."""
    metres, n = 0.0, 0
    for hole in result.site.holes:
        trend, plunge = np.radians(result.holes.set_index("hole").loc[hole.name, LINE].to_list())
        line = [np.sin(trend) * np.cos(plunge), np.cos(trend) * np.cos(plunge), -np.sin(plunge)]
        # Fractures without an orientation are missing, so spacings count by the share oriented.
        shares = result.observation.shares.set_index("hole").loc[hole.name]
        for length in hole.logged:
            seen = (length.to_m - length.from_m) * shares["oriented_share"]
            metres += seen * abs(float(np.dot(line, one.mean)))
        own = result.fractures[result.fractures["hole"] == hole.name]
        n += int((own["set"] == one.name).sum())
    return metres / (n + 1)


def test_spacing_is_one_number_wherever_it_stands(result: SiteAnalysis) -> None:
    """Terminal, CSV, JSON, hole table and page give the censored mean of all fractures, by hand."""
    means = [_censored_mean(result, one) for one in result.sets]
    for table in (pd.read_csv(io.StringIO(sets_csv(result))), result.to_frame()):
        assert table["spacing_mean_m"].tolist() == pytest.approx(means, rel=1e-5)
    entries = json.loads(sets_json(result))["sets"]
    assert [one["spacing_mean_m"] for one in entries] == pytest.approx(means, rel=1e-6)
    rows = sets_text(result).splitlines()[1 : len(means) + 1]
    assert [row.split()[-3] for row in rows] == [number(mean, 2) for mean in means]
    cells = [cells[2].main for _, cells in set_table(result).rows[:-2]]
    assert cells == [f"{number(mean, 2)} m" for mean in means]
    for one, mean in zip(result.sets, means, strict=True):
        assert one.spacing_term == spacing_term(mean)


@pytest.mark.parametrize("name", ["result", "vertical", "scant", "empty"])
def test_json_follows_its_schema(name: str, request: pytest.FixtureRequest) -> None:
    """Rich, blind and empty results all fit the published schema, and hold no NaN."""
    whole = json.loads(sets_json(request.getfixturevalue(name)))
    assert broken_rules(whole, schema(), "sets") == []


def test_json_counts_add_up(result: SiteAnalysis) -> None:
    """The counts of what became of the fractures add up to their total."""
    counts = json.loads(sets_json(result))["counts"]
    assert counts.pop("total") == sum(counts.values())


def test_sets_that_the_analyst_gave_can_be_written(result: SiteAnalysis, tmp_path: Path) -> None:
    """A given set, and a result fitted again without a set, are reported with what was asked."""
    site = result.site
    held = js.analyse(site, 3, given=[js.GivenSet(35, 150, name="bedding")])
    asked = json.loads(sets_json(held))["settings"]["given"]
    assert [(one["dip_deg"], one["dip_direction_deg"], one["name"]) for one in asked] == [
        (35.0, 150.0, "bedding")
    ]
    fewer = js.refit_without(result, result.sets[-1].name)
    for one in (held, fewer):
        whole = json.loads(sets_json(one))
        assert broken_rules(whole, schema(), "sets") == []
    assert js.write_report(fewer, tmp_path).exists()
    assert len(whole["settings"]["given"]) == len(fewer.sets)


def test_every_file_carries_cautions_and_notice(result: SiteAnalysis) -> None:
    """The JSON has both, the tables have the notice, and each set its own cautions."""
    whole = json.loads(sets_json(result))
    assert whole["notice"] == NOTICE
    assert [one["text"] for one in whole["cautions"]] == [one.text for one in result.cautions]
    assert all("use_for_design" not in one for one in whole["sets"])
    sets = pd.read_csv(io.StringIO(sets_csv(result)))
    assert set(sets["notice"]) == {NOTICE}
    assert sets["confidence"].tolist() == [result.confidence_in(name) for name in sets["set"]]
    assert pd.read_csv(io.StringIO(fractures_csv(result)))["notice"][0] == NOTICE
    printed = " ".join(sets_text(result).split())
    assert NOTICE in printed
    assert all(" ".join(one.text.split()) in printed for one in result.cautions)
    assert max(map(len, sets_text(result).splitlines())) <= 80
