"""Condition as people write it: ranges, limits and terms are intervals; unknown words are told once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import SiteError
from jointstats.sets.set_condition import condition_of_sets

HOLES = pd.DataFrame({"hole": ["B"], "trend_deg": 0, "plunge_deg": 90, "length_m": 100})
#: What may stand in a cell of aperture_mm → its two ends, mm.
WRITTEN = {
    "0.5": (0.5, 0.5),
    "0": (0, 0),
    "~2": (2, 2),
    "ca. 2": (2, 2),
    "<0.5": (0, 0.5),
    "up to 3": (0, 3),
    ">10": (10, np.inf),
    "10+": (10, np.inf),
    "2-3": (2, 3),
    "2 – 3 mm": (2, 3),
    "0.1 to .3": (0.1, 0.3),
    "tight": (0.1, 0.25),
    "Very Tight": (0, 0.1),
    "cavernous": (1000, np.inf),
    "hairline": (0, 0.05),
    "": (np.nan, np.nan),
}


def folder_of(folder: Path, column: str, cells: list[str], terms: str = "") -> Path:
    """A site with one hole and these cells in a column of fractures."""
    HOLES.to_csv(folder / "holes.csv", index=False)
    rows = pd.DataFrame({"hole": "B", "depth_m": np.arange(len(cells)) + 1.0, column: cells})
    rows.to_csv(folder / "fractures.csv", index=False)
    (folder / "terms.csv").write_text(f"column,word,term\ntype,zz,joint\n{terms}")
    return folder


def test_an_aperture_is_read_as_it_is_written(tmp_path: Path) -> None:
    """Numbers stay numbers; limits, ranges, ISRM terms and own words become two ends."""
    terms = "aperture_mm,hairline,<0.05\n"
    folder = folder_of(tmp_path, "aperture_mm", list(WRITTEN), terms)
    site = js.read_site(folder)
    for read in (site, js.read_site(js.write_site(site, tmp_path / "again"))):
        table = read.fractures
        for row, (text, (low, high)) in enumerate(WRITTEN.items()):
            told = table.iloc[row]
            if low == high or text == "":
                np.testing.assert_equal(told["aperture_mm"], float(low))
                assert np.isnan(told["aperture_low_mm"])
                continue
            assert np.isnan(told["aperture_mm"])
            assert told["aperture_low_mm"] == low
            np.testing.assert_equal(
                told["aperture_high_mm"], np.nan if np.isinf(high) else float(high)
            )
    assert read == site


def test_what_says_no_number_is_one_fault_however_often_it_stands(tmp_path: Path) -> None:
    """Eighty cells of one unknown word are one line, with the nearest term and the way out."""
    cells = ["tigth"] * 80 + ["-1", "3-2"]
    with pytest.raises(SiteError) as caught:
        js.read_site(folder_of(tmp_path, "aperture_mm", cells))
    told = [str(fault) for fault in caught.value.faults]
    assert len(told) == 3
    assert told[0].startswith("fractures.csv, row 2, column aperture_mm: 'tigth': an aperture is a")
    assert "80 rows: 2, 3, 4, 5, 6, …" in told[0]
    assert "the nearest term is 'tight'; say what is meant in the table terms" in told[0]


def test_intervals_fall_into_classes_or_between_two(tmp_path: Path) -> None:
    """A range within one ISRM class counts there; one over an end counts as the two classes."""
    cells = ["0.12-0.2", "<0.1", "0.3-3", ">1200", "0.05"]
    site = js.read_site(folder_of(tmp_path, "aperture_mm", cells))
    table = site.fractures.assign(set="J1", status="in a set")
    terms = condition_of_sets(table).set_index("term")["n"].to_dict()
    assert terms == {
        "very tight": 2,
        "tight": 1,
        "partly open to moderately wide": 1,
        "cavernous": 1,
    }
    # In the order of the scale, not of the counts.
    assert list(terms)[:2] == ["very tight", "tight"]


def test_unknown_words_are_listed_once_with_the_nearest_term(tmp_path: Path) -> None:
    """`caly` in three rows is one sentence; words of the user's own table are known."""
    cells = ["clay", "caly", "caly", "caly", "gouge", "red dust"]
    terms = "infilling,Red Dust,iron oxide\n"
    site = js.read_site(folder_of(tmp_path, "infilling", cells, terms))
    assert site.unread == (
        "fractures.csv, column infilling: 'caly' (3 rows: 3, 4, 5) is no known term and counts as "
        "one of its own; the nearest term is 'clay'; say so in the table terms",
    )
    table = site.fractures.assign(set="J1", status="in a set")
    counted = condition_of_sets(table, known=site.words).set_index("term")["n"]
    assert counted.to_dict() == {"caly": 3, "clay": 1, "gouge": 1, "iron oxide": 1}


def test_the_width_of_a_zone_is_asked_about(tmp_path: Path) -> None:
    """An aperture above a metre is not passed on without a word."""
    site = js.read_site(folder_of(tmp_path, "aperture_mm", ["2058", "3"]))
    assert any("more than 1 m in row 2: is the width of a zone meant" in one for one in site.unread)


def test_inches_are_inches_in_ranges_too(tmp_path: Path) -> None:
    """Numbers follow the heading's unit; a term is what it is."""
    site = js.read_site(folder_of(tmp_path, "aperture_in", ["1", "1-2", "tight"]))
    table = site.fractures
    assert table["aperture_mm"][0] == pytest.approx(25.4)
    np.testing.assert_allclose(table["aperture_low_mm"][1:], [25.4, 0.1])
    np.testing.assert_allclose(table["aperture_high_mm"][1:], [50.8, 0.25])
