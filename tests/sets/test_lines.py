"""Every line predicted from the others, by sets fitted without it."""

from __future__ import annotations

import numpy as np

import jointstats as js
from jointstats.borehole.fractures import Fractures


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
