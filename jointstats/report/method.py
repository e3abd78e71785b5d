"""How the figures of the page were made: method, definitions, sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import __version__
from jointstats.borehole.fractures import Status
from jointstats.words import listed, number

if TYPE_CHECKING:
    from jointstats.borehole.settings import SiteSettings
    from jointstats.sets.result import SiteAnalysis

__all__ = ["definitions_of", "method_paragraphs", "sources_of"]

_DEFINITIONS = (
    ("Dip, dip direction", "Steepest slope of a plane below level, and the azimuth it slopes to, "
     "clockwise from north."),
    ("Pole", "Normal of a plane, drawn by its lower end. Planes and poles have no front or back: a "
     "set that stands upright shows at both sides of the net."),
    ("Confidence cone", "Cone about the mean pole that covers the true mean at the stated "
     "confidence. It tells how well the mean is known, not how far single fractures stray."),
    ("Kappa (κ)", "Fisher concentration of the set as read, the bias of sampling taken out. About 95 % "
     "of its poles lie within 140° divided by √κ of the mean: 31° for κ 20, 20° for κ 50."),
    ("Without reading errors", "κ with the stated errors of reading taken out too."),
    ("P32", "Fracture area per volume of rock, m²/m³. It does not depend on the direction of the "
     "hole."),
    ("P10", "Fractures per metre along a hole. It depends on the direction of the hole."),
    ("Exposure", "Metres of hole, square on, that an orientation was offered: the sum of length "
     "times |cos| of the angle between hole and pole, over all logged lengths at the blind angle or "
     "more to the plane. The expected number of fractures of a set in the fit is its P32 times its "
     "exposure."),
    ("Blind angle", "Angle between hole and plane below which picks are not trusted. They are left "
     "out of the fit, so of means, κ and P32. They keep their place in P10 and RQD, and by their "
     "orientation in the spacings, the condition and the counts down each hole of a set."),
    ("Blind zone", "Orientations at less than the blind angle to a hole: a band about the great "
     "circle square to the hole."),
    ("Seen", "Share of a set's fractures met by the holes that stand above the blind angle."),
    ("Normal spacing", "Distance between neighbours of one set along its mean normal. Its mean "
     "is the whole logged length along that normal over the number of fractures of the set plus "
     "one: spacings censored by the ends of the log count with their length, so that wide ones are "
     "not lost for being wide. Where the censored pieces happen to be short it comes out below the "
     "mean of the complete spacings."),
    ("Theoretical RQD", "RQD that the frequency along a hole implies for randomly placed fractures "
     "and a threshold of 0.1 m; not a measurement on core."),
)

_SOURCES = (
    "Terzaghi, R. (1965). Sources of error in joint surveys. Géotechnique 15: 287–304. "
    "The bias of a line, and its correction.",
    "Fisher, R. A. (1953). Dispersion on a sphere. Proc. R. Soc. A 217: 295–305. "
    "The distribution of the sets.",
    "Priest, S. D. & Hudson, J. A. (1976). Discontinuity spacings in rock. Int. J. Rock Mech. Min. "
    "Sci. 13: 135–148. Theoretical RQD.",
    "ISRM (1978). Suggested methods for the quantitative description of discontinuities in rock "
    "masses. Int. J. Rock Mech. Min. Sci. 15: 319–368. Terms of spacing.",
    "Mardia, K. V. & Jupp, P. E. (2000). Directional Statistics. Wiley. Product of mean "
    "resultants of a set and of its errors of reading.",
    "Kaplan, E. L. & Meier, P. (1958). Nonparametric estimation from incomplete observations. J. "
    "Am. Stat. Assoc. 53: 457–481. The share of longer spacings.",
    "Moran, P. A. P. (1951). The random division of an interval, part II. J. R. Stat. Soc. B 13: "
    "147–150 (from memory). Bartlett's test of random placing.",
    "Schwarz, G. (1978). Estimating the dimension of a model. Ann. Stat. 6: 461–464. "
    "The criterion for the number of sets.",
)


def definitions_of(result: SiteAnalysis) -> list[tuple[str, str]]:
    """The words that stand on the page of an analysis, with what they mean.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of (str, str)

    Examples
    --------
    >>> import jointstats as js
    >>> definitions_of(js.analyse(js.simulate_site(random_state=1), n_sets=3))[-1][0]
    'Theoretical RQD'
    """
    unused = set() if _errors_shown(result) else {"Without reading errors"}
    return [one for one in _DEFINITIONS if one[0] not in unused]


def sources_of(result: SiteAnalysis) -> list[str]:
    """The sources of what stands on the page of an analysis.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of str

    Examples
    --------
    >>> import jointstats as js
    >>> sources_of(js.analyse(js.simulate_site(random_state=1), n_sets=3))[0][:8]
    'Terzaghi'
    """
    unused = set()
    if result.fractures["angular_error_deg"].isna().all():
        unused.add("Mardia")
    if result.settings["n_sets"] != "auto":
        unused.add("Schwarz")
    if not result.sets:
        unused |= {"ISRM", "Kaplan", "Moran"}
    return [one for one in _SOURCES if not one.startswith(tuple(unused))]


def _errors_shown(result: SiteAnalysis) -> bool:
    """Whether κ without errors of reading stands in the first table."""
    return any(one.reading_error_deg is not None for one in result.sets)


def method_paragraphs(result: SiteAnalysis) -> list[str]:
    """How the figures were made, with every setting, in full sentences.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of str

    Examples
    --------
    >>> import jointstats as js
    >>> len(method_paragraphs(js.analyse(js.simulate_site(random_state=1), n_sets=3)))
    7
    """
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
        "A hole meets a fracture of unit normal n at a rate proportional to |n · d|, d being the "
        f"direction of the hole. Angles between hole and plane below the blind angle of {blind:g}° "
        "are not trusted: such picks are left out of the fit, and the exposure leaves out the same "
        "angles, so that the two agree.",
        "The sets and a uniform background were fitted together by maximum likelihood of a Poisson "
        "process: the expected count of a set is its P32 times its exposure, averaged over its "
        "Fisher distribution. Means, κ and P32 therefore describe the rock, not the sample, and no "
        f"fracture is divided by a small number. {chosen}",
        f"Every interval is at {level} confidence, for sets that are even throughout the rock. Those "
        "of a set's mean, κ and P32 are of its posterior, given the number of sets, under a prior "
        "flat in the mean pole, 1/κ in κ and √(exposure/P32) in P32; a set of more than about 400 "
        "fractures has those of the observed information. P10 intervals are those of a Poisson "
        "count, those of a median of the order of the spacings. Spacing intervals take the fractures "
        "as placed at random along the line, and the mean normal as known.",
        "In simulated investigations intervals at 95 % of a well-seen set hold the truth in 94.5 to "
        "95.6 % (25 to 200 fractures a set, 2,000 simulations each). With 25 to 50 fractures beside "
        "a blind zone, or among several sets whose number must be found, cones hold it in 91 to "
        "94 % and intervals of κ in 91 to 96 %.",
        _reading(result),
        "Fractures are assigned to the set of the largest membership. Computed with jointstats "
        f"{__version__}, random state {settings['random_state']}; the same input gives the same "
        "report, byte for byte.",
    ]


def _north(settings: SiteSettings) -> str:
    """What azimuths refer to, and by how much they were turned."""
    if settings.north == "true":
        return "Directions refer to true north, as in the tables."
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
    """What was done about errors of reading."""
    if result.fractures["angular_error_deg"].isna().all():
        return (
            "No error of reading is stated for any fracture, so none is taken out of κ, and the "
            "cones hold only what shows as scatter: errors common to a hole (its survey, its "
            "reference line) are not in them."
        )
    each = [
        f"{one.name} {number(one.reading_error_deg, 2)}°"
        for one in result.sets
        if one.reading_error_deg is not None
    ]
    without = [one.name for one in result.sets if one.reading_error_deg is None]
    stated = f"Stated errors of reading, root mean square: {listed(each)}. " if each else ""
    lacking = (
        f"For {listed(without)} an error is not stated for every fracture: κ keeps its reading "
        "errors. "
        if without
        else ""
    )
    return (
        f"{stated}{lacking}κ without reading errors follows from the product of mean resultants, "
        "A(κ) = A(κ without) · A(κ of the errors), A(κ) = coth κ − 1/κ. Random errors of reading "
        "are in the observed scatter and so in the cones; " + _common_errors(result)
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
    counted = result.fractures["oriented_from"].value_counts()
    parts = [f"{n} from {source}" for source, n in counted.items() if source != Status.NOT_ORIENTED]
    if not parts:
        return "No fracture has an orientation."
    return f"Orientations come {listed(parts)}."
