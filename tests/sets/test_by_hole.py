"""Each set as each hole alone gives it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2

from jointstats.sets.by_hole import set_by_hole
from jointstats.sets.result import SiteAnalysis


def test_p32_of_a_hole_is_its_count_over_its_equivalent_length(result: SiteAnalysis) -> None:
    """Counts add up to the set, lengths to the exposure; intervals are Garwood's from scipy."""
    for one in result.sets:
        table = set_by_hole(result, one)
        assert table["n"].sum() == one.n
        assert table["exposure_m"].sum() == pytest.approx(one.exposure_m, rel=1e-6)
        for row in table.to_dict("records"):
            low = chi2.ppf(0.025, 2 * row["n"]) / 2 if row["n"] else 0.0
            high = chi2.ppf(0.975, 2 * row["n"] + 2) / 2
            assert row["p32_low_per_m"] == pytest.approx(low / row["exposure_m"])
            assert row["p32_high_per_m"] == pytest.approx(high / row["exposure_m"])


def test_means_of_holes_of_one_rock_lie_near_that_of_the_whole(result: SiteAnalysis) -> None:
    """In rock simulated as one the cones of the holes reach the mean of the set, nearly always."""
    rows = [row for one in result.sets for row in set_by_hole(result, one).to_dict("records")]
    known = [row for row in rows if np.isfinite(row["angle_deg"])]
    assert len(known) >= 6
    assert np.mean([row["angle_deg"] <= 1.5 * row["cone_deg"] for row in known]) > 0.8
