"""Zones of broken, rotten and lost rock: a list, and their place on the log sheets."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from math import cos, isfinite, radians, sin
from typing import TYPE_CHECKING

from jointstats.line.recovery import RockZone, zones_of
from jointstats.report.section import Table
from jointstats.sets.by_hole import set_of_plane
from jointstats.words import number, plane, short

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def zone_table(result: SiteAnalysis) -> Table | None:
    """A row a zone: where, what, what bounds it with the set nearest to that plane, recovery."""
    rows = tuple(
        (
            f"{one.hole}, {number(one.from_m)} to {number(one.to_m)} m",
            one.kind or "–",
            _bound(result, one.upper),
            _bound(result, one.lower),
            one.condition or "–",
            f"{100 * one.recovery:.0f}" if isfinite(one.recovery) else "not known",
        )
        for one in zones_of(result.site)
    )
    columns = ("Zone", "Kind", "Upper bound (set)", "Lower bound (set)", "Condition", "Recovery, %")
    return Table("Zones", columns, rows, frozenset(range(1, 5))) if rows else None


def _bound(result: SiteAnalysis, bound: tuple[float, float] | None) -> str:
    if bound is None:
        return "–"
    return f"{plane(*bound)} ({set_of_plane(result, *bound)})"


def zone_marks(
    zones: tuple[RockZone, ...],
    top_m: float,
    end_m: float,
    y: Callable[[float], float],
    strip: tuple[float, float],
) -> list[str]:
    """A band for each zone on a sheet, its kind beside it, and its bounds as squares with tails.

    `strip`: where the band and the scale of dips begin, mm of paper.
    """
    parts, (left, dips) = [], strip
    for one in zones:
        low, high = max(one.from_m, top_m), min(one.to_m, end_m)
        if low >= high:
            continue
        parts.append(
            f'<rect x="{left:.1f}" y="{y(low):.2f}" width="2" height="{y(high) - y(low):.2f}" '
            'style="fill:var(--warning)"/>'
        )
        parts.append(
            f'<text x="{left + 2.4:.1f}" y="{0.5 * (y(low) + y(high)) + 0.8:.2f}" style="font:2.2px '
            f'var(--face);fill:var(--ink)">{escape(short(one.kind))}</text>'
        )
        for depth, bound in ((one.from_m, one.upper), (one.to_m, one.lower)):
            if bound is not None and top_m <= depth <= end_m:
                parts.append(_square(dips + 5 + bound[0] / 2, y(depth), bound[1]))
    return parts


def _square(x: float, at: float, way_deg: float) -> str:
    way = radians(way_deg)
    drawn = f"M{x - 0.9:.2f} {at - 0.9:.2f}h1.8v1.8h-1.8zM{x:.2f} {at:.2f}"
    drawn += f"l{3.2 * sin(way):.2f} {-3.2 * cos(way):.2f}"
    return f'<path d="{drawn}" style="fill:none;stroke:var(--warning);stroke-width:.35"/>'
