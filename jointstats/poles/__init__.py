"""Poles without holes: published data, outcrops, laser scans, of which no sampling is known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.poles.analysis import analyse_poles as analyse_poles
    from jointstats.poles.result import PolesAnalysis as PolesAnalysis
    from jointstats.poles.result import PoleSet as PoleSet
    from jointstats.poles.table import read_poles as read_poles

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
