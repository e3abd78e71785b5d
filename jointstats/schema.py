"""The tables, columns and settings of a site, once: check, templates and documents speak from here."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

__all__ = [
    "AZIMUTH_COLUMNS",
    "METHODS",
    "NORTHS",
    "REFERENCES",
    "SETTINGS",
    "TABLES",
    "WORKED_HOLES",
    "Column",
    "InputTable",
]

#: How a length of hole may have been seen.
METHODS = ("image", "core")
#: Where the reference line may lie on the wall of the hole.
REFERENCES = ("low side", "high side", "north")
#: The north that azimuths may refer to.
NORTHS = ("true", "grid", "magnetic")
DEPTH_UNITS = ("m", "ft")
#: The holes of the worked rows in a template.
WORKED_HOLES = ("worked example 1", "worked example 2")

_ABOVE_0 = float(np.nextafter(0, 1))
_MEASURED = ("number", "interval")
_UNITS = {"deg": "degrees", "m": "m", "mm": "mm", "percent": "%"}


@dataclass(frozen=True)
class Column:
    """One column of an input table, or one setting.

    `kind` is "number", "word" (few different ones), "interval" (a number or two ends) or "text"
    (kept as it is); `what` names a
    cell ("a dip") and `note` says more; `low` and `high` are allowed themselves; a `required`
    column must be there with no empty cell; `among` are the words allowed, none for any;
    `default` says what an empty cell stands for; one with `turns` can change an orientation or a
    depth, so a heading near to its name is never passed over.
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
        return _UNITS.get(self.name.rsplit("_", 1)[-1], "") if self.kind in _MEASURED else ""

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


def _angle(
    name: str, what: str, low: float, high: float, note: str = "", *, required: bool = False
) -> Column:
    return Column(name, "number", what, note, low, high, required, turns=True)


def _depth(name: str, what: str, note: str = "", *, required: bool = True) -> Column:
    return Column(name, "number", what, note, 0, required=required, turns=True)


def _one_of(
    name: str,
    what: str,
    among: tuple[str, ...],
    note: str = "",
    *,
    default: str = "",
    required: bool = False,
) -> Column:
    return Column(
        name, "word", what, note, required=required, among=among, default=default, turns=True
    )


_HOLE = Column("hole", "word", "the name of its hole", required=True, turns=True)
_DEPTH = _depth("depth_m", "a depth", "along the hole from the collar")
_TREND = _angle("trend_deg", "a trend", 0, 360, "bearing of the hole, clockwise from north")
_PLUNGE = _angle(
    "plunge_deg", "a plunge", -90, 90, "down from level; an upward hole has less than 0"
)
#: The other way to give a direction: compass bearing, and angle from straight down.
AZIMUTH_COLUMNS = (
    _angle("azimuth_deg", "an azimuth", 0, 360, "in place of trend_deg"),
    _angle(
        "inclination_deg",
        "an inclination from vertical",
        0,
        180,
        "in place of plunge_deg: 0 straight down, 90 level",
    ),
)
_DIAMETER = Column("diameter_mm", "number", "a diameter", "of the hole", _ABOVE_0, turns=True)
_FRACTURE = Column(
    "fracture", "word", "the name of its fracture", "as in fractures", required=True, turns=True
)
_ROUND = _angle(
    "angle_deg",
    "an angle",
    0,
    360,
    "round the wall from the reference line, clockwise looking down the hole",
    required=True,
)
_REFERENCE = _one_of(
    "reference",
    "the place of the reference line",
    REFERENCES,
    "where the line lies that angles round the hole are counted from",
)


def _text(name: str, what: str, note: str = "") -> Column:
    return Column(name, "text", what, note)


TABLES: dict[str, InputTable] = {
    "holes": InputTable(
        "one row a hole: its collar, length and direction",
        (
            _HOLE,
            Column("easting_m", "number", "an easting", "of the collar"),
            Column("northing_m", "number", "a northing", "of the collar"),
            Column("elevation_m", "number", "an elevation", "of the collar"),
            Column(
                "length_m",
                "number",
                "a length",
                "along the hole",
                _ABOVE_0,
                default="the deepest logged length",
                turns=True,
            ),
            replace(_TREND, default="that of surveys"),
            replace(_PLUNGE, default="that of surveys"),
            _DIAMETER,
            *AZIMUTH_COLUMNS,
            replace(_REFERENCE, default="that of site.toml"),
        ),
        required=True,
    ),
    "surveys": InputTable(
        "the direction of a hole at stations down it; between them an arc of even curvature",
        (
            _HOLE,
            _DEPTH,
            replace(_TREND, required=True),
            replace(_PLUNGE, required=True),
            *AZIMUTH_COLUMNS,
        ),
    ),
    "rolls": InputTable(
        "the rotation of the tool that took the image: added to angles read on the picture",
        (
            _HOLE,
            _DEPTH,
            _angle(
                "roll_deg",
                "a roll",
                -360,
                360,
                "of the picture's zero mark from the reference line, clockwise looking down",
                required=True,
            ),
        ),
    ),
    "logged": InputTable(
        "the lengths that were really seen; lost core and bad images are left out",
        (
            _HOLE,
            _depth("from_m", "the start of a logged length"),
            _depth("to_m", "the end of a logged length"),
            _one_of("method", "a method", METHODS, "how it was seen", required=True),
        ),
    ),
    "traces": InputTable(
        "points picked on the wall of the hole, three or more a fracture",
        (_HOLE, _FRACTURE, _DEPTH, _ROUND, replace(_DIAMETER, default="that of holes")),
    ),
    "terms": InputTable(
        "what your own words mean, of a column of fractures",
        (
            Column(
                "column",
                "word",
                "the column of the word",
                required=True,
                among=("type", "oxidation", "infilling", "roughness", "aperture_mm")
                + ("persistence_m",),
            ),
            Column("word", "word", "the word as it stands there", required=True),
            Column(
                "term",
                "word",
                "the term that it stands for",
                "of an aperture or persistence a number, a range or a class",
                required=True,
            ),
        ),
    ),
    "fractures": InputTable(
        "one row a fracture, with what is known of its orientation",
        (
            _HOLE,
            _DEPTH,
            _one_of("method", "a method", METHODS, "how it was seen", default="either"),
            _angle("dip_deg", "a dip", 0, 90, "of the plane, from level"),
            _angle("dip_direction_deg", "a dip direction", 0, 360, "clockwise from north"),
            _angle("alpha_deg", "alpha", 0, 90, "acute angle between core axis and plane"),
            _angle(
                "beta_deg",
                "beta",
                0,
                360,
                "round the core, clockwise looking down the hole, from the reference line to the "
                "down-hole end of the ellipse",
            ),
            _angle(
                "image_dip_deg", "the dip of a plane to the hole", 0, 90, "0 square to the hole"
            ),
            _angle(
                "image_azimuth_deg",
                "an azimuth on the wall",
                0,
                360,
                "of the lowest point of the trace, clockwise from the picture's zero mark",
            ),
            Column(
                "fracture",
                "word",
                "the name of the fracture",
                "that traces use",
                turns=True,
            ),
            replace(_REFERENCE, default="that of holes"),
            _one_of(
                "looking",
                "the way the reader looked along the core",
                ("down", "up"),
                "when counting beta clockwise",
                default="down",
            ),
            _one_of(
                "end_for_end",
                "whether the core was turned end for end",
                ("yes", "no"),
                default="no",
            ),
            Column("run", "word", "the run of core", turns=True),
            _angle(
                "run_beta_deg",
                "beta from a line drawn on the run",
                0,
                360,
                "of core that was not oriented; match finds the rotation of each run",
            ),
            Column("aperture_mm", "interval", "an aperture", "mm; also 2-3, <0.5 or an ISRM term"),
            Column("aperture_low_mm", "number", "the lower end of an aperture", "if a range", 0),
            Column("aperture_high_mm", "number", "the upper end of an aperture", "", 0),
            Column("persistence_m", "interval", "a persistence", "m; also a range or a term"),
            Column("persistence_low_m", "number", "the lower end of a persistence", "", 0),
            Column("persistence_high_m", "number", "the upper end of a persistence", "", 0),
            _text("type", "the type of the discontinuity", "joint, vein, bedding, …"),
            _text("infilling", "the infilling"),
            _text("oxidation", "the oxidation", "of the walls"),
            _text("roughness", "the roughness"),
            _text("remark", "a remark"),
        ),
        required=True,
    ),
}


def _setting(name: str, what: str, low: float, high: float, note: str, default: str) -> Column:
    return Column(name, "number", what, note, low, high, default=default)


def _error(name: str, note: str) -> Column:
    high = 45.0 if name.endswith("_deg") else 100.0
    return _setting(f"errors.{name}", "a standard error", 0, high, note, "not known")


#: Keys of site.toml; one with a dot stands in a table of that file.
SETTINGS = (
    Column("name", "text", "the name of the site", default="that of the directory or file"),
    _one_of(
        "north",
        "the north",
        NORTHS,
        "that azimuths refer to, of all tables or by table",
        default="true",
    ),
    _setting(
        "declination_deg",
        "the declination",
        -180,
        180,
        "bearing of magnetic north from true north, east positive",
        "0",
    ),
    _setting(
        "convergence_deg",
        "the convergence",
        -180,
        180,
        "bearing of grid north from true north, east positive",
        "0",
    ),
    _one_of("depth_unit", "the unit of depths and lengths along holes", DEPTH_UNITS, default="m"),
    replace(_REFERENCE, default="none; asked for where a reading needs it"),
    _setting(
        "blind_angle_deg",
        "the blind angle",
        0,
        89,
        "angle between hole and plane below which picks are not trusted",
        "10",
    ),
    Column(
        "ignore",
        "text",
        "names that are left unread on purpose",
        'files, sheets and columns, as in ["lab.csv", "fractures.sample"]',
        default="none",
    ),
    _setting("bedding.dip_deg", "the dip of the bedding", 0, 90, "", "none"),
    _setting("bedding.dip_direction_deg", "the dip direction of the bedding", 0, 360, "", "none"),
    _error("alpha_deg", "of alpha"),
    _error("beta_deg", "of beta"),
    _error("image_dip_deg", "of a dip read on the wall"),
    _error("image_azimuth_deg", "of an azimuth read on the wall"),
    _error("dip_deg", "of a true dip"),
    _error("dip_direction_deg", "of a true dip direction"),
    _error("pick_mm", "of a point of a trace, along the hole"),
    _error("diameter_mm", "of the diameter of a hole"),
    _error("survey_deg", "of the direction of a hole, about each of two axes square to it"),
    _error("roll_deg", "of the reference line round the wall"),
)
