"""Whether fractures without an orientation differ from the rest; scipy's rank test is the judge."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import mannwhitneyu

from jointstats.borehole.fractures import Fractures
from jointstats.observed.loss_tests import _ranked, loss_tests


def test_one_hole_is_the_rank_test_of_two_samples() -> None:
    """In one hole the p-value is that of scipy's rank sum test with ties, without continuity."""
    rng = np.random.default_rng(1)
    values = rng.integers(0, 6, 60).astype(float)
    lost = rng.random(60) < 0.4
    values[lost] += rng.integers(0, 2, lost.sum())
    share, pvalue, n = _ranked(values, lost, np.full(60, "A"))
    judge = mannwhitneyu(values[lost], values[~lost], use_continuity=False, method="asymptotic")
    assert pvalue == pytest.approx(judge.pvalue)
    assert share == pytest.approx(judge.statistic / (lost.sum() * (~lost).sum()))
    assert n == lost.sum()


def _table(rng: np.random.Generator, chance: tuple[float, float]) -> Fractures:
    """Two holes, each with a swarm in which the orientation is lost by another chance."""
    even, swarm = rng.uniform(0, 50, (2, 40)), rng.uniform(20, 24, (2, 40))
    depth = np.hstack([even, swarm]).ravel()
    within = (depth > 20) & (depth < 24)
    lost = rng.random(160) < np.where(within, *chance[::-1])
    status = np.where(lost, "not oriented", "in the fit")
    hole = np.repeat(["A", "B"], 80)
    return Fractures(
        pd.DataFrame({"hole": hole, "depth_m": depth, "status": status, "hole_angle_deg": np.nan})
    )


def test_loss_in_broken_rock_is_found_and_chance_is_not() -> None:
    """Lost three times as often in swarms is found in nearly all of 40 tables, chance in few."""
    rng = np.random.default_rng(2)
    found = [loss_tests(_table(rng, (0.2, 0.6)))[0] for _ in range(40)]
    assert sum(one.differs and one.larger > 0.5 for one in found) >= 38
    assert "closer together" in found[0].sentence
    even = [loss_tests(_table(rng, (0.4, 0.4)))[0] for _ in range(40)]
    # Binomial of 40 at 5 %: more than 6 has a chance below one in 100.
    assert sum(one.differs for one in even) <= 6
