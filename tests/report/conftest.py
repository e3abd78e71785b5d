"""Analyses that the tests of the report share: plenty of data, one blind hole, next to nothing."""

from __future__ import annotations

from dataclasses import replace

import matplotlib
import numpy as np
import pytest

import jointstats as js
from jointstats.borehole.site import LoggedInterval, Site
from jointstats.report.page import page_html
from jointstats.sets.result import SiteAnalysis

matplotlib.use("Agg")


def fracture_subset(site: Site, n: int) -> Site:
    """The same site with its first n fractures."""
    return replace(site, fractures=site.fractures.head(n).reset_index(drop=True))


@pytest.fixture(scope="session")
def result() -> SiteAnalysis:
    """Three holes, three sets; a gap in the first log, some fractures without orientation."""
    site = js.simulate_site(random_state=1)
    first = site.holes[0]
    logged = (LoggedInterval(3.0, 40.0, "image"), LoggedInterval(45.0, first.length_m, "image"))
    fractures = site.fractures
    depth = fractures["depth_m"]
    lost = (fractures["hole"] == first.name) & ((depth < 3) | ((depth > 40) & (depth < 45)))
    fractures = fractures[~lost].reset_index(drop=True)
    fractures.loc[::40, ["dip_deg", "dip_direction_deg"]] = np.nan
    fractures["remark"] = ["<b>&", "=1+1"] + [""] * (len(fractures) - 2)
    holes = (replace(first, name="<script>alert(1)</script>", logged=logged), *site.holes[1:])
    fractures["hole"] = fractures["hole"].replace(first.name, holes[0].name)
    return js.analyse(replace(site, holes=holes, fractures=fractures), random_state=0)


@pytest.fixture(scope="session")
def html(result: SiteAnalysis) -> str:
    """The page of the rich result."""
    return page_html(result)


@pytest.fixture(scope="session")
def vertical() -> SiteAnalysis:
    """One vertical hole: blind to steep planes of every strike."""
    return js.analyse(js.simulate_site(holes=[(0.0, 90.0, 60.0)], random_state=3), random_state=0)


@pytest.fixture(scope="session")
def scant() -> SiteAnalysis:
    """Three fractures."""
    return js.analyse(fracture_subset(js.simulate_site(random_state=1), 3), random_state=0)


@pytest.fixture(scope="session")
def empty() -> SiteAnalysis:
    """Not one fracture."""
    return js.analyse(fracture_subset(js.simulate_site(random_state=1), 0), random_state=0)
