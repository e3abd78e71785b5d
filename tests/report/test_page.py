"""The page: self-contained, harmless, repeatable, and written whole or not at all."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pytest

import jointstats as js
from jointstats.report import page as page_module
from jointstats.report.log_sheet import log_names
from jointstats.report.logged import account_line, methods_line
from jointstats.report.page import SECTIONS, report_pages
from jointstats.report.record import assignment_line, record_sections
from jointstats.sets.result import SiteAnalysis

FILES = ["fractures.csv", "index.html", "record.html", "sets.csv", "sets.json"]


class _Reader(HTMLParser):
    """Tags, ids and headings in the order of the page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[dict[str, str | None]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes.append(dict(attrs))


@pytest.fixture(scope="module", params=["html", "record"])
def page(request: pytest.FixtureRequest) -> str:
    """The report, and its record."""
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def reader(page: str) -> _Reader:
    return _Reader(page)


def test_no_script_and_no_address(page: str, reader: _Reader) -> None:
    """The page runs nothing and asks for nothing from anywhere."""
    assert "script" not in reader.tags
    assert not [one for one in reader.attributes if any(name.startswith("on") for name in one)]
    for one in reader.attributes:
        for name in ("href", "src", "xlink:href"):
            target = one.get(name) or "#"
            assert target.startswith(("#", "data:", "log-")) or target in FILES
    assert "@import" not in page and not re.search(r"url\((?!#)", page)
    assert "default-src 'none'" in page


def test_names_from_the_tables_are_escaped(html: str) -> None:
    """A hole called <script> is shown as written and does nothing."""
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html


def test_ids_are_unique_and_links_find_them(reader: _Reader) -> None:
    """No id stands twice in the page, and every link within it has a target."""
    ids = [one["id"] for one in reader.attributes if one.get("id")]
    assert len(ids) == len(set(ids))
    targets = [one.get("href") or "" for one in reader.attributes]
    assert {target[1:] for target in targets if target.startswith("#")} <= set(ids)


def test_headings_go_down_one_step_at_a_time(reader: _Reader) -> None:
    """One first-level heading, and no level is skipped."""
    levels = [int(tag[1]) for tag in reader.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(levels, levels[1:], strict=False))


def test_every_drawing_speaks_and_every_header_has_a_scope(reader: _Reader) -> None:
    """A drawing is either named in words or hidden; every header cell says what it heads."""
    pairs = list(zip(reader.tags, reader.attributes, strict=True))
    for tag, one in pairs:
        if tag == "svg":
            assert one.get("aria-hidden") == "true" or one.get("aria-label")
        if tag == "th":
            assert one.get("scope") in ("row", "col")


def test_every_fracture_is_accounted_for(result: SiteAnalysis, record: str) -> None:
    """Sets, unassigned, blind, not oriented and second method add up to all, on the page too."""
    table = record[record.index('aria-label="Every fracture, counted once"') :]
    table = table.split("</table>")[0]
    numbers = [int(n) for n in re.findall(r'data-label="Number"[^>]*>(\d+)<', table)]
    assert numbers[-1] == sum(numbers[:-1]) == len(result.site.fractures)
    counted = [int(n) for n in re.findall(r"(?<!of )\b(\d+) (?!° )", account_line(result))]
    assert counted[0] == len(result.site.fractures)


def test_first_screen_says_what_is_true_and_to_whom_it_defers(
    result: SiteAnalysis, html: str
) -> None:
    """Number of sets, least certain set, blind spot, random fractures and notice stand first."""
    first = _bare_words(html[: html.index('id="unseen"')])
    assert "Three round sets" in first
    assert "Confidence is" in first
    assert "were observed worst" in first
    assert "random" in first
    assert "do not replace" in first
    assert f"{len(result.cautions)} cautions apply" in first


@pytest.mark.parametrize("word", ["use_for_design", "For design", "may be used", "firm"])
def test_nothing_reads_as_an_approval(page: str, word: str) -> None:
    """No word on a page releases a figure for design."""
    assert word not in page


def test_every_caution_stands_on_the_page_once(result: SiteAnalysis, html: str) -> None:
    """The section of cautions has each of them in full."""
    words = re.sub(r"\s+", " ", _bare_words(html[html.index('id="cautions"') :]))
    for one in result.cautions:
        assert words.count(escape(one.text, quote=False)) == 1


def test_page_stays_short(html: str) -> None:
    """The body has at most 2,400 words, terms and method being in the record."""
    assert len(_bare_words(html).split()) <= 2400


def test_a_section_is_one_module_and_one_line(result: SiteAnalysis) -> None:
    """Every section has a name of its own, and every term it uses is defined in the record."""
    made = [one for section in SECTIONS if (one := section(result)) is not None]
    names = [one.name for one in made]
    assert len(set(names)) == len(names)
    rest = record_sections(result, made)
    defined = next(dict(one.items) for one in rest if one.name == "definitions")
    assert {term for one in [*made, *rest] for term in one.definitions} <= set(defined)


def test_no_figure_is_missing(page: str) -> None:
    """No value leaks out as nan, inf or None."""
    assert not re.search(r"\b(nan|inf|None)\b", _bare_words(page))


def _bare_words(html: str) -> str:
    return re.sub(r"<[^>]+>", " ", re.sub(r"<style.*?</style>", "", html, flags=re.DOTALL))


def test_one_blind_hole_makes_a_page(vertical_html: str) -> None:
    """One blind hole: a page with its cautions, and no nan."""
    words = _bare_words(vertical_html)
    assert not re.search(r"\b(nan|inf|None)\b", words)
    assert "do not replace" in words


@pytest.mark.parametrize("name", ["scant", "empty"])
def test_thin_data_still_make_a_page(name: str, request: pytest.FixtureRequest) -> None:
    """Three fractures, or none, in one hole: a page with its cautions, and no nan."""
    whole = request.getfixturevalue(name).site
    own = whole.fractures[whole.fractures["hole"] == whole.holes[0].name].reset_index(drop=True)
    thin = js.analyse(replace(whole, holes=whole.holes[:1], fractures=own))
    words = _bare_words("".join(report_pages(thin).values()))
    assert not re.search(r"\b(nan|inf|None)\b", words)
    assert "do not replace" in words


def test_report_is_the_same_every_time(
    vertical: SiteAnalysis, vertical_html: str, tmp_path: Path
) -> None:
    """A report made again from one result is the same page, byte for byte."""
    page = js.write_report(vertical, tmp_path / "out")
    assert page.read_bytes() == vertical_html.encode("utf-8")
    logs = ["log-H1.html"]
    assert sorted(path.name for path in page.parent.iterdir()) == sorted([*FILES, *logs])


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page without pictures, where only the files and their places matter."""
    monkeypatch.setattr(
        page_module,
        "report_pages",
        lambda result, earlier: {"index.html": f"{result!r}\n", "record.html": "a record\n"},
    )


@pytest.mark.usefixtures("quick")
def test_report_leaves_other_files_and_nothing_of_its_own_behind(
    result: SiteAnalysis, tmp_path: Path
) -> None:
    """An existing directory keeps its other files; no temporary one is left beside it."""
    place = tmp_path / "out"
    place.mkdir()
    (place / "notes.txt").write_text("keep", encoding="utf-8")
    js.write_report(result, place)
    logs = log_names(result).values()
    assert sorted(path.name for path in place.iterdir()) == sorted([*FILES, *logs, "notes.txt"])
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("fails_at", [1, 2, 5])
def test_fault_on_the_way_leaves_the_earlier_report(
    result: SiteAnalysis,
    scant: SiteAnalysis,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    fails_at: int,
) -> None:
    """When a move fails before the files are switched, the earlier report is there, whole."""
    place = js.write_report(scant, tmp_path / "out").parent
    before = {name: (place / name).read_bytes() for name in FILES}
    whole, calls = os.replace, []

    def failing(source: Path, target: Path) -> None:
        calls.append(source)
        if len(calls) == fails_at:
            raise OSError("disk full")
        whole(source, target)

    monkeypatch.setattr(page_module.os, "replace", failing)
    with pytest.raises(OSError, match="disk full"):
        js.write_report(result, place)
    assert {name: (place / name).read_bytes() for name in FILES} == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.usefixtures("quick")
def test_fault_in_making_the_page_writes_nothing(
    result: SiteAnalysis, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When a part of the report can't be made, no file and no directory appear."""

    def failing(_: SiteAnalysis) -> str:
        raise RuntimeError("no page")

    monkeypatch.setattr(page_module, "sets_json", failing)
    with pytest.raises(RuntimeError, match="no page"):
        js.write_report(result, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("quick")
def test_output_must_not_be_a_file(result: SiteAnalysis, tmp_path: Path) -> None:
    """A file in the place of the directory is refused before anything is made."""
    taken = tmp_path / "out"
    taken.write_text("mine", encoding="utf-8")
    with pytest.raises(js.InputError, match="output must be a directory"):
        js.write_report(result, taken)
    assert taken.read_text(encoding="utf-8") == "mine"


def test_only_what_stands_on_the_page_is_defined(result: SiteAnalysis) -> None:
    """Words and sources of measurement errors appear with stated errors only."""

    def told(one: SiteAnalysis) -> tuple[dict[str, str], str]:
        parts = {part.name: part for part in record_sections(one, [])}
        return dict(parts["definitions"].items), " ".join(parts["sources"].notes)

    terms, sources = told(result)
    assert "measurement error" not in terms and "Mardia" not in sources
    stated = replace(result, fractures=result.fractures.assign(angular_error_deg=5.0))
    terms, sources = told(stated)
    assert "measurement error" in terms and "Mardia" in sources


def test_methods_are_counted_where_there_are_two(result: SiteAnalysis) -> None:
    """Core and image pooled are told with their numbers; one method needs no word."""
    methods = ["core"] * 10 + ["image"] * (len(result.fractures) - 10)
    both = replace(result, fractures=result.fractures.assign(method=methods))
    assert f"10 by core and {len(methods) - 10} by image" in methods_line(both)
    assert "jointstats match" in methods_line(both)
    assert methods_line(replace(result, fractures=result.fractures.assign(method="core"))) == ""


def test_assigned_and_expected_numbers_are_told_apart(result: SiteAnalysis) -> None:
    """P32 times exposure and the number assigned stand side by side, with why they differ."""
    expected = sum(one.p32_per_m * one.exposure_m for one in result.sets)
    told = assignment_line(result)
    assert f"gives {expected:.0f} fractures; {result.counts.in_a_set} fractures are assigned" in told
