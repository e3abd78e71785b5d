"""What a reader must bear in mind, found in the data of each analysis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.line.placing import SMALL_P
from jointstats.line.sampling_law import law_sentence
from jointstats.sets.on_faces import differing
from jointstats.sets.reliability import ALL_QUANTITIES, ALL_SETS, Caution
from jointstats.sets.set_cautions import of_orientation, of_set
from jointstats.sphere.axes import axis_angles_deg
from jointstats.words import listed, number, of_lines, p_value, percent

if TYPE_CHECKING:
    from jointstats.sets.fitted import Fitted, HasSets

LARGE_WEIGHT = 3.0
PARALLEL_WITHIN_DEG = 20.0
LARGE_UNASSIGNED = 0.4
LARGE_SHARE_LOST = 0.1


def cautions_of(result: Fitted) -> tuple[Caution, ...]:
    """Every caution that the data of an analysis call for.

    Of the sets first, the gravest of each set first; then of the sampling, the tables and the fit.
    """
    found: list[Caution] = []
    for one in result.sets:
        found += of_set(result, one)
    found += _of_agreement(result)
    found += [Caution(*one, "P32", "a face differs") for one in differing(result.faces)]
    found += [Caution(f"face {one.name}", one.caution) for one in result.faces if one.caution]
    found += _of_readings(result)
    found += _of_tails(result)
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
        found += of_orientation(result, one)
    return [*found, *_of_readings(result), *_of_tails(result), *_of_unassigned(result)]


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


def _of_tails(result: HasSets) -> Iterator[Caution]:
    """What lies far from every mean may be the tail of a set, or random."""
    freedom = [one.density.tail_freedom for one in result.sets if one.shape == "heavy-tailed"]
    if freedom:
        yield Caution(
            "the fit",
            "The round sets are fitted with heavy tails, those of a t distribution of "
            f"{number(freedom[0], 2)} degrees of freedom. Fractures far from every mean may be tails "
            "of the sets or random fractures; orientations cannot tell the two apart, and the P32 of "
            "each may hold some of the other.",
        )


def _of_agreement(result: Fitted) -> Iterator[Caution]:
    """Holes that differ, or one that was perhaps read wrongly, make the common figures doubtful."""
    found = result.agreement
    if found is None or found.one_rock:
        return
    if found.faults:
        names = listed([found.hole_names[fault.hole] for fault in found.faults])
        brief, mend = f"{names} at odds with the rest", f"check the readings of {names}"
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
    if result.sets and (pvalue := float(result.by_angle["pvalue"].iloc[0])) < SMALL_P:
        yield Caution(
            ALL_SETS,
            law_sentence(result.by_angle),
            "P32",
            f"counts by angle depart from the law of sampling ({p_value(pvalue)})",
            "compare core and image at small angles",
        )


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
