"""Numbers and findings in words, as the page, the pictures and the terminal give them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.sets.reliability import (
    GOOD_ANGLE_DEG,
    apart,
    good_holes,
    how_sure,
    interval_ratio,
    least_sure,
    uses_of,
)
from jointstats.sets.unseen import blind_spot
from jointstats.words import listed, number, plane

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["answer", "design_line"]

_COUNT = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


def answer(result: SiteAnalysis) -> list[str]:
    """What was found, in a few sentences that stand at the head of the report.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of str
        The sets; which is most frequent, which least certain and why; what was not seen.

    Examples
    --------
    >>> import jointstats as js
    >>> answer(js.analyse(js.simulate_site(random_state=1), n_sets=3))[0][:16]
    'Three joint sets'
    """
    sets = result.sets
    sentences = [_sets_sentence(sets)]
    if len(sets) > 1:
        sentences.append(f"{_intensity_sentence(sets)} {_certainty_sentence(sets)}")
    sentences.append(blind_spot(result).sentence(result.exposure.blind_angle_deg))
    return sentences


def _intensity_sentence(sets: tuple[JointSet, ...]) -> str:
    """Which set is the most frequent, and which others may be so for all the data say."""
    first, *others = sets
    rivals = [one.name for one in others if one.p32_interval[1] >= first.p32_per_m]
    text = f"{first.name} is the most frequent (P32 {number(first.p32_per_m)} m²/m³)"
    if not rivals:
        return f"{text}."
    may = "may be" if len(rivals) == 1 else "may each be"
    return f"{text}, but within the intervals {listed(rivals)} {may} as frequent."


def _certainty_sentence(sets: tuple[JointSet, ...]) -> str:
    """Which set is the least certain, with the figures that say so; none if all are alike."""
    weakest = least_sure(sets)
    grade = how_sure(weakest)
    ratio = interval_ratio(weakest.p32_interval)
    alike = [
        one.name
        for one in sets
        if how_sure(one) == grade and interval_ratio(one.p32_interval) >= 0.95 * ratio
    ]
    if len(alike) == len(sets):
        return f"They are about equally certain ({grade})."
    near = listed([name for name in alike if name != weakest.name])
    behind = f", with {near} close behind" if near else ""
    every = "both " if len(sets) == 2 else "all "
    alike_grades = all(how_sure(one) == grade for one in sets)
    return (
        f"{weakest.name} is the least certain{behind}: cone {weakest.cone_deg:.1f}°, ends of the "
        f"P32 interval apart {apart(weakest)}, {100 * weakest.seen_share:.0f} % seen "
        f"({every if alike_grades else ''}{grade})."
    )


def _sets_sentence(sets: tuple[JointSet, ...]) -> str:
    if not sets:
        return "No joint set stands out from the scattered fractures."
    word = _COUNT[len(sets)] if len(sets) < len(_COUNT) else str(len(sets))
    noun = "joint set" if len(sets) == 1 else "joint sets"
    each = [f"{one.name} ({plane(one.dip_deg, one.dip_direction_deg)})" for one in sets]
    return f"{word} {noun} and a background of scattered fractures: {listed(each)}."


def design_line(sets: tuple[JointSet, ...]) -> str:
    """Which figures of which sets may be used for design, in one sentence.

    Parameters
    ----------
    sets : tuple of JointSet

    Returns
    -------
    str
        Empty if there is no set.

    Examples
    --------
    >>> import jointstats as js
    >>> design_line(js.analyse(js.simulate_site(random_state=1), n_sets=3).sets)[:11]
    'For design:'
    """
    alike: dict[str, list[str]] = {}
    for one in sets:
        uses = uses_of(one)
        verdicts = {use.verdict for use in uses}
        told = (
            f"orientation, frequency and spacing {uses[0].verdict}"
            if len(verdicts) == 1
            else ", ".join(f"{use.what} {use.verdict}" for use in uses)
        )
        alike.setdefault(told, []).append(one.name)
    parts = [f"{listed(names)}: {told}" for told, names in alike.items()]
    lone = [_seen_by_one(one) for one in sets]
    return " ".join([f"For design: {'; '.join(parts)}.", *filter(None, lone)]) if parts else ""


def _seen_by_one(one: JointSet) -> str:
    """A sentence where only one of several holes crosses a set at a good angle."""
    good = good_holes(one)
    if len(good) < 2 or good.sum() != 1:
        return ""
    name = one.holes["hole"].to_numpy()[good][0]
    return f"Only {name} crosses {one.name} at {GOOD_ANGLE_DEG:g}° or more."
