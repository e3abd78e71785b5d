"""What a reader must bear in mind of one set, the gravest first."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.sets.reliability import (
    ALL_QUANTITIES,
    FEWEST,
    FEWEST_SPACINGS,
    GOOD_ANGLE_DEG,
    LEAST_PRESENCE,
    SMALLEST_SHARE,
    Caution,
    even_chance,
    evenness_sentence,
    evenness_word,
    good_holes,
    sets_of_one_hole,
)
from jointstats.sets.unseen import share_by_metres
from jointstats.sphere.axes import axis_angles_deg
from jointstats.words import counted, number, p_value, percent, within

if TYPE_CHECKING:
    from jointstats.sets.fitted import Fitted, HasSets
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.oriented_set import OrientedSet

FEW_FRACTURES, FEW_SPACINGS, SMALL_SHARE_SEEN = FEWEST[1], FEWEST_SPACINGS[1], SMALLEST_SHARE[0]
SURE_MEMBERSHIP = 0.7
LARGE_DOUBTFUL = 0.2


def of_set(result: Fitted, one: JointSet) -> Iterator[Caution]:
    """Every caution of a set of a site."""
    yield from _of_presence(one)
    yield from _of_one_hole(result, one)
    yield from _of_evenness(one)
    yield from _of_numbers(one)
    yield from _of_shape(one)
    yield from _of_overlap(result, one)
    yield from _of_clusters(one)
    yield from _of_weights(result, one)


def of_orientation(result: HasSets, one: OrientedSet) -> Iterator[Caution]:
    """Those that rest on orientations alone."""
    yield from _of_presence(one)
    yield from _of_count(one)
    yield from _of_shape(one)
    yield from _of_overlap(result, one)


def _of_presence(one: OrientedSet) -> Iterator[Caution]:
    if one.presence < LEAST_PRESENCE[0]:
        yield Caution(
            one.name,
            f"It is there in readings of a probability of {percent(one.presence)} only; in the rest "
            "its fractures are of other sets or of none.",
            ALL_QUANTITIES,
            f"not in every reading ({percent(one.presence)})",
            "a hole that crosses the set in another direction",
        )


def _of_one_hole(result: Fitted, one: JointSet) -> Iterator[Caution]:
    """A set of one hole alone may be made by a fault of its readings, and says nothing of the rest."""
    for own in sets_of_one_hole(result.sets):
        if own.about == one.name:
            yield Caution(
                one.name,
                own.sentence,
                ALL_QUANTITIES,
                f"in {own.hole} alone",
                f"check the readings of {own.hole}; a second hole there",
                "low",
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
    pvalue = one.spacing.clustering_pvalue
    if pvalue is not None and one.spacing.clustered:
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
