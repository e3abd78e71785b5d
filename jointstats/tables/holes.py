"""The holes of a site put together from its checked tables: their direction first."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.hole import Hole
from jointstats.borehole.path import HolePath, circle_path
from jointstats.borehole.settings import SiteSettings
from jointstats.errors import Fault, InputError
from jointstats.sphere.angles import as_azimuth
from jointstats.tables.logged import SAME_DEPTH_M, Drilled, set_lengths, set_logged
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable
from jointstats.tables.spans import lose_core


def drill(
    tables: dict[str, RawTable], names: HoleNames, settings: SiteSettings, broken: set[str]
) -> Drilled:
    """Put the holes together from holes.csv, surveys.csv and logged.csv.

    `tables`: checked tables; `broken`: tables that are there and could not be read.
    """
    drilled = Drilled()
    _set_circles(drilled, tables["holes"], names, settings)
    given = tables["holes"].numbers("length_m")
    drilled.lengths = {name: float(given[at]) for name, at in names.row.items()}
    _set_paths(drilled, tables, names, settings, broken)
    set_logged(drilled, tables, names, broken)
    set_lengths(drilled, tables, names, broken)
    if not drilled.whole:
        lose_core(tables.get("zones"), names, drilled)
    return drilled


def built(holes: RawTable, names: HoleNames, drilled: Drilled) -> tuple[Hole, ...]:
    """The holes, once there is no fault left.

    `holes`: the table of holes. Gives in the order of holes.csv.
    """
    found = []
    for name, at in names.row.items():
        place = [float(holes.numbers(c)[at]) for c in ("easting_m", "northing_m", "elevation_m")]
        place = [a + b for a, b in zip(place, drilled.starts.get(name, (0.0, 0.0, 0.0)), strict=True)]
        diameter = float(holes.numbers("diameter_mm")[at])
        kind = str(holes.words("kind")[at]) or "borehole"
        found.append(
            Hole(
                name=name,
                path=drilled.paths[name],
                length_m=float(drilled.lengths[name]),
                diameter_mm=None if np.isnan(diameter) else diameter,
                collar=None if np.isnan(place).any() else (place[0], place[1], place[2]),
                logged=tuple(drilled.intervals[name]),
                reference=str(holes.words("reference")[at]) or None,
                lost=tuple(drilled.lost.get(name, ())),
                kind="borehole" if kind == "borehole" else "scanline",
            )
        )
    return tuple(found)


def _set_circles(
    drilled: Drilled, holes: RawTable, names: HoleNames, settings: SiteSettings
) -> None:
    """The paths of circles, and their length where it is not given: once round."""
    columns = ("circle_radius_m", "face_dip_deg", "face_dip_direction_deg")
    lengths = holes.numbers("length_m").copy()
    for name, at in names.row.items():
        if holes.words("kind")[at] != "circle" or holes.wrong(*columns)[at]:
            continue
        radius, dip, direction = (float(holes.numbers(one)[at]) for one in columns)
        lacking = [one for one in columns if np.isnan(holes.numbers(one)[at])]
        if lacking:
            rule = f"the cell is empty; a circle needs {', '.join(columns)}"
            drilled.faults.append(holes.fault(at, lacking[0], "", rule))
            continue
        facing = float(as_azimuth(direction + settings.bearing_of("holes")))
        drilled.paths[name], start = circle_path(radius, dip, facing)
        drilled.starts[name] = (float(start[0]), float(start[1]), float(start[2]))
        if np.isnan(lengths[at]):
            lengths[at] = 2.0 * np.pi * radius
    if drilled.paths:
        holes.replace({"length_m": lengths})


def _set_paths(
    drilled: Drilled,
    tables: dict[str, RawTable],
    names: HoleNames,
    settings: SiteSettings,
    broken: set[str],
) -> None:
    holes, surveys = tables["holes"], tables.get("surveys")
    collars = _collar_stations(drilled, holes, names, settings.bearing_of("holes"))
    known = list(names.row)
    rows = surveys.rows_of(known) if surveys is not None else []
    straight = []
    for place, name in enumerate(known):
        own = rows[place] if surveys is not None else np.empty(0, dtype=int)
        if holes.words("kind")[names.row[name]] == "circle":
            continue  # round its own centre, whatever stands beside it
        if name not in collars or (surveys is not None and surveys.wrong()[own].any()):
            continue
        collar = collars[name]
        stations = [] if collar is None else [(0.0, *collar)]
        if surveys is not None and len(own):
            stations = _surveyed(drilled, surveys, own, stations, settings, drilled.lengths[name])
        elif stations:
            straight.append(name)
        elif "surveys" not in broken | names.unknown_in and not (
            surveys is not None and surveys.nameless
        ):
            _no_direction(drilled, holes, names, name)
        if stations:
            _set_path(drilled, name, stations, tables, own)
    if straight:
        drilled.notes.append(
            f"No survey, so taken as straight along the direction of the collar: "
            f"{', '.join(straight)}."
        )


def _collar_stations(
    drilled: Drilled, holes: RawTable, names: HoleNames, north_deg: float
) -> dict[str, tuple[float, float] | None]:
    """Trend and plunge at the collar; None where holes.csv gives none; absent where it is wrong."""
    trend, plunge = holes.numbers("trend_deg"), holes.numbers("plunge_deg")
    trend = np.where(np.isnan(trend) & (np.abs(plunge) == 90), 0.0, trend)  # vertical: no trend
    wrong = holes.wrong("trend_deg", "plunge_deg")
    lone = [name for name in ("trend_deg", "plunge_deg") if holes.has(name)]
    if len(lone) == 1:
        other = "plunge_deg" if lone[0] == "trend_deg" else "trend_deg"
        rule = f"the column is missing beside {lone[0]}; a direction needs both"
        drilled.faults.append(Fault(holes.file, holes.header_line, other, "", rule))
        return {}
    stations: dict[str, tuple[float, float] | None] = {}
    for name, at in names.row.items():
        if wrong[at]:
            continue
        if np.isnan(trend[at]) != np.isnan(plunge[at]):
            column = "trend_deg" if np.isnan(trend[at]) else "plunge_deg"
            rule = "the cell is empty; a direction needs trend_deg and plunge_deg"
            drilled.faults.append(holes.fault(at, column, "", rule))
            continue
        turned = float(as_azimuth(trend[at] + north_deg))
        stations[name] = None if np.isnan(trend[at]) else (turned, float(plunge[at]))
    return stations


def _no_direction(drilled: Drilled, holes: RawTable, names: HoleNames, name: str) -> None:
    rule = "a hole needs trend_deg and plunge_deg here, or rows in surveys"
    if holes.has("trend_deg"):
        drilled.faults.append(
            holes.fault(names.row[name], "trend_deg", "", f"the hole has no direction; {rule}")
        )
    elif not any(fault.column == "trend_deg" for fault in drilled.faults):
        drilled.faults.append(
            Fault(holes.file, holes.header_line, "trend_deg", "", f"the column is missing; {rule}")
        )


def _surveyed(
    drilled: Drilled,
    surveys: RawTable,
    own: NDArray[np.intp],
    collar: list[tuple[float, float, float]],
    settings: SiteSettings,
    length: float,
) -> list[tuple[float, float, float]]:
    """Stations of a survey, the collar's own before them; none where depths do not rise."""
    depth = surveys.numbers("depth_m")[own]
    # A station beyond the end of the hole is a fault of its own.
    for step in np.flatnonzero((np.diff(depth) <= 0) & ~(depth[:-1] > length + SAME_DEPTH_M)):
        rule = (
            "depths of a hole rise from station to station; the one before, in row "
            f"{surveys.lines[own[step]]}, stands at {surveys.told('depth_m', depth[step])}"
        )
        drilled.faults.append(
            surveys.fault(int(own[step + 1]), "depth_m", float(depth[step + 1]), rule)
        )
    if (np.diff(depth) <= 0).any():
        return []
    trend, plunge = surveys.numbers("trend_deg")[own], surveys.numbers("plunge_deg")[own]
    trend = as_azimuth(trend + settings.bearing_of("surveys"))
    measured = list(zip(depth.tolist(), trend.tolist(), plunge.tolist(), strict=True))
    return measured if depth[0] == 0 else collar + measured


def _set_path(
    drilled: Drilled,
    name: str,
    stations: list[tuple[float, float, float]],
    tables: dict[str, RawTable],
    own: NDArray[np.intp],
) -> None:
    depth, trend, plunge = np.array(stations).T
    try:
        drilled.paths[name] = HolePath(depth, trend, plunge)
    except InputError as error:
        # Rising depths and checked angles leave one case: stations that point opposite ways.
        table = tables["surveys"]
        drilled.faults.append(
            Fault(table.file, int(table.lines[own[0]]), None, "", f"hole {name!r}: {error}")
        )
