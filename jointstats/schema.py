"""The tables, columns and settings of a site, once: check, templates and documents speak from here.

What they are stands in schema.toml beside this module.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

#: The holes of the worked rows in a template.
WORKED_HOLES = ("worked example 1", "worked example 2")

_ABOVE_0 = float(np.nextafter(0, 1))
_UNITS = {"deg": "degrees", "m": "m", "ft": "ft", "mm": "mm", "percent": "%"}


def unit_of(name: str) -> str:
    """The unit that the name of a column of numbers ends in; empty for none.

    >>> unit_of("dip_deg"), unit_of("p32_low_per_m"), unit_of("n")
    ('degrees', '1/m', '')
    """
    *before, last = name.split("_")
    unit = _UNITS.get(last, "")
    if unit and before[-1:] == ["per"]:
        over = _UNITS.get(before[-2], "1") if len(before) > 1 else "1"
        return f"1/{unit}" if over == "1" else f"{over} per {unit}"
    return unit if before else ""


def with_units(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with the units of its columns in `attrs["units"]`."""
    named = {str(name): unit_of(str(name)) for name in frame.columns}
    frame.attrs["units"] = {name: unit for name, unit in named.items() if unit}
    return frame


@dataclass(frozen=True)
class Column:
    """One column of an input table, or one setting.

    `kind` is "number", "word" (few different ones), "interval" (a number or two ends) or "text"
    (kept as it is); `what` names a cell ("a dip") and `note` says more; `low` and `high` are
    allowed themselves; a `required` column must be there with no empty cell; `among` are the
    words allowed, none for any; `default` says what an empty cell stands for; one with `turns`
    can change an orientation or a depth, so a heading near to its name is never passed over.
    """

    name: str
    kind: str
    what: str
    note: str = ""
    low: float = -np.inf
    high: float = np.inf
    required: bool = False
    among: tuple[str, ...] = ()
    default: str = ""
    turns: bool = False

    @property
    def unit(self) -> str:
        """The unit that the name says; empty for none."""
        if self.kind not in ("number", "interval"):
            return ""
        return unit_of(self.name)

    @property
    def rule(self) -> str:
        """What a cell holds, in words."""
        if self.among:
            listed = " or ".join((", ".join(self.among[:-1]), self.among[-1]))
            return f"{self.what} is {listed}"
        if self.kind != "number":
            return f"each row needs {self.what}" if self.required else f"{self.what}, in any words"
        if np.isfinite(self.high):
            unit = f" {self.unit}" if self.unit else ""
            return f"{self.what} lies between {self.low:g} and {self.high:g}{unit}"
        ends = {0.0: ", 0 or more", _ABOVE_0: " above 0"}
        return f"{self.what} is a number{ends.get(self.low, '')}"

    @property
    def is_along(self) -> bool:
        """Whether it is a depth or a length along the hole."""
        return self.turns and self.unit == "m"


@dataclass(frozen=True)
class InputTable:
    """One input table: what it holds, and its columns; a `required` one every site has."""

    about: str
    columns: tuple[Column, ...]
    required: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its columns."""
        return tuple(column.name for column in self.columns)

    def of_kind(self, *kinds: str) -> set[str]:
        """Names of the columns of some kinds."""
        return {column.name for column in self.columns if column.kind in kinds}


def _column(name: str, said: Mapping[str, Any], shared: Mapping[str, Any]) -> Column:
    values = {**shared.get(name, {}), **said}
    values["among"] = tuple(values.get("among", ()))
    if values.get("low") == "above 0":
        values["low"] = _ABOVE_0
    ends_in_unit = name.rsplit("_", 1)[-1] in _UNITS
    guess = "word" if values["among"] else "number" if ends_in_unit else "text"
    return Column(name=name, **({"kind": guess} | values))


def _columns(said: Mapping[str, Any], shared: Mapping[str, Any]) -> tuple[Column, ...]:
    return tuple(_column(name, one, shared) for name, one in said.items())


_READ = tomllib.loads(Path(__file__).with_name("schema.toml").read_text(encoding="utf-8"))

TABLES: dict[str, InputTable] = {
    key: InputTable(
        one["about"], _columns(one["columns"], _READ["shared"]), one.get("required", False)
    )
    for key, one in _READ["tables"].items()
}
#: File of the decisions of the analyst, beside the tables.
DECISIONS = "analysis.toml"
#: Keys of site.toml; one with a dot stands in a table of that file.
SETTINGS = _columns(_READ["settings"], _READ["shared"])
#: The other way to give a direction: compass bearing, and angle from straight down.
AZIMUTH_COLUMNS = _columns({"azimuth_deg": {}, "inclination_deg": {}}, _READ["shared"])
#: How a length of hole may have been seen.
METHODS: tuple[str, ...] = tuple(_READ["shared"]["method"]["among"])
#: Where the reference line may lie on the wall of the hole.
REFERENCES: tuple[str, ...] = tuple(_READ["shared"]["reference"]["among"])
