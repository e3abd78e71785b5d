"""The first screen: what is true of this rock, the sets, and how far to trust them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from jointstats import plots
from jointstats.borehole.fractures import UNASSIGNED
from jointstats.report.condition import classes_sentence
from jointstats.report.figures import Picture, picture
from jointstats.report.readings import fold_axis, reading_sentence
from jointstats.sets.reliability import (
    GRADES,
    even_chance,
    evenness_phrase,
    evenness_word,
    interval_factor,
    known_within,
    sets_of_one_hole,
)
from jointstats.sphere.angles import plane_margins_deg
from jointstats.words import counted, listed, number, only_limit, percent, plane, within

if TYPE_CHECKING:
    from jointstats.sets.fitted import HasSets
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.oriented_set import OrientedSet
    from jointstats.sets.result import SiteAnalysis

#: Below this chance of so few predictions that hold, the first screen says so. Our own choice.
_FAILED_P = 0.05


class Cell(NamedTuple):
    """What a cell of the table of sets says: the figure, and its interval in small type, of a line or more."""

    main: str
    small: str = ""


@dataclass(frozen=True)
class Column:
    """A column of the table of sets: its heading, what the small type is, and how a set fills it."""

    title: str
    small: str
    cell: Callable[[Any, Any], Cell]
    random: Callable[[SiteAnalysis], Cell] = lambda _: Cell("")
    whole: Callable[[SiteAnalysis], Cell] = lambda _: Cell("")
    words: bool = False


@dataclass(frozen=True)
class SetTable:
    """The table of sets: headings, a row a set, then random fractures and all together."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]


def plane_of(one: OrientedSet) -> str:
    """The mean plane of a set in words, or the fold axis of a girdle."""
    if one.dip_deg is None or one.dip_direction_deg is None:
        return f"fold axis {fold_axis(one.density)}"
    return plane(one.dip_deg, one.dip_direction_deg)


def kind_of(result: SiteAnalysis) -> str:
    """What the page is about: joint sets, or sets of discontinuities where other classes enter."""
    noun = result.set_noun.replace("set", "sets", 1)
    return f"{noun[0].upper()}{noun[1:]} from boreholes"


def headline(result: SiteAnalysis) -> str:
    """What is true of this rock: its sets by shape, every other reading with its odds, and where."""
    sets = result.sets
    if result.unoriented:
        return "No fracture has a whole orientation: what sets there are, and any P32, are not known."
    if not sets:
        return "No set stands out from random fractures."
    each = listed([f"{one.name} ({plane_of(one)})" for one in sets])
    whole = result.background_per_m + sum(one.p32_per_m for one in sets)
    share = percent(result.background_per_m / whole)
    if only_limit(result.background_per_m, result.background_interval):
        most = result.background_interval[1]
        share = f"up to {percent(most / (whole + most))}"
    lead = reading_sentence(result)
    opened = f"{lead}. The first is shown:" if len(result.readings) > 1 else f"{lead}:"
    return f"{opened} {each}, and random fractures ({share} of all P32)."


def sentences(result: SiteAnalysis) -> list[str]:
    """Which sets are the more frequent, which is the least certain and why, what was not observed."""
    told = [
        classes_sentence(result),
        _order_sentence(result.sets),
        _certainty_sentence(result),
        _evenness_sentence(result.sets),
    ]
    told.append(_prediction_sentence(result))
    # Holes that differ come first: the sets may be made by the difference.
    alone = sets_of_one_hole(result.sets)
    differ = result.agreement is not None and not result.agreement.one_rock
    told.insert(0 if differ or alone else len(told), agreement_text(result))
    told[:0] = [one.sentence for one in alone]
    if not result.unoriented:
        told.append(result.blind_spot.sentence)
    return [one for one in told if one]


def agreement_text(result: SiteAnalysis) -> str:
    """Whether the holes differ, and what to make of it; empty where that was not asked."""
    return " ".join(result.agreement.sentences) if result.agreement is not None else ""


def _evenness_sentence(sets: tuple[JointSet, ...]) -> str:
    """Which sets are uneven between the holes or along them, and what that does to P32."""
    found = [one for one in sets if evenness_word(one) != "even"]
    if not found:
        return "The counts are consistent with each set being even in this rock." if sets else ""
    alike: dict[str, list[str]] = {}
    for one in found:
        alike.setdefault(f"{evenness_phrase(one)} ({even_chance(one)})", []).append(one.name)
    each = [
        f"{listed(names)} {'is' if len(names) == 1 else 'are each'} {told}"
        for told, names in alike.items()
    ]
    return f"{listed(each)}; the first interval of P32 allows for it, the second does not."


def _prediction_sentence(result: SiteAnalysis) -> str:
    """That the holes fail to predict one another, where they do."""
    found = result.left_out
    if found is None or found.pvalue >= _FAILED_P:
        return ""
    held, total = found.held
    return (
        f"The holes do not predict one another as well as the figures claim: {held} of {total} intervals at "
        f"{percent(found.confidence)} hold the count of a set in a hole left out."
    )


def _order_sentence(sets: tuple[JointSet, ...]) -> str:
    """Each order of P32 that the intervals bear out, and that there is no other."""
    if len(sets) < 2:
        return ""
    above: dict[str, list[str]] = {}
    for one in sets:
        low = one.p32_interval[0]
        below = [other.name for other in sets if other.p32_interval[1] <= low and other is not one]
        if below:
            above.setdefault(listed(below), []).append(one.name)
    if not above:
        return "The intervals of P32 overlap: which set is the more frequent is not known."
    told = [
        f"{listed(names)} {'is' if len(names) == 1 else 'are each'} more frequent than {rest}"
        for rest, names in above.items()
    ]
    return f"By P32, {', '.join(told)}; no other order is known."


def _certainty_sentence(result: SiteAnalysis) -> str:
    """The least certain set, what its confidence is, and what is against it."""
    if not result.sets:
        return ""
    order = GRADES.index
    weakest = max(
        result.sets,
        key=lambda one: (order(result.confidence_in(one.name)), interval_factor(one)),
    )
    grade = result.confidence_in(weakest.name)
    if grade == "high" and len(result.sets) > 1:
        return f"Confidence is high in every set; {weakest.name} has the widest interval of P32."
    alike = [one for one in result.sets if result.confidence_in(one.name) == grade]
    if len(alike) == len(result.sets) > 1:
        return (
            f"Confidence is {grade} in every set; {weakest.name} has the widest interval of P32 "
            f"({known_within(weakest)})."
        )
    return f"Confidence is lowest in {weakest.name}: {grade} ({_worst(result, weakest)})."


def _worst(result: SiteAnalysis, one: JointSet) -> str:
    """The gravest thing to say against a set, in a few words."""
    grade = result.confidence_in(one.name)
    found = [ev for ev in result.evidence if ev.about == one.name and ev.confidence == grade]
    if grade == "high":
        return "no caution of its own"
    briefs = [caution.brief for caution in result.cautions]
    told = [ev for ev in found if ev.against]
    if not told:
        return f"{found[0].quantity}: {found[0].rests_on}"
    # Cautions stand with the gravest first.
    worst = min(told, key=lambda ev: briefs.index(ev.against[0])).against[0]
    touched = [ev.quantity for ev in result.evidence if ev.about == one.name and worst in ev.against]
    return f"{touched[0]}: {worst}" if len(touched) == 1 else worst


def set_table(result: SiteAnalysis) -> SetTable:
    """One row a set, then the random fractures, and all together."""
    rows = [
        (one.name, tuple(column.cell(result, one) for column in COLUMNS)) for one in result.sets
    ]
    rows.append(("random", tuple(column.random(result) for column in COLUMNS)))
    rows.append(("all", tuple(column.whole(result) for column in COLUMNS)))
    return SetTable(COLUMNS, tuple(rows))


def orientation_cell(_: object, one: OrientedSet) -> Cell:
    """The mean plane with its margins, or the fold axis of a girdle."""
    if one.dip_deg is None or one.dip_direction_deg is None:
        return Cell(f"axis {fold_axis(one.density)}", f"girdle, ± {_angle(one.cone_deg)}")
    main = f"{one.dip_deg:.0f}° / {round(one.dip_direction_deg) % 360:03d}°"
    dip, direction = plane_margins_deg(one.dip_deg, one.cone_deg)
    around = "any" if direction >= 180 else f"± {_angle(direction)}"
    return Cell(main, f"± {_angle(dip)} / {around}")


def _angle(value: float) -> str:
    return f"{value:.1f}°" if value < 9.95 else f"{value:.0f}°"


def _p32(_: SiteAnalysis, one: JointSet) -> Cell:
    wide, narrow = within(one.p32_interval), within(one.p32_even_interval)
    return Cell(number(one.p32_per_m, 2), wide if wide == narrow else f"{wide}\n(if even {narrow})")


def _random_p32(result: SiteAnalysis) -> Cell:
    if only_limit(result.background_per_m, result.background_interval):
        return Cell(f"below {number(result.background_interval[1], 2)}")
    return Cell(number(result.background_per_m, 2), within(result.background_interval))


def _total_p32(result: SiteAnalysis) -> Cell:
    found = result.total_p32
    return Cell(number(float(found.estimate), 2), within((float(found.low), float(found.high))))


def spacing_within(one: JointSet) -> str:
    """Interval of the mean spacing, metres; an open one where nothing bounds it above."""
    interval = one.spacing_interval_m
    return "" if interval is None else within(interval)


def _spacing(_: SiteAnalysis, one: JointSet) -> Cell:
    if not one.spacing.n:
        return Cell("not known")
    told = f"{spacing_within(one)}, {one.spacing_term}"
    if one.spacing.clustered:
        told += f"\nmedian {number(one.spacing.median_m, 2)}"
    return Cell(f"{number(one.spacing.mean_m, 2)} m", told)


def _kappa(_: SiteAnalysis, one: JointSet) -> Cell:
    if one.kappa is None:
        return Cell("–")
    error = kappa_rock(one)
    return Cell(number(one.kappa, 2), within(one.kappa_interval) + (f"; {error}" if error else ""))


def kappa_rock(one: JointSet) -> str:
    """κ with the stated measurement errors taken out, or that they explain all of the scatter."""
    if one.reading_error_deg is None:
        return ""
    limits = within(one.kappa_rock_interval)
    told = "" if limits == "–" else f" ({limits})"
    if one.kappa_rock is None:
        return f"measurement error explains all of the scatter{told}"
    return f"without measurement error {number(one.kappa_rock, 2)}{told}"


def _count(_: SiteAnalysis, one: JointSet) -> Cell:
    return Cell(str(one.n), percent(one.seen_share))


def _random_count(result: SiteAnalysis) -> Cell:
    return Cell(str(result.counts.unassigned), UNASSIGNED)


def _total_count(result: SiteAnalysis) -> Cell:
    return Cell(str(result.counts.in_a_set + result.counts.unassigned), "fitted")


def _confidence(result: SiteAnalysis, one: JointSet) -> Cell:
    return Cell(result.confidence_in(one.name), _worst(result, one))


COLUMNS = (
    Column("Dip / dip direction", "margins of the mean", orientation_cell),
    Column("P32, m²/m³", "interval", _p32, _random_p32, _total_p32),
    Column("Normal spacing", "interval, ISRM term", _spacing),
    Column("κ", "interval", _kappa),
    Column("n", "observable", _count, _random_count, _total_count),
    Column("Confidence", "worst caution", _confidence, words=True),
)


def basis_line(result: SiteAnalysis) -> str:
    """What the report rests on, in one line."""
    counts = result.counts
    oriented = counts.in_a_set + counts.unassigned + counts.below_blind_angle
    logged = number(result.sampling.logged_m)
    drilled = sum(hole.kind == "borehole" for hole in result.site.holes)
    others = len(result.site.holes) - drilled
    lines = [counted(n, word) for n, word in ((drilled, "hole"), (others, "scanline")) if n]
    return f"{', '.join(lines)}, {logged} m logged, {counts.total} fractures, {oriented} oriented"


def table_note(result: SiteAnalysis) -> str:
    """What the intervals hold, and how far they are to be trusted."""
    errors = result.site.settings.errors
    stated = errors.survey_deg or errors.roll_deg
    level = f"{100 * float(result.settings['confidence']):g} %"
    return (
        f"Intervals at {level}{', of the reading shown' if len(result.readings) > 1 else ''}. That of "
        "P32 is for the mean of the rock of the site, which may be uneven; in brackets, as if the set "
        "were even. A part of the rock may lie outside. Errors of survey are "
        f"{'in them' if stated else 'not in them'}."
    )


def net_picture(result: SiteAnalysis) -> Picture:
    """The stereonet of the first screen."""
    return picture(
        "net",
        (4.9, 5.5),
        lambda figure: plots.stereonet(result, plots.net_axes(figure)),
        finding="Stereonet of poles. " + headline(result),
        caption=(
            f"Equal area, lower hemisphere, poles. Curves: {curves(result)}; rings: confidence cones; a "
            "pole is paler the lower its membership. Tones: density of the poles as logged, from "
            f"{plots.DENSITY_LEVELS[0]:g} times uniform, doubling.{_rising(result)}"
        ),
    )


def curves(result: HasSets) -> str:
    """What the curves of the net are, by the shapes of the sets."""
    shapes = {one.shape for one in result.sets}
    told = ["mean planes"] if shapes != {"girdle"} else []
    told += ["great circles of girdles, the triangle being the fold axis"] if "girdle" in shapes else []
    contours = shapes & {"elliptical", "girdle"}
    told += ["dashed, the contour that holds 95 % of the set"] if contours else []
    return "; ".join(told)


def _rising(result: SiteAnalysis) -> str:
    """Where the net shows holes that rise; empty if none does."""
    rising = result.holes.loc[result.holes["plunge_deg"] < -0.5, "hole"].astype(str).tolist()
    if not rising:
        return ""
    if len(rising) == 1:
        return f" Hole {rising[0]} rises and stands at its lower end."
    return f" {len(rising)} holes rise and stand at their lower ends."


def forest_picture(result: SiteAnalysis) -> Picture | None:
    """P32 and mean of each set as each hole alone gives them, beside the whole."""
    rows = len(result.sets) * len(result.site.holes)
    if not rows or len(result.site.holes) < 2 or rows > 60:
        return None
    return picture(
        "by-hole",
        (7.4, 0.75 + 0.155 * rows),
        lambda figure: _draw_forest(result, figure),
        finding="P32 and mean of each set, hole by hole, beside the whole fit.",
        caption="Each hole alone, with intervals. The band is the whole fit"
        + ("; right, the angle of the hole's mean to that of the set. " if _has_means(result) else ". ")
        + "A bar that misses the band differs from it; bars that meet it do not prove an even rock.",
    )


def _draw_forest(result: SiteAnalysis, figure: Any) -> None:
    # A girdle has no mean to compare: where there is nothing else, P32 stands alone.
    kinds = ("p32", "angle") if _has_means(result) else ("p32",)
    axes = figure.subplots(1, len(kinds), sharey=True, squeeze=False)[0]
    figure.subplots_adjust(left=0.08, right=0.99, wspace=0.08)
    for kind, ax in zip(kinds, axes, strict=True):
        plots.hole_forest(result, kind, ax)


def _has_means(result: SiteAnalysis) -> bool:
    return any(one.mean is not None for one in result.sets)
