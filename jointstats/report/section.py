"""A part of a page: its text, tables and pictures, and the terms and sources that it uses."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from jointstats.report.figures import Picture


class Link(NamedTuple):
    """A file beside a page, and what it holds."""

    href: str
    said: str


@dataclass(frozen=True)
class Table:
    """A plain table: the first cell of each row is its header; `words` are the columns of words."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: frozenset[int] = field(default_factory=frozenset)


@dataclass(frozen=True)
class Section:
    """A part of a page.

    Attributes
    ----------
    name : str
        Its id in the page: letters, digits and hyphens.
    title : str
    text : tuple of str
        Paragraphs; the finding first.
    tables, pictures : tuple
    notes : tuple of str
        How to read what stands above, in small type.
    items : tuple of (str, str)
        A list of terms with what is to be said of each.
    definitions : tuple of str
        Terms of the glossary that it uses.
    sources : tuple of str
        Keys of `SOURCES` that it rests on.
    wide : bool
        Whether it takes both columns of the page.
    links : tuple of Link
        Files that it points to, with what each is; one without an address is told and not linked.
    layout : str
        How pictures stand: "" below one another, "row" side by side.
    """

    name: str
    title: str
    text: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    notes: tuple[str, ...] = ()
    items: tuple[tuple[str, str], ...] = ()
    definitions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    wide: bool = False
    links: tuple[Link, ...] = ()
    layout: str = ""


#: What the figures rest on, by a short key.
SOURCES: dict[str, str] = {
    "Terzaghi": "Terzaghi, R. (1965). Sources of error in joint surveys. Géotechnique 15: 287–304. "
    "The bias of a line, and its correction.",
    "Fisher": "Fisher, R. A. (1953). Dispersion on a sphere. Proc. R. Soc. A 217: 295–305. "
    "The distribution of the sets.",
    "Dershowitz": "Dershowitz, W. S. & Herda, H. H. (1992). Interpretation of fracture spacing and "
    "intensity. Proc. 33rd U.S. Symp. Rock Mech.: 757–766 (from memory). P10 and P32.",
    "Priest": "Priest, S. D. & Hudson, J. A. (1976). Discontinuity spacings in rock. Int. J. Rock "
    "Mech. Min. Sci. 13: 135–148. Theoretical RQD.",
    "ISRM": "ISRM (1978). Suggested methods for the quantitative description of discontinuities in "
    "rock masses. Int. J. Rock Mech. Min. Sci. 15: 319–368. Terms of spacing and condition.",
    "Mardia": "Mardia, K. V. & Jupp, P. E. (2000). Directional Statistics. Wiley. Product of mean "
    "resultants of a set and of its measurement errors.",
    "Kaplan": "Kaplan, E. L. & Meier, P. (1958). Nonparametric estimation from incomplete "
    "observations. J. Am. Stat. Assoc. 53: 457–481. The survival function.",
    "Moran": "Moran, P. A. P. (1951). The random division of an interval, part II. J. R. Stat. Soc. "
    "B 13: 147–150 (from memory). Bartlett's test of random placing.",
    "Schwarz": "Schwarz, G. (1978). Estimating the dimension of a model. Ann. Stat. 6: 461–464. "
    "The criterion for the number of sets.",
    "Holm": "Holm, S. (1979). A simple sequentially rejective multiple test procedure. Scand. J. "
    "Stat. 6: 65–70 (from memory). Several tests at one level.",
}
