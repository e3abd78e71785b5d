"""No cell that is written can be run by a spreadsheet, and every cell comes back as it was."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pandas as pd
import pytest

import jointstats as js
from jointstats.tables.csv_text import as_written, csv_of

TEXTS = ["=1+1", "+x", "-cmd|' /C calc'!A0", "@SUM(A1)", "\tx", "-", "'", "'=a", "''=a", "a=1"]
TEXTS += ["'quoted'", "-5", "", "=", "Ä", "open, wet", "--", "'-"]


def test_nothing_that_runs_is_written() -> None:
    """Cells and headings that begin with a mark of a formula have an apostrophe before it."""
    table = pd.DataFrame({"=head": TEXTS, "n": range(-3, len(TEXTS) - 3)})
    rows = list(csv.reader(io.StringIO(csv_of(table), newline="")))
    for text in (cell for row in rows for cell in row[:1]):
        assert len(text) < 2 or text[0] not in "=+-@\t\r"
    assert [as_written(row[0]) for row in rows[1:]] == TEXTS
    assert [int(row[1]) for row in rows[1:]] == list(range(-3, len(TEXTS) - 3))


@pytest.mark.parametrize("hole", ["B1", "-B1", "=B1", "'=B1"])
def test_what_is_written_is_read_back(hole: str, tmp_path: Path) -> None:
    """Names of holes, remarks and unknown columns of any text survive a directory of CSV."""
    holes = pd.DataFrame({"hole": [hole], "trend_deg": 1.0, "plunge_deg": 60.0, "length_m": 99.0})
    rows = pd.DataFrame({"hole": hole, "depth_m": range(1, len(TEXTS) + 1), "infilling": TEXTS})
    site = js.Site.from_frames(holes, rows.assign(sample=TEXTS[::-1]).astype({"depth_m": float}))
    again = js.read_site(js.write_site(site, tmp_path / "out"))
    for column in ("hole", "infilling", "sample"):
        assert again.fractures[column].tolist() == site.fractures[column].tolist()
    assert again.holes[0].name == hole
