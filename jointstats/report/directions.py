"""How many fractures a new line would meet, by its direction; the sets with the bedding level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats import plots
from jointstats.borehole.tilt import tilt_correct
from jointstats.design.frequency import frequency_along, frequency_range
from jointstats.report.figures import Picture, picture
from jointstats.report.section import Section
from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.words import listed, number, plane, within

if TYPE_CHECKING:
    from jointstats.design.estimates import Estimate
    from jointstats.sets.result import SiteAnalysis
    from jointstats.types import Array


def section(result: SiteAnalysis) -> Section:
    """The net of frequency; with a bedding the net of the poles tilted back."""
    least, _, most, high = frequency_range(result.rock)
    lines = np.vstack([most, least])
    most_told, least_told = _told(lines, frequency_along(result, lines))
    text = (
        f"A new line is expected to intersect most fractures along {most_told}, and fewest along "
        f"{least_told}. {_beyond(result, high)}"
    )
    made = [
        picture(
            "frequency",
            (3.3, 3.75),
            lambda figure: plots.frequency_net(result, plots.net_axes(figure)),
            finding=text,
            caption="Fractures a metre along a line of each direction, by the fit.",
        )
    ]
    bedding = result.bedding
    if bedding is not None and result.sets:
        made.append(_tilted(result, bedding))
    return Section(
        name="directions",
        title="Frequency by direction",
        text=(text,),
        pictures=tuple(made),
    )


def _told(lines: Array, found: Estimate) -> list[str]:
    """Each line with its frequency and that one's interval."""
    each = zip(*trend_from_lines(lines), found.estimate, found.low, found.high, strict=True)
    return [
        f"trend {round(trend) % 360:03d}°, plunge {plunge:.0f}° ({number(rate, 2)} a metre, "
        f"{within((low, high))})"
        for trend, plunge, rate, low, high in each
    ]


def _beyond(result: SiteAnalysis, most_per_m: float) -> str:
    """Why holes may have intersected more than the most that is expected."""
    above = [
        f"{row['hole']} ({number(row['p10_per_m'], 2)})"
        for row in result.holes.to_dict("records")
        if row["p10_per_m"] > most_per_m
    ]
    if not above:
        return "Expected of the rock as a whole; a line may meet more or fewer."
    lacking = ", fractures without orientation" if result.counts.not_oriented else ""
    return f"{listed(above)} met more: chance{lacking} or uneven rock."


def _tilted(result: SiteAnalysis, bedding: tuple[float, float]) -> Picture:
    placed = [one for one in result.sets if one.mean is not None]
    means = tilt_correct(np.array([one.mean for one in placed]).reshape(-1, 3), *bedding)
    planes = zip(placed, *dip_from_poles(means), strict=True)
    each = listed([f"{one.name} {plane(dip, way)}" for one, dip, way in planes])
    return picture(
        "tilted",
        (3.3, 3.3),
        lambda figure: plots.tilted_stereonet(result, plots.net_axes(figure)),
        finding=f"With the bedding brought to level: {each}.",
        caption=f"The bedding ({plane(*bedding)}) brought to level: {each}.",
    )
