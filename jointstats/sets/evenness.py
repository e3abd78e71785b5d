"""Whether a set is as frequent in every hole as the whole fit says: a test over the holes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from jointstats.borehole.fractures import Fractures
from jointstats.sets.reliability import SMALL_P
from jointstats.words import listed, number, p_value

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["Evenness", "evenness_of"]

Array = NDArray[np.float64]

_MOST_COUNTS = 8


@dataclass(frozen=True, eq=False)
class Evenness:
    """Counts of a set in the holes beside those of a set that is even throughout.

    Attributes
    ----------
    holes : tuple of str
        Those of which at least one fracture is expected.
    counted, expected : ndarray, shape (m,)
        The expected counts share out the number counted in proportion to P32 times exposure.
    statistic : float
        Σ (counted − expected)² / expected.
    degrees : int
        m − 1; zero if there is nothing to test.
    chance : float
        p of the χ² test; 1 if there is nothing to test.

    Examples
    --------
    >>> one = Evenness(("A", "B"), np.array([9.0, 1.0]), np.array([5.0, 5.0]), 6.4, 1, 0.0114)
    >>> one.counts
    'A 9 for 5.0 and B 1 for 5.0'
    """

    holes: tuple[str, ...]
    counted: Array
    expected: Array
    statistic: float
    degrees: int
    chance: float

    @property
    def counts(self) -> str:
        """Counted for expected, hole by hole."""
        rows = zip(self.holes, self.counted, self.expected, strict=True)
        return listed([f"{name} {n:.0f} for {number(e, 2)}" for name, n, e in rows])

    @property
    def sentence(self) -> str:
        """The test in words, whatever it finds."""
        if not self.degrees:
            return "Fewer than two holes expect a fracture of it: evenness cannot be tested."
        many = len(self.holes) > _MOST_COUNTS
        each = "" if many else f" (counted for expected: {self.counts})"
        found = (
            "more uneven than chance"
            if self.chance < SMALL_P
            else "no more uneven than chance makes it"
            if self.chance >= 0.05
            else "somewhat uneven; chance does so less than once in twenty"
        )
        return (
            f"From hole to hole{each}: χ² {number(self.statistic, 2)} on {self.degrees} "
            f"{'degree' if self.degrees == 1 else 'degrees'} of freedom, "
            f"{p_value(self.chance)}; {found}."
        )


def evenness_of(result: SiteAnalysis, one: JointSet) -> Evenness:
    """Test a set for being even over the holes, the number of its fractures being given.

    Parameters
    ----------
    result : SiteAnalysis
    one : JointSet

    Returns
    -------
    Evenness
        Of the fractures in the fit.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> evenness_of(result, result.sets[0]).degrees
    2
    """
    mine = Fractures(result.fractures).of_set(one.name).fitted
    expected = one.holes["n_expected"].to_numpy(float)
    counted = np.array([len(mine.in_hole(name)) for name in one.holes["hole"]], dtype=float)
    kept = expected >= 1.0
    names = tuple(str(name) for name in one.holes["hole"][kept])
    counted, expected = counted[kept], expected[kept]
    if len(names) < 2 or not counted.sum():
        return Evenness(names, counted, expected, 0.0, 0, 1.0)
    expected = expected * counted.sum() / expected.sum()
    statistic = float(((counted - expected) ** 2 / expected).sum())
    degrees = len(names) - 1
    return Evenness(names, counted, expected, statistic, degrees, float(chdtrc(degrees, statistic)))
