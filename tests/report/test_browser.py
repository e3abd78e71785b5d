"""The page in a real browser, at the widths of a desk and of a phone; skipped without one.

Set AXE_JS to the path of axe.min.js (package axe-core) to run its accessibility rules as well.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from html import escape, unescape
from pathlib import Path

import pytest

import jointstats as js
from jointstats.report.comparison import comparison_html
from jointstats.report.log_sheet import log_html
from jointstats.report.match import match_html
from jointstats.sets.result import SiteAnalysis

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("chrome")
WIDTHS = (1280, 390)
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--virtual-time-budget=20000",
    "--dump-dom",
)
# Everything is measured inside frames of the wanted widths, since a window has a least width.
_MEASURE = """
// Colours of a mark of J1 and of J2 in every figure that has both, before and after J2 is picked.
function picked(page) {
  const tones = () => [...page.querySelectorAll('figure > svg')].flatMap(svg => {
    const marks = [1, 2].map(n => svg.querySelector(`[style*="fill: var(--set-${n})"]`));
    return marks.every(Boolean) ? [marks.map(mark => getComputedStyle(mark).fill)] : [];
  });
  if (!page.getElementById('pick-2')) return {before: [], after: []};
  const before = tones();
  page.getElementById('pick-2').checked = true;
  const after = tones();
  page.getElementById('pick-0').checked = true;
  return {before, after};
}
async function measured(frame) {
  const page = frame.contentDocument, wide = page.documentElement.clientWidth;
  const past = [], cut = [];
  for (const one of page.querySelectorAll('body *')) {
    if (one.closest('.scroll') && !one.classList.contains('scroll')) continue;
    if ((one.closest('svg') && one.tagName !== 'svg') || one.closest('.skip')) continue;
    const box = one.getBoundingClientRect();
    if (box.width && (box.right > wide + 1 || box.left < -1)) past.push(one.outerHTML.slice(0, 80));
  }
  for (const svg of page.querySelectorAll('svg[role=img]')) {
    const box = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll('text')) {
      const own = text.getBoundingClientRect();
      if (own.left < box.left - 1 || own.right > box.right + 1 || own.bottom > box.bottom + 2)
        cut.push(text.textContent);
    }
  }
  const found = {scroll: page.documentElement.scrollWidth - wide, past, cut,
    drawings: page.querySelectorAll('svg[role=img]').length,
    tones: picked(page),
    requests: frame.contentWindow.performance.getEntriesByType('resource').map(r => r.name)};
  if (window.axe_source) {
    frame.contentWindow.eval(window.axe_source);
    const result = await frame.contentWindow.axe.run(page);
    found.axe = result.violations.map(v => v.id + ': ' + v.nodes.length);
  }
  return found;
}
addEventListener('load', async () => {
  const found = {};
  for (const frame of document.querySelectorAll('iframe')) {
    found[frame.width] = await measured(frame);
  }
  document.getElementById('found').textContent = JSON.stringify(found);
});
"""


PAGES = ("html", "record", "log", "comparison", "match")
#: The policy of a page forbids scripts, and so the script that measures it.
_POLICY = re.compile(r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>")


@pytest.fixture(scope="module")
def log(result: SiteAnalysis) -> str:
    """The log sheets of a hole."""
    return log_html(result, result.site.holes[1].name)


@pytest.fixture(scope="module")
def comparison() -> str:
    """A comparison of three holes."""
    return comparison_html(js.compare_holes(js.simulate_site(random_state=1), draws=19))


@pytest.fixture(scope="module")
def match() -> str:
    """A match of core and image."""
    site = js.pairs.simulate_core_and_image(15.0, random_state=1)
    return match_html(js.match_core_to_image(site, "H1"))


@pytest.fixture(scope="module", params=PAGES)
def found(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, dict[str, object]]:
    if BROWSER is None:
        pytest.skip("no browser on this machine")
    page = request.getfixturevalue(request.param)
    assert _POLICY.search(page)
    return _measured(_POLICY.sub("", page), tmp_path_factory.mktemp("browser"))


def _measured(html: str, place: Path) -> dict[str, dict[str, object]]:
    """What the browser finds on a page at each width, in light and in dark."""
    page = escape(html, quote=True)
    frames = "".join(f'<iframe width="{w}" height="900" srcdoc="{page}"></iframe>' for w in WIDTHS)
    axe = os.environ.get("AXE_JS")
    source = json.dumps(Path(axe).read_text(encoding="utf-8")) if axe else "null"
    source = source.replace("</", "<\\/")
    outer = place / "outer.html"
    outer.write_text(
        f"<!doctype html><meta charset=utf-8><script>axe_source = {source};{_MEASURE}</script>"
        f'<pre id="found"></pre>{frames}',
        encoding="utf-8",
    )
    command = [BROWSER, *_FLAGS, f"--user-data-dir={place / 'profile'}", outer.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return json.loads(unescape(re.search(r'<pre id="found">(.*?)</pre>', done.stdout)[1]))


@pytest.mark.parametrize("width", WIDTHS)
def test_page_fits_its_width(found: dict[str, dict[str, object]], width: int) -> None:
    """Nothing runs past the side of the page, and no label is cut by its drawing."""
    here = found[str(width)]
    assert here["scroll"] <= 0
    assert here["past"] == []
    assert here["cut"] == []


@pytest.mark.parametrize("width", WIDTHS)
def test_page_asks_for_nothing(found: dict[str, dict[str, object]], width: int) -> None:
    """The browser fetches nothing for the page."""
    assert [one for one in found[str(width)]["requests"] if not one.startswith("data:")] == []


@pytest.mark.parametrize("width", WIDTHS)
def test_accessibility_rules_find_nothing(found: dict[str, dict[str, object]], width: int) -> None:
    """The rules of axe-core find no fault, where they are at hand."""
    if "axe" not in found[str(width)]:
        pytest.skip("AXE_JS is not set")
    assert found[str(width)]["axe"] == []


def test_a_picked_set_stands_out_in_every_figure(found: dict[str, dict[str, object]]) -> None:
    """When J2 is picked, J1 turns pale in each figure that shows both, and J2 keeps its colour."""
    tones = found["1280"]["tones"]
    if not tones["before"]:
        pytest.skip("no sets to pick on this page")
    pale = set()
    for (first, second), (first_after, second_after) in zip(
        tones["before"], tones["after"], strict=True
    ):
        assert second_after == second
        assert first_after not in (first, second)
        pale.add(first_after)
    assert len(pale) == 1
