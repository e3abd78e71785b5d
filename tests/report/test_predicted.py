"""The section that predicts each hole from the others."""

from __future__ import annotations

import pytest

from jointstats.report import predicted
from jointstats.sets.result import SiteAnalysis

pytestmark = pytest.mark.usefixtures("words_only")


def test_each_hole_is_held_against_its_prediction(result: SiteAnalysis) -> None:
    """A row a hole, a column a set; what lies outside is marked, and the count of those held is told."""
    found = predicted.section(result)
    assert found is not None and result.left_out is not None
    frame = result.left_out.to_frame()
    alone = frame[frame["set"] != "all"]
    assert found.text[0].startswith(
        f"Each hole was predicted from the others: {int(alone['held'].sum())} of {len(alone)}"
    )
    (table,) = found.tables
    assert [row[0] for row in table.rows] == list(result.left_out.lines)
    assert table.columns == ("Hole", *result.left_out.names, "all")
    marked = sum(cell.endswith("outside") for row in table.rows for cell in row[1:])
    assert marked == int((~frame["held"]).sum())


def test_one_hole_predicts_nothing(vertical: SiteAnalysis) -> None:
    """With one hole there is no such section."""
    assert vertical.left_out is None
    assert predicted.section(vertical) is None
