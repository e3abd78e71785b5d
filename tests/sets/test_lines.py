"""Every line predicted from the others, by sets fitted without it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2

import jointstats as js
from jointstats.borehole.fractures import Fractures
from jointstats.sets.lines import sets_by_domain


def test_predictions_hold_in_even_rock() -> None:
    """In simulated even rock the 90 % predictions of counts hold about as often as they say."""
    held = []
    for seed in range(4):
        found = js.analyse(js.simulate_site(random_state=40 + seed), 3, shape="round", domains="none").left_out
        assert found is not None
        held += found.to_frame()["held"].tolist()
    # 48 intervals that share sites: twice the standard error of independent ones at each side.
    assert 0.80 < np.mean(held) <= 1.0


def test_a_line_is_predicted_without_its_own_fractures() -> None:
    """Fractures added to one hole change no prediction of that hole, only what it is held against."""
    site = js.simulate_site(random_state=3)
    result = js.analyse(site, 3, shape="round", domains="none")
    found = result.left_out
    assert found is not None
    frame = found.to_frame().set_index(["hole", "set"])
    counts = Fractures(result.fractures).fitted.table["hole"].value_counts()
    for line in found.lines:
        assert 0.5 * counts[line] < frame.loc[(line, "all"), "n"] <= counts[line]
    own = site.fractures["hole"] == "H1"
    half = site.fractures[~own | (np.arange(len(own)) % 2 == 0)]
    less = js.analyse(
        js.Site(**{**vars(site), "fractures": half.reset_index(drop=True)}),
        3,
        shape="round",
        domains="none",
    ).left_out
    assert less is not None
    again = less.to_frame().set_index(["hole", "set"])
    assert again.loc[("H1", "all"), "n"] < 0.7 * frame.loc[("H1", "all"), "n"]
    for low_high in ("low", "high", "mean"):
        before, after = (one.loc[("H1", "all"), low_high] for one in (frame, again))
        assert abs(after - before) <= 0.02 * before + 1


def test_one_line_cannot_be_predicted() -> None:
    """One hole, or no set, gives no prediction."""
    site = js.simulate_site(holes=[(0, 60, 80)], random_state=1)
    assert js.analyse(site, 1, shape="round").left_out is None


def test_the_sets_of_one_domain_are_those_of_the_search() -> None:
    """P32 of a domain times its exposure is the number expected; the interval is that of the count."""
    site = js.simulate_site(random_state=1)
    result = js.analyse(site, 3, shape="round")
    assert len(result.domains) == 1
    table = sets_by_domain(result.domains, result.sampling, 0.95)
    assert table["n_expected"].sum() == pytest.approx(result.counts.in_a_set, rel=0.1)
    low = chi2.ppf(0.025, 2 * table["n_expected"]) / 2 * table["p32_per_m"] / table["n_expected"]
    assert table["p32_low_per_m"].to_numpy() == pytest.approx(low.to_numpy(), rel=1e-6)
    assert np.sort(table["dip_deg"]) == pytest.approx(np.sort([one.dip_deg for one in result.sets]), abs=2.0)
