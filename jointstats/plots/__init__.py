"""Every picture, as a function with ax=."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "DENSITY_LEVELS": "plots.orientations",
    "colatitude_plot": "plots.fit_checks",
    "density_profile": "plots.fit_checks",
    "exposure_net": "plots.orientations",
    "frequency_net": "plots.directions",
    "hole_forest": "plots.forest",
    "hole_log": "plots.downhole",
    "hole_view": "plots.views",
    "longitude_plot": "plots.fit_checks",
    "membership_bars": "report.belonging",
    "net_axes": "plots.net",
    "new_figure": "plots.net",
    "set_forest": "plots.forest",
    "site_view": "plots.views",
    "spacing_histogram": "plots.spread",
    "spacing_survival": "plots.spread",
    "stereonet": "plots.orientations",
    "strike_rose": "plots.directions",
    "tilted_stereonet": "plots.orientations",
}

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

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
