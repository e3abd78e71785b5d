"""Hole against hole, core against image."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "ManyAnalyses": "compare.many",
}

__all__ = [
    "ManyAnalyses",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
