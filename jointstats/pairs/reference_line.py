"""The line from which β of a hole's core is counted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from jointstats.borehole.frame import reference_lines
from jointstats.borehole.hole import Hole
from jointstats.types import Array


@dataclass(frozen=True)
class ReferenceLine:
    """Where β = 0 lies on the wall, for the turns of the runs."""

    name: str

    def along(self, hole: Hole, depth: Array) -> tuple[Array, Array]:
        """Direction of the hole, and from its axis to the line, at depths."""
        directions = hole.path.direction(np.maximum(depth, 0.0))
        if self.name == "low side":
            return directions, reference_lines(directions, "low side")
        north = np.array([0.0, 1.0, 0.0])
        square = north - (directions @ north)[:, np.newaxis] * directions
        return directions, square / np.linalg.norm(square, axis=1, keepdims=True)


def line_of(hole: Hole) -> ReferenceLine:
    """The low side where the hole leans by 2° or more throughout, else north."""
    directions = hole.path.direction(np.linspace(0.0, hole.length_m, 50))
    tilt = np.degrees(np.arccos(np.clip(np.abs(directions[:, 2]), 0.0, 1.0)))
    return ReferenceLine("low side" if tilt.min() > 2.0 else "north")
