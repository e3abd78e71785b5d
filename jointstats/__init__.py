"""Joint sets from borehole fracture logs, with the sampling of the holes inside the fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

__version__ = "0.1.0"

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats import borehole as borehole
    from jointstats import compare as compare
    from jointstats import design as design
    from jointstats import export as export
    from jointstats import faces as faces
    from jointstats import fit as fit
    from jointstats import line as line
    from jointstats import pairs as pairs
    from jointstats import plots as plots
    from jointstats import poles as poles
    from jointstats import sets as sets
    from jointstats import sphere as sphere
    from jointstats import uneven as uneven
    from jointstats.borehole.exposure import LineExposure as LineExposure
    from jointstats.borehole.exposure import terzaghi_weights as terzaghi_weights
    from jointstats.borehole.hole import Hole as Hole
    from jointstats.borehole.orient import orient_core as orient_core
    from jointstats.borehole.orient import orient_fractures as orient_fractures
    from jointstats.borehole.path import HolePath as HolePath
    from jointstats.borehole.settings import SiteSettings as SiteSettings
    from jointstats.borehole.simulate import simulate_site as simulate_site
    from jointstats.borehole.tilt import tilt_correct as tilt_correct
    from jointstats.borehole.trace import orient_trace as orient_trace
    from jointstats.compare.holes import HoleComparison as HoleComparison
    from jointstats.compare.holes import compare_holes as compare_holes
    from jointstats.compare.many import analyse_many as analyse_many
    from jointstats.errors import Fault as Fault
    from jointstats.errors import InputError as InputError
    from jointstats.errors import JointStatsWarning as JointStatsWarning
    from jointstats.errors import SiteError as SiteError
    from jointstats.export.load import load_result as load_result
    from jointstats.fit.mixture import JointSetMixture as JointSetMixture
    from jointstats.pairs.core_image import match_core_to_image as match_core_to_image
    from jointstats.poles.analysis import analyse_poles as analyse_poles
    from jointstats.report.comparison import write_comparison as write_comparison
    from jointstats.report.log_sheet import write_log as write_log
    from jointstats.report.match import write_match as write_match
    from jointstats.report.page import write_report as write_report
    from jointstats.sets.analysis import analyse as analyse
    from jointstats.sets.ahead import predict_counts as predict_counts
    from jointstats.sets.analysis import merge_sets as merge_sets
    from jointstats.sets.analysis import refit_without as refit_without
    from jointstats.sets.analysis import split_set as split_set
    from jointstats.sets.bootstrap import bootstrap_sets as bootstrap_sets
    from jointstats.recipe.given_set import GivenSet as GivenSet
    from jointstats.sets.joint_set import JointSet as JointSet
    from jointstats.sets.result import SiteAnalysis as SiteAnalysis
    from jointstats.sphere.angles import dip_from_poles as dip_from_poles
    from jointstats.sphere.angles import lines_from_trend as lines_from_trend
    from jointstats.sphere.angles import poles_from_dip as poles_from_dip
    from jointstats.sphere.angles import trend_from_lines as trend_from_lines
    from jointstats.sphere.axes import axis_angles_deg as axis_angles_deg
    from jointstats.sphere.density import pole_density as pole_density
    from jointstats.sphere.fisher import FisherStatistics as FisherStatistics
    from jointstats.sphere.fisher import fisher_statistics as fisher_statistics
    from jointstats.sphere.tensor import OrientationTensor as OrientationTensor
    from jointstats.sphere.tensor import orientation_tensor as orientation_tensor
    from jointstats.tables.read import Site as Site  # with from_frames, which tables/ gives it
    from jointstats.tables.read import read_site as read_site
    from jointstats.tables.write import write_site as write_site

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
