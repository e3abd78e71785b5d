"""Marks on a log sheet as SVG, in millimetres of paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape
from math import cos, radians, sin
from typing import TYPE_CHECKING

from jointstats.words import short

if TYPE_CHECKING:
    from jointstats.line.recovery import RockZone


def path_mark(points: Iterable[str], colour: str, width: float, fill: str = "none") -> str:
    """A path of these pieces; empty without any."""
    drawn = "".join(points)
    look = f"fill:{fill};stroke:{colour};stroke-width:{width:g}"
    return f'<path d="{drawn}" style="{look}"/>' if drawn else ""


def text_mark(x: float, y: float, said: str, anchor: str = "middle", size: float = 2.6) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" style="font:{size:g}px var(--face);text-anchor:{anchor};'
        f'fill:var(--ink)">{escape(said)}</text>'
    )


def bar_mark(x: float, y0: float, width: float, y1: float, fill: str) -> str:
    return (
        f'<rect x="{x:.2f}" y="{y0:.2f}" width="{max(width, 0.0):.2f}" height="{y1 - y0:.2f}" '
        f'style="fill:{fill};stroke:var(--quiet);stroke-width:.12"/>'
    )


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
