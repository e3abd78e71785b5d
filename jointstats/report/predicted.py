"""The fit held against what else is known: each hole predicted from the others, and mapped faces."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.report.section import Section, Table
from jointstats.sets.on_faces import DIFFERS, FaceBeside, adjusted, differing
from jointstats.words import counted, listed, number, p_value, percent, within

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
    whole = frame[frame["set"] == "all"]
    of_all = f", and {int(whole['held'].sum())} of {len(whole)} the count of all" if several else ""
    held, total = found.held
    cells = frame.set_index(["hole", "set"])
    rows = tuple(
        (line, *(_cell(cells.loc[(line, name)]) for name in shown)) for line in found.lines
    )
    level = percent(found.confidence)
    return Section(
        name="predicted",
        title="Does it predict?",
        text=(
            f"Each hole was predicted from the others: {held} of {total} intervals at {level} "
            f"hold its count of a set{of_all}.",
        ),
        tables=(Table(f"Fractures observed ({level} prediction)", ("Hole", *shown), rows),),
        notes=("Counts are sums of memberships. Rock elsewhere can differ from all holes.",),
        definitions=("membership",),
    )


def _cell(row: pd.Series) -> str:
    told = f"{row['n']:.0f} ({row['low']:.0f} to {row['high']:.0f})"
    return told if row["held"] else f"{told}, outside"


def faces(result: SiteAnalysis) -> Section | None:
    """A row a face and set: P32 there, that of the holes, and whether they agree; None without a face."""
    found = result.faces
    if not found:
        return None
    rows = tuple(
        _face_row(face.name, cells, pvalue)
        for face, pvalues in zip(found, adjusted(found), strict=True)
        for cells, pvalue in zip(face.to_frame().to_dict("records"), pvalues, strict=True)
    )
    level = percent(float(result.settings["confidence"]))
    columns = ("Face", "Set", "Traces", "P32 on the face, 1/m", "by the holes", "Ratio", "Holm-adjusted p")
    return Section(
        name="faces",
        title="Do the faces agree with the holes?",
        text=tuple(told for _, told in differing(found)) or (_agreed(found),),
        tables=(Table(f"P32 on mapped faces ({level} intervals)", columns, rows, frozenset({1})),),
        items=tuple((f"Face {one.name}", _face_told(one)) for one in found),
        notes=(
            "P32 on a face: trace length over area and sine of the angle to the face, so no sizes are "
            "needed. Intervals are for even rock. Faces are not in the fit: “holes” are the boreholes and "
            "scanlines, which all other figures rest on.",
        ),
        definitions=("membership", "Holm-adjusted p", "blind angle"),
        wide=True,
    )


def _agreed(found: tuple[FaceBeside, ...]) -> str:
    tested = [one for face in found for one in face.sets if one.pvalue == one.pvalue]
    if not tested:
        return "Too few traces to hold the faces against the holes."
    widest = max(one.ratio_interval[1] / one.ratio for one in tested)
    return (
        f"No set has another P32 on a face than in the holes, at a level of {DIFFERS:g}. A difference "
        f"of less than a factor of {number(widest, 2)} would be missed more often than not."
    )


def _face_row(face: str, cells: dict[str, object], pvalue: float) -> tuple[str, ...]:
    def told(name: str) -> float:
        return float(str(cells[name]))

    tested = pvalue == pvalue
    on_face = (told("p32_low_per_m"), told("p32_high_per_m"))
    return (
        face,
        str(cells["set"]),
        str(cells["n"]),
        f"{number(told('p32_per_m'), 2)} ({within(on_face)})",
        number(told("holes_p32_per_m"), 2),
        f"{number(told('ratio'), 2)} ({within((told('ratio_low'), told('ratio_high')))})" if tested else "–",
        p_value(pvalue).removeprefix("p ") if tested else "–",
    )


def _face_told(one: FaceBeside) -> str:
    """Area, traces each counted once, and their mean length."""
    mapped, size = one.mapped, one.length
    face, total = mapped.face, len(mapped.length_m)
    left = [
        f"{count} {what}"
        for count, what in (
            (total - one.n_oriented, "without orientation"),
            (one.n_blind, "below the blind angle"),
        )
        if count
    ]
    told = f"{number(face.area_m2)} m², {counted(total, 'trace')}"
    told += f", of which {listed(left)}" if left else ""
    if size is None:
        return f"{told}."
    ends = f"both ends of {size.n_both}, one of {size.n_one}, none of {size.n_none} seen"
    mean = f"{number(size.mean_m, 2)} m ({within(size.mean_interval)})"
    told += f". Mean trace length {mean}; by counts {number(size.pahl_m, 2)} m ({ends})."
    return f"{told} {size.caution}".rstrip()
