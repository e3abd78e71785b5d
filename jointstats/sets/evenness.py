"""Whether a set is as frequent in every hole as the whole fit says: a test over the holes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc

from jointstats.borehole.fractures import Fractures
from jointstats.types import Array
from jointstats.words import listed, number, p_value

if TYPE_CHECKING:
    from jointstats.sets.fitted import Fitted
    from jointstats.sets.joint_set import JointSet

#: Level of the tests behind a judgement: a false alarm once in a hundred sound sets.
SMALL_P = 0.01
_MOST_COUNTS = 8
#: The chi-square law holds for holes that expect at least so many fractures.
_FEWEST_EXPECTED = 1.0


@dataclass(frozen=True, eq=False)
class Evenness:
    """Counts of a set in the holes beside those of a set that is even throughout.

    Attributes
    ----------
    holes : tuple of str
        Those of which at least one fracture is expected.
    observed, expected : ndarray, shape (m,)
        The expected counts share out the number observed in proportion to P32 times exposure.
    statistic : float
        Σ (observed − expected)² / expected.
    degrees : int
        m − 1; zero if there is nothing to test.
    pvalue : float
        Of the χ² test; 1 if there is nothing to test.

    Examples
    --------
    >>> one = Evenness(("A", "B"), np.array([9.0, 1.0]), np.array([5.0, 5.0]), 6.4, 1, 0.0114)
    >>> one.counts
    'A observed 9, expected 5.0 and B observed 1, expected 5.0'
    """

    holes: tuple[str, ...]
    observed: Array
    expected: Array
    statistic: float
    degrees: int
    pvalue: float

    @property
    def counts(self) -> str:
        """Observed and expected counts, hole by hole; only the two farthest apart of many."""
        rows = list(zip(self.holes, self.observed, self.expected, strict=True))
        if len(rows) > _MOST_COUNTS:
            rows.sort(key=lambda row: -abs(row[1] - row[2]) / np.sqrt(row[2]))
            rows = rows[:2]
        each = [f"{name} observed {n:.0f}, expected {number(e, 2)}" for name, n, e in rows]
        return listed(each)

    @property
    def sentence(self) -> str:
        """The test in words, whatever it finds."""
        if not self.degrees:
            return "Fewer than two holes expect a fracture of it: evenness cannot be tested."
        found = (
            "consistent with chance"
            if self.pvalue >= 0.05
            else "borderline"
            if self.pvalue >= SMALL_P
            else "more uneven than chance explains"
        )
        return f"Between holes: {found} ({p_value(self.pvalue)}; {self.counts})."


def evenness_of(result: Fitted, one: JointSet) -> Evenness:
    """Test a set for being even over the holes, the number of its fractures being given.

    Gives of the fractures in the fit.
    """
    mine = Fractures(result.fractures).of_set(one.name).fitted
    expected = one.holes["n_expected"].to_numpy(float)
    observed = np.array([len(mine.in_hole(name)) for name in one.holes["hole"]], dtype=float)
    kept = expected >= _FEWEST_EXPECTED
    names = tuple(str(name) for name in one.holes["hole"][kept])
    observed, expected = observed[kept], expected[kept]
    if len(names) < 2 or not observed.sum():
        return Evenness(names, observed, expected, 0.0, 0, 1.0)
    expected = expected * observed.sum() / expected.sum()
    statistic = float(((observed - expected) ** 2 / expected).sum())
    degrees = len(names) - 1
    pvalue = float(chdtrc(degrees, statistic))
    return Evenness(names, observed, expected, statistic, degrees, pvalue)
