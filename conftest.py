"""Examples in documents, and tests that say so, share the analyses of the same few sites."""

from __future__ import annotations

import functools
import os
import pickle
from collections.abc import Callable
from typing import Any

# Each worker has one processor; this must be known before numpy is there.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import pytest

import jointstats as js
from jointstats.sets import analysis


def _kept(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, which makes the same of the same once."""
    made: dict[bytes, Any] = {}

    @functools.wraps(function)
    def found(*args: Any, **options: Any) -> Any:
        key = pickle.dumps((args, sorted(options.items())))
        if key not in made:
            made[key] = function(*args, **options)
        return made[key]

    return found


_ONCE, _COMPARED = _kept(analysis._once), _kept(js.compare_holes)


@pytest.fixture(autouse=True)
def analyses_made_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Results can't be changed, so that these may share them; other tests make their own."""
    in_document = isinstance(request.node, pytest.DoctestItem)
    if in_document or request.node.get_closest_marker("shares_analyses") is not None:
        monkeypatch.setattr(analysis, "_once", _ONCE)
    if in_document:
        monkeypatch.setattr(js, "compare_holes", _COMPARED)
