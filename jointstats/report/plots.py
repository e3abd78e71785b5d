"""Every picture of an analysis, each a function that draws on `ax` and returns it.

Without `ax`, a picture opens a figure of its own through matplotlib's pyplot, so that
``plots.stereonet(result)`` shows itself in a notebook.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.report.belonging import membership_bars
from jointstats.report.directions import frequency_net, strike_rose
from jointstats.report.downhole import hole_log
from jointstats.report.fit_checks import (
    colatitude_plot,
    density_profile,
    longitude_plot,
)
from jointstats.report.forest import hole_forest, set_forest
from jointstats.report.net import net_axes
from jointstats.report.orientations import (
    DENSITY_LEVELS,
    exposure_net,
    stereonet,
    tilted_stereonet,
)
from jointstats.report.spread import spacing_histogram, spacing_survival
from jointstats.report.views import hole_view, site_view

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "DENSITY_LEVELS",
    "colatitude_plot",
    "density_profile",
    "exposure_net",
    "frequency_net",
    "hole_forest",
    "hole_log",
    "hole_view",
    "longitude_plot",
    "membership_bars",
    "net_axes",
    "new_figure",
    "set_forest",
    "site_view",
    "spacing_histogram",
    "spacing_survival",
    "stereonet",
    "strike_rose",
    "tilted_stereonet",
]


def new_figure(width_in: float = 5.6, height_in: float = 5.6) -> Figure:
    """An empty figure that no window keeps alive: for scripts that draw many.

    Parameters
    ----------
    width_in, height_in : float
        Size in inches.

    Returns
    -------
    matplotlib Figure

    Examples
    --------
    >>> new_figure(4, 3).get_size_inches()
    array([4., 3.])
    """
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in))
