"""Holes and fractures as GeoJSON: lines and points with the columns of fractures.csv."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.hole import PLACE_COLUMNS
from jointstats.errors import InputError
from jointstats.export.places import left_out_sentence, placed, plain_value
from jointstats.sphere.angles import turn_in_azimuth
from jointstats.sphere.axes import frames_about
from jointstats.tables.output import output_file, write_file

if TYPE_CHECKING:
    from jointstats.borehole.hole import Hole
    from jointstats.sets.result import SiteAnalysis

#: Most metres between points of a hole.
_STEP_M = 5.0
#: Half of the side of a short plane, metres; its corners along two lines in it, the first again.
_HALF_M = 0.5
_SQUARE = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0], [1.0, 1.0]])


def write_geojson(
    result: SiteAnalysis,
    path: str | os.PathLike[str],
    *,
    coordinate_system: str | None = None,
) -> Path:
    """Write holes as lines and fractures as points, for maps.

    Parameters
    ----------
    result : SiteAnalysis
    path : path
        The file, by custom ending in .geojson.
    coordinate_system : str or None
        Name of the system of the coordinates, such as "EPSG:25832"; None takes that of the title
        block of the site.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    InputError
        If the system is not named, no collar is known, or the place can't be written to.

    Notes
    -----
    RFC 7946 wants longitude and latitude. Coordinates here are eastings, northings and elevations as
    the site gives them, and the member ``crs`` names their system, as the GeoJSON specification of 2008
    has it: readers that pass it over show the holes in the wrong place. The whole has ``cautions`` and
    ``notice`` beside its features.

    Examples
    --------
    >>> import tempfile
    >>> from dataclasses import replace
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> holes = tuple(replace(hole, collar=(500.0, 800.0, 90.0)) for hole in site.holes)
    >>> result = js.analyse(replace(site, holes=holes), 3)
    >>> file = write_geojson(result, tempfile.mkdtemp() + "/a.geojson", coordinate_system="EPSG:25832")
    >>> json.loads(file.read_text())["features"][0]["geometry"]["coordinates"][0]
    [500.0, 800.0, 90.0]
    """
    holes, fractures = features_of(result)
    system = named_system(result, coordinate_system)
    whole = {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": system}},
        "features": [*holes, *fractures],
        "notes": left_out_sentence(result),
        "cautions": [f"{one.about}: {one.text}" for one in result.cautions],
        "notice": result.notice,
    }
    target = output_file(path, result.site.sources)
    write_file(target, json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
    return target


def named_system(result: SiteAnalysis, coordinate_system: str | None) -> str:
    """The system of the coordinates, as asked or as the site has it; an InputError where none is."""
    system = coordinate_system or dict(result.site.settings.title).get("coordinate_system")
    if not system:
        raise InputError(
            "the coordinate system is not named, and a map would guess it; give coordinate_system, or "
            "coordinate_system under [title] of site.toml"
        )
    return system


def features_of(result: SiteAnalysis) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Features of the holes, and of the fractures whose place is known."""
    fractures = placed(result)
    holes = [_line(one, result) for one in result.site.holes if one.collar is not None]
    points = fractures[list(PLACE_COLUMNS)].to_numpy(float).tolist()
    rows = fractures.drop(columns=list(PLACE_COLUMNS)).to_dict("records")
    return holes, [
        _feature("Point", point, _plain(row))
        for point, row in zip(points, rows, strict=True)
    ]


def planes_of(result: SiteAnalysis) -> list[dict[str, Any]]:
    """A square metre in the plane of each oriented fracture whose place is known."""
    shown = Fractures(placed(result)).oriented
    if not len(shown):
        return []
    poles = shown.poles @ turn_in_azimuth(-result.site.settings.convergence_deg).T
    frames = _HALF_M * frames_about(poles)
    centres = shown.table[list(PLACE_COLUMNS)].to_numpy(float)[:, np.newaxis]
    corners = centres + np.einsum("cs,nsi->nci", _SQUARE, frames[:, :2])
    names = ["hole", "depth_m", "set", "true_dip_deg", "true_dip_direction_deg"]
    rows = shown.table[names].to_dict("records")
    return [
        _feature("Polygon", [ring], _plain(row))
        for ring, row in zip(corners.tolist(), rows, strict=True)
    ]


def _plain(row: dict[Any, Any]) -> dict[str, Any]:
    return {str(key): plain_value(one) for key, one in row.items()}


def _feature(kind: str, coordinates: object, told: dict[str, Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": told}


def _line(hole: Hole, result: SiteAnalysis) -> dict[str, Any]:
    depths = np.linspace(0.0, hole.length_m, int(np.ceil(hole.length_m / _STEP_M)) + 1)
    turn = result.site.settings.convergence_deg
    told: dict[str, Any] = {"hole": hole.name, "kind": hole.kind}
    told |= {"length_m": hole.length_m, "logged_m": hole.logged_m}
    if len(result.domains) > 1:
        within = [one.name for one in result.domains if hole.name in [row[0] for row in one.lengths]]
        told["domain"] = ", ".join(within)
    return _feature("LineString", hole.position(depths, turn).tolist(), told)
