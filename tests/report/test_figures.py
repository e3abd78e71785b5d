"""Drawings for the page: repeatable, named ids, named colours."""

from __future__ import annotations

import re

import pytest

from jointstats.sets.result import SiteAnalysis
from tests.report.conftest import net_picture


def test_same_drawing_same_bytes(svg: str, result: SiteAnalysis) -> None:
    """The same result drawn twice gives the same SVG, byte for byte."""
    assert net_picture(result).svg == svg


def test_every_id_and_link_carries_the_name(svg: str) -> None:
    """Ids and links open with the drawing's own name, and every link finds its id."""
    ids = re.findall(r'\bid="([^"]+)"', svg)
    links = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', svg)
    assert ids
    assert all(one.startswith("net-") for one in ids)
    assert {a or b for a, b in links} <= set(ids)


def test_colours_are_named_not_fixed(svg: str) -> None:
    """No colour code is left, so that the page can turn every colour for the dark."""
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;\"])", svg)


def test_finding_is_escaped(svg: str) -> None:
    """The sentence read aloud can't break out of its attribute."""
    assert 'aria-label="A &quot;net&quot; &lt;of&gt; sets."' in svg


@pytest.mark.parametrize("word", ["<metadata", "http://", "<style", "<!--", "DejaVu"])
def test_nothing_from_elsewhere(svg: str, word: str) -> None:
    """No metadata, comment, style for the whole page, or address, but the name of xlink."""
    assert word not in svg.replace("http://www.w3.org/1999/xlink", "")
