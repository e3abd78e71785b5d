"""Lengths along one line, joined and in order, and the arithmetic of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jointstats.checks import check_interval
from jointstats.types import Array

#: Depths are read to a millimetre at best: closer than this two ends are one, metres.
_SAME_M = 1e-6


@dataclass(frozen=True)
class Spans:
    """Lengths along one line; those that touch or overlap are joined.

    Parameters
    ----------
    pairs : sequence of (from_m, to_m)
        Depths, metres, any order.

    Raises
    ------
    InputError
        If a length does not end beyond its start.

    Examples
    --------
    >>> logged = Spans([(10, 20), (0, 10), (30, 40)])
    >>> logged.pairs, logged.total_m
    (((0.0, 20.0), (30.0, 40.0)), 30.0)
    >>> Spans([(0, 50)]).minus(logged).pairs
    ((20.0, 30.0), (40.0, 50.0))
    """

    pairs: Sequence[tuple[float, float]] = ()

    def __post_init__(self) -> None:
        joined: list[tuple[float, float]] = []
        for low, high in sorted(check_interval(*one) for one in self.pairs):
            # Runs of core end where the next begins, but for rounding: no gap of a micrometre may cut a spacing.
            if joined and low <= joined[-1][1] + _SAME_M:
                joined[-1] = (joined[-1][0], max(joined[-1][1], high))
            else:
                joined.append((low, high))
        object.__setattr__(self, "pairs", tuple(joined))

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return iter(self.pairs)

    def __len__(self) -> int:
        return len(self.pairs)

    @property
    def total_m(self) -> float:
        """Metres in all."""
        return sum(high - low for low, high in self.pairs)

    @property
    def edges_m(self) -> Array:
        """Ends of the lengths laid end to end, shape (lengths + 1,), metres."""
        return np.cumsum([0.0, *(high - low for low, high in self.pairs)])

    def union(self, other: Spans) -> Spans:
        """What either covers."""
        return Spans((*self.pairs, *other.pairs))

    def minus(self, other: Spans) -> Spans:
        """What the other does not cover."""
        left = list(self.pairs)
        for low, high in other.pairs:
            # What lies above and below the length taken out; a part turned inside out has nothing left.
            parts = [part for a, b in left for part in ((a, min(b, low)), (max(a, high), b))]
            left = [(a, b) for a, b in parts if b - a > _SAME_M]
        return Spans(left)

    def both(self, other: Spans) -> Spans:
        """What this and the other cover."""
        # What is left without what the other has not: the same tolerance at all ends, and no second rule.
        return self.minus(self.minus(other))

    def clip(self, low_m: float, high_m: float) -> Spans:
        """What lies between two depths."""
        parts = [(max(a, low_m), min(b, high_m)) for a, b in self.pairs]
        return Spans([(a, b) for a, b in parts if b - a > _SAME_M])

    def holds(self, depth_m: Array) -> NDArray[np.bool_]:
        """Whether each depth, shape (n,), lies in a length, its ends included."""
        inside = np.zeros(len(depth_m), dtype=bool)
        for low, high in self.pairs:
            inside |= (depth_m >= low) & (depth_m <= high)
        return inside

    def metres_to(self, depth_m: Array) -> Array:
        """Metres of the lengths that lie above each depth, shape (n,)."""
        above = np.zeros(len(depth_m))
        for low, high in self.pairs:
            above += np.clip(depth_m - low, 0.0, high - low)
        return above

    def depth_at(self, metres: float, *, end: bool) -> float:
        """Depth with so many metres above it; at a gap its upper edge if `end`, else its lower."""
        # At a gap the same metres stand for two depths: its upper end for an end, its lower for a start.
        starts = self.edges_m
        place = int(np.searchsorted(starts[1:-1], metres, side="left" if end else "right"))
        return self.pairs[place][0] + metres - float(starts[place])
