"""A result as an AGS4 file: holes, their direction, core, and discontinuities with their sets.

Groups and headings are those that `tables/ags.py` reads, with PROJ, UNIT and TYPE, and the other key
headings of DISC (dictionary 4.1.1 of the standard, as its reference library checks them). The group TRAN, which says who sends what on which day, is left to the
sender.
"""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.rows import rows_within
from jointstats.errors import InputError
from jointstats.sphere.angles import trend_from_lines
from jointstats.tables.output import output_file, write_file

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.hole import Hole
    from jointstats.sets.result import SiteAnalysis

#: Decimals of a unit, and so its type.
_DECIMALS = {"m": 4, "deg": 3, "mm": 3}
_NOT_LOGGED = (
    " Which lengths were logged is not in this file: holes taken as logged whole give frequencies too low."
)
_Columns = Sequence[tuple[str, str]]
_LOCA = (("LOCA_ID", ""), ("LOCA_NATE", "m"), ("LOCA_NATN", "m"), ("LOCA_GL", "m"), ("LOCA_FDEP", "m"))
_HORN = (("LOCA_ID", ""), ("HORN_TOP", "m"), ("HORN_BASE", "m"), ("HORN_ORNT", "deg"), ("HORN_INCL", "deg"))
_CORE = (("LOCA_ID", ""), ("CORE_TOP", "m"), ("CORE_BASE", "m"))
_DISC = (
    *(("LOCA_ID", ""), ("DISC_TOP", "m"), ("DISC_BASE", "m"), ("FRAC_SET", ""), ("DISC_NUMB", ""), ("DISC_TYPE", "")),
    *(("DISC_DIP", "deg"), ("DISC_DIR", "deg"), ("DISC_RGH", ""), ("DISC_APT", "mm"), ("DISC_INFM", "")),
)


def write_ags(result: SiteAnalysis, path: str | os.PathLike[str]) -> Path:
    """Write holes and discontinuities in the AGS4 format for ground investigation data.

    Parameters
    ----------
    result : SiteAnalysis
    path : path
        The file, ending in .ags.

    Returns
    -------
    Path
        What was written. `read_site` reads it: dips are the true ones, azimuths are from true north, and
        FRAC_SET is the set ("" where a fracture has no orientation).

    Raises
    ------
    InputError
        If the file does not end in .ags, or `result` is of poles alone.

    Notes
    -----
    AGS4 has no group for lengths seen on an image. CORE holds the lengths logged on core where all
    fractures written lie in them; else it is left out, and PROJ_MEMO says that a reader who takes the
    holes as logged whole will find frequencies too low. `read_site` takes every discontinuity as of
    core. Fractures that count once here (of core and image) are written once.

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), 3)
    >>> again = js.read_site(write_ags(result, tempfile.mkdtemp() + "/a.ags"))
    >>> len(again.fractures) == len(result.fractures)
    True
    """
    if not hasattr(result, "site"):
        raise InputError(f"result must be what analyse gave; got {type(result).__name__}")
    target = output_file(path, result.site.sources)
    if target.suffix.lower() != ".ags":
        raise InputError(f"an AGS4 file ends in .ags; got {target.name}")
    holes = result.site.holes
    table = Fractures(result.fractures).counted.table
    core = _core(holes, table)
    memo = f"{result.notice} {len(result.cautions)} cautions stand in sets.json of the report."
    memo += "" if core else _NOT_LOGGED
    project = (("PROJ_ID", ""), ("PROJ_NAME", ""), ("PROJ_MEMO", ""))
    groups: list[tuple[str, _Columns, list[list[object]]]] = [
        ("PROJ", project, [[result.site.name, result.site.name, memo]]),
        ("LOCA", _LOCA, [[hole.name, *(hole.collar or ("", "", "")), hole.length_m] for hole in holes]),
        ("HORN", _HORN, [row for hole in holes for row in _stations(hole)]),
        ("CORE", _CORE, core),
        ("DISC", _DISC, _discontinuities(table)),
        ("UNIT", (("UNIT_UNIT", ""), ("UNIT_DESC", "")), _units()),
        ("TYPE", (("TYPE_TYPE", ""), ("TYPE_DESC", "")), _types()),
    ]
    write_file(target, "\r\n".join(_group(*one) for one in groups if one[2]))
    return target


def _stations(hole: Hole) -> list[list[object]]:
    """The direction at each station of the survey, which holds from there to the next."""
    tops = [0.0, *(float(one) for one in hole.path.depth_m if 0 < one < hole.length_m)]
    trend, plunge = trend_from_lines(hole.path.direction(tops))
    bases = [*tops[1:], hole.length_m]
    return [list(row) for row in zip([hole.name] * len(tops), tops, bases, trend, plunge, strict=True)]


def _core(holes: Sequence[Hole], table: pd.DataFrame) -> list[list[object]]:
    """The lengths logged on core; none if a fracture lies in none of them."""
    lengths = {hole.name: hole.logged_on("core") for hole in holes}
    if not rows_within(table, lengths).all():
        return []
    return [[name, low, high] for name, spans in lengths.items() for low, high in spans]


def _discontinuities(table: pd.DataFrame) -> list[list[object]]:
    empty = [""] * len(table)

    def column(name: str) -> list[object]:
        return list(table[name]) if name in table else list(empty)

    before = ("hole", "depth_m", "", "set")  # a discontinuity stands at its top alone
    after = ("type", "true_dip_deg", "true_dip_direction_deg", "roughness", "aperture_mm", "infilling")
    columns = [*map(column, before), list(range(1, len(table) + 1)), *map(column, after)]
    return [list(row) for row in zip(*columns, strict=True)]


def _units() -> list[list[object]]:
    return [["m", "metre"], ["deg", "degree"], ["mm", "millimetre"]]


def _types() -> list[list[object]]:
    decimals = sorted(set(_DECIMALS.values()))
    numbers: list[list[object]] = [[f"{n}DP", f"number with {n} decimals"] for n in decimals]
    return [["X", "text"], *numbers]


def _group(name: str, columns: _Columns, rows: list[list[object]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    units = [unit for _, unit in columns]
    writer.writerow(["GROUP", name])
    writer.writerow(["HEADING", *(heading for heading, _ in columns)])
    writer.writerow(["UNIT", *units])
    writer.writerow(["TYPE", *(f"{_DECIMALS[unit]}DP" if unit else "X" for unit in units)])
    for row in rows:
        writer.writerow(["DATA", *(_cell(*pair) for pair in zip(row, units, strict=True))])
    return stream.getvalue()


def _cell(value: object, unit: str) -> str:
    if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
        return ""
    return f"{float(value):.{_DECIMALS[unit]}f}" if unit else str(value)  # type: ignore[arg-type]
