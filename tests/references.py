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
