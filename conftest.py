"""Examples in documents analyse a few small sites again and again: each such analysis is made once."""

from __future__ import annotations

import functools
from typing import Any

import pytest

import jointstats as js
from jointstats.compare.ledger import fingerprint
from jointstats.sets.result import SiteAnalysis

_MADE: dict[str, SiteAnalysis] = {}
_analyse = js.analyse


@functools.wraps(_analyse)
def _analysed_once(site: js.Site, *args: Any, **options: Any) -> SiteAnalysis:
    key = fingerprint(site, repr((args, sorted(options.items()))))
    if key not in _MADE:
        _MADE[key] = _analyse(site, *args, **options)
    return _MADE[key]


@pytest.fixture(autouse=True)
def analyses_made_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Results can't be changed, so that examples may share them; tests make their own."""
    if isinstance(request.node, pytest.DoctestItem):
        monkeypatch.setattr(js, "analyse", _analysed_once)
