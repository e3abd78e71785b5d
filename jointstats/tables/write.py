"""A site written back as the tables it was read from."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from jointstats.borehole.site import Site
from jointstats.errors import InputError
from jointstats.schema import TABLES
from jointstats.sphere.angles import as_azimuth, trend_from_lines
from jointstats.tables.csv_text import csv_of
from jointstats.tables.output import (
    output_file,
    output_folder,
    write_file,
    write_folder,
)
from jointstats.tables.units import in_feet
from jointstats.tables.workbook import workbook_bytes


def tables_of(site: Site) -> dict[str, pd.DataFrame]:
    """The tables of a site, with depths in the unit of its settings.

    `site`: one that was read gives its own tables. Gives in the order of the input tables.
    """
    tables = dict(site.tables) or _made_by_hand(site)
    tables["fractures"] = _as_logged(site.fractures)
    if site.settings.depth_unit == "ft":
        tables = {key: in_feet(key, table) for key, table in tables.items()}
    return {key: tables[key] for key in TABLES if key in tables}


def _as_logged(fractures: pd.DataFrame) -> pd.DataFrame:
    """Fractures at the depths of their own log: reading applies the ties again."""
    if "logged_depth_m" not in fractures:
        return fractures
    return fractures.assign(depth_m=fractures["logged_depth_m"]).drop(columns="logged_depth_m")


def _made_by_hand(site: Site) -> dict[str, pd.DataFrame]:
    holes, surveys, logged = [], [], []
    for hole in site.holes:
        trend, plunge = trend_from_lines(hole.path.directions)
        collar = hole.collar or (np.nan, np.nan, np.nan)
        holes.append(
            {
                "hole": hole.name,
                "easting_m": collar[0],
                "northing_m": collar[1],
                "elevation_m": collar[2],
                "length_m": hole.length_m,
                "trend_deg": as_azimuth(trend[0] - site.settings.bearing_of("holes")),
                "plunge_deg": plunge[0],
                "diameter_mm": np.nan if hole.diameter_mm is None else hole.diameter_mm,
                "reference": hole.reference or "",
                **({"kind": hole.kind} if hole.kind != "borehole" else {}),
            }
        )
        stations = zip(hole.path.depth_m, trend, plunge, strict=True)
        north = site.settings.bearing_of("surveys")
        if len(trend) > 1:
            surveys += [
                {"hole": hole.name, "depth_m": d, "trend_deg": float(as_azimuth(t - north)), "plunge_deg": p}
                for d, t, p in stations
            ]
        logged += hole.logged_rows
    found = {"holes": holes, "surveys": surveys, "logged": logged}
    return {key: pd.DataFrame(rows) for key, rows in found.items() if rows}


def settings_of(site: Site) -> dict[str, Any]:
    """The settings of a site that are not at their defaults, by key.

    Gives as in site.toml; the tables among them are dicts.
    """
    settings = site.settings
    values: dict[str, Any] = {
        "name": site.name,
        "blind_angle_deg": settings.blind_angle_deg,
        "north": dict(settings.north_of) or settings.north,
    }
    norths = {settings.north, *dict(settings.north_of).values()}
    if "magnetic" in norths:
        values["declination_deg"] = settings.declination_deg
    if "grid" in norths:
        values["convergence_deg"] = settings.convergence_deg
    if settings.depth_unit != "m":
        values["depth_unit"] = settings.depth_unit
    if settings.figures_in != "m":
        values["figures_in"] = settings.figures_in
    if settings.fracture_radius_m is not None:
        values["fracture_radius_m"] = settings.fracture_radius_m
    if settings.depths_follow:
        values["depths_follow"] = settings.depths_follow
    if settings.title:
        values["title"] = dict(settings.title)
    if settings.reference:
        values["reference"] = settings.reference
    if settings.bedding is not None:
        dip, direction = settings.bedding
        values["bedding"] = {"dip_deg": dip, "dip_direction_deg": direction}
    errors = {key: one for key, one in asdict(settings.errors).items() if one is not None}
    if settings.ignore:
        values["ignore"] = list(settings.ignore)
    return values | ({"errors": errors} if errors else {})


def _toml(values: dict[str, Any]) -> str:
    """Settings as TOML; a table comes after the plain values."""
    plain = [f"{k} = {_toml_value(v)}" for k, v in values.items() if not isinstance(v, dict)]
    lines = list(plain)
    for key, one in values.items():
        if isinstance(one, dict):
            lines += ["", f"[{key}]", *(f"{k} = {_toml_value(v)}" for k, v in one.items())]
    return "\n".join(lines) + "\n"


def _toml_value(value: object) -> str:
    as_json = isinstance(value, (str, list))
    return json.dumps(value, ensure_ascii=False) if as_json else repr(value)


def write_site(site: Site, path: str | Path, *, replace: bool = False) -> Path:
    """Write a site; read again, it is the same site.

    Parameters
    ----------
    site : Site
    path : str or Path
        A file that ends in .xlsx (needs the extra ``xlsx``), or a directory, which is made if
        needed.
    replace : bool
        Whether another site that stands there is taken away; tables of it that this one does not
        have go with it. What the site itself was read from is never replaced.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    InputError
        If a site stands there and is not to be replaced, openpyxl is needed and not installed, or
        the site was cut by depth after ties had moved its depths.

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> folder = js.write_site(js.simulate_site(random_state=1), tempfile.mkdtemp())
    >>> sorted(file.name for file in folder.iterdir())
    ['fractures.csv', 'holes.csv', 'logged.csv', 'site.toml']
    """
    if site.cut and "ties" in site.tables:
        raise InputError(
            "the site was cut at depths that ties had moved, which its tables can't say; write the whole "
            "site, and select or split after it has been read"
        )
    target, tables, settings = Path(path), tables_of(site), settings_of(site)
    if target.suffix.lower() == ".xlsx":
        _check_free(output_file(target, site.sources), replace, target.exists())
        write_file(target, workbook_bytes(tables, settings))
        return target
    files = {"site.toml", *(f"{key}.csv" for key in TABLES)}
    output_folder(target, (), site.sources, over_site=True)
    taken = sorted(one.name for one in target.glob("*") if one.name.lower() in files)
    _check_free(target, replace, bool(taken))
    contents = {
        f"{key}.csv": csv_of(table)
        for key, table in tables.items()
    }
    contents["site.toml"] = _toml(settings)
    write_folder(target, contents, without=set(taken) - contents.keys())
    return target


def _check_free(target: Path, replace: bool, taken: bool) -> None:
    if taken and not replace:
        raise InputError(
            f"a site stands in {target} already; write to another place, or say replace=True to "
            "take it away"
        )
