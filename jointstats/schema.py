"""The tables and columns of a site, once: what check, templates and documents speak from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

__all__ = [
    "AZIMUTH_COLUMNS",
    "METHODS",
    "READ_LATER",
    "REFERENCES",
    "REQUIRED",
    "TABLES",
    "Column",
]

#: How a length of hole may have been seen.
METHODS = ("image", "core")
#: Where the reference line may lie on the wall of the hole.
REFERENCES = ("low side", "high side", "north")


@dataclass(frozen=True)
class Column:
    """One column of an input table.

    `kind` is "number" or "word" (few different ones); `rule` says what a cell holds; `low` and
    `high` are allowed themselves; a `required` column must be there with no empty cell; `among`
    are the words allowed, none for any.
    """

    name: str
    kind: str
    rule: str
    low: float = -np.inf
    high: float = np.inf
    required: bool = False
    among: tuple[str, ...] = ()


def _angle(name: str, what: str, low: float, high: float) -> Column:
    return Column(name, "number", f"{what} lies between {low:g} and {high:g} degrees", low, high)


def _depth(name: str, what: str, *, required: bool = False) -> Column:
    return Column(name, "number", f"{what} is a number, 0 or more", 0, required=required)


def _hole() -> Column:
    return Column("hole", "word", "each row needs the name of its hole", required=True)


def _one_of(name: str, what: str, among: tuple[str, ...], *, required: bool = False) -> Column:
    listed = " or ".join((", ".join(among[:-1]), among[-1]))
    return Column(name, "word", f"{what} is {listed}", required=required, among=among)


_TREND = _angle("trend_deg", "a trend", 0, 360)
_PLUNGE = _angle("plunge_deg", "a plunge", -90, 90)
#: The other way to give a direction: compass bearing, and angle from straight down.
AZIMUTH_COLUMNS = (
    _angle("azimuth_deg", "an azimuth", 0, 360),
    _angle("inclination_deg", "an inclination from vertical", 0, 180),
)

TABLES: dict[str, tuple[Column, ...]] = {
    "holes": (
        _hole(),
        Column("easting_m", "number", "an easting is a number"),
        Column("northing_m", "number", "a northing is a number"),
        Column("elevation_m", "number", "an elevation is a number"),
        Column("length_m", "number", "a length is a number above 0", np.nextafter(0, 1)),
        _TREND,
        _PLUNGE,
        Column("diameter_mm", "number", "a diameter is a number above 0", np.nextafter(0, 1)),
        *AZIMUTH_COLUMNS,
        _one_of("reference", "the place of the reference line", REFERENCES),
    ),
    "surveys": (
        _hole(),
        _depth("depth_m", "a depth", required=True),
        replace(_TREND, required=True),
        replace(_PLUNGE, required=True),
    ),
    "rolls": (
        _hole(),
        _depth("depth_m", "a depth", required=True),
        Column("roll_deg", "number", "a roll lies between -360 and 360 degrees", -360, 360, True),
    ),
    "logged": (
        _hole(),
        _depth("from_m", "the start of a logged length", required=True),
        _depth("to_m", "the end of a logged length", required=True),
        _one_of("method", "a method", METHODS, required=True),
    ),
    "traces": (
        _hole(),
        Column("fracture", "word", "each point needs the name of its fracture", required=True),
        _depth("depth_m", "a depth", required=True),
        Column("angle_deg", "number", "an angle lies between 0 and 360 degrees", 0, 360, True),
        Column("diameter_mm", "number", "a diameter is a number above 0", np.nextafter(0, 1)),
    ),
    "fractures": (
        _hole(),
        _depth("depth_m", "a depth", required=True),
        _one_of("method", "a method", METHODS),
        _angle("dip_deg", "a dip", 0, 90),
        _angle("dip_direction_deg", "a dip direction", 0, 360),
        _angle("alpha_deg", "alpha", 0, 90),
        _angle("beta_deg", "beta", 0, 360),
        _angle("image_dip_deg", "the dip of a plane to the hole", 0, 90),
        _angle("image_azimuth_deg", "an azimuth on the wall", 0, 360),
        Column("fracture", "word", "the name of a fracture, for traces.csv"),
        _one_of("reference", "the place of the reference line", REFERENCES),
        _one_of("looking", "the way the reader looked along the core", ("down", "up")),
        _one_of("end_for_end", "whether the core was turned end for end", ("yes", "no")),
        Column("aperture_mm", "number", "an aperture is a number, 0 or more", 0),
    ),
}

#: Tables that every site has.
REQUIRED = ("holes", "fractures")
#: Columns that later steps read, whatever is in them.
READ_LATER = {
    "fractures": (
        *("type", "infilling", "oxidation", "roughness", "persistence_m"),
        *("run", "run_beta_deg"),
    )
}
