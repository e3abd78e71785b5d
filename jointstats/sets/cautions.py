"""What a reader must bear in mind, found in the data of each analysis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.fractures import Fractures
from jointstats.sets.evenness import evenness_of
from jointstats.sets.reliability import GOOD_ANGLE_DEG, SMALL_P, chance_of_clusters
from jointstats.sets.unseen import share_by_metres
from jointstats.sphere.axes import axis_angles_deg
from jointstats.words import listed, number, p_value, within

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["STANDING", "Caution", "cautions_of"]

Array = NDArray[np.float64]

STANDING = (
    "This report supports the judgement of a qualified engineer or geologist; it does not replace "
    "it, nor the codes and the licensed practice of the place. A borehole samples a line: volume "
    "figures rest on the assumption that the sets are alike throughout the rock between the holes."
)

FEW_FRACTURES = 15
SMALL_SHARE_SEEN = 0.8
LARGE_WEIGHT = 3.0
PARALLEL_WITHIN_DEG = 20.0
LARGE_UNASSIGNED = 0.4
SURE_MEMBERSHIP = 0.7
LARGE_DOUBTFUL = 0.2


@dataclass(frozen=True)
class Caution:
    """One thing to bear in mind.

    Attributes
    ----------
    about : str
        What it touches: a set, a hole, "the site", "the fit".
    text : str
        What was found, with its figures, and what it means.

    Examples
    --------
    >>> Caution("J3", "Only 5 fractures.").about
    'J3'
    """

    about: str
    text: str


def cautions_of(result: SiteAnalysis) -> list[Caution]:
    """Every caution that the data of an analysis call for.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of Caution
        Of the sets first, then of the sampling, then the notes of the tables and the fit.

    Examples
    --------
    >>> import jointstats as js
    >>> found = cautions_of(js.analyse(js.simulate_site(random_state=1), n_sets=3))
    >>> all(caution.text.endswith(".") for caution in found)
    True
    """
    found: list[Caution] = []
    for one in result.sets:
        found += _of_numbers(one)
        found += _of_weights(result, one)
        found += _of_shape(result, one)
        found += _of_counts(result, one)
        found += _of_overlap(result, one)
        found += _of_clusters(one)
    found += _of_sampling(result)
    found += _of_fractures(result)
    found += [Caution("noted", note) for note in result.notes]
    return found


def _of_numbers(one: JointSet) -> Iterator[Caution]:
    if one.n < FEW_FRACTURES:
        yield Caution(
            one.name,
            f"Rests on {one.n} fractures; below {FEW_FRACTURES}, one pick more or less moves the "
            "mean and P32 noticeably.",
        )
    if one.seen_share < SMALL_SHARE_SEEN:
        yield Caution(
            one.name,
            f"Lies partly in the blind zone: {100 * one.seen_share:.0f} % of its fractures stand "
            f"above the blind angle, about {number(one.missed, 2)} met by the holes fall below it. "
            "P32 allows for them by the fitted shape of the set, which those holes did not see.",
        )
    if one.best_angle_deg < GOOD_ANGLE_DEG:
        yield Caution(
            one.name,
            f"No hole crosses the set at more than {one.best_angle_deg:.0f}°; its intensity and "
            "spacing rest on large corrections.",
        )
    if one.spacing.n < 10:
        yield Caution(
            one.name,
            f"Only {one.spacing.n} spacings between neighbours were seen; their mean says little.",
        )


def _of_weights(result: SiteAnalysis, one: JointSet) -> Iterator[Caution]:
    """Terzaghi weights that disagree with the likelihood, and how much of it the cut explains."""
    low, high = one.p32_interval
    if low <= one.p32_weighted_per_m <= high:
        return
    share = share_by_metres(result, one)
    yield Caution(
        one.name,
        f"The Terzaghi weights give P32 {number(one.p32_weighted_per_m)} m²/m³, outside the "
        f"interval {within(one.p32_interval)} of the likelihood. They are cut at the blind angle "
        f"and count every metre alike: by metres, {100 * share:.0f} % of the orientations of the "
        f"set stood above it (of what was met, {100 * one.seen_share:.0f} %), so of the fitted set "
        f"they would find {number(share * one.p32_per_m)}. The rest is chance, and assignment of "
        f"whole fractures ({one.n}, for {number(one.n_expected)} by membership).",
    )


def _of_shape(result: SiteAnalysis, one: JointSet) -> Iterator[Caution]:
    """A set that is taken as round though it is not, and a girdle, which has no mean."""
    test = one.elliptical_test
    if one.shape == "round" and test is not None and test.elliptical:
        yield Caution(
            one.name,
            f"{test.sentence} The model takes it as round: the cone is too narrow along "
            "the long axis and too wide across it.",
        )
    if one.shape == "girdle":
        yield Caution(
            one.name,
            "Its poles lie along a great circle, as those of folded beds do. It has a fold axis, and "
            "no mean plane, κ or spacing; a plane of any dip in the girdle may occur.",
        )


def _of_counts(result: SiteAnalysis, one: JointSet) -> Iterator[Caution]:
    """Counts that differ between holes by more than chance point to more than one domain."""
    found = evenness_of(result, one)
    if found.chance < SMALL_P:
        yield Caution(
            one.name,
            f"Its counts differ between holes by more than chance (counted for expected: "
            f"{found.counts}; {p_value(found.chance)}). The rock may hold more than one "
            "domain, and the interval of P32, which takes the set as even throughout, is too "
            "narrow.",
        )


def _of_overlap(result: SiteAnalysis, one: JointSet) -> Iterator[Caution]:
    """Fractures that could as well belong to another set blur the border between the two."""
    mine = Fractures(result.fractures).of_set(one.name).fitted
    membership = mine.table["membership"].to_numpy(float)
    others = [other for other in result.sets if other is not one]
    if not len(membership) or not others:
        return
    doubtful = int((membership < SURE_MEMBERSHIP).sum())
    if doubtful > LARGE_DOUBTFUL * len(membership):
        angles = [_apart_deg(one, other) for other in others]
        near = int(np.argmin(angles))
        yield Caution(
            one.name,
            f"{doubtful} of its {len(membership)} fractures belong to it with a membership below "
            f"{SURE_MEMBERSHIP:g}; the nearest other set, {others[near].name}, lies "
            f"{angles[near]:.0f}° away. The two may be parts of one.",
        )


def _apart_deg(one: JointSet, other: JointSet) -> float:
    """Angle between two means; of a girdle, between its great circle and the other's mean."""
    if one.mean is not None and other.mean is not None:
        return float(axis_angles_deg(one.mean, other.mean)[0])
    girdle, rest = (one, other) if one.mean is None else (other, one)
    angle = float(axis_angles_deg(girdle.density.frame[0], rest.density.frame[0])[0])
    return angle if rest.mean is None else 90.0 - angle


def _of_clusters(one: JointSet) -> Iterator[Caution]:
    """Spacings more uneven than chance make the interval of their mean too narrow."""
    chance = chance_of_clusters(one.spacing)
    if chance < SMALL_P:
        yield Caution(
            one.name,
            f"Its fractures come in clusters (Bartlett's test of random placing, "
            f"{p_value(chance)}): the mean spacing hides close groups and wide intact lengths, and its "
            "interval is too narrow.",
        )


def _of_sampling(result: SiteAnalysis) -> Iterator[Caution]:
    lines = result.sampling.logged
    if len(lines) == 1:
        yield Caution(
            "the site",
            "One hole: whatever changes along it and whatever changes with orientation cannot be "
            "told apart.",
        )
    angles = [axis_angles_deg(a.middle, b.middle)[0] for a, b in combinations(lines, 2)]
    if angles and max(angles) < PARALLEL_WITHIN_DEG:
        yield Caution(
            "the site",
            f"All holes lie within {max(angles):.0f}° of one another and share one blind zone; a "
            "hole in another direction would add more than another of the same.",
        )
    yield from _of_gaps(result)


def _of_gaps(result: SiteAnalysis) -> Iterator[Caution]:
    parts = []
    for line in result.sampling.lines:
        if line.gaps:
            where = listed([f"{number(a)} to {number(b)}" for a, b in line.gaps])
            of = f"{number(line.gaps.total_m)} of {number(line.length_m)} m"
            parts.append(f"{line.name} {of} ({where})")
    if parts:
        yield Caution(
            "the holes",
            f"Not logged: {listed(parts)}. Lost core is often the most broken rock, so frequency "
            "may be understated.",
        )


def _of_fractures(result: SiteAnalysis) -> Iterator[Caution]:
    counts = result.counts
    if counts.not_oriented:
        share = 100 * counts.not_oriented / counts.total
        yield Caution(
            "the site",
            f"{counts.not_oriented} of {counts.total} fractures ({share:.0f} %) have no "
            "orientation. They count in P10 and RQD but in no set, so the P32 of the sets and the "
            "background together are low by about that share.",
        )
    fitted = counts.in_a_set + counts.unassigned
    if fitted and counts.unassigned / fitted > LARGE_UNASSIGNED:
        yield Caution(
            "the fit",
            f"{counts.unassigned} of {fitted} fractures in the fit belong to no set: the sets "
            "describe only part of this rock.",
        )
    angle = Fractures(result.fractures).in_sets.table["hole_angle_deg"]
    heavy = int((angle < np.degrees(np.arcsin(1.0 / LARGE_WEIGHT))).sum())
    if heavy:
        yield Caution(
            "the fit",
            f"{heavy} of {len(angle)} fractures in sets stand so oblique to their hole that "
            f"their Terzaghi weight exceeds {LARGE_WEIGHT:g}; any figure made with weights hangs "
            "on them.",
        )
    settings = result.site.settings
    if settings.north in ("grid", "magnetic") and not settings.bearing_of("holes"):
        yield Caution(
            "the site",
            f"Directions refer to {settings.north} north and were not turned to true north: the "
            "angle between the two is not given, or is zero.",
        )
