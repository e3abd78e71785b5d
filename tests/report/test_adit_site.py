"""The invented adit: core, image, spun core, a scanline and a mapped wall, read and reported."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import jointstats as js
from jointstats.report.page import report_pages

ADIT = Path(__file__).resolve().parents[2] / "examples" / "adit_site"


@pytest.mark.usefixtures("words_only")
def test_the_adit_is_read_and_reported() -> None:
    """Its three sets come back with P32 in their intervals, every row is counted once, and the wall agrees."""
    site = js.read_site(ADIT)
    assert [hole.kind for hole in site.holes] == ["borehole", "borehole", "scanline"]
    result = js.analyse(site)
    truth = json.loads((ADIT / "truth.json").read_text("utf-8"))["sets"]
    poles = js.poles_from_dip([one["dip_deg"] for one in truth], [one["dip_direction_deg"] for one in truth])
    assert len(result.sets) == 3
    for one in result.sets:
        near = np.abs(poles @ one.mean)
        assert near.max() > np.cos(np.radians(8))
        p32 = truth[int(near.argmax())]["p32_per_m"]
        assert one.p32_interval[0] < p32 < one.p32_interval[1]
    counts = result.counts
    assert counts.paired > 50 and counts.partly_oriented > 0
    parts = vars(counts).copy()
    assert parts.pop("total") == sum(parts.values()) == len(site.fractures)
    (face,) = result.faces
    assert face.name == "W1" and len(face.mapped.length_m) - face.n_oriented == 3
    page = report_pages(result)["index.html"]
    assert 'id="faces"' in page and "No set has another P32 on a face" in page
    assert "S1" in page
