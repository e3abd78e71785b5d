"""Joint sets from borehole fracture logs, with the sampling of the holes inside the fit."""

from __future__ import annotations

from importlib import import_module

from jointstats.lazy import lazy_names

__version__ = "0.1.0"

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "CoreMatch": "pairs.core_image",
    "Fault": "errors",
    "FisherStatistics": "sphere.fisher",
    "GivenSet": "sets.given_set",
    "Hole": "borehole.hole",
    "HoleComparison": "compare.holes",
    "HolePath": "borehole.path",
    "InputError": "errors",
    "JointSet": "sets.joint_set",
    "JointSetMixture": "fit.mixture",
    "JointStatsWarning": "errors",
    "LineExposure": "borehole.exposure",
    "LoggedInterval": "borehole.hole",
    "OrientationTensor": "sphere.tensor",
    "PoleDensity": "sphere.density",
    "Site": "borehole.site",
    "SiteAnalysis": "sets.result",
    "SiteError": "errors",
    "SiteSettings": "borehole.settings",
    "TracePlane": "borehole.trace",
    "analyse": "sets.analysis",
    "analyse_many": "compare.many",
    "axis_angles_deg": "sphere.axes",
    "bootstrap_sets": "sets.bootstrap",
    "compare_holes": "compare.holes",
    "dip_from_poles": "sphere.angles",
    "fisher_statistics": "sphere.fisher",
    "lines_from_trend": "sphere.angles",
    "match_core_to_image": "pairs.core_image",
    "orient_core": "borehole.orient",
    "orient_fractures": "borehole.orient",
    "orient_trace": "borehole.trace",
    "orientation_tensor": "sphere.tensor",
    "pole_density": "sphere.density",
    "poles_from_dip": "sphere.angles",
    "read_site": "borehole.site",
    "refit_without": "sets.analysis",
    "simulate_site": "borehole.simulate",
    "terzaghi_weights": "borehole.exposure",
    "tilt_correct": "borehole.tilt",
    "trend_from_lines": "sphere.angles",
    "write_comparison": "report.comparison",
    "write_match": "report.comparison",
    "write_report": "report.page",
}
# Rooms whose own public names serve a script: `js.sphere.fit_bingham`, `js.line.set_spacing`.
_ROOMS = (
    "borehole",
    "compare",
    "design",
    "fit",
    "line",
    "pairs",
    "plots",
    "sets",
    "sphere",
)

__all__ = [
    "CoreMatch",
    "Fault",
    "FisherStatistics",
    "GivenSet",
    "Hole",
    "HoleComparison",
    "HolePath",
    "InputError",
    "JointSet",
    "JointSetMixture",
    "JointStatsWarning",
    "LineExposure",
    "LoggedInterval",
    "OrientationTensor",
    "PoleDensity",
    "Site",
    "SiteAnalysis",
    "SiteError",
    "SiteSettings",
    "TracePlane",
    "analyse",
    "analyse_many",
    "axis_angles_deg",
    "bootstrap_sets",
    "borehole",
    "compare",
    "compare_holes",
    "design",
    "dip_from_poles",
    "fisher_statistics",
    "fit",
    "line",
    "lines_from_trend",
    "match_core_to_image",
    "orient_core",
    "orient_fractures",
    "orient_trace",
    "orientation_tensor",
    "pairs",
    "plots",
    "pole_density",
    "poles_from_dip",
    "read_site",
    "refit_without",
    "sets",
    "simulate_site",
    "sphere",
    "terzaghi_weights",
    "tilt_correct",
    "trend_from_lines",
    "write_comparison",
    "write_match",
    "write_report",
]

_name, _ = lazy_names(__name__, _HOMES)


def __getattr__(name: str) -> object:
    return import_module(f"jointstats.{name}") if name in _ROOMS else _name(name)


def __dir__() -> list[str]:
    return list(__all__)
