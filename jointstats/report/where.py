"""Where the fractures are: plan, two sections, and the logs of the holes side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.fit.hole_agreement import lengths_told
from jointstats.plots.map import MOST_TRACES, best_azimuth_deg
from jointstats.report.figures import picture
from jointstats.report.section import Section, Table
from jointstats.sets.lines import sets_by_domain
from jointstats.sphere.angles import as_azimuth
from jointstats.words import listed, number, percent, plane, within

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from jointstats.sets.result import SiteAnalysis

#: Logs that stand side by side on the page; each hole has a sheet of its own.
MOST_LOGS = 6


def section(result: SiteAnalysis) -> Section:
    """Plan and two sections square to each other."""
    azimuth = best_azimuth_deg(result)
    holes = result.site.holes
    placed = all(hole.collar is not None for hole in holes)
    oriented = result.counts.total - result.counts.not_oriented
    part = f" {MOST_TRACES} of {oriented} are drawn." if oriented > MOST_TRACES else ""
    return Section(
        name="where",
        title="Where the fractures are",
        text=(_where_most(result),),
        pictures=(
            picture(
                "map",
                (11.4, 3.5),
                lambda figure: _draw_map(result, figure, azimuth),
                finding=f"Plan of {listed([hole.name for hole in holes][:8])} and two sections.",
                caption=f"{'' if placed else 'Schematic: not every collar is known, so the holes stand side by side. '}"
                "Squares: collars. Fractures as short traces at their apparent dip, in the colours "
                "of the sets, grey if unassigned; a hole does not tell how far a fracture reaches."
                f"{part} Broad bands: not logged.",
            ),
        ),
        wide=True,
    )


def domains(result: SiteAnalysis) -> Section | None:
    """The sets of each domain; None where the holes see one rock."""
    found = result.domains
    if len(found) < 2:
        return None
    confidence = float(result.settings["confidence"])
    rows = tuple(
        (
            row["domain"],
            plane(row["dip_deg"], row["dip_direction_deg"]),
            number(row["kappa"], 2),
            f"{row['n_expected']:.0f}",
            f"{number(row['p32_per_m'], 2)} ({within((row['p32_low_per_m'], row['p32_high_per_m']))})",
        )
        for row in sets_by_domain(found, result.sampling, confidence).to_dict("records")
    )
    columns = ("Domain", "Mean plane", "κ", "n expected", "P32, 1/m")
    return Section(
        name="domains",
        title="The sets of each domain",
        items=tuple((one.name, lengths_told(one)) for one in found),
        tables=(Table(f"Round sets of each domain ({percent(confidence)} intervals)", columns, rows,
                      frozenset({1})),),
        notes=(
            "Each domain has sets of its own, numbered nowhere else on this page; every other figure is of "
            "all holes together. Sets are taken as round and even here. For a design within a domain, "
            "analyse its holes alone.",
        ),
        wide=True,
    )


def _draw_map(result: SiteAnalysis, figure: Figure, azimuth: float) -> None:
    plan, first, second = figure.subplots(1, 3)
    figure.subplots_adjust(left=0.06, right=0.99, wspace=0.3)
    plots.site_plan(result, plan)
    plots.site_section(result, azimuth, first)
    plots.site_section(result, float(as_azimuth(azimuth + 90.0)), second)


def logs(result: SiteAnalysis) -> Section:
    """The logs of the holes side by side on shared scales."""
    holes = result.site.holes[:MOST_LOGS]
    rest = len(result.site.holes) - len(holes)
    more = f" {rest} more holes have their logs on sheets alone." if rest else ""
    return Section(
        name="logs",
        title="Down the holes",
        pictures=(
            picture(
                "logs",
                (0.6 + 2.7 * len(holes), 4.6),
                lambda figure: _draw_logs(result, figure),
                finding=f"Logs of {listed([hole.name for hole in holes])}.",
                caption="Each fracture at its depth and dip; the tick points to its dip direction, "
                "north being up. Hollow: below the blind angle; dashes at the left: no orientation; "
                "shaded: not logged. Right: frequency, and as a heavy line the mean of each zone "
                f"that it can be told apart by. One scale for all holes.{more}",
            ),
        ),
        wide=True,
    )


def _draw_logs(result: SiteAnalysis, figure: Figure) -> None:
    holes = result.site.holes[:MOST_LOGS]
    longest = max(hole.length_m for hole in holes)
    axes = figure.subplots(1, len(holes), squeeze=False)[0]
    figure.subplots_adjust(left=0.05, right=0.965, wspace=0.62)
    strips = []
    for hole, ax in zip(holes, axes, strict=True):
        plots.hole_log(result, hole.name, ax, depths_m=longest)
        ax.set_title(hole.name)
        strips += ax.child_axes
        if ax is not axes[0]:
            ax.set_ylabel("")
    most = max(strip.get_xlim()[1] for strip in strips)
    for strip in strips:
        strip.set_xlim(0.0, most)


def _where_most(result: SiteAnalysis) -> str:
    """In how many holes each set was intersected, and in which most often a metre."""
    parts = []
    for one in result.sets:
        rows = one.holes.to_dict("records")
        most = max(rows, key=lambda row: row["p10_per_m"])
        met = sum(1 for row in rows if row["n"] > 0)
        parts.append(
            f"{one.name} is intersected by {met} of {len(result.site.holes)} holes, most often by "
            f"{most['hole']} ({number(most['p10_per_m'], 2)} a metre as logged)"
        )
    return f"{'; '.join(parts) or 'There is no set'}."
