"""What a site says twice, in two ways that can't both be true, or beyond what is likely."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import orient_fractures, poles_by_reading
from jointstats.borehole.rows import listed_rows, logged_depth
from jointstats.borehole.settings import FOOT_M
from jointstats.sphere.angles import lines_from_trend, trend_from_lines
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

#: Two readings of one plane further apart than this contradict, where no errors are stated, degrees.
APART_DEG = 20.0
#: … and this many times their joint error, where errors are stated.
TIMES_ERROR = 4.0
#: Rows of one hole and method this near in depth and angle are asked about: m, degrees.
NEAR_M, NEAR_DEG = 0.01, 1.0
#: A direction at the collar this far from the first station of a survey contradicts it, degrees.
COLLAR_DEG = 10.0
#: A drilled hole does not turn faster than this, degrees a metre. Common practice, no source.
TURN_DEG_PER_M = 2.0
#: Collars this near, m, and directions this near, degrees, may be those of one hole …
SAME_COLLAR_M, SAME_WAY_DEG = 1.0, 3.0
#: … if this share of the fractures of one lies within so many m and degrees of one of the other.
SAME_SHARE, SAME_DEPTH_M, SAME_PLANE_DEG = 0.5, 0.15, 15.0
#: What is likely of a hole, and of a fracture: least, most, and why. Common practice, no source,
#: but for the limits of coordinates: those of the projected systems of the world lie within.
LIKELY_HOLE = {
    "length_m": (0.0, 3000.0, "few holes for a dam or a slope are longer"),
    "diameter_mm": (20.0, 1000.0, "core and cameras need more, no drill makes more"),
    "easting_m": (-2e7, 2e7, "no system of coordinates goes further"),
    "northing_m": (-2e7, 2e7, "no system of coordinates goes further"),
    "elevation_m": (-5000.0, 9000.0, "no ground or mine lies there"),
}
LIKELY_FRACTURE = {
    "persistence_m": (0.0, 1000.0, "a longer one is a fault to be mapped by itself"),
}

_CELLS = ("remark", "photo", "fracture")


def contradictions(site: Site, lines: NDArray[np.int64]) -> list[str]:
    """Sentences on what contradicts or repeats itself; `lines`, shape (n,), are rows in the file."""
    return [
        *_two_readings(site, lines),
        *_repeated(site, lines),
        *_logged_twice(site),
        *_collar_and_survey(site),
        *_sharp_turns(site),
        *_beyond_stations(site),
        *_unlikely(site, lines),
    ]


def _two_readings(site: Site, lines: NDArray[np.int64]) -> list[str]:
    found = poles_by_reading(site)
    told = []
    for (one, (a, error)), (two, (b, other)) in combinations(found.items(), 2):
        # Two independent errors: their difference has the root of the sum of squares.
        joint = TIMES_ERROR * np.degrees(np.hypot(error, other))
        most = np.where(np.isfinite(joint), np.maximum(joint, 1.0), APART_DEG)
        with np.errstate(invalid="ignore"):
            cosine = np.clip(np.abs((a * b).sum(axis=1)), 0.0, 1.0)
            apart = np.degrees(np.arccos(cosine))
            rows = np.flatnonzero(apart > most)
        if len(rows):
            told.append(
                f"{one} and {two} give planes up to {apart[rows].max():.0f}° apart in "
                f"{listed_rows(lines[rows])}; the first is used. One of them may be miscounted: a "
                "mirrored or opposite reference line, a magnetic for a true north, a slip."
            )
    return told


def _repeated(site: Site, lines: NDArray[np.int64]) -> list[str]:
    table = site.fractures
    # A remark may differ between two copies of one row, and so may the name of its picture.
    cells = table[[name for name in table if name not in _CELLS]].astype(str)
    again = cells.duplicated().to_numpy()
    told = []
    if again.any():
        told.append(
            f"{int(again.sum())} fractures repeat another row cell by cell "
            f"({listed_rows(lines[again])}): each counts; take out what was written twice."
        )
    near = _near_rows(site, table, ~again)
    if len(near):
        told.append(
            f"{len(near)} fractures lie within {1000 * NEAR_M:g} mm and {NEAR_DEG:g}° of another "
            f"of their hole and method ({listed_rows(lines[near])}): each counts; is one of them "
            "the same fracture written twice?"
        )
    return told


def _near_rows(site: Site, table: pd.DataFrame, kept: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Rows that lie next to one before them in depth and in orientation."""
    poles = Fractures(orient_fractures(site)).poles
    method = table["method"] if "method" in table else table["hole"]
    near: list[int] = []
    for _, own in table[kept].groupby([table["hole"][kept], method[kept]], sort=False):
        rows = own.index.to_numpy()[np.argsort(own["depth_m"].to_numpy(), kind="stable")]
        depth = table["depth_m"].to_numpy()[rows]
        cosine = np.abs((poles[rows[1:]] * poles[rows[:-1]]).sum(axis=1))
        # In order of depth only neighbours can be that near; the whole table against itself is not needed.
        same = (np.diff(depth) <= NEAR_M) & (cosine >= np.cos(np.radians(NEAR_DEG)))
        near += rows[1:][same].tolist()
    return np.array(sorted(near), dtype=np.intp)


def _logged_twice(site: Site) -> list[str]:
    """Pairs of holes that lie in one place and have the same fractures."""
    placed = [(hole, hole.collar) for hole in site.holes if hole.collar is not None]
    near = [
        (one, two)
        for (one, here), (two, there) in combinations(placed, 2)
        if np.abs(np.subtract(here, there)).max() <= SAME_COLLAR_M
        and _angle(one.path.direction([0.0]), two.path.direction([0.0])) <= SAME_WAY_DEG
    ]
    if not near:
        return []
    fractures = Fractures(orient_fractures(site))
    told = []
    for one, two in near:
        first, second = fractures.in_hole(one.name), fractures.in_hole(two.name)
        # The shorter log is looked for in the longer: one logger may have seen more.
        if len(first) > len(second):
            first, second = second, first
        same = _found_again(first, second)
        if len(first) and same.mean() >= SAME_SHARE:
            told.append(
                f"Holes {one.name} and {two.name} start in one place and one direction, and "
                f"{int(same.sum())} of {len(first)} fractures of the one lie within "
                f"{_told(site, SAME_DEPTH_M)} and {SAME_PLANE_DEG:g}° of one of the other: is it one hole "
                "logged twice? Both count, as if the rock had been sampled twice; keep one log, or "
                "name one core and the other image, and jointstats match compares them."
            )
    return told


def _found_again(first: Fractures, second: Fractures) -> NDArray[np.bool_]:
    """Which fractures of one log lie near one of another; those not oriented by depth alone."""
    apart = np.abs(first.depth_m[:, np.newaxis] - second.depth_m)
    cosine = np.abs(first.poles @ second.poles.T)
    turned = cosine < np.cos(np.radians(SAME_PLANE_DEG))
    found: NDArray[np.bool_] = ((apart <= SAME_DEPTH_M) & ~turned).any(axis=1)
    return found


def _unlikely(site: Site, lines: NDArray[np.int64]) -> list[str]:
    """Figures beyond what is likely: a question with the row, or the hole, and the rule."""
    told = []
    holes = site.tables.get("holes")
    for name, limits in LIKELY_HOLE.items():
        if holes is not None and name in holes:
            rows = _outside(holes[name], limits)
            where = ", ".join(str(one) for one in holes["hole"].to_numpy()[rows][:5])
            told += _asked(name, f"of {where}", holes[name].to_numpy(float)[rows], limits)
    for name, limits in LIKELY_FRACTURE.items():
        if name in site.fractures and site.fractures[name].dtype.kind == "f":
            rows = _outside(site.fractures[name], limits)
            values = site.fractures[name].to_numpy(float)[rows]
            told += _asked(name, f"in {listed_rows(lines[rows])}", values, limits)
    return told


def _outside(values: pd.Series, limits: tuple[float, float, str]) -> NDArray[np.intp]:
    numbers = values.to_numpy(float)
    with np.errstate(invalid="ignore"):
        return np.flatnonzero((numbers < limits[0]) | (numbers > limits[1]))


def _asked(
    name: str, where: str, values: Array, limits: tuple[float, float, str]
) -> list[str]:
    if not len(values):
        return []
    low, high, why = limits
    worst = values[np.argmax(np.abs(values))]
    return [
        f"{name} {where} is {worst:g}, outside {low:g} to {high:g} ({why}): is that meant, and in "
        "its unit?"
    ]


def _collar_and_survey(site: Site) -> list[str]:
    """Holes whose direction in holes is not that of their first station."""
    holes, surveys = site.tables.get("holes"), site.tables.get("surveys")
    if holes is None or surveys is None or not {"trend_deg", "plunge_deg"} <= set(holes.columns):
        return []
    told = []
    for hole in site.holes:
        said = holes[holes["hole"] == hole.name][["trend_deg", "plunge_deg"]].to_numpy(float)[0]
        if np.isnan(said).any() or not (surveys["hole"] == hole.name).any():
            continue
        trend = said[0] + site.settings.bearing_of("holes")
        first = surveys.loc[surveys["hole"] == hole.name, "depth_m"].min()
        measured = hole.path.direction([first])
        apart = _angle(lines_from_trend(trend % 360.0, said[1]), measured)
        if apart <= COLLAR_DEG:
            continue
        why = ""
        steep = min(90.0 - said[1], 90.0)
        if _angle(lines_from_trend(trend % 360.0, steep), measured) <= COLLAR_DEG:
            why = ": the plunge in holes looks like an inclination from vertical"
        elif _angle(lines_from_trend(trend % 360.0, -said[1]), measured) <= COLLAR_DEG:
            why = ": the plunge in holes looks like one with the other sign"
        way, down = (float(one[0]) for one in trend_from_lines(measured))
        told.append(
            f"Hole {hole.name} points {trend % 360:03.0f}/{said[1]:.0f} by holes and "
            f"{way:03.0f}/{down:.0f} by its first survey station, {apart:.0f}° apart{why}."
        )
    return told


def _sharp_turns(site: Site) -> list[str]:
    told = []
    for hole in site.holes:
        metres = np.diff(hole.path.depth_m)
        turn = [
            _angle(a[None], b[None])
            for a, b in zip(hole.path.directions[:-1], hole.path.directions[1:], strict=True)
        ]
        # By the metre, so that stations far apart may well differ.
        rate = np.array(turn) / np.maximum(metres, 1e-9)
        if len(rate) and rate.max() > TURN_DEG_PER_M and max(turn) > 1.0:
            at = int(np.argmax(rate))
            told.append(
                f"Hole {hole.name} turns by {turn[at]:.0f}° between its stations at "
                f"{_told(site, hole.path.depth_m[at])} and {_told(site, hole.path.depth_m[at + 1])}, "
                "faster than a "
                "drilled hole can: check the two."
            )
    return told


def _beyond_stations(site: Site) -> list[str]:
    """Fractures past the outermost station of a survey or of the rotation of the tool."""
    told = []
    table = site.fractures
    wall = table["method"] != "core" if "method" in table else table["hole"].notna()
    for key, rows, what in (
        ("surveys", table["hole"].notna(), "survey station the hole is taken as straight"),
        ("rolls", wall, "station of tool rotation the rotation is kept"),
    ):
        stations, parts = site.tables.get(key), []
        if stations is None:
            continue
        depth = pd.Series(logged_depth(table), index=table.index)
        for hole, known in stations.groupby("hole", sort=False)["depth_m"]:
            own = depth[rows & (table["hole"] == hole)]
            first = known.min() if key == "rolls" else -np.inf
            # Rotation is kept above its first station too; a hole is straight from its collar.
            past = np.maximum(own - known.max(), first - own)
            if (past > 0).any():
                parts.append(f"{int((past > 0).sum())} of {hole} by up to {_told(site, past.max())}")
        if parts:
            told.append(f"Beyond the last {what}: fractures {', '.join(parts)}.")
    return told


def _told(site: Site, metres: float) -> str:
    """A length in the unit of the site's tables."""
    feet = site.settings.depth_unit == "ft"
    return f"{metres / FOOT_M:.3g} ft" if feet else f"{metres:.3g} m"


def _angle(one: Array, two: Array) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one[0], two[0])), one[0] @ two[0])))
