"""Every picture, as a function with ax= that gives what it drew (`Drawn`)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.plots.comparison import estimate_forest as estimate_forest
    from jointstats.plots.comparison import group_net as group_net
    from jointstats.plots.comparison import match_log as match_log
    from jointstats.plots.comparison import pair_matrix as pair_matrix
    from jointstats.plots.condition import condition_dots as condition_dots
    from jointstats.plots.corrections import station_plot as station_plot
    from jointstats.plots.downhole import hole_log as hole_log
    from jointstats.plots.drawn import Drawn as Drawn
    from jointstats.plots.fields import exposure_net as exposure_net
    from jointstats.plots.fields import frequency_net as frequency_net
    from jointstats.plots.fit_checks import angle_counts as angle_counts
    from jointstats.plots.fit_checks import colatitude_plot as colatitude_plot
    from jointstats.plots.fit_checks import density_profile as density_profile
    from jointstats.plots.fit_checks import longitude_plot as longitude_plot
    from jointstats.plots.forest import hole_forest as hole_forest
    from jointstats.plots.forest import set_forest as set_forest
    from jointstats.plots.map import site_plan as site_plan
    from jointstats.plots.map import site_section as site_section
    from jointstats.plots.membership import membership_bars as membership_bars
    from jointstats.plots.net import net_axes as net_axes
    from jointstats.plots.net import new_figure as new_figure
    from jointstats.plots.pole_net import DENSITY_LEVELS as DENSITY_LEVELS
    from jointstats.plots.pole_net import stereonet as stereonet
    from jointstats.plots.pole_net import tilted_stereonet as tilted_stereonet
    from jointstats.plots.reading_sets import reading_net as reading_net
    from jointstats.plots.spread import spacing_histogram as spacing_histogram
    from jointstats.plots.spread import spacing_survival as spacing_survival

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
