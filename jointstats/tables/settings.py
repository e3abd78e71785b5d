"""The settings of a site read from site.toml or a sheet, and checked."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jointstats.borehole.settings import ReadingErrors, SiteSettings
from jointstats.errors import Fault
from jointstats.schema import SETTINGS, Column
from jointstats.tables.unread import nearest

#: Tables that hold azimuths.
WITH_AZIMUTHS = ("holes", "surveys", "fractures")
#: Most bytes of settings, and most characters that a fault shows.
_MAX_BYTES, _SHOWN = 1_000_000, 200


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

    @property
    def there(self) -> bool:
        """Whether settings were found or given at all."""
        return bool(self.values or self.faults or self.given)

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


_COLUMNS = {column.name: column for column in SETTINGS}


def _table(prefix: str) -> dict[str, Column]:
    """The settings that stand in a table of site.toml, by their own name."""
    head = f"{prefix}."
    return {name.removeprefix(head): one for name, one in _COLUMNS.items() if name.startswith(head)}


_BEDDING, _ERRORS, _TITLE = _table("bedding"), _table("errors"), _table("title")
_KEYS = tuple(dict.fromkeys(name.split(".")[0] for name in _COLUMNS))


class _WrongValueError(Exception):
    """Carries the rule that a value breaks, and its key; never leaves this module."""

    def __init__(self, rule: str, key: str | None = None) -> None:
        super().__init__(rule)
        self.key = key


def _number(value: object, column: Column) -> float:
    fine = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not fine or not column.low <= value <= column.high:  # type: ignore[operator]
        unit = f" {column.unit}" if column.unit else ""
        raise _WrongValueError(
            f"{column.what} is a number from {column.low:g} to {column.high:g}{unit}"
        )
    return float(value)  # type: ignore[arg-type]


def _word(value: object, column: Column) -> str:
    if value not in column.among:
        raise _WrongValueError("it is one of " + ", ".join(f'"{word}"' for word in column.among))
    return str(value)


def _within(value: Mapping[str, object], known: Mapping[str, Column]) -> dict[str, Any]:
    """Check the values of a table of settings; a fault carries the key."""
    checked: dict[str, Any] = {}
    for key, one in value.items():
        if key not in known:
            raise _WrongValueError("it is not known; known: " + ", ".join(known), key)
        try:
            check = _word if known[key].among else _number
            checked[key] = check(one, known[key])
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
        return _word(value, _COLUMNS["north"])
    if "holes" not in value or "fractures" not in value:
        raise _WrongValueError("where tables differ, holes and fractures each state their north")
    return _within(value, dict.fromkeys(WITH_AZIMUTHS, _COLUMNS["north"])) | (
        {} if "surveys" in value else {"surveys": value["holes"]}
    )


def _errors(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise _WrongValueError("errors is a table of standard errors: " + ", ".join(_ERRORS))
    return _within(value, _ERRORS)


def _title(value: object) -> tuple[tuple[str, str], ...]:
    if not isinstance(value, dict) or not all(isinstance(one, str) for one in value.values()):
        raise _WrongValueError("title is a table of texts: " + ", ".join(_TITLE))
    unknown = next((key for key in value if key not in _TITLE), None)
    if unknown:
        raise _WrongValueError("it is not known; known: " + ", ".join(_TITLE), unknown)
    return tuple((key, value[key].strip()) for key in _TITLE if value.get(key, "").strip())


def _ignore(value: object) -> tuple[str, ...]:
    if isinstance(value, str):  # in a sheet
        value = [one.strip() for one in value.split(",") if one.strip()]
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise _WrongValueError('it is a list of names, as in ["lab.csv", "fractures.sample"]')
    return tuple(value)


def _checked(key: str, value: object) -> object:
    special = {
        "name": _name,
        "bedding": _bedding,
        "north": _north,
        "errors": _errors,
        "ignore": _ignore,
        "title": _title,
    }
    if key in special:
        return special[key](value)
    if key in _COLUMNS:
        column = _COLUMNS[key]
        return _word(value, column) if column.among else _number(value, column)
    close = nearest(key, _KEYS, "known")
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

    `file`: name of the source, for the faults; `read`: values by key; `text`: the file as it
    stands, to find the lines of faults.
    """
    result = SettingsFile(file=file)
    for key, value in read.items():
        try:
            result.values[key] = _checked(key, value)
        except _WrongValueError as wrong:
            bad = value[wrong.key] if wrong.key and isinstance(value, dict) else value
            place = wrong.key or key
            shown = _shown(bad)
            result.faults.append(Fault(file, _line_of(text, place), place, shown, str(wrong)))
    broken = None if result.faults else _north_rules(result.values)
    if broken is not None:
        key, rule = broken
        said = "" if isinstance(read[key], dict) else str(read[key])
        result.faults.append(Fault(file, _line_of(text, key), key, said, rule))
    return result


def _shown(value: object) -> str:
    try:
        return str(value)[:_SHOWN]
    except (RecursionError, ValueError):  # nested deep, or a number of 5000 digits
        return ""


def _line_of(text: str, key: str) -> int | None:
    found = re.search(rf"^[ \t\[]*[\"']?{re.escape(key)}\b", text, flags=re.MULTILINE)
    return text.count("\n", 0, found.end()) + 1 if found else None


def _unreadable(file: str, row: int | None, shown: str, rule: str) -> SettingsFile:
    return SettingsFile(faults=[Fault(file, row, None, shown[:_SHOWN], rule)], file=file)


def parse_settings(file: str, data: bytes) -> SettingsFile:
    """Read the settings of a site.

    `file`: name of the file, for the faults; `data`: content, in TOML.
    """
    if len(data) > _MAX_BYTES:
        rule = f"it has more than {_MAX_BYTES} bytes; settings are a few lines"
        return _unreadable(file, None, "", rule)
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        read = tomllib.loads(text)
    except UnicodeDecodeError:
        return _unreadable(file, None, "", "the file is not UTF-8 text")
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"at line (\d+)", str(error))
        row = int(line.group(1)) if line else None
        shown = text.split("\n")[row - 1].strip() if row else ""
        rule = 'not readable; a setting is written key = value, with words in quotation marks ""'
        return _unreadable(file, row, shown, rule)
    except (RecursionError, ValueError):  # brackets within brackets, a number of 5000 digits
        return _unreadable(
            file, None, "", "its values are nested too deep, or too long, to be read"
        )
    return check_settings(file, read, text)
