"""Each hole predicted from the others, held against what it had: the page's own test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.report.section import Section, Table
from jointstats.words import percent

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.sets.result import SiteAnalysis

#: Sets that have a column; the rest are in the sum.
_MOST_SHOWN = 6


def section(result: SiteAnalysis) -> Section | None:
    """A row a hole, with its count of each set beside the prediction; none where there is one hole."""
    found = result.left_out
    if found is None:
        return None
    frame, shown = found.to_frame(), [*found.names[:_MOST_SHOWN], "all"]
    several = len(found.names) > 1
    alone = frame[frame["set"] != "all"] if several else frame[frame["set"] == "all"]
    whole = frame[frame["set"] == "all"]
    of_all = f", and {int(whole['held'].sum())} of {len(whole)} the count of all" if several else ""
    held = int(alone["held"].sum())
    cells = frame.set_index(["hole", "set"])
    rows = tuple(
        (line, *(_cell(cells.loc[(line, name)]) for name in shown)) for line in found.lines
    )
    level = percent(found.confidence)
    return Section(
        name="predicted",
        title="Does it predict?",
        text=(
            f"Each hole was predicted from the others: {held} of {len(alone)} intervals at {level} "
            f"hold its count of a set{of_all}.",
        ),
        tables=(Table(f"Fractures observed ({level} prediction)", ("Hole", *shown), rows),),
        notes=("Counts are sums of memberships. Rock elsewhere can differ from all holes.",),
        definitions=("membership",),
    )


def _cell(row: pd.Series) -> str:
    told = f"{row['n']:.0f} ({row['low']:.0f} to {row['high']:.0f})"
    return told if row["held"] else f"{told}, outside"
