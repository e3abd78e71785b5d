"""Examples in documents, and tests that say so, share the analyses of the same few sites."""

from __future__ import annotations

import functools
import os
import pickle

# Each worker has one processor; this must be known before numpy is there.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import pytest

from jointstats.borehole.site import Site
from jointstats.recipe.recipe import Recipe
from jointstats.sets import analysis
from jointstats.sets.result import SiteAnalysis

_MADE: dict[bytes, SiteAnalysis] = {}
_once = analysis._once


@functools.wraps(_once)
def _kept(site: Site, recipe: Recipe) -> SiteAnalysis:
    key = pickle.dumps((site, recipe))
    if key not in _MADE:
        _MADE[key] = _once(site, recipe)
    return _MADE[key]


@pytest.fixture(autouse=True)
def analyses_made_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Results can't be changed, so that these may share them; other tests make their own."""
    marked = request.node.get_closest_marker("shares_analyses") is not None
    if marked or isinstance(request.node, pytest.DoctestItem):
        monkeypatch.setattr(analysis, "_once", _kept)
