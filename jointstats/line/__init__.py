"""Along a line: spacing, zones, rock quality and the terms of the ISRM."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.intervals import poisson_interval as poisson_interval
    from jointstats.line.precision import SpacingPrecision as SpacingPrecision
    from jointstats.line.precision import spacing_precision as spacing_precision
    from jointstats.line.precision import spacings_needed as spacings_needed
    from jointstats.line.quality import rqd_from_depths as rqd_from_depths
    from jointstats.line.quality import rqd_from_frequency as rqd_from_frequency
    from jointstats.line.quality import rqd_from_volumetric_count as rqd_from_volumetric_count
    from jointstats.line.quality import rqd_linear as rqd_linear
    from jointstats.line.quality import volumetric_joint_count as volumetric_joint_count
    from jointstats.line.quality import (
        volumetric_joint_count_interval as volumetric_joint_count_interval,
    )
    from jointstats.line.spacing import SpacingStatistics as SpacingStatistics
    from jointstats.line.spacing import pool_spacings as pool_spacings
    from jointstats.line.spacing import set_spacing as set_spacing
    from jointstats.line.spacing_fits import SpacingFit as SpacingFit
    from jointstats.line.spacing_fits import SpacingFits as SpacingFits
    from jointstats.line.spacing_fits import fit_spacings as fit_spacings
    from jointstats.line.spacing_fits import simulate_spacings as simulate_spacings
    from jointstats.line.spacing_kinds import MembershipSpacing as MembershipSpacing
    from jointstats.line.spacing_kinds import membership_spacing as membership_spacing
    from jointstats.line.spacing_kinds import own_normal_spacing as own_normal_spacing
    from jointstats.line.spacing_survival import SpacingCurve as SpacingCurve
    from jointstats.line.spacing_survival import SpacingQuantile as SpacingQuantile
    from jointstats.line.spacing_survival import spacing_classes as spacing_classes
    from jointstats.line.spacing_survival import spacing_curve as spacing_curve
    from jointstats.line.spacing_terms import spacing_term as spacing_term
    from jointstats.line.windows import HoleFrequency as HoleFrequency
    from jointstats.line.windows import cumulative_fractures as cumulative_fractures
    from jointstats.line.windows import frequency_in_windows as frequency_in_windows
    from jointstats.line.windows import hole_frequency as hole_frequency
    from jointstats.line.zones import Boundary as Boundary
    from jointstats.line.zones import FrequencyZones as FrequencyZones
    from jointstats.line.zones import Zone as Zone
    from jointstats.line.zones import frequency_zones as frequency_zones

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
