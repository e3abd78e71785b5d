"""What a reader must bear in mind, found in the data of each analysis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.line.placing import clustering_pvalue
from jointstats.sets.evenness import even_chance, evenness_sentence, evenness_word
from jointstats.sets.on_faces import differing
from jointstats.sets.reliability import (
    ALL_QUANTITIES,
    ALL_SETS,
    FEWEST,
    FEWEST_SPACINGS,
    GOOD_ANGLE_DEG,
    LEAST_PRESENCE,
    SMALLEST_SHARE,
    Caution,
    good_holes,
)
from jointstats.sets.unseen import share_by_metres
from jointstats.sphere.axes import axis_angles_deg
from jointstats.words import counted, listed, number, of_lines, p_value, percent, within

if TYPE_CHECKING:
    from jointstats.sets.fitted import Fitted, HasSets
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.oriented_set import OrientedSet

#: Level of the tests behind a judgement: a false alarm once in a hundred sound sets.
SMALL_P = 0.01
FEW_FRACTURES, FEW_SPACINGS, SMALL_SHARE_SEEN = FEWEST[1], FEWEST_SPACINGS[1], SMALLEST_SHARE[0]
LARGE_WEIGHT = 3.0
PARALLEL_WITHIN_DEG = 20.0
LARGE_UNASSIGNED = 0.4
SURE_MEMBERSHIP = 0.7
LARGE_DOUBTFUL = 0.2
LARGE_SHARE_LOST = 0.1


def cautions_of(result: Fitted) -> tuple[Caution, ...]:
    """Every caution that the data of an analysis call for.

    Of the sets first, the gravest of each set first; then of the sampling, the tables and the fit.
    """
    found: list[Caution] = []
    for one in result.sets:
        found += _of_presence(one)
        found += _of_evenness(one)
        found += _of_numbers(one)
        found += _of_shape(one)
        found += _of_overlap(result, one)
        found += _of_clusters(one)
        found += _of_weights(result, one)
    found += _of_agreement(result)
    found += [Caution(*one, "P32", "a face differs") for one in differing(result.faces)]
    found += [Caution(f"face {one.name}", one.caution) for one in result.faces if one.caution]
    found += _of_readings(result)
    found += _of_sampling(result)
    found += _of_fractures(result)
    found += _of_north(result)
    found += [Caution("the tables", note) for note in result.notes]
    kinds = {hole.kind for hole in result.site.holes}
    words = ("about", "text", "brief", "mend")
    return tuple(
        replace(one, **{name: of_lines(getattr(one, name), kinds) for name in words}) for one in found
    )


def orientation_cautions(result: HasSets) -> list[Caution]:
    """Those of the sets and readings that rest on orientations alone, the gravest of a set first."""
    found: list[Caution] = []
    for one in result.sets:
        found += _of_presence(one)
        found += _of_count(one)
        found += _of_shape(one)
        found += _of_overlap(result, one)
    return [*found, *_of_readings(result), *_of_unassigned(result)]


def _of_readings(result: HasSets) -> Iterator[Caution]:
    """Another reading of the rock leaves open what the sets are; `_of_presence` says which of them."""
    others = result.readings[1:]
    if others:
        total = sum(one.probability for one in others)
        yield Caution(
            "the fit",
            f"The rock can be read in {len(others) + 1} ways: those not shown have a probability of "
            f"{percent(total)}. The figures of single sets are those of the reading "
            "shown; a design must hold for each.",
        )


def _of_agreement(result: Fitted) -> Iterator[Caution]:
    """Holes that differ, or one that was perhaps read wrongly, make the common figures doubtful."""
    found = result.agreement
    if found is None or found.one_rock:
        return
    if found.faults:
        names = listed([found.hole_names[fault.hole] for fault in found.faults])
        brief, mend = f"{names} out of line", f"check the readings of {names}"
    elif len(found.domains) > 1:
        brief, mend = f"{len(found.domains)} domains", "report by domain"
    else:
        brief, mend = "holes differ", "compare the holes"
    yield Caution(
        ALL_SETS,
        f"{' '.join(found.sentences)} The figures are of all holes as read, taken together.",
        ALL_QUANTITIES,
        brief,
        mend,
        # Where a hole was misread, the sets may be made by the fault.
        "low" if found.faults else "moderate",
    )


def _of_presence(one: OrientedSet) -> Iterator[Caution]:
    if one.presence < LEAST_PRESENCE[0]:
        yield Caution(
            one.name,
            f"It is there in readings of a probability of {percent(one.presence)} only; in the rest "
            "its fractures are of other sets or of none.",
            ALL_QUANTITIES,
            f"there with probability {percent(one.presence)}",
            "a hole that crosses the set in another direction",
        )


def _of_evenness(one: JointSet) -> Iterator[Caution]:
    """A set that is uneven is not known elsewhere as well as in the holes."""
    if evenness_word(one) == "uneven":
        yield Caution(
            one.name,
            f"{evenness_sentence(one)} Its P32 is {within(one.p32_interval)} for the rock of the "
            f"site; {within(one.p32_even_interval)}, which takes it as even, is too narrow. A part of "
            "the rock may differ from both.",
            "P32",
            f"uneven ({even_chance(one)})",
            "more holes; compare them and report by domain",
        )


def _of_count(one: OrientedSet) -> Iterator[Caution]:
    if one.n < FEW_FRACTURES:
        yield Caution(
            one.name,
            f"Rests on {counted(one.n, 'fracture')}; below {FEW_FRACTURES}, one reading more or "
            "less moves its figures noticeably.",
            "orientation",
            f"only {counted(one.n, 'fracture')}",
        )


def _of_numbers(one: JointSet) -> Iterator[Caution]:
    yield from _of_count(one)
    if one.seen_share < SMALL_SHARE_SEEN:
        yield Caution(
            one.name,
            f"Lies partly in the blind zone: {percent(one.seen_share)} of what the holes "
            f"intersected is observable, about {number(one.missed, 2)} fractures lie below the "
            "blind angle. P32 allows for them by the fitted shape of the set, which the holes "
            "could not observe there.",
            "P32",
            f"{percent(one.seen_share)} observable",
        )
    yield from _of_angles(one)
    if one.spacing.n < FEW_SPACINGS and one.mean is not None:
        yield Caution(
            one.name,
            f"Only {counted(one.spacing.n, 'spacing')} between neighbours; their mean says little.",
            "spacing",
            f"only {counted(one.spacing.n, 'spacing')}",
        )


def _of_angles(one: JointSet) -> Iterator[Caution]:
    """Holes that run along a set give its intensity and spacing by large corrections."""
    good = good_holes(one)
    if not good.any():
        yield Caution(
            one.name,
            f"No hole crosses the set at more than {one.best_angle_deg:.0f}°; P32 and spacing rest "
            "on large corrections.",
            "P32",
            f"no hole crosses it at {GOOD_ANGLE_DEG:g}° or more",
        )
    elif len(good) > 1 and int(good.sum()) == 1:
        name = np.asarray(one.holes["hole"])[good][0]
        yield Caution(
            one.name,
            f"Only {name} crosses the set at {GOOD_ANGLE_DEG:g}° or more: what it says of the set "
            "elsewhere rests on large corrections.",
            "P32",
            f"only {name} crosses it at {GOOD_ANGLE_DEG:g}° or more",
            f"a second hole at {GOOD_ANGLE_DEG:g}° or more to the set",
        )


def _of_weights(result: Fitted, one: JointSet) -> Iterator[Caution]:
    """Terzaghi weights that disagree with the likelihood by more than their own limit explains."""
    low, high = one.p32_interval
    if low <= one.p32_weighted_per_m <= high or one.mean is None:
        return
    share = share_by_metres(result.exposure, one.density)
    if share * low <= one.p32_weighted_per_m <= share * high:
        return
    yield Caution(
        one.name,
        f"The Terzaghi weights give P32 {number(one.p32_weighted_per_m)} m²/m³, outside the "
        f"interval {within(one.p32_interval)}. They stop at the blind angle and count every metre "
        f"alike: by metres {percent(share)} of the set stands above it, so of the fitted set they "
        f"would find {number(share * one.p32_per_m)}. The rest is chance, and whole fractures "
        f"({one.n}) in place of memberships ({number(one.n_expected)}).",
        "P32",
        "weights give another figure",
    )


def _of_shape(one: OrientedSet) -> Iterator[Caution]:
    """A set that is taken as round though it is not, and a girdle, which has no mean."""
    test = one.elliptical_test
    if one.shape == "round" and test is not None and test.elliptical:
        yield Caution(
            one.name,
            f"{test.sentence} The model takes it as round: the cone is too narrow along "
            "the long axis and too wide across it.",
            "orientation",
            f"elliptical, axial ratio {test.axial_ratio:.1f}",
        )
    if one.shape == "girdle":
        yield Caution(
            one.name,
            "Its poles lie along a great circle, as those of folded beds do. It has a fold axis, and "
            "no mean plane, κ or spacing; a plane of any dip in the girdle may occur.",
            "orientation",
            "a girdle: no mean plane",
        )


def _of_overlap(result: HasSets, one: OrientedSet) -> Iterator[Caution]:
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
            "orientation",
            f"overlaps {others[near].name}",
        )


def _apart_deg(one: OrientedSet, other: OrientedSet) -> float:
    """Angle between two means; of a girdle, between its great circle and the other's mean."""
    if one.mean is not None and other.mean is not None:
        return float(axis_angles_deg(one.mean, other.mean)[0])
    girdle, rest = (one, other) if one.mean is None else (other, one)
    angle = float(axis_angles_deg(girdle.density.frame[0], rest.density.frame[0])[0])
    return angle if rest.mean is None else 90.0 - angle


def _of_clusters(one: JointSet) -> Iterator[Caution]:
    """Spacings more uneven than chance make the interval of their mean too narrow."""
    pvalue = clustering_pvalue(one.spacing.spacings_m)
    if pvalue is not None and pvalue < SMALL_P:
        short = (
            " Counts over longer lengths are consistent with an even rock: the clusters are short."
            if evenness_word(one) == "even"
            else ""
        )
        yield Caution(
            one.name,
            f"Its fractures come in clusters (Bartlett's test of random placing, "
            f"{p_value(pvalue)}): the mean spacing hides close groups and wide intact lengths, and "
            f"its interval is too narrow.{short}",
            "spacing",
            f"in clusters ({p_value(pvalue)})",
            "use the survival function, by zone",
        )


def _of_sampling(result: Fitted) -> Iterator[Caution]:
    if not result.unoriented:
        yield Caution("the holes", result.blind_spot.sentence)
    size = result.observation.size
    if size is not None:
        yield Caution(ALL_SETS, size.sentence, "P32", f"discs of radius {number(size.radius_m, 2)} m")
    lines = result.sampling.logged
    if len(lines) == 1:
        yield Caution(
            ALL_SETS,
            "One hole: whatever changes along it and whatever changes with orientation cannot be "
            "told apart.",
            "P32",
            "one hole",
            "a second hole in another direction",
        )
    angles = [axis_angles_deg(a.middle, b.middle)[0] for a, b in combinations(lines, 2)]
    if angles and max(angles) < PARALLEL_WITHIN_DEG:
        yield Caution(
            ALL_SETS,
            f"All holes lie within {max(angles):.0f}° of one another and share one blind zone; a "
            "hole in another direction would add more than another of the same.",
            "P32",
            "parallel holes",
            "a hole in another direction",
        )
    yield from _of_gaps(result)


def _of_gaps(result: Fitted) -> Iterator[Caution]:
    parts, lost, drilled = [], 0.0, 0.0
    for line in result.sampling.lines:
        drilled += line.length_m
        if line.gaps:
            where = listed([f"{number(a)} to {number(b)}" for a, b in line.gaps])
            of = f"{number(line.gaps.total_m)} of {number(line.length_m)} m"
            parts.append(f"{line.name} {of} ({where})")
            lost += line.gaps.total_m
    if parts:
        large = lost > LARGE_SHARE_LOST * drilled
        yield Caution(
            ALL_SETS if large else "the holes",
            f"Not logged: {listed(parts)}. Lost core is often the most broken rock, so frequency "
            "may be understated.",
            "P32" if large else "",
            f"{percent(lost / drilled)} of the holes not logged",
            "image the lengths not logged",
        )


def _of_fractures(result: Fitted) -> Iterator[Caution]:
    counts = result.counts
    if counts.not_oriented:
        share = counts.not_oriented / counts.total
        large = share > LARGE_SHARE_LOST
        yield Caution(
            ALL_SETS if large else "the tables",
            f"{counts.not_oriented} of {counts.total} fractures ({percent(share)}) have no "
            f"orientation. {result.observation.sentence}",
            "P32" if large else "",
            f"{percent(share)} without orientation",
            "an image log, to orient them",
        )
    yield from _of_unassigned(result)
    angle = Fractures(result.fractures).in_sets.table["hole_angle_deg"]
    heavy = int((angle < np.degrees(np.arcsin(1.0 / LARGE_WEIGHT))).sum())
    if heavy:
        yield Caution(
            "the fit",
            f"{heavy} of {len(angle)} fractures in sets intersect their hole so obliquely that "
            f"their Terzaghi weight exceeds {LARGE_WEIGHT:g}; any figure made with weights depends "
            "on them.",
        )


def _of_unassigned(result: HasSets) -> Iterator[Caution]:
    counts = result.counts
    fitted = counts.in_a_set + counts.unassigned
    if fitted and counts.unassigned / fitted > LARGE_UNASSIGNED:
        yield Caution(
            ALL_SETS,
            f"{counts.unassigned} of {fitted} fractures in the fit belong to no set: the sets "
            "describe only part of this rock.",
            "P32",
            f"{counts.unassigned} of {fitted} fractures in no set",
        )


def _of_north(result: Fitted) -> Iterator[Caution]:
    settings = result.site.settings
    if settings.north in ("grid", "magnetic") and not settings.bearing_of("holes"):
        yield Caution(
            ALL_SETS,
            f"Directions refer to {settings.north} north and were not turned to true north: the "
            "angle between the two is not given, or is zero.",
            "orientation",
            f"{settings.north} north",
            "the angle to true north",
        )
