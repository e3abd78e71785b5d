"""Published check values, each with its source; tests compare to half a unit of the last digit.

Every entry is a `Reference`: what was printed, to how many digits, and where it was read.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reference:
    """A printed number (or several) with its unit, its last printed digit and its source."""

    value: float | tuple[float, ...]
    unit: str
    last_digit: float
    source: str
    obtained: str = "read in the source"

    @property
    def tolerance(self) -> float:
        """Half a unit of the last printed digit."""
        return 0.5 * self.last_digit


# Orientation and sampling

HARRISON_HUDSON_COSINES = Reference(
    (0.484, 0.428, 0.274, 0.536, 0.746, 0.846),
    "-",
    0.001,
    "Harrison & Hudson 2000, Engineering Rock Mechanics Part 2, Question 7.10, pp. 113-114",
)
HARRISON_HUDSON_WEIGHTS = Reference(
    (2.066, 2.338, 3.645, 1.866, 1.340, 1.183),
    "-",
    0.001,
    "Harrison & Hudson 2000, Engineering Rock Mechanics Part 2, Question 7.10, pp. 113-114",
)

# Hole paths and planes seen from a hole

WALL_TRACE_DIP = Reference(
    62.0, "degrees", 1.0, "A logging contractor's technical note: height 0.62 ft, diameter 3.91 in"
)
APPARENT_TO_TRUE_DIP = Reference(
    (44.0, 110.0),
    "degrees",
    1.0,
    "Brady & Brown, Rock Mechanics for Underground Mining, Appendix A (dip, dip direction)",
)
PLANE_INTERSECTIONS = (
    Reference(
        (219.0, 26.0),
        "degrees",
        1.0,
        "Hudson & Harrison 1997, Engineering Rock Mechanics, Appendix: 266/36 x 146/59",
    ),
    Reference(
        (201.0, 21.0),
        "degrees",
        1.0,
        "Brady & Brown, Rock Mechanics for Underground Mining, Appendix A: 130/50 x 250/30",
    ),
)
MINIMUM_CURVATURE_DOGLEG = Reference(
    12.95, "degrees", 0.01, "A drilling-formulas page: 3500 15/20 to 3600 25/45"
)
MINIMUM_CURVATURE_STEP = Reference(
    (27.22, 19.45, 94.01),
    "the unit of depth",
    0.01,
    "A drilling-formulas page: 3500 15/20 to 3600 25/45 (north, east, vertical)",
)
