"""How far the figures of a set may be relied on: grades by stated limits, and what is against them.

The limits are this project's own choice, not those of a standard: they are set so that "high" means
an interval that seldom changes a design, and "low" one that often would.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from jointstats.line.placing import SMALL_P
from jointstats.sphere.angles import trend_from_lines
from jointstats.words import number, percent, within

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.oriented_set import OrientedSet

#: Best first.
GRADES = ("high", "moderate", "low")
QUANTITIES = ("orientation", "P32", "spacing")
#: Below this angle to the planes of a set a hole gives its spacing by large corrections only.
GOOD_ANGLE_DEG = 30.0

# For "high" and for "moderate"; anything less is "low".
FEWEST, _WIDEST_CONE_DEG = (30, 15), (10.0, 20.0)
_LARGEST_FACTOR, SMALLEST_SHARE = (1.5, 2.5), (0.8, 0.5)
FEWEST_SPACINGS, _FEWEST_WELL_CUT = (30, 10), 30
#: A set that the readings give less has no quantity of high, or moderate, confidence.
LEAST_PRESENCE = (0.95, 0.8)
#: A set whose probability of being even is lower than the first is called uneven, with a caution;
#: lower than the second, perhaps uneven. Our own choice, no source.
UNEVEN_BELOW, DOUBTFUL_BELOW = 0.1, 0.5
#: Share of its fractures from which a set is one hole's alone.
_ALONE_SHARE = 0.85

#: What a caution is about that touches every set, or every quantity of a set.
ALL_SETS = "all sets"
ALL_QUANTITIES = "every quantity"


@dataclass(frozen=True)
class Caution:
    """One thing to bear in mind.

    Attributes
    ----------
    about : str
        What it touches: a set, "all sets", "the holes", "the fit", "the tables".
    text : str
        What was found, with its figures, and what it means.
    quantity : str
        "orientation", "P32" or "spacing" where it takes the confidence in that down, "every
        quantity" where in all three; else "".
    brief : str
        The finding in a few words, for a table.
    mend : str
        What would mend it; "" if nothing in particular.

    Examples
    --------
    >>> Caution("J3", "Only 5 fractures.").about
    'J3'
    """

    about: str
    text: str
    quantity: str = ""
    brief: str = ""
    mend: str = ""
    most: str = "moderate"


@dataclass(frozen=True)
class Evidence:
    """What one quantity of a set rests on.

    Attributes
    ----------
    about : str
        Name of the set.
    quantity : str
        "orientation", "P32" or "spacing".
    confidence : str
        "high", "moderate" or "low", by `rules`, at most "moderate" where a caution touches it.
    rests_on : str
        The figures that decided it.
    against : tuple of str
        What speaks against it, briefly.
    mend : tuple of str
        What would better it: the hole, the length, the method.

    Examples
    --------
    >>> Evidence("J1", "spacing", "low", "5 spacings", ("few",), ()).confidence
    'low'
    """

    about: str
    quantity: str
    confidence: str
    rests_on: str
    against: tuple[str, ...]
    mend: tuple[str, ...]


def rules() -> str:
    """The limits of the grades in words, as they stand in this module."""
    share = [f"{100 * one:g} %" for one in SMALLEST_SHARE]
    there = [f"{100 * one:g} %" for one in LEAST_PRESENCE]
    return (
        f"Orientation: high with at least {FEWEST[0]} fractures and a confidence cone of at most "
        f"{_WIDEST_CONE_DEG[0]:g}°, moderate with {FEWEST[1]} and {_WIDEST_CONE_DEG[1]:g}°. "
        f"P32: high if each end of its interval, that of the rock of the site, is within a factor "
        f"{_LARGEST_FACTOR[0]:g} of it and the observable share at least {share[0]}, moderate with "
        f"{_LARGEST_FACTOR[1]:g} and {share[1]}. Spacing: high with at least {FEWEST_SPACINGS[0]} "
        f"spacings, {_FEWEST_WELL_CUT} fractures in holes at {GOOD_ANGLE_DEG:g}° or more to the "
        f"set and an interval within a factor {_LARGEST_FACTOR[0]:g}, moderate with "
        f"{FEWEST_SPACINGS[1]} and {_LARGEST_FACTOR[1]:g}. Any: high only if the set is there with "
        f"probability {there[0]}, moderate with {there[1]}. Otherwise low. A caution on a quantity "
        "takes it to moderate at best, one on a hole at odds with the rest to low. A set has the lowest of "
        "its three grades. The limits are this report's own choice; no standard sets them."
    )


def lowest(grades: Sequence[str]) -> str:
    """The worst of some grades.

    >>> lowest(["high", "low", "moderate"])
    'low'
    """
    return max(grades, key=GRADES.index)


def interval_factor(one: JointSet) -> float:
    """The larger factor between P32 and an end of its interval; infinite if the lower is zero.

    >>> from types import SimpleNamespace as Plain
    >>> interval_factor(Plain(p32_per_m=1.0, p32_interval=(0.5, 1.5)))
    2.0
    """
    low, high = one.p32_interval
    if not (low > 0 and np.isfinite(high)):
        return float("inf")
    return max(one.p32_per_m / low, high / one.p32_per_m)


def known_within(one: JointSet) -> str:
    """How well P32 is known, in words; rounded up, so never printed below a limit that it is above.

    >>> from types import SimpleNamespace as Plain
    >>> known_within(Plain(p32_per_m=1.0, p32_interval=(0.49, 1.5)))
    'known within a factor 2.1'
    """
    factor = interval_factor(one)
    return "no bound" if np.isinf(factor) else f"known within a factor {np.ceil(10 * factor) / 10:.1f}"


def good_holes(one: JointSet) -> NDArray[np.bool_]:
    """Which holes cross the planes of a set at `GOOD_ANGLE_DEG` or more, in the order of its table.

    >>> from types import SimpleNamespace as Plain
    >>> good_holes(Plain(holes={"angle_deg": [15.0, 62.0]}))
    array([False,  True])
    """
    return np.asarray(one.holes["angle_deg"], dtype=float) >= GOOD_ANGLE_DEG


def evidence_of(one: JointSet, cautions: Sequence[Caution] = ()) -> tuple[Evidence, ...]:
    """Confidence in each quantity of a set, with what it rests on and what would better it.

    Gives orientation, P32, spacing; of a girdle the first two.
    """
    grade, rests_on, lacking = _orientation(one)
    graded = ((grade, rests_on, _more(one, lacking)), _intensity(one), _spacing(one))
    # A girdle has no mean normal, so no spacing.
    asked = QUANTITIES if one.mean is not None else QUANTITIES[:2]
    return tuple(
        _evidence(one, quantity, told, cautions)
        for quantity, told in zip(asked, graded, strict=False)
    )


def evidence_of_orientation(one: OrientedSet, cautions: Sequence[Caution] = ()) -> Evidence:
    """The same of the orientation alone, of a set whose sampling is not known."""
    grade, rests_on, lacking = _orientation(one)
    more = [f"about {number(lacking, 2)} more poles"] if lacking > 0 else []
    return _evidence(one, QUANTITIES[0], (grade, rests_on, more), cautions)


def _evidence(
    one: OrientedSet, quantity: str, found: tuple[str, str, list[str]], cautions: Sequence[Caution]
) -> Evidence:
    """A grade as the presence of the set and the cautions leave it."""
    grade, rests_on, mend = found
    there = _graded(*(one.presence >= least for least in LEAST_PRESENCE))
    told = [
        c
        for c in cautions
        if c.quantity in (quantity, ALL_QUANTITIES) and c.about in (one.name, ALL_SETS)
    ]
    return Evidence(
        about=one.name,
        quantity=quantity,
        confidence=lowest([grade, there, *(c.most for c in told)]),
        rests_on=rests_on,
        against=tuple(c.brief for c in told),
        mend=tuple(dict.fromkeys([*mend, *(c.mend for c in told if c.mend)])),
    )


def _graded(high: bool, moderate: bool) -> str:
    return "high" if high else "moderate" if moderate else "low"


def _orientation(one: OrientedSet) -> tuple[str, str, float]:
    """Grade, what it rests on, and how many more fractures a better one needs."""
    cone = np.inf if one.cone_deg is None else one.cone_deg
    fits = [
        one.n >= n and (cone <= widest or one.mean is None)
        for n, widest in zip(FEWEST, _WIDEST_CONE_DEG, strict=True)
    ]
    grade = _graded(*fits)
    told = "" if one.cone_deg is None else f", cone {one.cone_deg:.1f}°"
    more = float(FEWEST[0] - one.n)
    if np.isfinite(cone):
        # A cone narrows as one over the root of the number.
        more = max(more, one.n * ((cone / _WIDEST_CONE_DEG[0]) ** 2 - 1.0))
    return grade, f"{one.n} fractures{told}", 0.0 if fits[0] else more


def _intensity(one: JointSet) -> tuple[str, str, list[str]]:
    factor = interval_factor(one)
    fits = [
        factor <= most and one.seen_share >= share
        for most, share in zip(_LARGEST_FACTOR, SMALLEST_SHARE, strict=True)
    ]
    mend = []
    if factor > _LARGEST_FACTOR[0] and np.isfinite(factor):
        # The logarithm of the factor narrows as one over the root of the number.
        more = one.n * ((np.log(factor) / np.log(_LARGEST_FACTOR[0])) ** 2 - 1.0)
        mend = _more(one, more)
    if one.seen_share < SMALLEST_SHARE[0]:
        mend.append(_across(one))
    told = f"{known_within(one)}, {percent(one.seen_share)} observable"
    return _graded(*fits), told, mend


def _spacing(one: JointSet) -> tuple[str, str, list[str]]:
    good = good_holes(one)
    counts = np.asarray(one.holes["n"])
    well_cut = int(counts[good].sum())
    n, factor = one.spacing.n, _spacing_factor(one)
    fits = [
        n >= fewest and factor <= most and well_cut >= least
        for fewest, most, least in zip(
            FEWEST_SPACINGS, _LARGEST_FACTOR, (_FEWEST_WELL_CUT, 0), strict=True
        )
    ]
    told = f"{n} spacings; {int(good.sum())} of {len(good)} holes at {GOOD_ANGLE_DEG:g}° or more"
    if good.any() and not good.all():
        told += f" hold {well_cut} of {int(counts.sum())} fractures"
    mend = []
    if n < FEWEST_SPACINGS[0]:
        mend += _more(one, FEWEST_SPACINGS[0] - n)
    if well_cut < _FEWEST_WELL_CUT:
        mend.append(_across(one))
    return _graded(*fits), told, mend


def _spacing_factor(one: JointSet) -> float:
    """The larger factor between the mean spacing and an end of its interval."""
    interval, mean = one.spacing_interval_m, one.spacing.mean_m
    if interval is None or mean is None or interval[1] is None or not interval[0] > 0:
        return float("inf")
    return max(mean / interval[0], interval[1] / mean)


def _more(one: JointSet, fractures: float) -> list[str]:
    """How much more hole, square to the set, would intersect so many more of it."""
    if not one.p32_per_m > 0 or fractures <= 0:
        return []
    length = number(max(1.0, fractures / one.p32_per_m), 2)
    return [f"about {length} m more of hole{_square_to(one)}"]


def _across(one: JointSet) -> str:
    return f"a hole at {GOOD_ANGLE_DEG:g}° or more to the set{_square_to(one)}"


def _square_to(one: JointSet) -> str:
    if one.mean is None:
        return ""
    trend, plunge = trend_from_lines(one.mean)
    return f" (square to it: trend {round(float(trend[0])) % 360:03d}°, plunge {plunge[0]:.0f}°)"


def evenness_word(one: JointSet) -> str:
    """"uneven", "perhaps uneven", or "even" where the counts are consistent with it."""
    if one.even_probability < UNEVEN_BELOW:
        return "uneven"
    return "perhaps uneven" if one.even_probability < DOUBTFUL_BELOW else "even"


def evenness_phrase(one: JointSet) -> str:
    """How even a set is and, where the counts tell, whether holes differ or fractures come in swarms."""
    word = evenness_word(one)
    if word == "even":
        return "consistent with an even rock"
    places = ("between the holes", "in swarms along the holes")
    where = [
        told
        for chance, told in zip(one.even_probabilities, places, strict=True)
        if chance < DOUBTFUL_BELOW
    ]
    return f"{word} {' and '.join(where) or 'between the holes or along them'}"


def even_chance(one: JointSet) -> str:
    """The probability that the set is even, in words."""
    return f"probability of even rock {percent(one.even_probability)}"


def evenness_sentence(one: JointSet) -> str:
    """How even the set is between the holes and along them, and by how much the holes differ."""
    middle, *limits = one.variation_between_lines
    return (
        f"Counts: {evenness_phrase(one)} ({even_chance(one)}; coefficient of variation between holes "
        f"{number(middle, 2)}, {within((limits[0], limits[1]))})."
    )


class InOneHole(NamedTuple):
    """A set that one hole has all but alone, though the others could have met it."""

    about: str
    hole: str
    n: int
    n_elsewhere: int
    expected_elsewhere: float

    @property
    def sentence(self) -> str:
        """What was met where, and what to check before the set is used."""
        return (
            f"{self.hole} has {self.n} of the {self.n + self.n_elsewhere} fractures of {self.about}; an "
            f"even rock would put {number(self.expected_elsewhere, 2)} of them in other holes. Rock that "
            f"is there alone looks so, and so does a hole whose orientations were read wrongly, which "
            f"the test between the holes cannot clear. Check how {self.hole} was read before the set is "
            "used."
        )


def sets_of_one_hole(sets: Sequence[JointSet]) -> tuple[InOneHole, ...]:
    """Sets that one hole has all but alone, by more than chance: binomial tests, Bonferroni's bound."""
    found = []
    for one in sets:
        n = one.holes["n"].to_numpy(float)
        expected = one.holes["n_expected"].to_numpy(float)
        total, most = n.sum(), int(n.argmax())
        if len(n) < 2 or n[most] < _ALONE_SHARE * total or not expected.sum() > 0:
            continue
        share = expected[most] / expected.sum()
        pvalue = float(binom.sf(n[most] - 1, total, share)) * len(n) * len(sets)
        if pvalue < SMALL_P:
            rest = int(total - n[most])
            name = str(one.holes["hole"].iloc[most])
            found.append(InOneHole(one.name, name, int(n[most]), rest, total * (1.0 - share)))
    return tuple(found)
