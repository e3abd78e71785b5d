"""Rock whose fractures lie unevenly: between lines and in swarms along them; what a further line meets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.uneven.prediction import LeftOut as LeftOut
    from jointstats.uneven.prediction import PredictedCounts as PredictedCounts
    from jointstats.uneven.prediction import leave_out_lines as leave_out_lines
    from jointstats.uneven.prediction import predicted_counts as predicted_counts
    from jointstats.uneven.uneven_rock import Unevenness as Unevenness
    from jointstats.uneven.uneven_rock import unevenness as unevenness

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
