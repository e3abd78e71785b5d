"""What was drilled, seen and measured: tables in, oriented fractures and exposure out."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "ReadingErrors": "borehole.settings",
    "SenseCheck": "borehole.core_sense",
    "chances_on_cone": "borehole.cone",
    "check_core_sense": "borehole.core_sense",
    "condition_summary": "borehole.condition",
    "condition_terms": "borehole.condition",
    "mean_bedding": "borehole.bedding",
    "poles_on_cone": "borehole.cone",
    "ring_points": "borehole.ring",
    "roll_at": "borehole.roll",
    "simulate_fractures": "borehole.simulate",
    "stretched_depth": "borehole.depth",
    "tied_depth": "borehole.depth",
}

__all__ = [
    "ReadingErrors",
    "SenseCheck",
    "chances_on_cone",
    "check_core_sense",
    "condition_summary",
    "condition_terms",
    "mean_bedding",
    "poles_on_cone",
    "ring_points",
    "roll_at",
    "simulate_fractures",
    "stretched_depth",
    "tied_depth",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
