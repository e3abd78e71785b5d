"""A site: its holes, the fractures found in them, and the settings they are read by."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.frame import references_of
from jointstats.borehole.hole import Hole
from jointstats.borehole.ring import ring_points
from jointstats.borehole.rotation import roll_at
from jointstats.borehole.rows import grouped_rows, logged_depth
from jointstats.borehole.settings import SiteSettings
from jointstats.borehole.terms import CLASSES, WORDS
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth
from jointstats.types import Array


@dataclass(frozen=True, eq=False)
class Site:
    """A site: holes, fractures and settings, checked.

    Parameters
    ----------
    name : str
    holes : tuple of Hole
    fractures : pandas.DataFrame
        One row a fracture, in file order: the columns as they were read, depths in metres.
    settings : SiteSettings
    notes : tuple of str
        Sentences about what was assumed in reading.
    tables : dict of str to pandas.DataFrame
        The other tables as they were read, depths in metres; empty for a site made by hand.
    unread : tuple of str
        Sentences about files, sheets and columns that were not read.
    rows : tuple of int
        Row of each fracture in its file; empty for a site made by hand.
    mapped : tuple of str
        What headings and words of others were taken for, by the mapping.
    sources : tuple of Path
        Directories and files that it was read from, which nothing is written over.
    digests : tuple of (str, str)
        Name and SHA-256 of each file that was read, as it stood then.

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> site.hole("H1").length_m
    80.0
    """

    name: str
    holes: tuple[Hole, ...]
    fractures: pd.DataFrame
    settings: SiteSettings = field(default_factory=SiteSettings)
    notes: tuple[str, ...] = ()
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    unread: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    mapped: tuple[str, ...] = ()
    sources: tuple[Path, ...] = ()
    digests: tuple[tuple[str, str], ...] = ()

    #: A site from frames. The checks live in `tables/`, later in the flow, which puts it here.
    from_frames: ClassVar[Callable[..., Site]]

    def __repr__(self) -> str:
        metres = sum(hole.length_m for hole in self.holes)
        return (
            f"Site({self.name!r}, {len(self.holes)} holes of {metres:.4g} m in all, "
            f"{len(self.fractures)} fractures)"
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Site):
            return NotImplemented
        plain = (self.name, self.holes, self.settings, set(self.tables))
        return (
            plain == (other.name, other.holes, other.settings, set(other.tables))
            and self.fractures.equals(other.fractures)
            and all(self.tables[key].equals(other.tables[key]) for key in self.tables)
        )

    __hash__ = None  # type: ignore[assignment]  # holds frames

    @property
    def traces(self) -> pd.DataFrame | None:
        """Points picked on the walls; None if there are none."""
        return self.tables.get("traces")

    @property
    def words(self) -> dict[str, dict[str, str]]:
        """Word → term by column of condition: the built-in ones, and those of the table terms."""
        words = {column: dict(known) for column, known in WORDS.items()}
        own = self.tables.get("terms")
        if own is not None:
            for column, word, term in own[["column", "word", "term"]].itertuples(index=False):
                if column not in CLASSES:
                    words.setdefault(column, {})[word.lower()] = term
        return words

    def hole(self, name: str) -> Hole:
        """The hole of this name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Hole

        Raises
        ------
        InputError
            If there is none.
        """
        for hole in self.holes:
            if hole.name == name:
                return hole
        known = ", ".join(hole.name for hole in self.holes)
        raise InputError(f"site {self.name} has no hole {name!r}; its holes are {known}")

    def references(self, table: pd.DataFrame) -> NDArray[np.object_]:
        """Where the reference line of each row of a table lies: its own, its hole's or the site's.

        Parameters
        ----------
        table : pandas.DataFrame
            With a column hole, and perhaps reference.

        Returns
        -------
        ndarray of str, shape (n,)
            Empty where it was not given.
        """
        own = np.full(len(table), "", dtype=object)
        if "reference" in table:
            own = table["reference"].fillna("").to_numpy(dtype=object)
        by_hole = {hole.name: hole.reference for hole in self.holes}
        return references_of(own, table["hole"].to_numpy(object), by_hole, self.settings.reference)

    def roll_of(self, table: pd.DataFrame) -> Array:
        """Roll of the camera at each row of a table with columns hole and depth_m, degrees.

        Parameters
        ----------
        table : pandas.DataFrame

        Returns
        -------
        ndarray, shape (n,)
            To be added to angles read on the wall; 0 where no roll was measured.
        """
        rolls = self.tables.get("rolls")
        depth = logged_depth(table)
        total = np.zeros(len(table))
        if rolls is None:
            return total
        holes = table["hole"].to_numpy(dtype=object)
        for name, own in rolls.groupby("hole", sort=False):
            rows = holes == name
            total[rows] = roll_at(depth[rows], own["depth_m"], own["roll_deg"])
        return total

    def wall_points(self) -> pd.DataFrame | None:
        """Points picked on the wall, on unrolled and on ring-shaped pictures; None without any."""
        rings, mirrors = self.tables.get("rings"), self.tables.get("mirrors")
        if rings is None or mirrors is None:
            return self.traces
        mirror = rings["mirror"] if "mirror" in rings else pd.Series("", index=rings.index)
        parts = [] if self.traces is None else [self.traces]
        for name, shown in mirrors.groupby("mirror", sort=False):
            own = rings[(mirror == name) | (mirror == "")]
            shown = shown.sort_values("radius")
            turned = "counted" in shown and (shown["counted"] == "anticlockwise").any()
            angle, depth = ring_points(
                own["radius"],
                own["angle_deg"],
                own["depth_m"],
                calibration_radius=shown["radius"],
                calibration_offset_m=shown["offset_m"],
                counted="anticlockwise" if turned else "clockwise",
            )
            points = own[["hole", "fracture"]].assign(depth_m=depth, angle_deg=angle)
            parts.append(points.reset_index(drop=True))
        return pd.concat(parts, ignore_index=True)

    def trace_points(self, table: pd.DataFrame) -> list[tuple[Array, Array, Array] | None]:
        """Angle, depth and radius (mm) of the points of each row's trace; None where it has none.

        Parameters
        ----------
        table : pandas.DataFrame
            With columns hole and fracture.

        Returns
        -------
        list of (ndarray, ndarray, ndarray) or None
            Angles with the roll of the camera taken in.
        """
        traces = self.wall_points()
        if traces is None:
            return [None] * len(table)
        rows = grouped_rows(traces["hole"].to_numpy(object), traces["fracture"].to_numpy(object))
        angle = as_azimuth(traces["angle_deg"].to_numpy(float) + self.roll_of(traces))
        depth = traces["depth_m"].to_numpy(float)
        by_hole = {hole.name: hole.diameter_mm or np.nan for hole in self.holes}
        diameter = traces["hole"].map(by_hole).to_numpy(float)
        if "diameter_mm" in traces:
            caliper = traces["diameter_mm"].to_numpy(float)
            diameter = np.where(np.isnan(caliper), diameter, caliper)
        found = []
        for key in zip(table["hole"], table["fracture"], strict=True):
            at = rows.get((str(key[0]), str(key[1])))
            found.append(None if at is None else (angle[at], depth[at], diameter[at] / 2.0))
        return found


def check_site(site: object) -> None:
    """Whatever is not a Site is refused, with what to do."""
    if not isinstance(site, Site):
        raise InputError(
            f"site must be a Site; got {type(site).__name__}: read one with read_site, or make one "
            "with Site.from_frames"
        )
