"""The settings of a site: what its angles and depths refer to, and what to trust."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from jointstats.borehole.columns import REFERENCE_NAMES, nearest
from jointstats.errors import Fault

__all__ = ["SettingsFile", "SiteSettings", "parse_settings"]

NORTHS = ("true", "grid", "magnetic")
DEPTH_UNITS = ("m", "ft")


@dataclass(frozen=True)
class SiteSettings:
    """What the tables of a site mean.

    Parameters
    ----------
    blind_angle_deg : float
        Angle between hole and plane below which readings are not trusted, degrees.
    north : str
        The north that azimuths refer to: "true", "grid" or "magnetic".
    declination_deg : float
        Bearing of that north from true north, degrees, east positive; it is added to every
        azimuth where `north` is "magnetic" or "grid".
    depth_unit : str
        Unit of the depths and lengths in the tables, "m" or "ft". In memory they are metres.
    reference : str or None
        Where the reference line of core and wall readings lies: "low side", "high side" or
        "north"; None where no reading needs one.
    bedding : tuple of float or None
        Dip and dip direction of the bedding, degrees.

    Examples
    --------
    >>> SiteSettings(north="magnetic", declination_deg=2.5).north_deg
    2.5
    """

    blind_angle_deg: float = 10.0
    north: str = "true"
    declination_deg: float = 0.0
    depth_unit: str = "m"
    reference: str | None = None
    bedding: tuple[float, float] | None = None

    @property
    def north_deg(self) -> float:
        """Bearing of the north of the tables from true north, degrees."""
        return 0.0 if self.north == "true" else self.declination_deg


@dataclass
class SettingsFile:
    """Settings as they were read, with what is wrong in them.

    Parameters
    ----------
    values : dict
        Checked values by key.
    faults : list of Fault
    file : str

    Examples
    --------
    >>> parse_settings("site.toml", b"blind_angle_deg = 15").settings().blind_angle_deg
    15.0
    """

    values: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    file: str = "site.toml"

    def settings(self) -> SiteSettings:
        """The settings, with what is not given at its default."""
        return SiteSettings(**{k: v for k, v in self.values.items() if k != "name"})


def _range(low: float, high: float) -> str:
    return f"is a number from {low:g} to {high:g}"


_NUMBERS = {
    "blind_angle_deg": (0.0, 89.0, "the blind angle " + _range(0, 89) + " degrees"),
    "declination_deg": (-180.0, 180.0, "the declination " + _range(-180, 180) + " degrees"),
}
_WORDS = {"north": NORTHS, "depth_unit": DEPTH_UNITS, "reference": REFERENCE_NAMES}
_BEDDING = {
    "dip_deg": (0.0, 90.0, "the dip of the bedding " + _range(0, 90) + " degrees"),
    "dip_direction_deg": (
        0.0,
        360.0,
        "the dip direction of the bedding " + _range(0, 360) + " degrees",
    ),
}
_KEYS = ("name", "bedding", *_NUMBERS, *_WORDS)


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


def _bedding(value: object) -> tuple[float, float]:
    if not isinstance(value, dict) or set(value) != set(_BEDDING):
        raise _WrongValueError("the bedding has dip_deg and dip_direction_deg, and no more")
    pair = []
    for key, limits in _BEDDING.items():
        try:
            pair.append(_number(value[key], *limits))
        except _WrongValueError as wrong:
            raise _WrongValueError(str(wrong), key) from None
    return pair[0], pair[1]


def _name(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise _WrongValueError('the name is text in quotation marks, "like this"')
    return value.strip()


def _checked(key: str, value: object) -> object:
    if key == "name":
        return _name(value)
    if key == "bedding":
        return _bedding(value)
    if key in _NUMBERS:
        return _number(value, *_NUMBERS[key])
    if key in _WORDS:
        return _word(value, _WORDS[key])
    raise _WrongValueError(
        "this setting is not known"
        + (nearest(key, _KEYS).replace("there is", "known is") or "; known: " + ", ".join(_KEYS))
    )


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
    result = SettingsFile(file=file)
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        read = tomllib.loads(text)
    except UnicodeDecodeError:
        result.faults.append(Fault(file, None, None, "", "the file is not UTF-8 text"))
        return result
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"at line (\d+)", str(error))
        row = int(line.group(1)) if line else None
        shown = text.split("\n")[row - 1].strip() if row else ""
        rule = 'not readable; a setting is written key = value, with words in quotation marks ""'
        result.faults.append(Fault(file, row, None, shown, rule))
        return result
    for key, value in read.items():
        try:
            result.values[key] = _checked(key, value)
        except _WrongValueError as wrong:
            bad = value[wrong.key] if wrong.key and isinstance(value, dict) else value
            place = wrong.key or key
            result.faults.append(Fault(file, _line_of(text, place), place, str(bad), str(wrong)))
    return result
