"""Joint sets from borehole fracture logs, with the sampling of the holes inside the fit."""

from __future__ import annotations

from importlib import import_module

__version__ = "0.1.0"

# Public name -> module it lives in. Loaded on first use, so that importing jointstats is cheap.
_HOMES = {
    "AxialFisher": "sphere.axial_fisher",
    "Fault": "errors",
    "FisherFitVerdict": "sphere.fisher_fit",
    "FisherStatistics": "sphere.fisher",
    "InputError": "errors",
    "JointSetMixture": "sets.mixture",
    "JointStatsWarning": "errors",
    "LineExposure": "borehole.exposure",
    "OrientationTensor": "sphere.tensor",
    "OutlierVerdict": "sphere.outlier",
    "PoleDensity": "sphere.density",
    "SiteError": "errors",
    "SpacingStatistics": "sets.spacing",
    "Verdict": "sphere.verdict",
    "axis_angles_deg": "sphere.axes",
    "block_volume": "sets.blocks",
    "common_kappa_test": "sphere.common_kappa",
    "common_mean_test": "sphere.common_mean",
    "dip_from_poles": "sphere.angles",
    "fisher_fit_test": "sphere.fisher_fit",
    "fisher_statistics": "sphere.fisher",
    "frequency_along": "sets.frequency",
    "lines_from_trend": "sphere.angles",
    "mean_direction_test": "sphere.given_mean",
    "mean_in_plane_test": "sphere.given_mean",
    "orientation_tensor": "sphere.tensor",
    "outlier_test": "sphere.outlier",
    "poisson_interval": "sets.frequency",
    "pole_density": "sphere.density",
    "poles_from_dip": "sphere.angles",
    "pool_spacings": "sets.spacing",
    "rqd_from_depths": "sets.quality",
    "rqd_from_frequency": "sets.quality",
    "rqd_from_volumetric_count": "sets.quality",
    "rqd_linear": "sets.quality",
    "set_spacing": "sets.spacing",
    "spacing_term": "sets.spacing_term",
    "terzaghi_weights": "borehole.exposure",
    "trend_from_lines": "sphere.angles",
    "uniformity_test": "sphere.uniformity",
    "volumetric_joint_count": "sets.quality",
    "write_report": "report.page",
}

__all__ = [
    "AxialFisher",
    "Fault",
    "FisherFitVerdict",
    "FisherStatistics",
    "InputError",
    "JointSetMixture",
    "JointStatsWarning",
    "LineExposure",
    "OrientationTensor",
    "OutlierVerdict",
    "PoleDensity",
    "SiteError",
    "SpacingStatistics",
    "Verdict",
    "axis_angles_deg",
    "block_volume",
    "common_kappa_test",
    "common_mean_test",
    "dip_from_poles",
    "fisher_fit_test",
    "fisher_statistics",
    "frequency_along",
    "lines_from_trend",
    "mean_direction_test",
    "mean_in_plane_test",
    "orientation_tensor",
    "outlier_test",
    "poisson_interval",
    "pole_density",
    "poles_from_dip",
    "pool_spacings",
    "rqd_from_depths",
    "rqd_from_frequency",
    "rqd_from_volumetric_count",
    "rqd_linear",
    "set_spacing",
    "spacing_term",
    "terzaghi_weights",
    "trend_from_lines",
    "uniformity_test",
    "volumetric_joint_count",
    "write_report",
]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'jointstats' has no attribute {name!r}")
    return getattr(import_module(f"jointstats.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
