"""Columns in other units than those of the schema, each named by its ending, and feet written back."""

from __future__ import annotations

import numpy as np
import pandas as pd

from jointstats.borehole.settings import FOOT_M
from jointstats.errors import Fault
from jointstats.schema import TABLES
from jointstats.tables.raw_table import RawTable
from jointstats.types import Array

#: Ending of a heading → the ending of ours, and what a number is multiplied by (exact).
_ENDINGS = {"_ft": ("_m", FOOT_M), "_in": ("_mm", 25.4), "_cm": ("_mm", 10.0)}


def _ours(name: str) -> tuple[str, float] | None:
    for ending, (own, factor) in _ENDINGS.items():
        if name.endswith(ending):
            return name.removesuffix(ending) + own, factor
    return None


def ours_of(name: str) -> str:
    """Our name of a column in any unit."""
    found = _ours(name)
    return name if found is None else found[0]


def number_names(key: str) -> set[str]:
    """Columns of numbers of a table, in any unit that they may have."""
    own = TABLES[key].of_kind("number")
    others = {
        name.removesuffix(ours) + ending
        for name in own
        for ending, (ours, _) in _ENDINGS.items()
        if name.endswith(ours)
    }
    return own | others


def as_ours(key: str, table: RawTable, depth_unit: str | None) -> list[Fault]:
    """Give columns in other units our names; a fault where a name and the depth unit disagree."""
    faults = []
    known = {column.name: column for column in TABLES[key].columns}
    for name in [str(one) for one in table.cells]:
        ours = _ours(name)
        if ours is None or ours[0] not in known:
            wrong = depth_unit == "ft" and name in known and known[name].is_along
            if wrong:
                rule = (
                    "depth_unit is ft, and the name of this column says metres; call it "
                    f"{name.removesuffix('_m')}_ft, or leave depth_unit out"
                )
                faults.append(Fault(table.file, table.header_line, name, name, rule))
        elif table.has(ours[0]):
            rule = f"stands beside {ours[0]}; give one of the two"
            faults.append(Fault(table.file, table.header_line, name, name, rule))
        else:
            table.rename(name, *ours)
    return faults


def in_ours(tables: dict[str, RawTable]) -> bool:
    """Bring numbers in other units to those of the schema; whether depths were among them."""
    depths = False
    for key, table in tables.items():
        table.replace({name: table.numbers(name) * k for name, k in table.factor.items()})
        known = {column.name: column for column in TABLES[key].columns}
        depths |= any(known[name].is_along for name in table.factor)
    return depths


def in_feet(key: str, table: pd.DataFrame) -> pd.DataFrame:
    """A table with its depths and lengths along the hole in feet, and named so."""
    along = [one.name for one in TABLES[key].columns if one.is_along and one.name in table]
    scaled = {
        name: _feet(pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=np.float64))
        for name in along
    }
    return table.assign(**scaled).rename(columns={name: f"{name[:-2]}_ft" for name in along})


def _feet(metres: Array) -> Array:
    """The shortest number of feet that comes back as exactly these metres."""
    exact = metres / FOOT_M
    result = exact.copy()
    for candidate in (np.nextafter(exact, -np.inf), np.nextafter(exact, np.inf)):
        wrong = result * FOOT_M != metres
        result = np.where(wrong & (candidate * FOOT_M == metres), candidate, result)
    for digits in range(12, -1, -1):
        short = np.round(exact, digits)
        result = np.where(short * FOOT_M == metres, short, result)
    return result


def figures_in_feet_too(table: pd.DataFrame, figures_in: str) -> pd.DataFrame:
    """A table with each figure in m or 1/m also in feet beside it, where that is asked for."""
    if figures_in == "m":
        return table
    found = {}
    for name in table:
        found[name] = table[name]
        if name.endswith("_per_m"):
            found[f"{name.removesuffix('m')}ft"] = table[name] * FOOT_M
        elif name.endswith("_m"):
            found[f"{name.removesuffix('m')}ft"] = table[name] / FOOT_M
    return pd.DataFrame(found)


def with_feet(table: pd.DataFrame, depth_unit: str) -> pd.DataFrame:
    """A table with depth_ft beside depth_m, where the tables of the site are in feet."""
    if depth_unit != "ft" or "depth_m" not in table:
        return table
    found = table.copy(deep=False)
    found.insert(found.columns.get_loc("depth_m"), "depth_ft", _feet(table["depth_m"].to_numpy(float)))
    return found
