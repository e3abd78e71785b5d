"""Analyses that the tests of the report share: plenty of data, one blind hole, next to nothing."""

from __future__ import annotations

import functools
from dataclasses import replace

import matplotlib
import numpy as np
import pytest

import jointstats as js
from jointstats import plots
from jointstats.borehole.hole import LoggedInterval
from jointstats.borehole.site import Site
from jointstats.report.figures import Picture, picture
from jointstats.report.page import report_pages
from jointstats.sets.result import SiteAnalysis

matplotlib.use("Agg")


def fracture_subset(site: Site, n: int) -> Site:
    """The same site with its first n fractures."""
    return replace(site, fractures=site.fractures.head(n).reset_index(drop=True))


@pytest.fixture(scope="session")
def result() -> SiteAnalysis:
    """Three holes, three sets; a gap in the first log, some fractures without orientation."""
    return _rich()


@functools.cache  # a fixture that other folders take over is made anew in each
def _rich() -> SiteAnalysis:
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
    return report_pages(result)["index.html"]


@pytest.fixture(scope="session")
def record(result: SiteAnalysis) -> str:
    """The record of the rich result."""
    return report_pages(result)["record.html"]


@pytest.fixture(scope="session")
def svg(result: SiteAnalysis) -> str:
    """The stereonet of the rich result as it stands in a page, under the name "net"."""
    return net_picture(result).svg


def net_picture(result: SiteAnalysis) -> Picture:
    """A stereonet with a finding that must be escaped."""
    return picture(
        "net",
        (4, 4),
        lambda figure: plots.stereonet(result, plots.net_axes(figure)),
        finding='A "net" <of> sets.',
    )


@pytest.fixture
def words_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages without their drawings, where a test is about the words."""

    def undrawn(name: str, size: tuple, draw: object, *, finding: str, caption: str = "") -> Picture:
        return Picture("<svg></svg>", finding, caption)

    for name in ("condition", "directions", "first", "fit", "spacing", "unseen", "where"):
        monkeypatch.setattr(f"jointstats.report.{name}.picture", undrawn)


@pytest.fixture(scope="session")
def vertical_html(vertical: SiteAnalysis) -> str:
    """The page of the one vertical hole."""
    return report_pages(vertical)["index.html"]


@pytest.fixture(scope="session")
def vertical() -> SiteAnalysis:
    """One vertical hole: blind to steep planes of every strike."""
    return _upright()


@functools.cache
def _upright() -> SiteAnalysis:
    return js.analyse(js.simulate_site(holes=[(0.0, 90.0, 60.0)], random_state=3), random_state=0)


@pytest.fixture(scope="session")
def scant() -> SiteAnalysis:
    """Three fractures."""
    return js.analyse(fracture_subset(js.simulate_site(random_state=1), 3), random_state=0)


@pytest.fixture(scope="session")
def empty() -> SiteAnalysis:
    """Not one fracture."""
    return js.analyse(fracture_subset(js.simulate_site(random_state=1), 0), random_state=0)
