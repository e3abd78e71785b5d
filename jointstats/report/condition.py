"""The condition of the fractures of each set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.borehole.fractures import CLASS_COLUMN
from jointstats.report.figures import picture
from jointstats.report.section import Section, Table
from jointstats.words import listed

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from jointstats.sets.result import SiteAnalysis

#: Properties drawn side by side.
_ACROSS = 2
#: Terms of one set and one property that the record names; the rest are counted together.
_MOST_TERMS = 5


#: One fracture of a class, and more of them.
_NOUNS = {
    "joint": ("joint", "joints"),
    "vein": ("vein", "veins"),
    "shear": ("shear", "shears"),
    "bedding": ("bedding plane", "bedding planes"),
    "foliation": ("foliation plane", "foliation planes"),
    "drilling-induced": ("made by drilling", "made by drilling"),
    "other": ("of another type", "of other types"),
    "not stated": ("of no stated type", "of no stated type"),
}


def classes_sentence(result: SiteAnalysis) -> str:
    """The classes of each set, where they are not joints alone; empty where they are."""
    if result.set_noun == "joint set" or not result.sets:
        return ""
    told = []
    for name, own in result.classes.groupby("set", sort=False):
        each = [f"{n} {_NOUNS[one][n != 1]}" for one, n in zip(own[CLASS_COLUMN], own["n"], strict=True)]
        told.append(f"{name} {listed(each)}")
    return f"These are sets of discontinuities, J1 and so on being names alone: {'; '.join(told)}."


def section(result: SiteAnalysis) -> Section | None:
    """Shares of each term as dots with intervals; none where the tables describe nothing."""
    found = result.condition
    if found.empty:
        return None
    columns = list(dict.fromkeys(found["column"]))
    lines = [max(2, found.loc[found["column"] == one, "term"].nunique()) for one in columns]
    tall = [max(lines[i : i + _ACROSS]) for i in range(0, len(lines), _ACROSS)]
    return Section(
        name="condition",
        title="Condition",
        pictures=(
            picture(
                "condition",
                (5.6, 0.35 + sum(0.5 + 0.2 * n for n in tall)),
                lambda figure: _draw(result, figure, columns, tall),
                finding="Share of each term of condition in each set.",
                caption="Per cent of the fractures described, with intervals; grey: unassigned. "
                "Holes intersect some directions more than others: shares of what was described, "
                "not of the rock.",
            ),
        ),
        sources=("ISRM",),
    )


def _draw(result: SiteAnalysis, figure: Figure, columns: list[str], tall: list[int]) -> None:
    grid = figure.add_gridspec(len(tall), _ACROSS, height_ratios=[1.5 + n for n in tall],
                               hspace=0.5, wspace=0.6, left=0.16, right=0.99)
    for place, column in enumerate(columns):
        plots.condition_dots(result, column, figure.add_subplot(grid[divmod(place, _ACROSS)]))


def condition_table(result: SiteAnalysis) -> Table | None:
    """A row for each set and property: number, share of those described, interval of each term."""
    found = result.condition
    if found.empty:
        return None
    rows = []
    for (name, column), own in found.groupby(["set", "column"], sort=False):
        records = own.to_dict("records")
        terms = [
            f"{row['term']} {row['n']} ({100 * row['share']:.0f} %, "
            f"{100 * row['low']:.0f} to {100 * row['high']:.0f} %)"
            for row in records[:_MOST_TERMS]
        ]
        rest = records[_MOST_TERMS:]
        if rest:
            noun = "term" if len(rest) == 1 else "terms"
            terms.append(f"{len(rest)} other {noun} {sum(row['n'] for row in rest)}")
        described = f"{records[0]['described']} of {records[0]['total']}"
        rows.append((str(name), str(column).capitalize(), described, "; ".join(terms)))
    return Table(
        "Condition: number, share of those described, interval",
        ("Set", "Property", "Described", "Terms"),
        tuple(rows),
        frozenset({1, 3}),
    )
