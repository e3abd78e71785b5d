"""What was logged, hole by hole, and what became of every fracture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from jointstats.line.quality import rqd_from_frequency
from jointstats.observed.by_set import detection_by_set
from jointstats.report.corrections import corrections_line
from jointstats.report.hole_notes import zone_notes, zone_table
from jointstats.report.section import Section, Table
from jointstats.words import listed, number, within

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def section(result: SiteAnalysis) -> Section:
    """The table of holes, and the fractures counted once."""
    zones = zone_table(result)
    return Section(
        name="logged",
        title="What was logged",
        text=tuple(
            filter(
                None,
                (
                    account_line(result),
                    methods_line(result),
                    *_observed(result),
                    corrections_line(result),
                ),
            )
        ),
        tables=(hole_table(result), *(() if zones is None else (zones,))),
        notes=(
            "Theoretical RQD of what was drilled, for the interval of P10: core that was lost counts in "
            "the length and in no piece (ASTM D6032).",
            *zone_notes(result),
            *_mixed(result),
        ),
        definitions=("P10", "theoretical RQD"),
        sources=("Dershowitz", "Priest"),
    )


def _mixed(result: SiteAnalysis) -> tuple[str, ...]:
    """That a word stands for two kinds of line, where there are two."""
    kinds = {hole.kind for hole in result.site.holes}
    both = "borehole" in kinds and len(kinds) > 1
    return ("Where this page says hole, a scanline is meant too.",) if both else ()


def _observed(result: SiteAnalysis) -> tuple[str, ...]:
    """What share of the fractures the logs show, and the holes whose two logs do not pair."""
    found = result.observation
    by_set = detection_by_set(result.fractures, result.sampling).sentence
    return (found.known_in_part, found.detected, by_set, *found.notes)


def hole_table(result: SiteAnalysis) -> Table:
    """One row a hole."""
    rows = []
    for line, row in zip(result.sampling.lines, result.holes.to_dict("records"), strict=True):
        way = f"{round(row['trend_deg']) % 360:03d}° / {round(row['plunge_deg'])}°"
        methods = listed(sorted(line.methods)) or "–"
        rows.append(
            (
                str(row["hole"]),
                way.replace("-", "−"),
                f"{number(row['logged_m'])} of {number(line.length_m)}",
                methods,
                f"{row['n']} ({row['n_oriented']})",
                f"{number(row['p10_per_m'], 2)} "
                f"({within((row['p10_low_per_m'], row['p10_high_per_m']))})",
                _rqd(row),
            )
        )
    columns = (
        "Hole",
        "Trend / plunge",
        "Logged, m",
        "Method",
        "Fractures (oriented)",
        "P10, 1/m",
        "Theoretical RQD, %",
    )
    return Table("What was logged, hole by hole", columns, tuple(rows), frozenset({3}))


def _rqd(row: dict[Any, Any]) -> str:
    """Theoretical RQD as the interval that P10 gives it."""
    if row["rqd_theoretical"] is None or row["rqd_theoretical"] != row["rqd_theoretical"]:
        return "–"
    core = row["recovered_share"]
    low, high = (
        core * float(rqd_from_frequency(row[f"p10_{end}_per_m"])) for end in ("high", "low")
    )
    return f"{low:.0f} to {high:.0f}" if round(low) < round(high) else f"{high:.0f}"


def account_line(result: SiteAnalysis) -> str:
    """What became of every fracture, in one sentence."""
    counts = result.counts
    parts = [
        f"{counts.in_a_set} in a set",
        f"{counts.unassigned} unassigned",
        f"{counts.below_blind_angle} below the blind angle of "
        f"{result.exposure.blind_angle_deg:g}° (out of the fit)",
        f"{counts.not_oriented} without orientation",
    ]
    if counts.partly_oriented:
        parts.append(f"{counts.partly_oriented} known in part (in the fit with all that is left open)")
    if counts.other_method:
        parts.append(f"{counts.other_method} of a second method over the same length (left out)")
    if counts.paired:
        parts.append(f"{counts.paired} again, by the other of core and image")
    if counts.not_included:
        parts.append(f"{counts.not_included} of a class that is not included (left out)")
    return f"{counts.total} fractures: {listed(parts)}."


def methods_line(result: SiteAnalysis) -> str:
    """How many fractures each method gave, and how to compare the two; empty with one method."""
    if "method" not in result.fractures:
        return ""
    named = result.fractures["method"].fillna("").astype(str).tolist()
    methods = sorted(set(named) - {""})
    if len(methods) < 2:
        return ""
    each = listed([f"{named.count(method)} by {method}" for method in methods])
    return f"{each}. Where two methods logged one hole, “jointstats match” sets them side by side."
