"""An empty site to be filled in: every table with its headings and two worked rows."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill
from typing import Any

import pandas as pd

from jointstats.errors import InputError
from jointstats.schema import SETTINGS, TABLES, WORKED_HOLES, Column
from jointstats.tables.output import (
    output_file,
    output_folder,
    write_file,
    write_folder,
)
from jointstats.tables.units import in_feet
from jointstats.tables.workbook import Notes, workbook_bytes

_ONE, _TWO = WORKED_HOLES
#: Two rows a table, of an invented site that agrees with itself; cells in the order of the schema.
_WORKED: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "holes": (
        dict(hole=_ONE, easting_m=100, northing_m=200, elevation_m=50, length_m=41, diameter_mm=76)
        | dict(trend_deg=120, plunge_deg=60, reference="high side"),
        dict(hole=_TWO, easting_m=110, northing_m=205, elevation_m=51, length_m=30, diameter_mm=96)
        | dict(trend_deg=0, plunge_deg=90, reference="north"),
    ),
    "surveys": (
        dict(hole=_ONE, depth_m=0, trend_deg=120, plunge_deg=60),
        dict(hole=_ONE, depth_m=40, trend_deg=123, plunge_deg=58.5),
    ),
    "rolls": (
        dict(hole=_ONE, depth_m=2, roll_deg=350),
        dict(hole=_ONE, depth_m=40, roll_deg=15),
    ),
    "runs": (
        dict(hole=_TWO, run="R1", from_m=0, to_m=3, beta_offset_deg=-12, line="marked"),
        dict(hole=_TWO, run="R2", from_m=3, to_m=6, line="none"),
    ),
    "ties": (
        dict(hole=_ONE, core_depth_m=8, image_depth_m=8.05),
        dict(hole=_ONE, method="image", from_m=0, to_m=40, stretch_mm_per_m=1.5),
    ),
    "logged": (
        dict(hole=_ONE, from_m=2, to_m=40, method="image"),
        dict(hole=_TWO, from_m=0, to_m=30, method="core"),
    ),
    "traces": (
        dict(hole=_ONE, fracture="F1", depth_m=9.28, angle_deg=0),
        dict(hole=_ONE, fracture="F1", depth_m=9.33, angle_deg=120),
    ),
    "mirrors": (
        dict(mirror="M1", radius=100, offset_m=0.04, counted="anticlockwise"),
        dict(mirror="M1", radius=200, offset_m=0),
    ),
    "rings": (
        dict(hole=_ONE, fracture="F2", mirror="M1", depth_m=18.3, radius=150, angle_deg=0),
        dict(hole=_ONE, fracture="F2", mirror="M1", depth_m=18.3, radius=170, angle_deg=120),
    ),
    "faces": (
        dict(face="worked face 1", dip_deg=80, dip_direction_deg=30, width_m=6, height_m=2.5)
        | dict(easting_m=104, northing_m=190, elevation_m=40),
        dict(face="worked face 2", dip_deg=0, dip_direction_deg=0, outline="0 0; 5 0; 4 3; 0 3"),
    ),
    "face_traces": (
        dict(face="worked face 1", from_across_m=1.2, from_up_m=0, to_across_m=2.1, to_up_m=1.7)
        | dict(dip_deg=63, dip_direction_deg=118, ends_seen="one"),
        dict(face="worked face 2", length_m=1.4, dip_deg=85, dip_direction_deg=200)
        | dict(ends_seen="both"),
    ),
    "bedding": (
        dict(hole=_ONE, from_m=0, to_m=25, dip_deg=14, dip_direction_deg=80, overturned="no"),
        dict(hole=_ONE, from_m=25, to_m=40, dip_deg=35, dip_direction_deg=262)
        | dict(overturned="no", fold_trend_deg=350, fold_plunge_deg=5),
    ),
    "zones": (
        dict(hole=_ONE, from_m=30.2, to_m=31.1, kind="sheared", upper_dip_deg=60)
        | dict(upper_dip_direction_deg=210, condition="clay with rock fragments"),
        dict(hole=_TWO, from_m=20, to_m=21.5, kind="lost", recovery_percent=0),
    ),
    "terms": (
        dict(column="infilling", word="cc", term="calcite"),
        dict(column="aperture_mm", word="closed", term="<0.1"),
    ),
    "mapping": (
        dict(table="fractures", column="method", word="camera", means="image", confirmed="yes")
        | dict(note="where a cell of method says camera"),
        dict(table="fractures", heading="Depth (ft)", column="depth_ft", confirmed="no")
        | dict(note="not used: it says no"),
    ),
    "fractures": (
        dict(hole=_ONE, depth_m=12.4, method="image", dip_deg=62, dip_direction_deg=215)
        | dict(aperture_mm="0.5-1", type="joint", infilling="cc", oxidation="slight")
        | dict(roughness="rough planar", remark="a plane read as it lies"),
        dict(hole=_TWO, depth_m=7.15, method="core", alpha_deg=48, beta_deg=210)
        | dict(type="joint", infilling="none", oxidation="none", remark="read on oriented core"),
    ),
}
#: A trace needs three points, so its table has a third worked row, and fractures the ones it is of.
_THIRD = {
    "traces": [dict(hole=_ONE, fracture="F1", depth_m=9.22, angle_deg=240)],
    "rings": [dict(hole=_ONE, fracture="F2", mirror="M1", depth_m=18.3, radius=120, angle_deg=240)],
    "fractures": [
        dict(hole=_ONE, depth_m=9.28, method="image", fracture="F1")
        | dict(remark="known by its points in traces"),
        dict(hole=_ONE, depth_m=18.31, method="image", fracture="F2")
        | dict(remark="known by its points in rings"),
    ],
}


def _worked_table(key: str) -> pd.DataFrame:
    names = [name for name in TABLES[key].names if name not in ("azimuth_deg", "inclination_deg")]
    rows = [*_WORKED[key], *_THIRD.get(key, [])]
    return pd.DataFrame([{name: row.get(name, "") for name in names} for row in rows])


def write_template(path: str | Path, units: str = "m") -> Path:
    """Write a site to be filled in, as a directory of CSV files or as one workbook.

    `path`: a file that ends in .xlsx (needs the extra ``xlsx``), or a directory; `units`: unit of
    depths and lengths along the holes, "m" or "ft". Gives what was written. In a workbook each
    heading carries a note, and cells of words a list.
    """
    target = Path(path)
    if units not in ("m", "ft"):
        raise InputError(f'units must be "m" or "ft"; got {units!r}')
    if target.exists() and (target.is_file() or any(target.iterdir())):
        raise InputError(f"{target} is there already; give a name that is free")
    tables = {key: _worked_table(key) for key in TABLES}
    if units == "ft":
        tables = {key: in_feet(key, table).round(2) for key, table in tables.items()}
    if target.suffix.lower() == ".xlsx":
        write_file(output_file(target), workbook_bytes(tables, _SHEET, _notes()))
        return target
    texts = {
        f"{key}.csv": table.to_csv(index=False, lineterminator="\n")
        for key, table in tables.items()
    }
    write_folder(output_folder(target, ()), texts | {"site.toml": _toml_template()})
    return target


#: What the settings of the worked site say; the others stand in the template as comments.
_WORKED_SETTINGS: dict[str, Any] = {
    **{"name": "A site", "north": "true", "depths_follow": "core", "blind_angle_deg": 10}
}


#: The same in a sheet, where a key without a value is at its default.
_SHEET = {column.name: _WORKED_SETTINGS.get(column.name, "") for column in SETTINGS}


def _toml_template() -> str:
    """Every setting with what it means; those at their defaults behind a comment mark."""
    lines: list[str] = []
    table = ""
    for column in SETTINGS:
        head, _, key = column.name.rpartition(".")
        if head != table:
            lines += ["", f"# [{head}]"]
            table = head
        told = f"{_meaning(column)}; default: {column.default}"
        if column.name in _WORKED_SETTINGS:
            value = _WORKED_SETTINGS[column.name]
            shown = f'"{value}"' if isinstance(value, str) else value
            lines.append(f"{column.name} = {shown}  # {told}")
        else:
            lines.append(f"# {key} =   # {told}")
    return "\n".join(lines) + "\n"


def _meaning(column: Column) -> str:
    """What a cell holds, in one line."""
    note = f", {column.note}" if column.note else ""
    among = f": {' | '.join(column.among)}" if column.among else ""
    return f"{column.what}{note}{among}"


def _notes() -> Notes:
    known = {key: form.columns for key, form in TABLES.items()} | {"site": SETTINGS}
    return {
        key: {column.name: (_meaning(column), column.among) for column in columns}
        for key, columns in known.items()
    }


def columns_text(table: str | None = None) -> str:
    """Every table and column that a site may have, with unit, allowed values and default.

    `table`: one table, or "site" for the settings.
    """
    told = {key: (form.about, form.columns, form.required) for key, form in TABLES.items()}
    told["site"] = ("the settings, in site.toml or a sheet of this name", SETTINGS, False)
    if table is not None and table not in told:
        raise InputError(f"there is no table {table!r}; the tables are {', '.join(told)}")
    blocks = []
    for key in told if table is None else (table,):
        about, columns, required = told[key]
        lines = [fill(f"{key}: {about}{' (every site has it)' if required else ''}", 79)]
        lines += [_line_of(column) for column in columns]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


_IN = " " * 6


def _line_of(column: Column) -> str:
    needed = "required" if column.required else f"default: {column.default or 'empty'}"
    limits = ""
    if column.kind == "number" and column.high < float("inf"):
        limits = f", {column.low:g} to {column.high:g}"
    unit = f"{column.unit or column.kind}{limits}"
    head = f"  {column.name:<26} {unit:<22} "
    head = fill(head + needed, 79, subsequent_indent=" " * len(head))
    return f"{head}\n{fill(_meaning(column), 78, initial_indent=_IN, subsequent_indent=_IN)}"
