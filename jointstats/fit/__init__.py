"""The fit: likelihood, search, posterior, and the tests of one rock."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "Elongation": "fit.elongation",
    "elongation_test": "fit.elongation",
}

__all__ = [
    "Elongation",
    "elongation_test",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
