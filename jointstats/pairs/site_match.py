"""Core and image of every hole of a site: pairs to edit and give back, and what they carry on."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.errors import InputError, SiteError
from jointstats.pairs.core_image import CoreMatch, NothingShared, match_core_to_image
from jointstats.pairs.match_tables import FIRST_ROW, SetOf, rows_as_in_file
from jointstats.pairs.merged_log import lost_fractures, merged_log
from jointstats.results import Result
from jointstats.schema import Column
from jointstats.sphere.angles import as_azimuth
from jointstats.tables.cells import check_cells, missing_columns
from jointstats.tables.found import bytes_of
from jointstats.tables.parse import parse_table

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

_ROWS = ["core_row", "image_row"]
_COLUMN_OF_ROW = Column(
    "", "number", "a row of the table of fractures, a whole number,", low=FIRST_ROW, high=1e9, required=True
)
_COLUMNS = (
    Column("hole", "word", "the name of its hole", required=True),
    *(replace(_COLUMN_OF_ROW, name=name) for name in _ROWS),
)


class SiteMatch(Result):
    """What `match_site` found. In its tables rows count as in the file, the headings being row 1.

    Attributes
    ----------
    site : Site
    matches : tuple of CoreMatch
        One a hole that core and image both logged.
    pairs : pandas.DataFrame
        Pairs of all holes, to be edited and given back: hole, core_row, image_row, run,
        core_depth_m, image_depth_m, difference_m, angle_deg, probability, ambiguous.
    runs : pandas.DataFrame
        Runs that were turned: hole, run, from_m, to_m, beta_offset_deg (to add to β),
        line_error_deg (its standard error), n_pairs, disagrees.
    ties : pandas.DataFrame
        Depths brought together, two a run: hole, core_depth_m, image_depth_m, rising in both.
    merged : pandas.DataFrame
        Every fracture once, at its depth on the image, with what core and image say of it side by
        side.
    lost : pandas.DataFrame
        Fractures of the image that the core has not: lost in drilling, or missed.
    notes : tuple of str

    Examples
    --------
    >>> import jointstats as js
    >>> found = js.pairs.match_site(js.pairs.simulate_core_and_image(20.0, random_state=1))
    >>> sorted(found.merged["found"].unique())
    ['both', 'core only', 'image only']
    """

    site: Site
    matches: tuple[CoreMatch, ...]
    pairs: pd.DataFrame
    runs: pd.DataFrame
    ties: pd.DataFrame
    merged: pd.DataFrame
    lost: pd.DataFrame
    notes: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """The merged log."""
        return self.merged

    def __repr__(self) -> str:
        return (
            f"SiteMatch({self.site.name}: {len(self.matches)} holes, {len(self.pairs)} pairs, "
            f"{len(self.lost)} fractures of the image not on the core)"
        )

    def oriented_site(self) -> Site:
        """The site with its core oriented by the image, and on the depths of the image.

        Core that was spun, or has α alone, gets β from its run or from its pair, and so does
        core whose run disagrees or whose β was counted the other way round. Of such rows
        beta_deg and reference are new and run_beta_deg is empty; depth_m of all core that was
        matched is that on the image.
        """
        table = self.site.fractures.copy()
        for name in ("beta_deg", "reference"):
            if name not in table:
                table[name] = np.nan if name == "beta_deg" else ""
        table["reference"] = table["reference"].astype(object)
        for one in self.matches:
            core = one.oriented.set_index("row")
            at = table.index[core.index]
            table.loc[at, "depth_m"] = core["image_depth_m"].to_numpy()
            new = core[core["turned"] & core["beta_deg"].notna()]
            rows = table.index[new.index]
            table.loc[rows, "beta_deg"] = new["beta_deg"].to_numpy()
            table.loc[rows, "reference"] = str(one.settings["line"])
            for name in ("run_beta_deg", "dip_deg", "dip_direction_deg"):
                if name in table:
                    table.loc[rows, name] = np.nan
        told = sum(int(one.oriented["turned"].sum()) for one in self.matches)
        note = (
            f"Core was oriented by its image: {len(self.pairs)} pairs in {len(self.matches)} holes, "
            f"{told} readings of core with a new beta, and the depths of the core on the image."
        )
        return replace(self.site, fractures=table, notes=(*self.site.notes, note))


def match_site(
    site: Site,
    *,
    pairs: pd.DataFrame | None = None,
    run_column: str = "run",
    set_of: SetOf | None = None,
    zone_m: float = 20.0,
    confidence: float = 0.95,
) -> SiteMatch:
    """Pair core and image in every hole that both logged.

    Parameters
    ----------
    site : Site
    pairs : pandas.DataFrame or None
        Pairs as they were edited: hole, core_row and image_row as in the table that an earlier
        call gave; other columns are not read. A hole that stands in it keeps just these pairs; the
        others are matched anew.
    run_column, set_of, zone_m, confidence
        As for `match_core_to_image`.

    Returns
    -------
    SiteMatch

    Raises
    ------
    InputError
        If no hole has core and image fractures of one length, `pairs` lacks a column, or names a
        hole that is not matched or a row that is not a fracture of its method there.

    Examples
    --------
    A pair that the geologist does not believe is taken out, and the rest given back:

    >>> import jointstats as js
    >>> site = js.pairs.simulate_core_and_image(20.0, random_state=1)
    >>> first = match_site(site)
    >>> again = match_site(site, pairs=first.pairs.drop(index=2))
    >>> len(first.pairs) - len(again.pairs)
    1
    """
    given = _given(pairs)
    matches, notes = [], []
    for hole in site.holes:
        try:
            one = match_core_to_image(
                site,
                hole.name,
                run_column=run_column,
                given=given.get(hole.name),
                set_of=set_of,
                zone_m=zone_m,
                confidence=confidence,
            )
        except NothingShared as error:
            notes.append(str(error))
            continue
        matches.append(one)
        notes += [f"{hole.name}: {note}" for note in one.notes[1:]]
    if not matches:
        raise InputError(f"site {site.name} has no hole to match: {'; '.join(notes)}")
    strange = [name for name in given if name not in {one.hole for one in matches}]
    if strange:
        raise InputError(f"the pairs given name holes that are not matched: {', '.join(strange)}")
    return SiteMatch(
        site=site,
        matches=tuple(matches),
        pairs=_joined([_for_people(one.hole, one.pairs) for one in matches]),
        runs=_joined([_turned_runs(one) for one in matches]),
        ties=_joined([_ties(one) for one in matches]),
        merged=_joined([merged_log(site, one, set_of) for one in matches]),
        lost=_joined([lost_fractures(site, one, set_of) for one in matches]),
        notes=(matches[0].notes[0], *notes),
    )


def read_pairs(path: str | os.PathLike[str]) -> pd.DataFrame:
    """Edited pairs from a file of comma-separated values, or a refusal that says what is wrong."""
    file = Path(path)
    table, faults = parse_table(file.name, bytes_of(file), set(_ROWS), {"hole"})
    if table is not None:
        faults += [*missing_columns(table, _COLUMNS), *check_cells(table, _COLUMNS)]
        for name in _ROWS:
            rows = table.numbers(name)
            for row in np.flatnonzero((rows % 1 != 0) & ~np.isnan(rows)):
                faults.append(table.fault(int(row), name, f"{rows[row]:g}", _COLUMN_OF_ROW.rule))
    if table is None or faults:
        raise SiteError(faults)
    return table.cells.assign(hole=table.words("hole"))


def _joined(tables: list[pd.DataFrame]) -> pd.DataFrame:
    return pd.concat([one for one in tables if len(one)] or tables[:1], ignore_index=True)


def _given(pairs: pd.DataFrame | None) -> dict[str, pd.DataFrame]:
    """Edited pairs by hole, their rows counted from 0."""
    if pairs is None:
        return {}
    missing = [name for name in ("hole", *_ROWS) if name not in pairs]
    if missing:
        raise InputError(f"the table of pairs has no column {', '.join(missing)}")
    rows = pairs[_ROWS].apply(pd.to_numeric, errors="coerce")
    if rows.isna().any(axis=None) or ((rows % 1 != 0) | (rows.abs() > 1e9)).any(axis=None):
        raise InputError("core_row and image_row of the pairs must be whole numbers, none empty")
    shifted = rows.astype(int) - FIRST_ROW
    return {str(name): shifted.loc[own.index] for name, own in pairs.groupby("hole", sort=False)}


def _for_people(hole: str, pairs: pd.DataFrame) -> pd.DataFrame:
    counted = rows_as_in_file(pairs)
    counted.insert(0, "hole", hole)
    return counted.rename(columns={"chance": "probability"})


def _turned_runs(match: CoreMatch) -> pd.DataFrame:
    runs = match.runs[match.runs["rotation_error_deg"] > 0]
    return pd.DataFrame(
        {
            "hole": match.hole,
            "run": runs["run"].astype(str),
            "from_m": runs["from_m"],
            "to_m": runs["to_m"],
            "beta_offset_deg": as_azimuth(runs["rotation_deg"].to_numpy()),
            "line_error_deg": runs["rotation_error_deg"],
            "n_pairs": runs["n_pairs"],
            "disagrees": runs["disagrees"],
        }
    )


def _ties(match: CoreMatch) -> pd.DataFrame:
    """First and last fracture of each run that has pairs, where both depths rise."""
    known = match.runs.loc[match.runs["n_pairs"] > 0, "run"]
    core = match.oriented[match.oriented["run"].isin(known)]
    ends = pd.concat(
        [core.groupby("run", sort=False).nth(0), core.groupby("run", sort=False).nth(-1)]
    )
    ends = ends[["depth_m", "image_depth_m"]].drop_duplicates().sort_values("depth_m")
    deepest = -np.inf
    kept: list[tuple[float, float]] = []
    for depth, there in ends.to_numpy():
        if there > deepest and (not kept or depth > kept[-1][0]):
            kept.append((depth, there))
            deepest = there
    ties = pd.DataFrame(kept, columns=["core_depth_m", "image_depth_m"])
    ties.insert(0, "hole", match.hole)
    return ties
