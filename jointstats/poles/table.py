"""A table of poles: which of its columns give the orientation, checked cell by cell."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import pole_columns
from jointstats.checks import check_choice, check_number
from jointstats.errors import Fault, InputError, SiteError
from jointstats.schema import Column
from jointstats.sphere.angles import dip_from_poles, lines_from_trend, poles_from_dip
from jointstats.sphere.axes import lower_hemisphere
from jointstats.tables.cells import check_cells
from jointstats.tables.found import MAX_MB, bytes_of
from jointstats.tables.parse import parse_table
from jointstats.tables.raw_table import RawTable, table_of_frame
from jointstats.types import Array

#: Files that are taken for a table of poles.
SUFFIXES = (".csv", ".tsv", ".txt")
Hand = Literal["right", "left"]

#: Each quantity with the headings that name it, written in small letters without marks.
_HEADINGS = {
    "dip": ("dip", "dip deg", "dip angle"),
    "dip direction": (
        *("dip direction", "dip direction deg", "dip dir", "dip dir deg", "dipdir"),
        *("dip azimuth", "dip azimuth deg", "dipdirection", "true dip direction deg"),
    ),
    "strike": ("strike", "strike deg"),
    "trend": ("trend", "trend deg", "pole trend", "pole trend deg"),
    "plunge": ("plunge", "plunge deg", "pole plunge", "pole plunge deg"),
}
_COLUMNS = {
    "dip": Column("", "number", "a dip", low=0, high=90),
    "dip direction": Column("", "number", "a dip direction", low=0, high=360),
    "strike": Column("", "number", "a strike", low=0, high=360),
    "trend": Column("", "number", "a trend of a pole", low=0, high=360),
    "plunge": Column("", "number", "a plunge of a pole", low=-90, high=90),
}
#: The pairs that give an orientation, each with what turns it into poles.
_PAIRS = (("dip", "dip direction"), ("dip", "strike"), ("plunge", "trend"))
_UNIT = re.compile(r"\s*[\(\[]\s*(°|deg|degrees?)?\s*[\)\]]\s*$|\s*°\s*$", re.IGNORECASE)
_RULE = (
    "the poles need two columns: dip_deg and dip_direction_deg, or dip_deg and strike_deg, or "
    "trend_deg and plunge_deg of the poles"
)


@dataclass(frozen=True, eq=False)
class PoleTable:
    """Poles as they were given, and how their columns were read.

    Attributes
    ----------
    name : str
    table : pandas.DataFrame
        The columns of the input, then pole and plane; a row without orientation has NaN there.
    said : str
        Which columns were read, and by which rule.
    strikes : bool
        Whether they were strikes, which stand on a rule of the hand.
    sources : tuple of Path
        The file, to be kept from being overwritten.
    digests : tuple of (str, str)
        Name and SHA-256 of the file.

    Examples
    --------
    >>> poles_of(pd.DataFrame({"dip": [30.0], "strike": [0.0]})).table["true_dip_direction_deg"].tolist()
    [90.0]
    """

    name: str
    table: pd.DataFrame = field(repr=False)
    said: str
    strikes: bool = False
    sources: tuple[Path, ...] = ()
    digests: tuple[tuple[str, str], ...] = ()


def read_poles(
    path: str | os.PathLike[str], *, hand: Hand = "right", max_mb: float = MAX_MB
) -> PoleTable:
    """Read a table of poles, and check every cell.

    Parameters
    ----------
    path : str or Path
        A CSV file with a dip and a dip direction, a dip and a strike, or the trend and plunge of
        the poles, in degrees; other columns are carried through. An empty cell: not oriented.
    hand : "right" or "left"
        Of strikes: to which side the plane dips as one looks along the strike.
    max_mb : float
        Most megabytes of the file.

    Returns
    -------
    PoleTable

    Raises
    ------
    SiteError
        If anything is wrong; its `faults` name every fault by row and column.

    Examples
    --------
    >>> import tempfile
    >>> file = Path(tempfile.mkdtemp()) / "poles.csv"
    >>> _ = file.write_text("dip (°),dip direction (°)\\n30,90\\n85,270\\n")
    >>> len(read_poles(file).table)
    2
    """
    source = Path(path)
    data = bytes_of(source, check_number(max_mb, "max_mb", low=0, open_end=True))
    table, faults = parse_table(source.name, data, set(), set())
    if table is None or faults:
        raise SiteError(faults)
    digest = ((source.name, sha256(data).hexdigest()),)
    return _checked(source.stem, table, hand, (source,), digest)


def poles_of(frame: pd.DataFrame, *, hand: Hand = "right", name: str = "poles") -> PoleTable:
    """A frame with the columns of `read_poles`, checked as a file is."""
    table, faults = table_of_frame(name, frame)
    if table is None:
        raise SiteError(faults)
    return _checked(name, table, hand)


def poles_of_rows(rows: Array, *, name: str = "poles") -> PoleTable:
    """Poles (n, 3) as a table."""
    table = _with_poles(pd.DataFrame(index=range(len(rows))), rows)
    return PoleTable(name, table, "The poles were given as vectors, x east, y north, z up.")


def _plain(heading: str) -> str:
    """A heading in small letters, without its unit and its marks; one of another unit stays."""
    words = re.sub(r"[\s_\-.]+", " ", _UNIT.sub("", heading.strip()).lower())
    return words.strip()


def _found(table: RawTable) -> dict[str, str]:
    """The heading of each quantity; a SiteError where two headings are one."""
    found: dict[str, str] = {}
    for heading in table.cells:
        for quantity, names in _HEADINGS.items():
            if _plain(str(heading)) not in names:
                continue
            if quantity in found:
                rule = f"stands beside {found[quantity]}, and both give {_COLUMNS[quantity].what}"
                raise SiteError([Fault(table.file, table.header_line, heading, heading, rule)])
            found[quantity] = str(heading)
    return found


def _checked(
    name: str,
    table: RawTable,
    hand: str,
    sources: tuple[Path, ...] = (),
    digests: tuple[tuple[str, str], ...] = (),
) -> PoleTable:
    side = check_choice(hand, "hand", ("right", "left"))
    found = _found(table)
    pairs = [pair for pair in _PAIRS if set(pair) <= set(found)]
    if len(pairs) != 1 or ("plunge" in found) + ("trend" in found) == 1:
        rule = f"{_RULE}; give one pair" if pairs else _RULE
        shown = ", ".join(map(str, table.cells))[:80]
        raise SiteError([Fault(table.file, table.header_line, None, shown, rule)])
    first, second = pairs[0]
    faults = check_cells(table, tuple(_column(one, found[one]) for one in pairs[0]))
    angles = {one: table.numbers(found[one]).copy() for one in pairs[0]}
    faults += _half_known(table, found, angles, first, second)
    if faults:
        raise SiteError(faults)
    known = ~np.isnan(angles[first]) & ~np.isnan(angles[second])
    poles = np.full((len(table), 3), np.nan)
    if known.any():
        poles[known] = _AS_POLES[second](angles[first][known], angles[second][known], side)
    said = f"Orientations are read from {found[first]} and {found[second]}, in degrees"
    if second == "strike":
        said += f", by the {side}-hand rule: looking along the strike, the plane dips to the {side}"
    elif second == "trend":
        said += ", of the poles"
    return PoleTable(name, _with_poles(table.cells, poles), f"{said}.", second == "strike", sources, digests)


def _column(quantity: str, heading: str) -> Column:
    return replace(_COLUMNS[quantity], name=heading)


def _half_known(
    table: RawTable, found: Mapping[str, str], angles: Mapping[str, Array], first: str, second: str
) -> list[Fault]:
    """A plane without its direction can't be placed, unless it lies level (its pole upright)."""
    faults = []
    alone = np.isnan(angles[second]) & ~np.isnan(angles[first])
    upright = angles[first] == (90.0 if first == "plunge" else 0.0)
    angles[second][alone & upright] = 0.0
    for one, other, rows in (
        (second, first, alone & ~upright),
        (first, second, np.isnan(angles[first]) & ~np.isnan(angles[second])),
    ):
        for row in np.flatnonzero(rows & ~table.wrong(found[other])):
            rule = f"the cell is empty beside {found[other]}; give both or neither"
            faults.append(table.fault(int(row), found[one], "", rule))
    return faults


def _of_strike(dip: Array, strike: Array, hand: str) -> Array:
    turn = 90.0 if hand == "right" else 270.0
    return poles_from_dip(dip, (strike + turn) % 360.0)


_AS_POLES: dict[str, Callable[[Array, Array, str], Array]] = {
    "dip direction": lambda dip, direction, _: poles_from_dip(dip, direction),
    "strike": _of_strike,
    "trend": lambda plunge, trend, _: lower_hemisphere(lines_from_trend(trend, plunge)),
}


def _with_poles(cells: pd.DataFrame, poles: Array) -> pd.DataFrame:
    """The columns of the input with plane and pole, and room for what the analysis adds."""
    known = np.isfinite(poles).all(axis=1)
    dip, direction = (np.full(len(poles), np.nan) for _ in range(2))
    if known.any():
        dip[known], direction[known] = dip_from_poles(poles[known])
    own = {"true_dip_deg": dip, "true_dip_direction_deg": direction, **pole_columns(poles)}
    taken = [*own, *ADDED]
    kept = cells.rename(columns={one: f"{one}_given" for one in cells if one in taken})
    if len(set(kept)) < kept.shape[1]:
        raise InputError(
            f"the poles have columns of the names {', '.join(taken)}, which the result has; rename"
        )
    return kept.assign(**own)


#: Columns that the analysis adds.
ADDED = ("set", "membership", "status")
