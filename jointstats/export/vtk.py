"""Fractures as small discs in space, in the legacy format of VTK, for viewing."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.hole import PLACE_COLUMNS
from jointstats.checks import check_number
from jointstats.errors import InputError
from jointstats.export.places import placed
from jointstats.sphere.axes import frame_about
from jointstats.tables.output import output_file, write_file
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

_CORNERS = 16
_TITLE = "jointstats: logged fractures; radius chosen for viewing, not measured; cautions in sets.json"


def write_vtk(
    result: SiteAnalysis, path: str | os.PathLike[str], *, radius_m: float = 0.5
) -> Path:
    """Write each oriented fracture as a disc of one radius about its place in the hole.

    Parameters
    ----------
    result : SiteAnalysis
    path : path
        The file, by custom ending in .vtk.
    radius_m : float
        Of every disc, metres: for the eye alone, since a log does not tell how large a fracture is.

    Returns
    -------
    Path
        What was written: polygons, with for each of them set (1 for J1; 0 for none), membership,
        depth_m, dip_deg and dip_direction_deg.

    Raises
    ------
    InputError
        If no oriented fracture has a place, or the radius is not above 0.

    Notes
    -----
    The legacy text format, version 3.0: a title, POINTS, POLYGONS and CELL_DATA (from memory). Places
    turn with the convergence of grid north, and so do the discs.

    Examples
    --------
    >>> import tempfile
    >>> from dataclasses import replace
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> holes = tuple(replace(hole, collar=(500.0, 800.0, 90.0)) for hole in site.holes)
    >>> file = write_vtk(js.analyse(replace(site, holes=holes), 3), tempfile.mkdtemp() + "/a.vtk")
    >>> file.read_text().splitlines()[3]
    'DATASET POLYDATA'
    """
    radius = check_number(radius_m, "radius_m", low=0, open_end=True)
    shown = Fractures(placed(result)).oriented
    if not len(shown):
        raise InputError("no fracture that has a place is oriented, so there is no disc to draw")
    centres = shown.table[list(PLACE_COLUMNS)].to_numpy(float)
    turn = np.radians(result.site.settings.convergence_deg)
    to_grid = np.array(
        [[np.cos(turn), np.sin(turn), 0.0], [-np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]]
    )
    corners = _corners(centres, shown.poles @ to_grid, radius)
    names = [one.name for one in result.sets]
    number = [names.index(one) + 1 if one in names else 0 for one in shown.table["set"]]
    values = {
        "set": np.array(number, dtype=float),
        "membership": shown.table["membership"].to_numpy(float),
        "depth_m": shown.depth_m,
        "dip_deg": shown.table["true_dip_deg"].to_numpy(float),
        "dip_direction_deg": shown.table["true_dip_direction_deg"].to_numpy(float),
    }
    target = output_file(path, result.site.sources)
    write_file(target, _text(corners, values))
    return target


def _corners(centres: Array, poles: Array, radius_m: float) -> Array:
    """Corners of a polygon about each centre in the plane of its pole, (n, corners, 3)."""
    angle = np.arange(_CORNERS) * 2.0 * np.pi / _CORNERS
    frames = np.array([frame_about(pole)[:2] for pole in poles])
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.asarray(centres[:, np.newaxis] + radius_m * np.einsum("ca,nai->nci", circle, frames))


def _text(corners: Array, values: dict[str, Array]) -> str:
    n = len(corners)
    lines = ["# vtk DataFile Version 3.0", _TITLE, "ASCII", "DATASET POLYDATA"]
    lines.append(f"POINTS {n * _CORNERS} double")
    lines += [f"{x:.4f} {y:.4f} {z:.4f}" for x, y, z in corners.reshape(-1, 3).tolist()]
    lines.append(f"POLYGONS {n} {n * (_CORNERS + 1)}")
    for k in range(n):
        lines.append(" ".join(map(str, (_CORNERS, *range(k * _CORNERS, (k + 1) * _CORNERS)))))
    lines.append(f"CELL_DATA {n}")
    for name, column in values.items():
        lines += [f"SCALARS {name} double 1", "LOOKUP_TABLE default"]
        # A share that is not known has no number that every reader of text takes.
        lines += [f"{one:.6g}" for one in np.nan_to_num(column, nan=-1.0).tolist()]
    return "\n".join(lines) + "\n"
