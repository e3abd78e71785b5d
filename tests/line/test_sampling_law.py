"""The law of sampling: counts by angle to the hole hold where it holds, and part where it does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.line.sampling_law import law_sentence


def test_all_fractures_of_the_fit_are_counted_and_expected() -> None:
    """Observed counts sum to the fractures of the fit, expected ones to nearly as many."""
    result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    table = result.by_angle
    fitted = result.counts.in_a_set + result.counts.unassigned
    assert table["n"].sum() == fitted
    assert table["expected"].sum() == pytest.approx(fitted, rel=0.01)
    assert "consistent with the law" in law_sentence(table)


def test_false_alarms_are_rare_and_missed_oblique_fractures_are_told() -> None:
    """Of 12 sound sites at most one fails; with two thirds of the oblique ones unseen most do."""
    alarms, told = 0, 0
    for seed in range(12):
        site = js.simulate_site([], random_state=seed, background_per_m=2.0)
        sound = js.analyse(site, n_sets=0, domains="none")
        alarms += sound.by_angle["pvalue"].iloc[0] < 0.01
        table = sound.fractures
        oblique = table["hole_angle_deg"].to_numpy() < 35
        lost = oblique & (np.random.default_rng(seed).random(len(table)) < 0.67)
        fewer = replace(site, fractures=site.fractures[~lost].reset_index(drop=True))
        told += js.analyse(fewer, n_sets=0, domains="none").by_angle["pvalue"].iloc[0] < 0.01
    assert alarms <= 1
    assert told >= 8
