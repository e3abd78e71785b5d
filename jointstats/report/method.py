"""How the figures of the page were made: method, definitions, sources."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from jointstats.borehole.fractures import Status
from jointstats.words import listed, number

if TYPE_CHECKING:
    from jointstats.borehole.settings import SiteSettings
    from jointstats.sets.result import SiteAnalysis


def method_paragraphs(result: SiteAnalysis) -> list[str]:
    """How the figures were made, with every setting, in full sentences."""
    settings, site = result.settings, result.site
    blind = result.exposure.blind_angle_deg
    level = f"{100 * float(settings['confidence']):g} %"
    chosen = (
        f"The number of sets, {len(result.sets)}, was chosen by the Bayesian information criterion."
        if settings["n_sets"] == "auto"
        else f"The number of sets, {settings['n_sets']}, was given."
    )
    return [
        f"{_north(site.settings)} Depth is length along the hole from its collar. "
        + _orientations(result),
        "A hole intersects fractures of unit normal n at a rate proportional to |n · d|, d being "
        f"the direction of the hole. Readings at less than the blind angle of {blind:g}° to the "
        "hole are not trusted: they are left out of the fit, and the equivalent length leaves out "
        "the same angles, so that the two agree.",
        "The sets and uniform random fractures were fitted together by maximum likelihood of a "
        "Poisson process: the expected count of a set is its P32 times its equivalent length, "
        "averaged over its distribution. Means, κ and P32 therefore describe the rock, not the "
        f"sample, and no fracture is divided by a small number. {chosen}",
        f"Every interval is at {level} confidence, for sets that are even throughout the rock. Those "
        "of a set's mean, κ and P32 are of its posterior, given the number of sets, under a prior "
        "flat in the mean pole, 1/κ in κ and √(length/P32) in P32; a set of more than about 400 "
        "fractures has those of the observed information. P10 intervals are those of a Poisson "
        "count, those of a median of the order of the spacings. Spacing intervals take the fractures "
        "as placed at random along the line, and the mean normal as known. The margin in dip "
        "direction is arcsin(sin of the cone / sin of the dip).",
        "In simulated investigations intervals at 95 % of a well-sampled set hold the truth in 94.5 "
        "to 95.6 % (25 to 200 fractures a set, 2,000 simulations each). With 25 to 50 fractures "
        "beside a blind zone, or among several sets whose number must be found, cones hold it in 91 "
        "to 94 % and intervals of κ in 91 to 96 %.",
        _reading(result),
        "Fractures are assigned to the set of the largest membership. The same input gives the "
        "same report, byte for byte.",
    ]


def _north(settings: SiteSettings) -> str:
    """What azimuths refer to, and by how much they were turned."""
    if settings.north == "true":
        return "Directions refer to true north."
    if settings.north == "mixed":
        each = [
            f"{north} in {table}.csv (turned by {settings.bearing_of(table):.1f}°)"
            for table, north in settings.north_of
        ]
        return f"Directions refer to true north; the tables' own north is {listed(each)}."
    turn = settings.bearing_of("holes")
    return (
        f"Directions refer to true north; those of the tables refer to {settings.north} north and "
        f"were turned by {turn:.1f}°."
    )


def _reading(result: SiteAnalysis) -> str:
    """What was done about measurement errors."""
    if result.fractures["angular_error_deg"].isna().all():
        return (
            "No measurement error is stated for any fracture, so none is taken out of κ, and the "
            "cones hold only what shows as scatter: errors common to a hole (its survey, its "
            "reference line) are not in them."
        )
    each = [
        f"{one.name} {number(one.reading_error_deg, 2)}°"
        for one in result.sets
        if one.reading_error_deg is not None
    ]
    without = [one.name for one in result.sets if one.reading_error_deg is None]
    stated = f"Stated measurement errors, root mean square: {listed(each)}. " if each else ""
    lacking = (
        "An error is not stated for every fracture of the fit: κ keeps its reading errors. "
        if without
        else ""
    )
    return (
        f"{stated}{lacking}Where errors are stated, each fracture has the density of its set spread "
        "by its own: with A(κ) = coth κ − 1/κ, A(κ as read) = A(κ) · A(κ of the errors). P32, draws and "
        "designs are then of the rock, without them; κ is told as read and without. The observed "
        "scatter, and so the cones, hold random measurement errors; " + _common_errors(result)
    )


def _common_errors(result: SiteAnalysis) -> str:
    errors = result.site.settings.errors
    if errors.survey_deg or errors.roll_deg:
        return (
            "the stated errors of survey and roll, taken as common to each hole and independent "
            "from hole to hole, widen the cones of sets read relative to their holes."
        )
    return (
        "no error of survey or roll is stated, so the cones do not hold what turns all fractures "
        "of a hole together."
    )


def _orientations(result: SiteAnalysis) -> str:
    counted = Counter(result.fractures["oriented_from"])
    counted.pop(Status.NOT_ORIENTED, None)
    parts = [f"{n} from {source}" for source, n in counted.most_common()]
    if not parts:
        return "No fracture has an orientation."
    return f"Orientations come {listed(parts)}."
