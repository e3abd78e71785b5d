"""What the tables note along a hole besides its fractures: zones, and photographs."""

from __future__ import annotations

import os
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Protocol
from urllib.parse import quote

from jointstats.borehole.fractures import Fractures
from jointstats.line.recovery import unlisted_bounds, zones_of
from jointstats.report.section import Link, Section, Table
from jointstats.sets.by_hole import set_of_plane
from jointstats.words import listed, number, plane

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


def zone_notes(result: SiteAnalysis) -> tuple[str, ...]:
    """Bounds of zones that stand in no row of the fractures, and so count in no set."""
    every = Fractures(result.fractures)
    found = unlisted_bounds(zones_of(result.site), every)
    if not found:
        return ()
    places = listed([f"{hole} at {number(depth)} m" for hole, depth in found])
    return (f"No row of the fractures is the bound of a zone in {places}: it counts in no set.",)


def _bound(result: SiteAnalysis, bound: tuple[float, float] | None) -> str:
    if bound is None:
        return "–"
    return f"{plane(*bound)} ({set_of_plane(result, *bound)})"


class _Log(Protocol):
    """What is asked of the log of a hole."""

    @property
    def result(self) -> SiteAnalysis: ...
    @property
    def fractures(self) -> Fractures: ...


def photo_section(log: _Log, folder: Path | None) -> Section | None:
    """What the column photo says of each fracture of a hole, by depth; None where it says nothing.

    `folder`: directory that the page will stand in, from which files are linked; None links none.
    """
    table = log.fractures.table
    if "photo" not in table:
        return None
    rows = table[table["photo"].fillna("").astype(str).str.strip() != ""]
    links = tuple(
        Link(_href(log.result, row["photo"].strip(), folder), _said(row))
        for row in rows.sort_values("depth_m", kind="stable").to_dict("records")
    )
    if not links:
        return None
    return Section(name="photos", title="Photographs", links=links, wide=True)


def _said(row: dict[str, object]) -> str:
    name = str(row["photo"]).strip()
    return f"{number(float(str(row['depth_m'])), 4)} m, {row['set'] or 'no set'}: {name}"


def _href(result: SiteAnalysis, name: str, folder: Path | None) -> str:
    """The way from a page to the file of a photograph; empty where there is no such file."""
    if folder is None or not result.site.sources:
        return ""
    source = result.site.sources[0]
    file = (source if source.is_dir() else source.parent) / name
    try:
        found = file.is_file()
    except (OSError, ValueError):  # a reference too long, or of signs that no file name has
        found = False
    if not found:
        return ""
    try:
        way = os.path.relpath(file.absolute(), folder.absolute())
    except ValueError:  # on another drive
        return ""
    return quote(way.replace(os.sep, "/"))
