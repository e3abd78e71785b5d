"""What the page says of errors of reading, and of the condition of the fractures."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jointstats.borehole.settings import ReadingErrors
from jointstats.report.condition import condition_table
from jointstats.report.first import kappa_rock
from jointstats.report.method import method_paragraphs
from jointstats.report.page import report_pages
from jointstats.sets.result import SiteAnalysis

pytestmark = pytest.mark.usefixtures("words_only")


def _stated(result: SiteAnalysis, **of_first: object) -> SiteAnalysis:
    """The result as if errors had been stated, with figures of its first set changed."""
    first, *others = result.sets
    return replace(
        result,
        sets=(replace(first, **of_first), *others),
        fractures=result.fractures.assign(angular_error_deg=5.0),
    )


def test_errors_not_stated_are_told(result: SiteAnalysis) -> None:
    """Without stated errors the method says so, and no κ without errors is shown."""
    assert "No measurement error is stated for any fracture" in " ".join(method_paragraphs(result))
    assert {kappa_rock(one) for one in result.sets} == {""}


def test_stated_errors_are_told_set_by_set(result: SiteAnalysis) -> None:
    """The method names the sets with an error, those without, and what the cones hold."""
    stated = _stated(
        result, reading_error_deg=6.5, kappa_rock=61.2, kappa_rock_interval=(50.4, None)
    )
    text = " ".join(method_paragraphs(stated))
    assert f"root mean square: {result.sets[0].name} 6.5°." in text
    assert "An error is not stated for every fracture of the fit" in text
    assert "the cones do not hold what turns all fractures of a hole together" in text
    settings = replace(result.site.settings, errors=ReadingErrors(roll_deg=3.0))
    rolled = replace(stated, site=replace(result.site, settings=settings))
    assert "widen the cones" in " ".join(method_paragraphs(rolled))


@pytest.mark.parametrize(
    ("kappa", "interval", "words"),
    [
        (61.2, (50.4, 80.3), "without measurement error 61 (50 to 80)"),
        (61.2, (50.4, None), "without measurement error 61 (over 50)"),
        (None, (50.4, None), "measurement error explains all of the scatter (over 50)"),
        (None, (None, None), "measurement error explains all of the scatter<"),
    ],
)
def test_kappa_without_errors_stands_in_the_first_table(
    result: SiteAnalysis,
    html: str,
    kappa: float | None,
    interval: tuple[float | None, float | None],
    words: str,
) -> None:
    """κ with the errors taken out stands under κ, or that nothing is left."""
    stated = _stated(result, reading_error_deg=6.5, kappa_rock=kappa, kappa_rock_interval=interval)
    assert words in report_pages(stated)["index.html"]
    assert words not in html


def test_condition_stands_in_the_page_and_is_escaped(result: SiteAnalysis) -> None:
    """Words of the tables are shown as written; many terms are summed, none is dropped."""
    number = range(len(result.fractures))
    table = result.fractures.assign(
        infilling=["<i>x</i>"] * len(number), oxidation=[f"kind {i % 8}" for i in number]
    )
    described = replace(result, fractures=table)
    html = "".join(report_pages(described).values())
    assert 'id="condition"' in html
    assert "&lt;i&gt;x&lt;/i&gt;" in html
    assert "<i>x" not in html
    rows = condition_table(described).rows
    one = next(row for row in rows if row[:2] == (result.sets[0].name, "Oxidation"))
    assert "3 other terms" in one[3]
    shown = [int(part.split(" (")[0].split()[-1]) for part in one[3].split("; ")]
    assert sum(shown) == int(one[2].split(" of ")[0])


def test_no_condition_no_section(result: SiteAnalysis, html: str, empty: SiteAnalysis) -> None:
    """Where the tables describe nothing the page has no such section."""
    assert condition_table(result) is None
    assert 'id="condition"' not in html
    assert 'id="condition"' not in report_pages(empty)["index.html"]
