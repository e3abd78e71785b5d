"""Whether the fractures that lost their orientation differ from the rest in what is known of both."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtr
from scipy.stats import rankdata

from jointstats.borehole.fractures import Fractures, Mask, Status
from jointstats.intervals import holm
from jointstats.types import Array
from jointstats.words import percent

#: Fractures within so many metres are a fracture's neighbours.
NEAR_M = 0.5
_LEVEL = 0.05


class LossTest(NamedTuple):
    """Fractures without an orientation against the rest of their hole, in one respect.

    Attributes
    ----------
    about : str
        "closeness" or "angle to the hole".
    larger : float
        Chance that one without an orientation has the larger value, one half if they are alike.
    pvalue : float
        Holm-adjusted for the number of tests.
    n : int
        Fractures without an orientation of which the value is known.

    Examples
    --------
    >>> LossTest("closeness", 0.7, 0.001, 40).differs
    True
    """

    about: str
    larger: float
    pvalue: float
    n: int

    @property
    def differs(self) -> bool:
        """Whether the two differ at the level of 5 %."""
        return self.pvalue < _LEVEL

    @property
    def sentence(self) -> str:
        """The finding in words; empty where there is none."""
        if not self.differs:
            return ""
        shown = "p below 0.001" if self.pvalue < 0.001 else f"p = {self.pvalue:.3f}"
        if self.about == "closeness":
            where = "closer together" if self.larger > 0.5 else "farther apart"
            return (
                f"It was not all by chance: fractures that lost it lie {where} than the rest "
                f"({shown}); broken rock may hold another mix of sets."
            )
        where = "squarer to the hole" if self.larger > 0.5 else "more oblique to the hole"
        return (
            f"It was not all by chance: fractures that lost it are {where} than the rest "
            f"({percent(max(self.larger, 1.0 - self.larger))} of pairs, {shown})."
        )


def loss_tests(counted: Fractures) -> tuple[LossTest, ...]:
    """The tests that a table of fractures allows; `counted` has each fracture once."""
    lost = counted.has(Status.NOT_ORIENTED, Status.PARTLY_ORIENTED)
    hole = counted.table["hole"].to_numpy()
    near = _neighbours(hole, counted.depth_m)
    angle = counted.table["hole_angle_deg"].to_numpy(float)
    found = [
        LossTest(about, *_ranked(values[known], lost[known], hole[known]))
        for about, values in (("closeness", near), ("angle to the hole", angle))
        if (known := ~np.isnan(values)).any() and lost[known].any()
    ]
    adjusted = holm([one.pvalue for one in found])
    return tuple(one._replace(pvalue=float(p)) for one, p in zip(found, adjusted, strict=True))


def _neighbours(hole: Array, depth: Array) -> Array:
    """Number of fractures within half a metre of each in its hole."""
    near = np.zeros(len(depth))
    for name in dict.fromkeys(hole):
        own = hole == name
        ordered = np.sort(depth[own])
        above = np.searchsorted(ordered, depth[own] - NEAR_M, "left")
        near[own] = np.searchsorted(ordered, depth[own] + NEAR_M, "right") - above - 1
    return near


def _ranked(values: Array, lost: Mask, hole: Array) -> tuple[float, float, int]:
    """Rank sums within each hole, added up: chance to be larger, p of both sides, number lost.

    Each hole counts by 1 / (N + 1) (van Elteren 1960; from memory), its variance with ties.
    """
    total = variance = larger = pairs = 0.0
    for name in dict.fromkeys(hole):
        own = hole == name
        n, m = len(values[own]), int(lost[own].sum())
        if not 0 < m < n:
            continue
        ranks = rankdata(values[own])
        above = float(ranks[lost[own]].sum()) - 0.5 * m * (n + 1)
        total += above / (n + 1)
        variance += m * (n - m) / n * ranks.var(ddof=1) / (n + 1) ** 2
        larger, pairs = larger + above, pairs + m * (n - m)
    share = 0.5 + larger / pairs if pairs else 0.5
    pvalue = 2.0 * float(ndtr(-abs(total) / np.sqrt(variance))) if variance > 0 else 1.0
    return share, pvalue, int(lost.sum())
