"""Along a line: spacing, zones, rock quality and the terms of the ISRM."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "FrequencyZones": "line.zones",
    "MembershipSpacing": "line.spacing_kinds",
    "SpacingFits": "line.spacing_fits",
    "SpacingStatistics": "line.spacing",
    "cumulative_fractures": "line.windows",
    "fit_spacings": "line.spacing_fits",
    "frequency_in_windows": "line.windows",
    "frequency_zones": "line.zones",
    "hole_frequency": "line.windows",
    "membership_spacing": "line.spacing_kinds",
    "own_normal_spacing": "line.spacing_kinds",
    "poisson_interval": "intervals",
    "pool_spacings": "line.spacing",
    "rqd_from_depths": "line.quality",
    "rqd_from_frequency": "line.quality",
    "rqd_from_volumetric_count": "line.quality",
    "rqd_linear": "line.quality",
    "set_spacing": "line.spacing",
    "simulate_spacings": "line.spacing_fits",
    "spacing_classes": "line.spacing_survival",
    "spacing_curve": "line.spacing_survival",
    "spacing_precision": "line.precision",
    "spacing_term": "line.spacing_terms",
    "spacings_needed": "line.precision",
    "volumetric_joint_count": "line.quality",
    "volumetric_joint_count_interval": "line.quality",
}

__all__ = [
    "FrequencyZones",
    "MembershipSpacing",
    "SpacingFits",
    "SpacingStatistics",
    "cumulative_fractures",
    "fit_spacings",
    "frequency_in_windows",
    "frequency_zones",
    "hole_frequency",
    "membership_spacing",
    "own_normal_spacing",
    "poisson_interval",
    "pool_spacings",
    "rqd_from_depths",
    "rqd_from_frequency",
    "rqd_from_volumetric_count",
    "rqd_linear",
    "set_spacing",
    "simulate_spacings",
    "spacing_classes",
    "spacing_curve",
    "spacing_precision",
    "spacing_term",
    "spacings_needed",
    "volumetric_joint_count",
    "volumetric_joint_count_interval",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
