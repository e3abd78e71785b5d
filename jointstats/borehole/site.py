"""A site: its holes, the fractures found in them, and the settings they are read by."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import ClassVar, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.condition import has_terms
from jointstats.borehole.frame import references_of
from jointstats.borehole.hole import PLACE_COLUMNS, Hole
from jointstats.borehole.rows import joined_tables, rows_within, tables_within
from jointstats.borehole.settings import SiteSettings
from jointstats.borehole.spans import Spans
from jointstats.borehole.terms import CLASSES, WORDS, checked_classes, classes_of
from jointstats.checks import check_interval
from jointstats.errors import InputError
from jointstats.sphere.angles import trend_from_lines


class HasLengths(Protocol):
    """A domain: a name, and lengths of holes as (hole, from_m, to_m)."""

    @property
    def name(self) -> str: ...
    @property
    def lengths(self) -> tuple[tuple[str, float, float], ...]: ...


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
    cut : bool
        Whether lengths were cut out of its holes by depth.

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
    cut: bool = False

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

    def select(
        self,
        holes: Sequence[str] | None = None,
        depth: tuple[float, float] | None = None,
        type: str | Sequence[str] | None = None,
        condition: Mapping[str, str | Sequence[str]] | None = None,
    ) -> Site:
        """A part of the site: some holes, a range of depths, or some of the fractures.

        Parameters
        ----------
        holes : sequence of str, or None
            Names of the holes that stay; None keeps all.
        depth : (float, float) or None
            Depths along the holes between which lengths and fractures stay, metres, ends included.
        type : str or sequence of str, or None
            Classes of discontinuity that stay, as `analyse` has them: "joint", "vein", "shear", …
        condition : dict of str to str, or None
            Column of condition → term, or terms, that stay: ``{"infilling": ["clay", "silt"]}``.

        Returns
        -------
        Site
            What was logged follows the holes and depths. After `type` or `condition` lengths are whole,
            so that P32 and spacing are of the fractures kept, and a note says so.

        Raises
        ------
        InputError
            If there is no such hole, class or term, or the range does not rise.

        Examples
        --------
        >>> import jointstats as js
        >>> part = js.simulate_site(random_state=1).select(holes=["H1", "H2"], depth=(0, 30))
        >>> part.describe()[["hole", "logged_m"]].values.tolist()
        [['H1', 30.0], ['H2', 30.0]]
        """
        names = self._names(holes)
        low, high = (0.0, np.inf) if depth is None else check_interval(*depth)
        lengths = {name: Spans([(low, min(high, 1e9))]) for name in names}
        part = self._within(lengths, self.name, cut=depth is not None)
        keep, told = np.ones(len(part.fractures), dtype=bool), []
        if type is not None:
            classes = checked_classes((type,) if isinstance(type, str) else type)
            keep &= np.isin(classes_of(part.fractures, self.words), list(classes))
            told.append(f"of class {' or '.join(classes)}")
        for column, terms in (condition or {}).items():
            terms = (terms,) if isinstance(terms, str) else tuple(terms)
            keep &= has_terms(part.fractures, column, terms, self.words)
            told.append(f"with {column} {' or '.join(terms)}")
        if not told:
            return part
        note = (
            f"Only fractures {', '.join(told)} were taken ({int(keep.sum())} of {len(keep)}): every figure "
            "of frequency, P32 and spacing is of these alone."
        )
        return replace(part._with_fractures(keep), notes=(*part.notes, note))

    def merge(self, other: Site, name: str | None = None) -> Site:
        """This site and another as one.

        Parameters
        ----------
        other : Site
            With the same settings and no hole of the same name.
        name : str or None
            Of the whole; None joins both names.

        Returns
        -------
        Site
            The holes and fractures of this site first.

        Raises
        ------
        InputError
            If a hole is in both, settings differ, or tables that are of no hole differ.

        Examples
        --------
        >>> import jointstats as js
        >>> site = js.simulate_site(random_state=1)
        >>> whole = site.select(["H1"]).merge(site.select(["H2", "H3"]), "whole")
        >>> len(whole.fractures) == len(site.fractures)
        True
        """
        check_site(other)
        twice = [hole.name for hole in other.holes if any(hole.name == one.name for one in self.holes)]
        if twice:
            raise InputError(f"hole {twice[0]} is in both sites; a hole must have one name of its own")
        if self.settings != other.settings:
            own, theirs = vars(self.settings), vars(other.settings)
            key = next(key for key in own if own[key] != theirs[key])
            raise InputError(
                f"the sites differ in {key}: {own[key]!r} and {theirs[key]!r}; only sites of the same "
                "settings can be merged"
            )
        if bool(self.tables) != bool(other.tables):
            raise InputError(
                "one site was read and one was made by hand; write the one made by hand by write_site, "
                "read it, and merge then"
            )
        known = self.rows and other.rows
        return replace(
            self,
            name=name or f"{self.name} and {other.name}",
            holes=(*self.holes, *other.holes),
            fractures=pd.concat([self.fractures, other.fractures], ignore_index=True),
            notes=tuple(dict.fromkeys((*self.notes, *other.notes))),
            tables=joined_tables(self.tables, other.tables),
            unread=tuple(dict.fromkeys((*self.unread, *other.unread))),
            rows=(*self.rows, *other.rows) if known else (),
            mapped=tuple(dict.fromkeys((*self.mapped, *other.mapped))),
            sources=tuple(dict.fromkeys((*self.sources, *other.sources))),
            digests=tuple(dict.fromkeys((*self.digests, *other.digests))),
            cut=self.cut or other.cut,
        )

    def split(
        self, domains: Sequence[HasLengths] | Mapping[str, Sequence[tuple[str, float, float]]]
    ) -> dict[str, Site]:
        """The site as one site a domain.

        Parameters
        ----------
        domains : sequence of Domain, or dict
            Those of ``result.agreement.domains``; or name → lengths of holes, each (hole, from_m, to_m).

        Returns
        -------
        dict of str to Site
            By the name of the domain. A fracture where two meet is of the first; what lies in no
            domain is in none of the sites, and each has a note of it.

        Raises
        ------
        InputError
            If there is no such hole, or a length does not end beyond its start.

        Examples
        --------
        >>> import jointstats as js
        >>> site = js.simulate_site(random_state=1)
        >>> parts = site.split({"upper": [("H1", 0, 40)], "lower": [("H1", 40, 80)]})
        >>> {name: part.holes[0].logged_m for name, part in parts.items()}
        {'upper': 40.0, 'lower': 40.0}
        """
        if not isinstance(domains, Mapping):
            domains = {one.name: one.lengths for one in domains}
        open_rows, parts = np.ones(len(self.fractures), dtype=bool), {}
        for name, lengths in domains.items():
            spans = {
                hole: Spans([(low, high) for one, low, high in lengths if one == hole])
                for hole in self._names([hole for hole, *_ in lengths])
            }
            inside = rows_within(self.fractures, spans) & open_rows
            parts[name] = self._within(spans, f"{self.name}, {name}", rows=inside, cut=True)
            open_rows &= ~inside
        note = f"{int(open_rows.sum())} of {len(open_rows)} fractures lie in no domain and are left out."
        told = (note,) if open_rows.any() else ()
        return {key: replace(one, notes=(*one.notes, *told)) for key, one in parts.items()}

    def describe(self) -> pd.DataFrame:
        """What the site has, a row a hole.

        Returns
        -------
        pandas.DataFrame
            hole, kind, easting_m, northing_m, elevation_m (of the collar), trend_deg, plunge_deg (at the
            collar, from true north), length_m, logged_m (each metre once), methods, n (fractures).

        Examples
        --------
        >>> import jointstats as js
        >>> js.simulate_site(random_state=1).describe()["length_m"].tolist()
        [80.0, 70.0, 70.0]
        """
        number = self.fractures["hole"].value_counts()
        rows = []
        for hole in self.holes:
            trend, plunge = trend_from_lines(hole.path.direction(0.0))
            collar = hole.collar or (np.nan, np.nan, np.nan)
            rows.append(
                {
                    "hole": hole.name,
                    "kind": hole.kind,
                    **dict(zip(PLACE_COLUMNS, collar, strict=True)),
                    "trend_deg": float(trend[0]),
                    "plunge_deg": float(plunge[0]),
                    "length_m": hole.length_m,
                    "logged_m": hole.logged_m,
                    "methods": hole.methods,
                    "n": int(number.get(hole.name, 0)),
                }
            )
        return pd.DataFrame(rows)

    def _names(self, holes: Sequence[str] | None) -> list[str]:
        """Names of holes of this site, in its order, each once."""
        if holes is None:
            return [hole.name for hole in self.holes]
        if isinstance(holes, str) or not holes:
            raise InputError(f"holes must be a list of names of holes, one or more; got {holes!r}")
        asked = {self.hole(name).name for name in holes}
        return [hole.name for hole in self.holes if hole.name in asked]

    def _within(
        self,
        lengths: Mapping[str, Spans],
        name: str,
        *,
        rows: NDArray[np.bool_] | None = None,
        cut: bool,
    ) -> Site:
        """The site in these lengths of these holes, with the fractures of a mask or all in them."""
        keep = rows_within(self.fractures, lengths) if rows is None else rows
        whole = [hole for hole in self.holes if hole.name in lengths]
        holes = [hole.within(lengths[hole.name]) for hole in whole] if cut else whole
        part = self._with_fractures(keep)
        tables = tables_within(self.tables, lengths, part.fractures)
        # A table of logged lengths must say the same as the holes, or writing and reading would bring the rest back.
        if cut and tables:
            tables["logged"] = pd.DataFrame([row for hole in holes for row in hole.logged_rows])
        return replace(part, name=name, holes=tuple(holes), tables=tables, cut=cut or self.cut)

    def _with_fractures(self, keep: NDArray[np.bool_]) -> Site:
        rows = tuple(np.array(self.rows)[keep].tolist()) if self.rows else ()
        return replace(self, fractures=self.fractures[keep].reset_index(drop=True), rows=rows)

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


def check_site(site: object) -> None:
    """Whatever is not a Site is refused, with what to do."""
    if not isinstance(site, Site):
        raise InputError(
            f"site must be a Site; got {type(site).__name__}: read one with read_site, or make one "
            "with Site.from_frames"
        )
