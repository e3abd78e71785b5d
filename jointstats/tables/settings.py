"""The settings of a site read from site.toml or a sheet, and checked."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from jointstats.borehole.settings import ReadingErrors, SiteSettings
from jointstats.errors import Fault
from jointstats.schema import REFERENCES
from jointstats.tables.likeness import nearest

__all__ = ["SettingsFile", "check_settings", "parse_settings"]

NORTHS = ("true", "grid", "magnetic")
DEPTH_UNITS = ("m", "ft")
#: Tables that hold azimuths.
WITH_AZIMUTHS = ("holes", "surveys", "fractures")


@dataclass
class SettingsFile:
    """Settings as they were read, with what is wrong in them.

    Parameters
    ----------
    values : dict
        Checked values by key.
    faults : list of Fault
    file : str
    given : SiteSettings or None
        Settings that were made in code, and not read.

    Examples
    --------
    >>> parse_settings("site.toml", b"blind_angle_deg = 15").settings().blind_angle_deg
    15.0
    """

    values: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    file: str = "site.toml"
    given: SiteSettings | None = None

    def settings(self) -> SiteSettings:
        """The settings, with what is not given at its default."""
        if self.given is not None:
            return self.given
        values = {key: value for key, value in self.values.items() if key != "name"}
        if isinstance(values.get("north"), dict):
            norths = values["north"]
            values["north_of"] = tuple(sorted(norths.items()))
            values["north"] = norths["holes"] if len(set(norths.values())) == 1 else "mixed"
        if "errors" in values:
            values["errors"] = ReadingErrors(**values["errors"])
        return SiteSettings(**values)


def _range(low: float, high: float) -> str:
    return f"is a number from {low:g} to {high:g}"


_NUMBERS = {
    "blind_angle_deg": (0.0, 89.0, "the blind angle " + _range(0, 89) + " degrees"),
    "declination_deg": (-180.0, 180.0, "the declination " + _range(-180, 180) + " degrees"),
    "convergence_deg": (-180.0, 180.0, "the convergence " + _range(-180, 180) + " degrees"),
}
_WORDS = {"depth_unit": DEPTH_UNITS, "reference": REFERENCES}
_BEDDING = {
    "dip_deg": (0.0, 90.0, "the dip of the bedding " + _range(0, 90) + " degrees"),
    "dip_direction_deg": (
        0.0,
        360.0,
        "the dip direction of the bedding " + _range(0, 360) + " degrees",
    ),
}
_ERRORS = {
    one.name: (
        0.0,
        45.0 if one.name.endswith("_deg") else 100.0,
        "a standard error " + _range(0, 45 if one.name.endswith("_deg") else 100),
    )
    for one in fields(ReadingErrors)
}
_KEYS = ("name", "north", "bedding", "errors", *_NUMBERS, *_WORDS)


class _WrongValueError(Exception):
    """Carries the rule that a value breaks, and its key; never leaves this module."""

    def __init__(self, rule: str, key: str | None = None) -> None:
        super().__init__(rule)
        self.key = key


def _number(value: object, low: float, high: float, rule: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise _WrongValueError(rule)
    return float(value)


def _word(value: object, among: tuple[str, ...]) -> str:
    if value not in among:
        raise _WrongValueError("it is one of " + ", ".join(f'"{word}"' for word in among))
    return str(value)


def _within(value: Mapping[str, object], limits: Mapping[str, Any]) -> dict[str, Any]:
    """Check the values of a table of settings; a fault carries the key."""
    checked: dict[str, Any] = {}
    for key, one in value.items():
        if key not in limits:
            raise _WrongValueError("it is not known; known: " + ", ".join(limits), key)
        try:
            limit = limits[key]
            checked[key] = _word(one, limit) if limit == NORTHS else _number(one, *limit)
        except _WrongValueError as wrong:
            raise _WrongValueError(str(wrong), key) from None
    return checked


def _bedding(value: object) -> tuple[float, float]:
    if not isinstance(value, dict) or set(value) != set(_BEDDING):
        raise _WrongValueError("the bedding has dip_deg and dip_direction_deg, and no more")
    pair = _within(value, _BEDDING)
    return pair["dip_deg"], pair["dip_direction_deg"]


def _name(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise _WrongValueError('the name is text in quotation marks, "like this"')
    return value.strip()


def _north(value: object) -> object:
    if not isinstance(value, dict):
        return _word(value, NORTHS)
    if "holes" not in value or "fractures" not in value:
        raise _WrongValueError("where tables differ, holes and fractures each state their north")
    return _within(value, dict.fromkeys(WITH_AZIMUTHS, NORTHS)) | (
        {} if "surveys" in value else {"surveys": value["holes"]}
    )


def _errors(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise _WrongValueError("errors is a table of standard errors: " + ", ".join(_ERRORS))
    return _within(value, _ERRORS)


def _checked(key: str, value: object) -> object:
    special = {"name": _name, "bedding": _bedding, "north": _north, "errors": _errors}
    if key in special:
        return special[key](value)  # type: ignore[operator]
    if key in _NUMBERS:
        return _number(value, *_NUMBERS[key])
    if key in _WORDS:
        return _word(value, _WORDS[key])
    close = nearest(key, _KEYS).replace("there is", "known is")
    raise _WrongValueError("this setting is not known" + (close or "; known: " + ", ".join(_KEYS)))


def _north_rules(values: Mapping[str, Any]) -> tuple[str, str] | None:
    """Key and rule where norths can't be brought together."""
    north = values.get("north", "true")
    used = set(north.values()) if isinstance(north, dict) else {north}
    needed = {"magnetic": "declination_deg", "grid": "convergence_deg"}
    for one in sorted(used & set(needed)):
        if len(used) > 1 and needed[one] not in values:
            return "north", (
                f"the tables differ in their north, and {needed[one]} is not given; without it "
                f"{one} north can't be brought together with the others"
            )
    if "grid" in used and "magnetic" not in used and values.get("declination_deg"):
        return "declination_deg", (
            "the declination is that of magnetic north, and azimuths are from grid north; give "
            "convergence_deg, the bearing of grid north from true north, or leave it out"
        )
    return None


def check_settings(file: str, read: Mapping[str, object], text: str = "") -> SettingsFile:
    """Check settings, wherever they come from.

    Parameters
    ----------
    file : str
        Name of the source, for the faults.
    read : dict
        Values by key.
    text : str
        The file as it stands, to find the lines of faults.

    Returns
    -------
    SettingsFile

    Examples
    --------
    >>> check_settings("site", {"north": "grid", "convergence_deg": 1}).settings().bearing_of("holes")
    1.0
    """
    result = SettingsFile(file=file)
    for key, value in read.items():
        try:
            result.values[key] = _checked(key, value)
        except _WrongValueError as wrong:
            bad = value[wrong.key] if wrong.key and isinstance(value, dict) else value
            place = wrong.key or key
            result.faults.append(Fault(file, _line_of(text, place), place, str(bad), str(wrong)))
    broken = None if result.faults else _north_rules(result.values)
    if broken is not None:
        key, rule = broken
        shown = read[key] if not isinstance(read[key], dict) else ""
        result.faults.append(Fault(file, _line_of(text, key), key, str(shown), rule))
    return result


def _line_of(text: str, key: str) -> int | None:
    found = re.search(rf"^[ \t\[]*[\"']?{re.escape(key)}\b", text, flags=re.MULTILINE)
    return text.count("\n", 0, found.end()) + 1 if found else None


def parse_settings(file: str, data: bytes) -> SettingsFile:
    """Read the settings of a site.

    Parameters
    ----------
    file : str
        Name of the file, for the faults.
    data : bytes
        Content, in TOML.

    Returns
    -------
    SettingsFile

    Examples
    --------
    >>> print(*parse_settings("site.toml", b'north = "up"').faults)
    site.toml, row 1, column north: 'up': it is one of "true", "grid", "magnetic"
    """
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        read = tomllib.loads(text)
    except UnicodeDecodeError:
        return SettingsFile(
            faults=[Fault(file, None, None, "", "the file is not UTF-8 text")], file=file
        )
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"at line (\d+)", str(error))
        row = int(line.group(1)) if line else None
        shown = text.split("\n")[row - 1].strip() if row else ""
        rule = 'not readable; a setting is written key = value, with words in quotation marks ""'
        return SettingsFile(faults=[Fault(file, row, None, shown, rule)], file=file)
    return check_settings(file, read, text)
