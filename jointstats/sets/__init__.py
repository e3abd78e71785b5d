"""From oriented fractures to joint sets: mixture, statistics, spacing, frequency."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "ConeSet": "sets.marked_set",
    "P32Estimates": "sets.intensity",
    "SetBootstrap": "sets.bootstrap",
    "cone_set": "sets.marked_set",
    "p32_estimates": "sets.intensity",
    "share_unoriented": "sets.intensity",
}

__all__ = [
    "ConeSet",
    "P32Estimates",
    "SetBootstrap",
    "cone_set",
    "p32_estimates",
    "share_unoriented",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
