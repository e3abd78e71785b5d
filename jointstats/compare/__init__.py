"""Hole against hole, core against image."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.compare.many import ManyAnalyses as ManyAnalyses

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
