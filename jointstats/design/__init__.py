"""What a design asks of the rock: frequency by direction, blocks, intersections, further holes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.lazy import lazy_names

# The public names, each loaded from its module on first use.
if TYPE_CHECKING:
    from jointstats.design.block_sizes import BlockSizes as BlockSizes
    from jointstats.design.block_sizes import block_shape as block_shape
    from jointstats.design.block_sizes import simulate_blocks as simulate_blocks
    from jointstats.design.blocks import block_volume as block_volume
    from jointstats.design.blocks import mean_block_volume as mean_block_volume
    from jointstats.design.estimates import Estimate as Estimate
    from jointstats.design.estimates import estimate as estimate
    from jointstats.design.extremes import FrequencyExtremes as FrequencyExtremes
    from jointstats.design.extremes import frequency_extremes as frequency_extremes
    from jointstats.design.extremes import rqd_along as rqd_along
    from jointstats.design.faces import trace_intensity_on_face as trace_intensity_on_face
    from jointstats.design.frequency import frequency_along as frequency_along
    from jointstats.design.frequency import intensity as intensity
    from jointstats.design.frequency import spacing_along as spacing_along
    from jointstats.design.further_hole import NextHole as NextHole
    from jointstats.design.further_hole import expected_errors as expected_errors
    from jointstats.design.further_hole import next_hole as next_hole
    from jointstats.design.intersections import IntersectionLines as IntersectionLines
    from jointstats.design.intersections import intersection_lines as intersection_lines
    from jointstats.design.intersections import intersections_of_planes as intersections_of_planes
    from jointstats.design.realised import drill as drill
    from jointstats.design.realised import realise as realise

__getattr__, __dir__, __all__ = lazy_names(__name__, __file__)
