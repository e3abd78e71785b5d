"""Joint sets from borehole fracture logs, with the sampling of the holes inside the fit."""

from __future__ import annotations

from importlib import import_module

__version__ = "0.1.0"

# Public name -> module it lives in. Loaded on first use, so that importing jointstats is cheap.
_HOMES = {
    "AxialFisher": "sphere.axial_fisher",
    "Fault": "errors",
    "FisherStatistics": "sphere.fisher",
    "InputError": "errors",
    "JointSetMixture": "sets.mixture",
    "JointStatsWarning": "errors",
    "LineExposure": "borehole.exposure",
    "OrientationTensor": "sphere.tensor",
    "PoleDensity": "sphere.density",
    "SiteError": "errors",
    "axis_angles_deg": "sphere.axes",
    "dip_from_poles": "sphere.angles",
    "fisher_statistics": "sphere.fisher",
    "lines_from_trend": "sphere.angles",
    "orientation_tensor": "sphere.tensor",
    "pole_density": "sphere.density",
    "poles_from_dip": "sphere.angles",
    "terzaghi_weights": "borehole.exposure",
    "trend_from_lines": "sphere.angles",
}

__all__ = [
    "AxialFisher",
    "Fault",
    "FisherStatistics",
    "InputError",
    "JointSetMixture",
    "JointStatsWarning",
    "LineExposure",
    "OrientationTensor",
    "PoleDensity",
    "SiteError",
    "axis_angles_deg",
    "dip_from_poles",
    "fisher_statistics",
    "lines_from_trend",
    "orientation_tensor",
    "pole_density",
    "poles_from_dip",
    "terzaghi_weights",
    "trend_from_lines",
]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'jointstats' has no attribute {name!r}")
    return getattr(import_module(f"jointstats.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
