"""The fit: likelihood, search, posterior, and the tests of one rock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.fit.roundness import EllipticalTest as EllipticalTest
    from jointstats.fit.roundness import elliptical_test as elliptical_test
    from jointstats.fit.rock import Rock as Rock
    from jointstats.fit.rock import RockSet as RockSet
    from jointstats.fit.rocks import NamedRock as NamedRock
    from jointstats.fit.rocks import Rocks as Rocks

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
