"""Condition of each set: counted once, words kept, nothing made up."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

import jointstats as js
from jointstats.sets.set_condition import condition_of_sets

COLUMNS = ["set", "column", "term", "n", "described", "total", "share", "low", "high"]


@pytest.fixture(scope="module")
def result() -> js.SiteAnalysis:
    return js.analyse(js.simulate_site(random_state=1), n_sets=2)


def test_condition_of_a_result_counts_its_fractures(result: js.SiteAnalysis) -> None:
    """Counts in each set are those of the table of fractures, and shares are of the described."""
    words = ["calcite", "clean", "", "odd stuff", "Calcite"]
    table = result.fractures.assign(infilling=[words[i % 5] for i in range(len(result.fractures))])
    found = replace(result, fractures=table).condition
    assert found.columns.tolist() == COLUMNS
    for name, own in found.groupby("set"):
        mine = table[table["set"] == name]["infilling"].str.lower()
        assert own.set_index("term")["n"].to_dict() == {
            "calcite": (mine == "calcite").sum(),
            "none": (mine == "clean").sum(),
            "odd stuff": (mine == "odd stuff").sum(),
        }
        assert own["share"].sum() == pytest.approx(1.0)
        assert (own["described"] == (mine != "").sum()).all()
        assert (own["total"] == len(mine)).all()
        assert ((own["low"] < own["share"]) & (own["share"] < own["high"])).all()


def test_nothing_described_gives_no_row(result: js.SiteAnalysis) -> None:
    """Without columns of condition, or with empty ones, the table is empty and has its columns."""
    assert result.condition.columns.tolist() == COLUMNS
    assert result.condition.empty
    blank = result.fractures.assign(oxidation="", aperture_mm=float("nan"))
    assert condition_of_sets(blank).empty


def test_a_second_sight_does_not_count() -> None:
    """A fracture that another method saw again is left out."""
    table = pd.DataFrame(
        {"set": "J1", "status": ["in a set", "other method"], "oxidation": ["none", "strong"]}
    )
    assert condition_of_sets(table)["term"].tolist() == ["none"]


def test_words_among_numbers_are_kept() -> None:
    """A persistence in words is counted as written, beside numbers as written."""
    table = pd.DataFrame({"set": "J1", "status": "in a set", "persistence_m": ["High", "4", ""]})
    assert sorted(condition_of_sets(table)["term"]) == ["4", "high"]


TYPES = ("joint", "quartz vein", "drilling break", "foliation", "")


def test_what_drilling_made_counts_in_nothing() -> None:
    """By default all natural classes enter: the figures are those of the tables without the rest."""
    site = js.simulate_site(random_state=1)
    table = site.fractures.assign(type=[TYPES[i % 5] for i in range(len(site.fractures))])
    result = js.analyse(replace(site, fractures=table), n_sets=2)
    bare = table[table["type"] != "drilling break"].reset_index(drop=True)
    alone = js.analyse(replace(site, fractures=bare), n_sets=2)
    assert result.counts.not_included == len(table) - len(bare)
    pd.testing.assert_frame_equal(result.to_frame(), alone.to_frame())
    pd.testing.assert_frame_equal(result.holes, alone.holes)
    left_out = result.fractures[result.fractures["type"] == "drilling break"]
    assert set(left_out["status"]) == {"not included"}
    assert set(left_out["set"]) == {""}


def test_the_analyst_says_which_classes_enter() -> None:
    """With joints alone the sets are joint sets; with others they are sets of discontinuities."""
    site = js.simulate_site(random_state=1)
    table = site.fractures.assign(type=[TYPES[i % 5] for i in range(len(site.fractures))])
    mixed = js.analyse(replace(site, fractures=table), n_sets=2)
    assert mixed.set_noun == "set of discontinuities"
    counts = mixed.classes.groupby("set")["n"].sum()
    assert all(counts[one.name] == one.n for one in mixed.sets)
    assert set(mixed.classes["discontinuity_class"]) == {"joint", "vein", "foliation", "not stated"}
    joints = js.analyse(mixed.site, n_sets=2, include=["joint"])
    assert joints.set_noun == "joint set"
    assert joints.counts.not_included == int((table["type"] != "joint").sum())
    assert joints.settings["include"] == ("joint",)
    assert js.refit_without(joints, "J1").counts.not_included == joints.counts.not_included
