"""Recovery and RQD with lost core."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.borehole.spans import Spans
from jointstats.line.recovery import recovery_in_windows


def test_windows_agree_with_a_count_of_millimetres() -> None:
    """Pieces are found again by walking down the core in millimetres, lost lengths being broken."""
    depth = np.sort(np.random.default_rng(2).uniform(0, 20, 90)).round(3)
    logged = Spans([(0.5, 7.25), (9.0, 20.0)])
    table = recovery_in_windows(depth, logged, 20.0, 5.0)
    breaks = set((depth * 1000).round().astype(int)) | {500, 7250, 9000, 20000, *range(0, 20001, 5000)}
    there = np.zeros(20000, dtype=bool)
    there[500:7250] = there[9000:20000] = True
    edges = sorted(breaks)
    sound = np.zeros(20000, dtype=bool)
    for start, end in zip(edges[:-1], edges[1:], strict=True):
        sound[start:end] = there[start] and end - start >= 100
    for row in table.to_dict("records"):
        part = slice(int(row["from_m"] * 1000), int(row["to_m"] * 1000))
        assert row["recovery_percent"] == pytest.approx(100 * there[part].mean(), abs=0.05)
        assert row["rqd_percent"] == pytest.approx(100 * sound[part].mean(), abs=0.05)
