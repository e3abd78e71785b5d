"""The report is the same whatever matplotlib, threads and directories the user has."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import matplotlib
import pytest

import jointstats as js
from jointstats.report.page import report_pages
from jointstats.sets.result import SiteAnalysis


def test_pages_made_in_threads_are_the_same(scant: SiteAnalysis) -> None:
    """Four threads that draw at one time make four times the bytes of one."""
    alone = report_pages(scant)
    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(report_pages, [scant] * 4))
    assert all(one == alone for one in made)


def test_the_settings_of_the_user_come_back(scant: SiteAnalysis) -> None:
    """After the report the settings of matplotlib are what they were, and no figure is left."""
    from matplotlib import pyplot

    before, figures = dict(matplotlib.rcParams), pyplot.get_fignums()
    report_pages(scant)
    assert dict(matplotlib.rcParams) == before and pyplot.get_fignums() == figures


def _report(place: Path, **environment: str) -> dict[str, bytes]:
    holes = [(0.0, 90.0, 30.0), (315.0, 55.0, 30.0)]
    site = js.write_site(js.simulate_site(holes=holes, random_state=1), place / "site")
    out = place / "out"
    done = subprocess.run(
        [sys.executable, "-m", "jointstats.cli", "report", str(site), "--sets", "1"]
        + ["--output", str(out)],
        capture_output=True,
        text=True,
        env={**os.environ, **environment},
        timeout=600,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return {file.name: file.read_bytes() for file in out.iterdir()}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    return _report(tmp_path_factory.mktemp("plain"))


RC = """text.usetex: True
font.family: serif
svg.fonttype: path
savefig.dpi: 7
axes.formatter.use_locale: True
lines.linewidth: 9
figure.constrained_layout.use: True
axes.prop_cycle: cycler('color', ['k'])
backend: tkagg
"""


def test_an_odd_matplotlib_changes_nothing(plain: dict[str, bytes], tmp_path: Path) -> None:
    """A settings file with TeX and thick lines, an odd backend, no home, another time zone."""
    (tmp_path / "matplotlibrc").write_text(RC, encoding="utf-8")
    odd = {"MATPLOTLIBRC": str(tmp_path / "matplotlibrc"), "MPLBACKEND": "odd", "TZ": "Asia/Tokyo"}
    odd |= {"HOME": "/proc/none", "MPLCONFIGDIR": "/proc/none", "LC_ALL": "C"}
    assert _report(tmp_path, **odd) == plain
