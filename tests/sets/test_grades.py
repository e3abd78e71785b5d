"""Small version of the benchmark of grades: what high confidence is worth in known rock."""

from __future__ import annotations

import numpy as np

from benchmarks.grades import Memberships, calibration, table


def test_high_confidence_is_right_in_even_rock() -> None:
    """In even, round rock well-sampled sets are mostly called high, and rightly."""
    (row,), said = table(2, 11, "even, round")
    assert row["high of them"] >= 0.6
    assert row["right of high"] >= 0.95
    assert 0.9 < said.right.mean() <= 1.0


def test_calibration_counts_what_was_said() -> None:
    """Each bin has the mean of what was said and the share that was so."""
    found = Memberships(np.array([0.85, 0.86, 0.99]), np.array([True, False, True]))
    rows = {one["membership"]: one for one in calibration(found)}
    assert rows["0.8 to 0.9"]["n"] == 2
    assert rows["0.8 to 0.9"]["right"] == 0.5
    assert rows["0.98 to 1"]["right"] == 1.0
