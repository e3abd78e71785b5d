"""What a design asks of the rock: frequency by direction, blocks, intersections, further holes."""

from __future__ import annotations

from jointstats.lazy import lazy_names

# Public name -> module it lives in. Loaded on first use.
_HOMES = {
    "BlockSizes": "design.block_sizes",
    "FrequencyExtremes": "design.extremes",
    "IntersectionLines": "design.intersections",
    "NextHole": "design.further_hole",
    "block_shape": "design.block_sizes",
    "block_volume": "design.blocks",
    "expected_errors": "design.further_hole",
    "frequency_along": "design.frequency",
    "frequency_extremes": "design.extremes",
    "intersection_lines": "design.intersections",
    "intersections_of_planes": "design.intersections",
    "mean_block_volume": "design.block_sizes",
    "next_hole": "design.further_hole",
    "rqd_along": "design.extremes",
    "simulate_blocks": "design.block_sizes",
    "trace_intensity_on_face": "design.faces",
}

__all__ = [
    "BlockSizes",
    "FrequencyExtremes",
    "IntersectionLines",
    "NextHole",
    "block_shape",
    "block_volume",
    "expected_errors",
    "frequency_along",
    "frequency_extremes",
    "intersection_lines",
    "intersections_of_planes",
    "mean_block_volume",
    "next_hole",
    "rqd_along",
    "simulate_blocks",
    "trace_intensity_on_face",
]

__getattr__, __dir__ = lazy_names(__name__, _HOMES)
