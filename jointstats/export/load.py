"""The record of a result, read back: what a design script needs, without the site and without a fit."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointstats.borehole.exposure import LineExposure
from jointstats.checks import as_generator, check_count
from jointstats.errors import InputError
from jointstats.export.json_rules import broken_rules
from jointstats.fit.rocks import NamedRock, Rocks
from jointstats.sets.record import JSON_VERSION
from jointstats.sets.reliability import Caution
from jointstats.sets.since import read_record
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array, Interval, RandomState

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RecordedResult", "RecordedSet", "load_result"]


@dataclass(frozen=True, eq=False)
class RecordedSet:
    """A set as a record has it.

    Attributes
    ----------
    name : str
    density : SetDensity
        Of the poles in the rock, as `JointSet.density`.
    figures : dict
        Its figures by their names in sets.json, as `JointSet.to_row` and more; None: not known.

    Examples
    --------
    >>> from jointstats.sphere.set_shapes import RoundDensity
    >>> RecordedSet("J1", RoundDensity.about([0, 0, -1], 40.0), {"p32_per_m": 2.0}).p32_per_m
    2.0
    """

    name: str
    density: SetDensity
    figures: Mapping[str, Any] = field(repr=False)

    @property
    def mean(self) -> Array | None:
        """Mean pole, lower hemisphere, shape (3,); None for a girdle."""
        return self.density.mean

    @property
    def dip_deg(self) -> float | None:
        """Dip of the mean plane, degrees; None for a girdle."""
        return self.figures["dip_deg"]

    @property
    def dip_direction_deg(self) -> float | None:
        """Dip direction of the mean plane, degrees clockwise from north; None for a girdle."""
        return self.figures["dip_direction_deg"]

    @property
    def p32_per_m(self) -> float:
        """Fracture area per volume of rock, 1/m."""
        return float(self.figures["p32_per_m"])

    @property
    def p32_interval(self) -> tuple[float | None, float | None]:
        """Interval of P32; None: open."""
        return self.figures["p32_low_per_m"], self.figures["p32_high_per_m"]


@dataclass(frozen=True, eq=False)
class RecordedResult:
    """What `load_result` gives; every function of `js.design` takes it as it takes a result.

    Attributes
    ----------
    site : str
        Name of the site.
    sets : tuple of RecordedSet
        J1 first.
    background_per_m : float
        P32 of fractures of no set, 1/m.
    background_interval : (float, float)
    rocks : Rocks
        Drawn when the record was written.
    exposure : LineExposure or None
        Of all logged lengths; None where nothing was logged.
    readings : tuple of dict
        Readings of the rock with their probabilities, as sets.json has them.
    cautions : tuple of Caution
        `.about` and `.text` of each.
    notice : str
        To whom the figures defer, and who must check them.
    notes : tuple of str
    settings : dict
    version : str
        Of the layout of the record.

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(holes=[(0, 60, 30)], random_state=1), n_sets=1)
    >>> record = js.load_result(js.write_report(result, tempfile.mkdtemp()).parent)
    >>> [one.name for one in record.sets]
    ['J1']
    """

    site: str
    sets: tuple[RecordedSet, ...]
    background_per_m: float
    background_interval: Interval
    rocks: Rocks = field(repr=False)
    exposure: LineExposure | None
    readings: tuple[Mapping[str, Any], ...] = field(repr=False)
    cautions: tuple[Caution, ...] = field(repr=False)
    notice: str = field(repr=False)
    notes: tuple[str, ...] = field(repr=False)
    settings: Mapping[str, Any] = field(repr=False)
    version: str

    @property
    def rock(self) -> NamedRock:
        """The rock as estimated."""
        return self.rocks.centre

    def draws(self, n_rocks: int = 400, random_state: RandomState = 0) -> Rocks:
        """Rocks of the record.

        Parameters
        ----------
        n_rocks : int
            One or more. Where the record has fewer, all that it has.
        random_state : int, Generator, RandomState or None
            Which of them are taken, where fewer are asked for.

        Returns
        -------
        Rocks

        Raises
        ------
        InputError
            If an argument is out of range.

        Notes
        -----
        A record has 400 rocks, drawn by seed 0. For more, draw them from the result itself.
        """
        number, generator = check_count(n_rocks, "n_rocks", 1), as_generator(random_state)
        if number >= len(self.rocks):
            return self.rocks
        kept = sorted(generator.choice(len(self.rocks), number, replace=False).tolist())
        chosen = tuple(self.rocks[d] for d in kept)
        return Rocks(chosen, self.rocks.centre, self.rocks.confidence)

    def to_frame(self) -> pd.DataFrame:
        """One row a set, under the names of sets.csv; lists and evidence are left out."""
        import pandas as pd

        plain = [
            {key: one for key, one in each.figures.items() if not isinstance(one, (list, dict))}
            for each in self.sets
        ]
        return pd.DataFrame(plain)


def load_result(path: str | os.PathLike[str]) -> RecordedResult:
    """Read the sets.json that a report or `jointstats sets --json` wrote, and check all of it.

    Parameters
    ----------
    path : str or Path
        The file, or the directory of the report.

    Returns
    -------
    RecordedResult
        Sets with their densities, drawn rocks, exposure, readings, cautions and notice. It is handed
        to the functions of `js.design` like a result, and gives what that gave to eight digits.

    Raises
    ------
    InputError
        If it is not such a file, its layout is of another version, or it breaks the schema
        (``jointstats/sets/sets.schema.json``).

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(holes=[(0, 60, 30)], random_state=1), n_sets=1)
    >>> record = js.load_result(js.write_report(result, tempfile.mkdtemp()).parent)
    >>> bool(abs(js.design.intensity(record).estimate - js.design.intensity(result).estimate) < 1e-6)
    True
    """
    file = Path(path)
    found = read_record(file)
    _check_version(found.get("version"), file)
    faults = broken_rules(found, schema(), "sets.json")
    if faults:
        more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise InputError(
            f"{file} does not follow its schema: {faults[0]}{more}; it was changed after it was written, "
            "or a later jointstats wrote it: write the report again"
        )
    rocks = Rocks.of_record(found["rocks"], float(found["settings"]["confidence"]))
    value, low, high = (
        float("nan") if one is None else float(one)
        for one in (found["background_p32_per_m"], *found["background_p32_interval_per_m"])
    )
    by_name = dict(zip(rocks.centre.names, rocks.centre.densities, strict=True))
    lost = [one["set"] for one in found["sets"] if one["set"] not in by_name]
    if lost:
        raise InputError(f"{file} has no rock for set {lost[0]}; write the report again")
    return RecordedResult(
        site=found["site"],
        sets=tuple(RecordedSet(one["set"], by_name[one["set"]], one) for one in found["sets"]),
        background_per_m=value,
        background_interval=(low, high),
        rocks=rocks,
        exposure=_exposure(found["exposure"]),
        readings=tuple(found["readings"]),
        cautions=tuple(Caution(one["about"], one["text"]) for one in found["cautions"]),
        notice=found["notice"],
        notes=tuple(found["notes"]),
        settings=found["settings"],
        version=found["version"],
    )


def schema() -> dict[str, Any]:
    """The published schema of sets.json."""
    text = files("jointstats.sets").joinpath("sets.schema.json").read_text(encoding="utf-8")
    return dict(json.loads(text))


def _check_version(version: object, file: Path) -> None:
    """A first number other than ours is of a layout that this code does not know."""
    ours = [int(part) for part in JSON_VERSION.split(".")]
    parts = str(version).split(".")
    if len(parts) != 2 or not all(part.isdecimal() for part in parts):
        raise InputError(f"{file} does not say the version of its layout; got {version!r}")
    theirs = [int(part) for part in parts]
    if theirs[0] > ours[0]:
        raise InputError(
            f"{file} is of version {version}, which a later jointstats wrote; this one reads version "
            f"{JSON_VERSION}: install the later one"
        )
    if theirs < ours:
        raise InputError(
            f"{file} is of version {version}, which holds less than version {JSON_VERSION} needs; write "
            "the report again with this jointstats"
        )


def _exposure(entry: Mapping[str, Any] | None) -> LineExposure | None:
    if entry is None:
        return None
    return LineExposure(
        entry["directions"],
        entry["lengths_m"],
        blind_angle_deg=entry["blind_angle_deg"],
        log_error=entry["log_error"],
        girths=entry["girths"],
    )
