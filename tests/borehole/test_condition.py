"""Words of condition, classes of numbers, and shares with exact intervals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest

import jointstats as js
from jointstats.errors import InputError
from jointstats.intervals import share_interval


def test_words_become_terms_and_none_is_lost() -> None:
    """Case and spaces do not matter; words without a term stay; empty cells stay empty."""
    got = js.borehole.condition_terms([" Rough,  Planar", "smooth", None, "wavy", ""], "roughness")
    assert got.tolist() == ["rough planar", "smooth", "", "wavy", ""]
    assert js.borehole.condition_terms(["A", "b"], "type", words={"a": "joint"}).tolist() == ["joint", "b"]


def test_numbers_fall_into_the_class_above_at_an_end() -> None:
    """A persistence of 3 m is medium, of 20 m very high; nothing is left out at the top."""
    got = js.borehole.condition_terms([0.5, 3, 19.9, 20, 1e9, np.inf, np.nan], "persistence_m")
    assert got.tolist() == ["very low", "medium", "high", "very high", "very high", "very high", ""]
    assert js.borehole.condition_terms([0, 0.1, 5000], "aperture_mm").tolist() == [
        "very tight",
        "tight",
        "cavernous",
    ]


@pytest.mark.parametrize(("count", "n"), [(0, 7), (3, 7), (7, 7), (40, 90)])
def test_the_interval_of_a_share_is_that_of_scipy(count: int, n: int) -> None:
    """Both ends agree with scipy's exact binomial interval."""
    exact = binomtest(count, n).proportion_ci(0.9, method="exact")
    np.testing.assert_allclose(share_interval(count, n, 0.9), exact, atol=1e-12)


def test_the_summary_counts_each_set() -> None:
    """Counts, what was described and shares add up, set by set."""
    table = pd.DataFrame(
        {
            "set": ["J1", "J1", "J1", "J2", "", None],
            "infilling": ["clay", "Clean", "", "none", "clay", "clay"],
            "aperture_mm": [0.3, 0.3, np.nan, 3, 1, 1],
        }
    )
    got = js.borehole.condition_summary(table)
    one = got[(got["set"] == "J1") & (got["column"] == "infilling")]
    assert one[["term", "n", "described", "total"]].to_numpy().tolist() == [
        ["clay", 1, 2, 3],
        ["none", 1, 2, 3],
    ]
    assert got.groupby(["set", "column"])["share"].sum().round(12).eq(1).all()
    assert ((got["low"] <= got["share"]) & (got["share"] <= got["high"])).all()
    other = js.borehole.condition_summary(table, words={"infilling": {"clay": "soft"}})
    assert "soft" in set(other["term"])


def test_degenerate_input() -> None:
    """No columns of condition give an empty frame; wrong arguments are refused."""
    empty = js.borehole.condition_summary(pd.DataFrame({"set": ["J1"]}))
    assert len(empty) == 0
    assert "share" in empty
    with pytest.raises(InputError, match="no column 'set'"):
        js.borehole.condition_summary(pd.DataFrame({"a": [1]}))
    with pytest.raises(InputError, match="confidence must lie between 0 and 1"):
        js.borehole.condition_summary(pd.DataFrame({"set": ["J1"]}), confidence=1)
    with pytest.raises(InputError, match="aperture_mm must hold numbers or empty cells"):
        js.borehole.condition_terms(["wide"], "aperture_mm")
