"""Mathematics of axes on the unit sphere; knows nothing of rock."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "AxialFisher": "sphere.axial_fisher",
    "BinghamFit": "sphere.bingham",
    "FisherFitVerdict": "sphere.fisher_fit",
    "FoldAxis": "sphere.girdle",
    "KentFit": "sphere.kent",
    "MeanCone": "sphere.cone_of_mean",
    "OutlierVerdict": "sphere.outlier",
    "Verdict": "sphere.verdict",
    "WatsonFit": "sphere.watson",
    "common_kappa_test": "sphere.common_kappa",
    "common_mean_test": "sphere.common_mean",
    "fisher_fit_test": "sphere.fisher_fit",
    "fit_bingham": "sphere.bingham",
    "fit_kent": "sphere.kent",
    "fit_watson": "sphere.watson",
    "fold_axis": "sphere.girdle",
    "mean_cone": "sphere.cone_of_mean",
    "mean_direction_test": "sphere.given_mean",
    "mean_in_plane_test": "sphere.given_mean",
    "outlier_test": "sphere.outlier",
    "peak_pvalues": "sphere.peaks",
    "roundness_test": "sphere.girdle",
    "shape_test": "sphere.girdle",
    "spherical_median": "sphere.robust",
    "trimmed_mean": "sphere.robust",
    "uniformity_test": "sphere.uniformity",
}

__all__ = [
    "AxialFisher",
    "BinghamFit",
    "FisherFitVerdict",
    "FoldAxis",
    "KentFit",
    "MeanCone",
    "OutlierVerdict",
    "Verdict",
    "WatsonFit",
    "common_kappa_test",
    "common_mean_test",
    "fisher_fit_test",
    "fit_bingham",
    "fit_kent",
    "fit_watson",
    "fold_axis",
    "mean_cone",
    "mean_direction_test",
    "mean_in_plane_test",
    "outlier_test",
    "peak_pvalues",
    "roundness_test",
    "shape_test",
    "spherical_median",
    "trimmed_mean",
    "uniformity_test",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
