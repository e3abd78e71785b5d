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
