"""Fractures as small discs in space, in the legacy format of VTK, for viewing."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.hole import PLACE_COLUMNS
from jointstats.checks import check_number
from jointstats.design.realised import RANDOM
from jointstats.errors import InputError
from jointstats.export.places import placed
from jointstats.sphere.angles import turn_in_azimuth
from jointstats.sphere.axes import frame_about
from jointstats.tables.output import output_file, write_file
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

_CORNERS = 16
_TITLE = "jointstats: logged fractures; radius chosen for viewing, not measured; cautions in sets.json"
_REALISED = "jointstats: discs of one possible arrangement, of a size that was stated and not measured"


def write_vtk(
    result: SiteAnalysis | pd.DataFrame, path: str | os.PathLike[str], *, radius_m: float = 0.5
) -> Path:
    """Write each oriented fracture as a disc about its place in the hole, or the discs of a rock.

    Parameters
    ----------
    result : SiteAnalysis or DataFrame
        A frame is one of discs, as `js.design.realise` gives it, each of its own radius.
    path : path
        The file, by custom ending in .vtk.
    radius_m : float
        Of every logged fracture, metres: for the eye alone, since a log does not tell how large it is.

    Returns
    -------
    Path
        What was written: polygons, with for each of them set (1 for J1; 0 for none), membership,
        depth_m, dip_deg and dip_direction_deg; of discs set, radius_m and logged (1 or 0).

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
    if isinstance(result, pd.DataFrame):
        return _write_discs(result, path)
    radius = check_number(radius_m, "radius_m", low=0, open_end=True)
    shown = Fractures(placed(result)).oriented
    if not len(shown):
        raise InputError("no fracture that has a place is oriented, so there is no disc to draw")
    centres = shown.table[list(PLACE_COLUMNS)].to_numpy(float)
    poles = shown.poles @ turn_in_azimuth(-result.site.settings.convergence_deg).T
    corners = _corners(centres, poles, np.full(len(poles), radius))
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
    write_file(target, _text(_TITLE, corners, values))
    return target


def _write_discs(discs: pd.DataFrame, path: str | os.PathLike[str]) -> Path:
    names = [name for name in dict.fromkeys(discs["set"]) if name != RANDOM]
    values = {
        "set": np.array([names.index(one) + 1 if one in names else 0 for one in discs["set"]], float),
        "radius_m": discs["radius_m"].to_numpy(float),
        "logged": discs["logged"].to_numpy(float),
    }
    centres = discs[list(PLACE_COLUMNS)].to_numpy(float)
    target = output_file(path)
    corners = _corners(centres, Fractures(discs).poles, values["radius_m"])
    write_file(target, _text(_REALISED, corners, values))
    return target


def _corners(centres: Array, poles: Array, radii: Array) -> Array:
    """Corners of a polygon about each centre in the plane of its pole, (n, corners, 3)."""
    angle = np.arange(_CORNERS) * 2.0 * np.pi / _CORNERS
    frames = np.array([frame_about(pole)[:2] for pole in poles])
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    away = radii[:, np.newaxis, np.newaxis] * np.einsum("ca,nai->nci", circle, frames)
    return np.asarray(centres[:, np.newaxis] + away)


def _text(title: str, corners: Array, values: dict[str, Array]) -> str:
    n = len(corners)
    lines = ["# vtk DataFile Version 3.0", title, "ASCII", "DATASET POLYDATA"]
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
