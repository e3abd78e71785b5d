"""Mathematics of axes on the unit sphere; knows nothing of rock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.sphere.axial_fisher import AxialFisher as AxialFisher
    from jointstats.sphere.bingham import BinghamFit as BinghamFit
    from jointstats.sphere.bingham import fit_bingham as fit_bingham
    from jointstats.sphere.common_kappa import common_kappa_test as common_kappa_test
    from jointstats.sphere.cones import MeanCone as MeanCone
    from jointstats.sphere.cones import mean_cone as mean_cone
    from jointstats.sphere.density import PoleDensity as PoleDensity
    from jointstats.sphere.density import peak_pvalues as peak_pvalues
    from jointstats.sphere.fisher_fit import FisherFitVerdict as FisherFitVerdict
    from jointstats.sphere.fisher_fit import fisher_fit_test as fisher_fit_test
    from jointstats.sphere.girdle import FoldAxis as FoldAxis
    from jointstats.sphere.girdle import fold_axis as fold_axis
    from jointstats.sphere.girdle import roundness_test as roundness_test
    from jointstats.sphere.girdle import shape_test as shape_test
    from jointstats.sphere.set_shapes import HeavyTailedDensity as HeavyTailedDensity
    from jointstats.sphere.kent import KentFit as KentFit
    from jointstats.sphere.kent import fit_kent as fit_kent
    from jointstats.sphere.mean_tests import common_mean_test as common_mean_test
    from jointstats.sphere.mean_tests import mean_direction_test as mean_direction_test
    from jointstats.sphere.mean_tests import mean_in_plane_test as mean_in_plane_test
    from jointstats.sphere.robust import OutlierVerdict as OutlierVerdict
    from jointstats.sphere.robust import outlier_test as outlier_test
    from jointstats.sphere.robust import spherical_median as spherical_median
    from jointstats.sphere.robust import trimmed_mean as trimmed_mean
    from jointstats.sphere.set_shapes import EllipticalDensity as EllipticalDensity
    from jointstats.sphere.set_shapes import GirdleDensity as GirdleDensity
    from jointstats.sphere.set_shapes import RoundDensity as RoundDensity
    from jointstats.sphere.uniformity import uniformity_test as uniformity_test
    from jointstats.sphere.verdict import Verdict as Verdict
    from jointstats.sphere.watson import WatsonFit as WatsonFit
    from jointstats.sphere.watson import fit_watson as fit_watson

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
