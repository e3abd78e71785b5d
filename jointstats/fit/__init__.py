"""The fit: likelihood, search, posterior, and the tests of one rock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.fit.roundness import EllipticalTest as EllipticalTest
    from jointstats.fit.roundness import elliptical_test as elliptical_test
    from jointstats.fit.prediction import LeftOut as LeftOut
    from jointstats.fit.prediction import PredictedCounts as PredictedCounts
    from jointstats.fit.prediction import leave_out_lines as leave_out_lines
    from jointstats.fit.prediction import predicted_counts as predicted_counts
    from jointstats.fit.rock import Rock as Rock
    from jointstats.fit.rock import RockSet as RockSet
    from jointstats.fit.uneven_rock import Unevenness as Unevenness
    from jointstats.fit.uneven_rock import unevenness as unevenness

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
