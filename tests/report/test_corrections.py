"""Corrections of the readings on the page and in the record."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

import jointstats as js
from jointstats.report.corrections import corrections_line, section
from jointstats.report.logged import section as logged


@pytest.fixture(scope="module")
def turned() -> js.SiteAnalysis:
    """A site read on the wall, with rotations of the tool of which one is a slip."""
    site = js.simulate_site(random_state=1)
    fractures = site.fractures.rename(
        columns={"dip_deg": "image_dip_deg", "dip_direction_deg": "image_azimuth_deg"}
    )
    rolls = pd.DataFrame({"hole": "H2", "depth_m": [0.0, 20, 40, 60], "roll_deg": [30.0, 40, 90, 60]})
    settings = replace(site.settings, reference="low side")
    rolled = replace(site, fractures=fractures, tables={"rolls": rolls}, settings=settings,
                     holes=tuple(replace(hole, reference="low side") for hole in site.holes))
    holes = tuple(hole for hole in rolled.holes if hole.name == "H2")
    own = fractures[fractures["hole"] == "H2"].reset_index(drop=True)
    return js.analyse(replace(rolled, holes=holes, fractures=own), n_sets=0)


def test_the_page_says_what_was_applied_and_the_record_draws_it(turned: js.SiteAnalysis) -> None:
    """One sentence in the report; a table and the residuals of the stations in the record."""
    line = corrections_line(turned)
    n = len(turned.fractures)
    assert line.startswith("Corrections: tool rotations of 3")
    assert f"applied to {n} picks on the wall, turning their poles by" in line
    assert line in logged(turned).text
    made = section(turned)
    assert made is not None
    assert [row[:2] for row in made.tables[0].rows] == [("Rotation of the tool", str(n))]
    assert [one.finding for one in made.pictures] == [
        "Rotations of the tool less what the stations before and after each would give."
    ]


def test_without_corrections_nothing_is_said(result: js.SiteAnalysis) -> None:
    """True planes of true north need no section."""
    assert corrections_line(result) == ""
    assert section(result) is None
