"""The holes of a site put together from its checked tables."""

from __future__ import annotations

import numpy as np

from jointstats.borehole.hole import Hole
from jointstats.borehole.settings import SiteSettings
from jointstats.tables.directions import set_paths
from jointstats.tables.drilled import Drilled
from jointstats.tables.logged import set_lengths, set_logged
from jointstats.tables.names import HoleNames
from jointstats.tables.raw_table import RawTable

__all__ = ["built", "drill"]


def drill(
    tables: dict[str, RawTable], names: HoleNames, settings: SiteSettings, broken: set[str]
) -> Drilled:
    """Put the holes together from holes.csv, surveys.csv and logged.csv.

    Parameters
    ----------
    tables : dict of str to RawTable
        Checked tables.
    names : HoleNames
    settings : SiteSettings
    broken : set of str
        Tables that are there and could not be read.

    Returns
    -------
    Drilled

    Examples
    --------
    >>> from jointstats.schema import TABLES
    >>> from jointstats.tables.cells import check_cells
    >>> from jointstats.tables.parse import parse_table
    >>> data = b"hole,trend_deg,plunge_deg,length_m\\nB1,0,90,30\\n"
    >>> table, _ = parse_table("holes.csv", data, {"trend_deg", "plunge_deg", "length_m"}, {"hole"})
    >>> _ = check_cells(table, TABLES["holes"].columns)
    >>> drill({"holes": table}, HoleNames({"B1": 0}, frozenset()), SiteSettings(), set()).lengths
    {'B1': 30.0}
    """
    drilled = Drilled()
    given = tables["holes"].numbers("length_m")
    drilled.lengths = {name: float(given[at]) for name, at in names.row.items()}
    set_paths(drilled, tables, names, settings, broken)
    set_logged(drilled, tables, names, broken)
    set_lengths(drilled, tables, names, broken)
    return drilled


def built(holes: RawTable, names: HoleNames, drilled: Drilled) -> tuple[Hole, ...]:
    """The holes, once there is no fault left.

    Parameters
    ----------
    holes : RawTable
        The table of holes.
    names : HoleNames
    drilled : Drilled

    Returns
    -------
    tuple of Hole
        In the order of holes.csv.

    Examples
    --------
    >>> built(None, HoleNames({}, frozenset()), Drilled())
    ()
    """
    found = []
    for name, at in names.row.items():
        place = [float(holes.numbers(c)[at]) for c in ("easting_m", "northing_m", "elevation_m")]
        diameter = float(holes.numbers("diameter_mm")[at])
        found.append(
            Hole(
                name=name,
                path=drilled.paths[name],
                length_m=float(drilled.lengths[name]),
                diameter_mm=None if np.isnan(diameter) else diameter,
                collar=None if np.isnan(place).any() else (place[0], place[1], place[2]),
                logged=tuple(drilled.intervals[name]),
                reference=str(holes.words("reference")[at]) or None,
            )
        )
    return tuple(found)
