"""How far a set may be relied on, in words, by rules that are written out in the report.

The limits are this project's own choice, not those of a standard: they are set so that "firm" means
an interval that seldom changes a design, and "weak" one that often would.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

if TYPE_CHECKING:
    from jointstats.line.spacing import SpacingStatistics
    from jointstats.sets.joint_set import JointSet

__all__ = [
    "FEWEST_FOR_TEST",
    "GOOD_ANGLE_DEG",
    "SMALL_P",
    "SURENESS_RULE",
    "USE_RULE",
    "Use",
    "apart",
    "chance_of_clusters",
    "good_holes",
    "how_sure",
    "least_sure",
    "uses_of",
]

#: Level of the tests behind a judgement: a false alarm once in a hundred sound sets.
SMALL_P = 0.01
#: Fewer spacings say too little of how they are placed.
FEWEST_FOR_TEST = 20
#: Below this angle to the planes of a set a hole gives its spacing by large corrections only.
GOOD_ANGLE_DEG = 30.0

#: (word, fewest fractures, widest cone in degrees, largest ratio of the ends of the P32 interval,
#: smallest share seen above the blind angle), strictest first.
_GRADES = (("firm", 30, 8.0, 2.0, 0.8), ("fair", 15, 15.0, 3.0, 0.5))

SURENESS_RULE = (
    "Firm: at least 30 fractures, confidence cone at most 8°, the upper end of the P32 interval at "
    "most 2 times the lower, and at least 80 % of the set's fractures above the blind angle. Fair: "
    "at least 15 fractures, cone at most 15°, ratio at most 3, at least 50 % seen. Weak: anything "
    "less. These limits are this report's own; no standard sets them."
)

USE_RULE = (
    "Orientation: yes with at least 15 fractures and a cone of at most 10°; with care from 6 "
    "fractures and a cone of at most 20°. Frequency: yes if the ends of the P32 interval differ "
    "by a factor of at most 2 and at least 80 % of the set was seen; with care up to a factor of 4 "
    "and from 50 % seen. Spacing: yes with at least 30 spacings, and at least 30 fractures in holes "
    "at 30° or more to the set; with care from 10 spacings, or where they come in clusters (the "
    "p of Bartlett's test of random placing is below 0.01). Otherwise no. These limits are this "
    "report's own; no standard sets them."
)


@dataclass(frozen=True)
class Use:
    """Whether one property of a set may be used for design, and why.

    Attributes
    ----------
    what : str
        "orientation", "frequency" or "spacing".
    verdict : str
        "yes", "with care" or "no".
    reason : str
        The figures that decided it.

    Examples
    --------
    >>> Use("spacing", "no", "5 spacings").verdict
    'no'
    """

    what: str
    verdict: str
    reason: str


def interval_ratio(interval: tuple[float, float]) -> float:
    """Upper end of an interval over its lower end; infinite if the lower end is zero.

    Parameters
    ----------
    interval : (float, float)

    Returns
    -------
    float

    Examples
    --------
    >>> interval_ratio((0.5, 2.0))
    4.0
    """
    low, high = interval
    return high / low if low > 0 and np.isfinite(high) else float("inf")


def how_sure(one: JointSet) -> str:
    """Grade of a set: "firm", "fair" or "weak", by `SURENESS_RULE`.

    Parameters
    ----------
    one : JointSet

    Returns
    -------
    str

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> how_sure(Plain(n=40, cone_deg=4.0, p32_interval=(1.0, 1.6), seen_share=0.9))
    'firm'
    """
    ratio = interval_ratio(one.p32_interval)
    for word, fewest, cone, widest, seen in _GRADES:
        enough = one.n >= fewest and one.cone_deg <= cone
        if enough and ratio <= widest and one.seen_share >= seen:
            return word
    return "weak"


def least_sure(sets: tuple[JointSet, ...]) -> JointSet | None:
    """The set of the lowest grade; among equals, the one of the widest relative P32 interval.

    Parameters
    ----------
    sets : tuple of JointSet

    Returns
    -------
    JointSet or None
        None if there are fewer than two sets.

    Examples
    --------
    >>> least_sure(()) is None
    True
    """
    if len(sets) < 2:
        return None
    order = {"weak": 0, "fair": 1, "firm": 2}
    return min(sets, key=lambda one: (order[how_sure(one)], -interval_ratio(one.p32_interval)))


def uses_of(one: JointSet) -> tuple[Use, Use, Use]:
    """Whether orientation, frequency and spacing of a set may be used for design.

    Parameters
    ----------
    one : JointSet

    Returns
    -------
    tuple of Use
        Orientation, frequency, spacing; by `USE_RULE`.

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> spacing = Plain(n=5, spacings_m=np.ones(5))
    >>> holes = {"n": np.array([40]), "angle_deg": np.array([70.0])}
    >>> one = Plain(n=40, cone_deg=4.0, p32_interval=(1.0, 1.6), seen_share=0.9,
    ...             spacing=spacing, best_angle_deg=70.0, holes=holes)
    >>> [use.verdict for use in uses_of(one)]
    ['yes', 'yes', 'no']
    """
    ratio = interval_ratio(one.p32_interval)
    orientation = _verdict(
        one.n >= 15 and one.cone_deg <= 10.0, one.n >= 6 and one.cone_deg <= 20.0
    )
    frequency = _verdict(
        ratio <= 2.0 and one.seen_share >= 0.8, ratio <= 4.0 and one.seen_share >= 0.5
    )
    clustered = chance_of_clusters(one.spacing) < SMALL_P
    enough = one.spacing.n >= 30 and one.holes["n"][good_holes(one)].sum() >= 30
    spacing = _verdict(enough and not clustered, one.spacing.n >= 10)
    return (
        Use("orientation", orientation, f"{one.n} fractures, cone {one.cone_deg:.1f}°"),
        Use(
            "frequency",
            frequency,
            f"ends of the P32 interval differ {apart(one)}, {100 * one.seen_share:.0f} % seen",
        ),
        Use(
            "spacing",
            spacing,
            f"{one.spacing.n} spacings{', in clusters' * clustered}, best hole at "
            f"{one.best_angle_deg:.0f}° to the set{_at_good_angle(one)}",
        ),
    )


def good_holes(one: JointSet) -> NDArray[np.bool_]:
    """Which holes cross the planes of a set at `GOOD_ANGLE_DEG` or more, in the order of its table.

    Parameters
    ----------
    one : JointSet

    Returns
    -------
    ndarray of bool

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> good_holes(Plain(holes={"angle_deg": [15.0, 62.0]}))
    array([False,  True])
    """
    return np.asarray(one.holes["angle_deg"], dtype=float) >= GOOD_ANGLE_DEG


def _at_good_angle(one: JointSet) -> str:
    """By how many holes at a good angle a set is seen, and how much of it they hold."""
    good = good_holes(one)
    if len(good) < 2:
        return ""
    if good.all():
        return f", all {len(good)} holes at {GOOD_ANGLE_DEG:g}° or more"
    counts = np.asarray(one.holes["n"])
    return (
        f", {good.sum()} of {len(good)} holes at {GOOD_ANGLE_DEG:g}° or more, with "
        f"{counts[good].sum()} of its {counts.sum()} fractures"
    )


def apart(one: JointSet) -> str:
    """By how much the ends of the P32 interval of a set differ, in words.

    Parameters
    ----------
    one : JointSet

    Returns
    -------
    str

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> apart(Plain(p32_interval=(1.0, 1.7)))
    'by a factor of 1.7'
    """
    ratio = interval_ratio(one.p32_interval)
    return "without limit" if np.isinf(ratio) else f"by a factor of {ratio:.1f}"


def chance_of_clusters(spacing: SpacingStatistics) -> float:
    """Chance that spacings at random would be as uneven as these; 1 below 20 spacings.

    Parameters
    ----------
    spacing : SpacingStatistics

    Returns
    -------
    float
        0 to 1. Bartlett's test of an exponential against a gamma distribution, its upper tail:
        Moran 1951, J. R. Stat. Soc. B 13: 147-150 (from memory).

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> chance_of_clusters(Plain(spacings_m=np.ones(30)))
    1.0
    """
    known = spacing.spacings_m[spacing.spacings_m > 0]
    n = len(known)
    if n < FEWEST_FOR_TEST:
        return 1.0
    scatter = -2.0 * float(np.log(known / known.mean()).sum()) / (1.0 + (n + 1) / (6.0 * n))
    return float(chdtrc(n - 1, scatter))


def _verdict(yes: bool, with_care: bool) -> str:
    return "yes" if yes else "with care" if with_care else "no"
