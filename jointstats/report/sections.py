"""The parts of the page that are more than a table: pictures with their findings, and prose."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats import plots
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.tilt import tilt_correct
from jointstats.plots.directions import (
    LEAST_DIP_DEG,
    frequency_levels,
    rate_along,
    rate_interval,
)
from jointstats.plots.downhole import has_oxidation
from jointstats.plots.views import MOST_DISCS
from jointstats.report.figures import Picture, picture
from jointstats.report.wording import answer
from jointstats.sets.membership import DOUBT, SURE, membership_finding
from jointstats.sets.reliability import FEWEST_FOR_TEST, SMALL_P, chance_of_clusters
from jointstats.sets.unseen import blind_spot
from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.sphere.axes import hemisphere_grid
from jointstats.words import listed, number, p_value, plane, within

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = [
    "direction_pictures",
    "exposure_picture",
    "fit_pictures",
    "log_pictures",
    "membership_picture",
    "net_picture",
    "not_oriented_line",
    "spacing_pictures",
    "summary_line",
    "trust_line",
    "view_picture",
    "where_most",
]


def summary_line(result: SiteAnalysis) -> str:
    """What the report rests on, in one line.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> summary_line(js.analyse(js.simulate_site(random_state=1), n_sets=3))[:22]
    '3 holes, 220 m logged,'
    """
    holes = len(result.site.holes)
    counts = result.counts
    return (
        f"{holes} {'hole' if holes == 1 else 'holes'}, "
        f"{number(float(result.holes['logged_m'].sum()))} m logged, {counts.total} fractures, "
        f"{counts.total - counts.not_oriented - counts.other_method} of them oriented"
    )


def trust_line(result: SiteAnalysis) -> str:
    """What the intervals of the first table hold, and how far they are to be trusted.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> trust_line(js.analyse(js.simulate_site(random_state=1), n_sets=3))[:30]
    'The sets, by falling P32. Inte'
    """
    errors = result.site.settings.errors
    stated = errors.survey_deg or errors.roll_deg
    return (
        f"The sets, by falling P32. Intervals at {100 * float(result.settings['confidence']):g} % "
        "confidence take the number of sets as known and each set as even throughout the rock; "
        f"errors of survey are {'in the cones as stated' if stated else 'not in them'}; below "
        "about 50 fractures in a set they hold somewhat less often."
    )


def not_oriented_line(result: SiteAnalysis) -> str:
    """By how much P32 is low for want of orientations; empty if every fracture has one.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str
        Opens with a blank, to follow another sentence.

    Examples
    --------
    >>> import jointstats as js
    >>> not_oriented_line(js.analyse(js.simulate_site(random_state=1), n_sets=3))
    ''
    """
    counts = result.counts
    if not counts.not_oriented:
        return ""
    share = 100 * counts.not_oriented / counts.total
    told = f"about {share:.0f} %" if share >= 1 else "less than 1 %"
    return f" Every P32 is {told} low: {counts.not_oriented} fractures have no orientation."


def net_picture(result: SiteAnalysis) -> Picture:
    """The stereonet of the first screen.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Picture
    """
    return picture(
        "net",
        (4.9, 4.9),
        lambda figure: plots.stereonet(result, plots.net_axes(figure)),
        finding="Stereonet of poles. " + " ".join(answer(result)),
        caption=(
            "Equal area, lower hemisphere, poles. Curves are the mean planes; rings about the mean "
            "poles are the confidence cones; a pole is the paler the less sure its set. Grey-blue "
            f"tones are the density of the poles as logged, from {plots.DENSITY_LEVELS[0]:g} times "
            f"uniform upward, each tone twice the one before.{_rising(result)}"
        ),
    )


def _rising(result: SiteAnalysis) -> str:
    """Where the net shows holes that rise; empty if none does."""
    rising = result.holes.loc[result.holes["plunge_deg"] < -0.5, "hole"].astype(str).tolist()
    if not rising:
        return ""
    if len(rising) == 1:
        return f" Hole {rising[0]} rises and stands at its opposite, lower end."
    return f" {len(rising)} holes rise and stand at their opposite, lower ends."


def exposure_picture(result: SiteAnalysis) -> Picture:
    """What the holes could see.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Picture
    """
    spot = blind_spot(result)
    return picture(
        "seen",
        (3.4, 3.4),
        lambda figure: plots.exposure_net(result, plots.net_axes(figure)),
        finding="Net of exposure. " + spot.sentence(result.exposure.blind_angle_deg),
        caption=(
            "How much of the logged length counted square-on, for a pole at each place: from under "
            "20 % (no tone) in steps of 15 % to over 80 % (darkest)."
            f"{' Hatched: seen by no hole.' if spot.share > 0 else ''}"
        ),
    )


def direction_pictures(result: SiteAnalysis) -> list[Picture]:
    """Rose of strikes, and frequency by direction of a line.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of Picture
    """
    levels = frequency_levels(result)
    made = [
        picture(
            "rose",
            (3.9, 3.9),
            lambda figure: plots.strike_rose(result, figure.add_subplot(projection="polar")),
            finding=_strike_finding(result),
            caption=(
                f"Strikes as logged, of planes that dip {LEAST_DIP_DEG:g}° or more; not corrected "
                "for the directions of the holes. Areas go with counts. Both ends of a strike are drawn; "
                "at the western one whiskers are the intervals of the counts."
            ),
        )
    ]
    best = hemisphere_grid(2000)
    rate = rate_along(result, best)
    most, least = (_line_told(result, -best[int(at(rate))]) for at in (np.argmax, np.argmin))
    made.append(
        picture(
            "frequency",
            (3.9, 3.9),
            lambda figure: plots.frequency_net(result, plots.net_axes(figure)),
            finding=(
                f"By the fitted sets and background a new line is expected to meet most fractures "
                f"along {most}, and fewest along {least}. {_beyond(result, float(rate.max()))}"
            ),
            caption=(
                "Fractures a metre along a line of each direction, by the fitted sets and "
                f"background: five equal tones from {number(levels[0])} to {number(levels[-1])} "
                "1/m, darkest the most."
            ),
        )
    )
    if result.site.settings.bedding is not None:
        made.append(_tilted_picture(result))
    return made


def _line_told(result: SiteAnalysis, line: NDArray[np.float64]) -> str:
    """Direction of a line, and the frequency along it with its interval."""
    trend, plunge = (float(angle[0]) for angle in trend_from_lines(line))
    rate = float(rate_along(result, line[np.newaxis])[0])
    return (
        f"trend {round(trend) % 360:03d}°, plunge {plunge:.0f}° ({number(rate)} a metre, "
        f"{within(rate_interval(result, line))})"
    )


def _beyond(result: SiteAnalysis, most_per_m: float) -> str:
    """Why holes may have met more than the most that is expected."""
    holes = result.holes[result.holes["p10_per_m"] > most_per_m]
    each = [
        f"{row['hole']} ({number(row['p10_per_m'])})" for row in holes.to_dict("records")
    ]
    if not each:
        return "These are expectations: a hole may meet more or fewer by chance."
    lacking = " and fractures without orientation" if result.counts.not_oriented else ""
    return (
        f"These are expectations: {listed(each)} met more, in which chance{lacking} have a part."
    )


def _tilted_picture(result: SiteAnalysis) -> Picture:
    bedding = result.site.settings.true_bedding
    means = tilt_correct(np.array([one.mean for one in result.sets]).reshape(-1, 3), *bedding)
    planes = zip(result.sets, *dip_from_poles(means), strict=True)
    each = [f"{one.name} {plane(dip, way)}" for one, dip, way in planes]
    return picture(
        "tilted",
        (3.9, 3.9),
        lambda figure: plots.tilted_stereonet(result, plots.net_axes(figure)),
        finding=f"With the bedding brought to level: {listed(each) or 'no set'}.",
        caption=(
            f"The poles with the bedding ({plane(*bedding)}) brought back to level. "
            f"{listed(each)}."
        ),
    )


def _strike_finding(result: SiteAnalysis) -> str:
    steep = [one for one in result.sets if one.dip_deg >= LEAST_DIP_DEG]
    if not steep:
        return "Rose of strikes: no set is steep enough to have a strike worth drawing."
    each = [f"{one.name} {round(one.dip_direction_deg - 90.0) % 180:03d}°" for one in steep]
    return f"Rose of strikes. Mean strikes: {listed(each)}."


def fit_pictures(result: SiteAnalysis) -> list[list[Picture]]:
    """Checks of the model, a row of pictures for each set.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of list of Picture
    """
    wanted = (
        (
            "profile",
            partial(plots.density_profile, key=False),
            "Fractures in rings about the mean pole of {}.",
        ),
        ("colatitude", plots.colatitude_plot, "Angles to the mean of {} against a Fisher set."),
        ("longitude", plots.longitude_plot, "Directions about the mean of {} against a round set."),
        ("holes", partial(plots.hole_forest, figures=False), "P32 of {} hole by hole."),
    )
    return [
        [
            picture(
                f"{kind}-{place}",
                (2.6, 2.15),
                lambda figure, draw=draw, name=one.name: draw(
                    result, name, figure.add_subplot()
                ),
                finding=finding.format(one.name),
            )
            for kind, draw, finding in wanted
        ]
        for place, one in enumerate(result.sets, start=1)
    ]


def spacing_pictures(result: SiteAnalysis) -> list[list[Picture]]:
    """A histogram of spacing for each set, and the share that is longer than each length.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of list of Picture
    """
    made = []
    for place, one in enumerate(result.sets, start=1):
        spacing = one.spacing
        found = (
            f"{spacing.n} spacings, mean {number(spacing.mean_m, 2)} m with the censored ones "
            f"counted, {number(spacing.mean_complete_m, 2)} m without; median {number(spacing.median_m, 2)} m."
            f"{_placing(one)}"
            if spacing.n
            else "no two neighbours were seen in one logged length."
        )
        pair = (
            ("spacing", plots.spacing_histogram, f"{one.name}: {found}"),
            ("survival", plots.spacing_survival, f"Share of longer spacings of {one.name}."),
        )
        made.append(
            [
                picture(
                    f"{kind}-{place}",
                    (3.5, 2.35),
                    lambda figure, draw=draw, name=one.name: draw(
                        result, name, figure.add_subplot()
                    ),
                    finding=finding,
                )
                for kind, draw, finding in pair
            ]
        )
    return made


def _placing(one: JointSet) -> str:
    """Whether chance explains how uneven the spacings are."""
    if (one.spacing.spacings_m > 0).sum() < FEWEST_FOR_TEST:
        return f" Below {FEWEST_FOR_TEST} spacings random placing is not tested."
    chance = chance_of_clusters(one.spacing)
    told = "in clusters" if chance < SMALL_P else "no clusters beyond chance"
    return f" Bartlett's test of random placing, {p_value(chance)}: {told}."


def log_pictures(result: SiteAnalysis) -> list[tuple[str, Picture]]:
    """A log for each hole, with the name of the hole.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of (str, Picture)
    """
    made = []
    wide = 0.5 if has_oxidation(result.fractures) else 0.6
    for place, hole in enumerate(result.site.holes, start=1):
        own = Fractures(result.fractures).in_hole(hole.name)
        gaps = listed([f"{number(a)} to {number(b)} m" for a, b in result.sampling.line(hole.name).gaps])
        finding = f"Log of hole {hole.name}: {len(own)} fractures over {number(hole.length_m)} m"
        finding += f"; not logged: {gaps}." if gaps else "; logged whole."
        made.append(
            (
                hole.name,
                picture(
                    f"log-{place}",
                    (3.0, 4.9),
                    lambda figure, name=hole.name: plots.hole_log(
                        result, name, figure.add_axes((0.16, 0.1, wide, 0.86))
                    ),
                    finding=finding,
                ),
            )
        )
    return made


def view_picture(result: SiteAnalysis) -> Picture:
    """The holes in space, and in which of them each set is met most often.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Picture
    """
    holes = result.site.holes
    if all(hole.collar is not None for hole in holes):
        placed = "Holes at their collars (squares)"
    else:
        placed = "Not every collar is known, so the holes stand side by side"
    drawn = min(MOST_DISCS, len(Fractures(result.fractures).oriented))
    return picture(
        "view",
        (5.2, 3.4),
        lambda figure: plots.site_view(result, figure.add_subplot()),
        finding="The holes in space with their fractures. " + where_most(result),
        caption=(
            f"{placed}, seen from level ground without perspective, so heights and the bar are to "
            f"scale; one disc a fracture with an orientation ({drawn} drawn), coloured by set, "
            "grey if unassigned. The radius of the discs is for sight only: a hole does not tell "
            "how far a fracture reaches. Pale bands were not logged."
        ),
    )


def where_most(result: SiteAnalysis) -> str:
    """In how many holes each set is met, and in which most often a metre, in one sentence.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> where_most(js.analyse(js.simulate_site(random_state=1), n_sets=3))[:9]
    'J1 is met'
    """
    parts = []
    for one in result.sets:
        most = one.holes.loc[one.holes["p10_per_m"].idxmax()]
        ends = within((most["p10_low_per_m"], most["p10_high_per_m"]), 2)
        parts.append(
            f"{one.name} is met in {int((one.holes['n'] > 0).sum())} of {len(result.holes)} holes, "
            f"most often in {most['hole']} ({most['n']} in {number(most['logged_m'])} m as logged, "
            f"{number(most['p10_per_m'], 2)} a metre, {ends})"
        )
    return f"{'; '.join(parts) or 'There is no set'}."


def membership_picture(result: SiteAnalysis) -> Picture:
    """Bars of how surely the fractures of each set belong.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Picture
    """
    return picture(
        "membership",
        (4.6, 0.7 + 0.3 * len(result.sets)),
        lambda figure: plots.membership_bars(result, figure.add_subplot()),
        finding=membership_finding(result),
        caption=f"Full tone: membership {SURE:g} or more. Half: {DOUBT:g} to {SURE:g}. Empty: below.",
    )
