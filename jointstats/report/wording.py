"""Numbers and findings in words, as the page, the pictures and the terminal give them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from jointstats.plots.drilled import blind_share, hemisphere_grid, hole_lines
from jointstats.report.judgement import (
    GOOD_ANGLE_DEG,
    apart,
    good_holes,
    how_sure,
    interval_ratio,
    least_sure,
    uses_of,
)
from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.sphere.axes import axis_angles_deg

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = [
    "BlindSpot",
    "answer",
    "blind_spot",
    "chance_in_words",
    "design_line",
    "listed",
    "number",
    "plane",
    "short",
    "within",
]

_COUNT = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")


def number(value: float | None, digits: int = 3) -> str:
    """A figure to so many significant digits, without an exponent; a dash if it is not known.

    Parameters
    ----------
    value : float or None
    digits : int
        Significant digits.

    Returns
    -------
    str

    Examples
    --------
    >>> number(1234.5), number(0.012345), number(1.1), number(float("nan"))
    ('1230', '0.0123', '1.10', '–')
    """
    if value is None or not np.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
    decimals = digits - 1 - int(exponent)
    return f"{float(f'{mantissa}e{exponent}'):.{max(0, decimals)}f}"


def short(name: str, most: int = 16) -> str:
    """A name cut to so many letters, where a drawing has room for no more.

    Parameters
    ----------
    name : str
    most : int

    Returns
    -------
    str

    Examples
    --------
    >>> short("B1"), short("a hole of a very long name")
    ('B1', 'a hole of a ver…')
    """
    return name if len(name) <= most else f"{name[: most - 1]}…"


def within(interval: tuple[float, float], digits: int = 3) -> str:
    """An interval as "low to high".

    Parameters
    ----------
    interval : (float, float)
    digits : int
        Significant digits.

    Returns
    -------
    str

    Examples
    --------
    >>> within((0.8, 1.25))
    '0.800 to 1.25'
    """
    return f"{number(interval[0], digits)} to {number(interval[1], digits)}"


def listed(words: list[str]) -> str:
    """Words joined as in a sentence.

    Parameters
    ----------
    words : list of str

    Returns
    -------
    str

    Examples
    --------
    >>> listed(["J1", "J2", "J3"])
    'J1, J2 and J3'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def plane(dip_deg: float, dip_direction_deg: float) -> str:
    """A plane in words: dip, and three digits of dip direction.

    Parameters
    ----------
    dip_deg, dip_direction_deg : float

    Returns
    -------
    str

    Examples
    --------
    >>> plane(61.6, 8.2)
    'dip 62° toward 008°'
    """
    return f"dip {dip_deg:.0f}° toward {round(dip_direction_deg) % 360:03d}°"


@dataclass(frozen=True)
class BlindSpot:
    """What no hole could see, or saw worst.

    Attributes
    ----------
    share : float
        Share of all orientations without any exposure, 0 to 1.
    dip_deg, dip_direction_deg : float
        The plane deepest in the blind zone; without one, the plane of the least exposure.
    best_angle_deg : float
        Largest angle between that plane and a hole.
    least_m : float
        Its exposure, metres.
    total_m : float
        Logged metres.
    along : str
        Name of the hole, or words for the holes, if they have one common direction.

    Examples
    --------
    >>> BlindSpot(0.17, 90.0, 0.0, 0.0, 0.0, 10.0, "hole B1").share
    0.17
    """

    share: float
    dip_deg: float
    dip_direction_deg: float
    best_angle_deg: float
    least_m: float
    total_m: float
    along: str

    def sentence(self, blind_angle_deg: float) -> str:
        """The finding in one sentence.

        Parameters
        ----------
        blind_angle_deg : float

        Returns
        -------
        str
        """
        percent = f"{100 * self.share:.1f} %" if self.share < 0.1 else f"{100 * self.share:.0f} %"
        at = plane(self.dip_deg, self.dip_direction_deg)
        if self.share > 0 and self.along:
            return (
                f"No hole could see {percent} of all orientations: planes within "
                f"{blind_angle_deg:g}° of {self.along}."
            )
        if self.share > 0:
            return f"No hole could see {percent} of all orientations: planes near {at}."
        return (
            f"Every orientation was seen by some hole; planes near {at} were seen worst: the "
            f"{number(self.total_m)} m logged showed them as well as {number(self.least_m, 2)} m of "
            "hole square to them would."
        )


def blind_spot(result: SiteAnalysis) -> BlindSpot:
    """Find what no hole could see, or saw worst.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    BlindSpot

    Examples
    --------
    >>> import jointstats as js
    >>> 0 <= blind_spot(js.analyse(js.simulate_site(random_state=1), n_sets=3)).share < 0.2
    True
    """
    grid = hemisphere_grid(20_000)
    exposure = result.exposure.merged()
    seen = exposure.at(grid)
    lines = hole_lines(result)
    cosine = np.max([line.largest_cosine(grid) for line in lines], axis=0)
    share = blind_share(result.exposure)
    worst = grid[int(np.argmin(cosine if share > 0 else seen))]
    dip, direction = dip_from_poles(worst)
    return BlindSpot(
        share=share,
        dip_deg=float(dip[0]),
        dip_direction_deg=float(direction[0]),
        best_angle_deg=float(np.degrees(np.arcsin(cosine.min()))),
        least_m=float(seen.min()),
        total_m=exposure.total_m,
        along=_common_direction(result),
    )


def _common_direction(result: SiteAnalysis) -> str:
    """Words for the direction that all logged lengths share within 5°, or nothing."""
    lines = hole_lines(result)
    first = lines[0].middle
    if any(axis_angles_deg(line.directions, first).max() > 5.0 for line in lines):
        return ""
    trend, plunge = trend_from_lines(first)
    holes = f"the hole {lines[0].name}" if len(lines) == 1 else "the holes, which are parallel"
    if plunge[0] > 85:
        return f"{holes} (vertical), that is, steep planes of every strike"
    return f"{holes} (trend {round(float(trend[0])) % 360:03d}°, plunge {plunge[0]:.0f}°)"


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


def chance_in_words(chance: float) -> str:
    """A p value to two digits, or that it is below 0.0001.

    Parameters
    ----------
    chance : float

    Returns
    -------
    str

    Examples
    --------
    >>> chance_in_words(0.1234), chance_in_words(1e-9)
    ('p 0.12', 'p below 0.0001')
    """
    return "p below 0.0001" if chance < 1e-4 else f"p {chance:.2g}"
