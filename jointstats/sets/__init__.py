"""From oriented fractures to joint sets: mixture, statistics, spacing, frequency."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.recipe.recipe import Recipe as Recipe
    from jointstats.recipe.recipe import Step as Step
    from jointstats.recipe.recipe import read_recipe as read_recipe
    from jointstats.recipe.recipe import recipe_toml as recipe_toml
    from jointstats.sets.ahead import LinePrediction as LinePrediction
    from jointstats.sets.bootstrap import SetBootstrap as SetBootstrap
    from jointstats.sets.intensity import P32Estimates as P32Estimates
    from jointstats.sets.intensity import p32_estimates as p32_estimates
    from jointstats.sets.marked_set import ConeSet as ConeSet
    from jointstats.sets.marked_set import cone_set as cone_set
    from jointstats.sets.parts import p32_of_parts as p32_of_parts
    from jointstats.sets.parts import sensitivity as sensitivity

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
