"""Core and image of one length: aligned and paired. Knows no sets."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "simulate_core_and_image": "pairs.simulate_core",
}

__all__ = [
    "simulate_core_and_image",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
