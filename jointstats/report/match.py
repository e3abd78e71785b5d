"""The page of a match of core and image."""

from __future__ import annotations

import os
from itertools import pairwise
from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING

from jointstats.pairs.match_tables import rows_as_in_file
from jointstats.plots.comparison import match_log
from jointstats.report.comparison import closing, noticed_csv
from jointstats.report.figures import Picture, picture
from jointstats.report.section import Link, Section, Table
from jointstats.report.template import fill_template
from jointstats.tables.csv_text import csv_of
from jointstats.tables.output import (
    check_unedited,
    output_folder,
    plain_names,
    write_folder,
)
from jointstats.words import NOTICE, counted, number, within

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.pairs.core_image import CoreMatch
    from jointstats.pairs.site_match import SiteMatch

# Core beside image is drawn in stretches of about so long; in longer ones if they were too many.
_STRETCH_M, _MOST_STRETCHES = 22.0, 24
#: Rows of a table of fractures on the page; the file beside it has all.
_MOST_ROWS = 60
_CONDITION = ("aperture_mm", "infilling", "oxidation")


def write_match(
    match: CoreMatch, output: str | os.PathLike[str], *, found: SiteMatch | None = None
) -> Path:
    """Write the match of core and image: match.html, and its tables beside it.

    Parameters
    ----------
    match : CoreMatch
    output : path
        Directory to write to; made if it is not there.
    found : SiteMatch or None
        The match of all holes that it is of: planes, sets and condition then stand on the page.

    Returns
    -------
    pathlib.Path
        The page.

    Raises
    ------
    InputError
        If `output` is a file, or what was read would be overwritten, or another run is writing.

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> found = js.match_core_to_image(js.pairs.simulate_core_and_image(15.0, random_state=1), "H1")
    >>> with tempfile.TemporaryDirectory() as place:
    ...     print(*sorted(file.name for file in js.write_match(found, place).parent.iterdir()))
    detection.csv match.html matched_fractures.csv oriented_core.csv runs.csv
    """
    tables = {
        "matched_fractures.csv": rows_as_in_file(match.to_frame()),
        "runs.csv": match.runs,
        "oriented_core.csv": rows_as_in_file(match.oriented),
        "detection.csv": match.detection,
    }
    inputs = () if found is None else found.site.sources
    target = output_folder(output, ["match.html", *tables], inputs)
    contents = {"match.html": match_html(match, found)}
    write_folder(target, contents | {name: noticed_csv(table) for name, table in tables.items()})
    return target / "match.html"


def write_site_match(found: SiteMatch, output: str | os.PathLike[str]) -> Path:
    """Write tables of all holes into a directory, and the page of each hole with its own tables.

    Pages lie in the directory where there is one hole, else in one each below it. The tables are in
    `site`: pairs.csv (to be edited and given back, so another that is there stays), runs.csv,
    ties.csv, merged_log.csv and lost_fractures.csv. Gives the directory.
    """
    target = Path(output)
    tables = {
        "pairs.csv": found.pairs,
        "runs.csv": found.runs,
        "ties.csv": found.ties,
        "merged_log.csv": found.merged,
        "lost_fractures.csv": found.lost,
    }
    place_of_all = output_folder(target / "site", tables, found.site.sources)
    texts = {name: csv_of(table, "%.6g") for name, table in tables.items()}
    check_unedited(place_of_all / "pairs.csv", texts["pairs.csv"], "give it with --pairs")
    names = plain_names((one.hole for one in found.matches), taken=["site"])
    for one in found.matches:
        place = target if len(found.matches) == 1 else target / names[one.hole]
        write_match(one, place, found=found)
    write_folder(place_of_all, texts)
    return target


def match_html(match: CoreMatch, found: SiteMatch | None = None) -> str:
    """The match of core and image as one self-contained HTML document."""
    sections = _sections(match, found)
    return fill_template(
        "page.html.j2",
        title=match.hole,
        kind="Core beside image",
        basis="",
        block=(),
        notice=NOTICE,
        first=None,
        slots={},
        sections=[*sections, *closing(sections, ())[:1]],
        links=(
            Link("matched_fractures.csv", "every fracture of both logs"),
            Link("runs.csv", "runs of core"),
            Link("oriented_core.csv", "core with its orientation"),
            Link("detection.csv", "detection"),
        ),
    )


def _sections(match: CoreMatch, found: SiteMatch | None) -> list[Section]:
    """The answer and its cautions, then tables and logs."""
    answer = _answer(match)
    return [
        Section("answer", answer[0], text=tuple(answer[1:]), wide=True),
        Section("cautions", "Cautions", items=tuple(("the match", one) for one in match.notes),
                wide=True),
        Section(
            "detection",
            "What each method records",
            tables=(_detection_table(match),),
            notes=("Detection probabilities with their intervals; the total counts what neither "
                   "recorded.",),
            definitions=("detection probability",),
        ),
        Section("runs", "Runs of core", tables=_run_tables(match), notes=(_runs_in_line(match),)),
        Section(
            "logs",
            "Core and image",
            pictures=_logs(match),
            notes=("Orange: on one log alone. Dashed: ambiguous. Ticks at the left: runs of core.",),
            layout="row",
            wide=True,
        ),
        *_tabled(match, found),
    ]


def _tabled(match: CoreMatch, found: SiteMatch | None) -> list[Section]:
    """Every fracture: on both, on the image alone, on the core alone."""
    return [
        Section(
            "pairs",
            "Matched fractures",
            tables=(_pair_table(match, _of_hole(match, found, "merged")),),
            notes=_cut(match.pairs),
            wide=True,
        ),
        Section(
            "lost",
            "On the image alone: lost in drilling, or missed on the core",
            tables=(_alone_table("image", match.image_only, _of_hole(match, found, "lost")),),
            notes=_cut(match.image_only),
        ),
        Section(
            "core-alone",
            "On the core alone: made by drilling, closed, or missed by the image",
            tables=(_alone_table("core", match.core_only, None),),
            notes=_cut(match.core_only),
        ),
    ]


def _cut(table: object) -> tuple[str, ...]:
    rest = len(table) - _MOST_ROWS  # type: ignore[arg-type]  # a frame
    return (f"{rest} more in matched_fractures.csv.",) if rest > 0 else ()


def _answer(match: CoreMatch) -> list[str]:
    whole, agreement = match.detection.to_dict("records")[0], match.agreement
    told = [
        f"{counted(len(match.pairs), 'fracture')} on both core and image, {len(match.core_only)} on "
        f"the core alone, {len(match.image_only)} on the image alone.",
        f"Of the pairs {len(match.ambiguous)} are ambiguous: another pairing is not unlikely.",
        f"The core has {100 * whole['core_rate']:.0f} % of what the image shows "
        f"({within((100 * whole['core_low'], 100 * whole['core_high']))} %).",
    ]
    if agreement["angle_mean_deg"] is not None:
        told.append(f"Planes of the pairs lie {agreement['angle_mean_deg']:.0f}° apart on average.")
    return told


def _logs(match: CoreMatch) -> tuple[Picture, ...]:
    """Core beside image in stretches, so that each fits a page."""
    depth = [
        *match.pairs["core_depth_m"],
        *match.pairs["image_depth_m"],
        *match.core_only["depth_m"],
        *match.image_only["depth_m"],
    ]
    if not depth:
        return ()
    start, end = floor(min(depth)), floor(max(depth)) + 1
    stretches = min(ceil((end - start) / _STRETCH_M), _MOST_STRETCHES)
    step = ceil((end - start) / stretches)
    spans = pairwise([float(start + step * i) for i in range(stretches + 1)])
    return tuple(
        picture(
            f"log-{place}",
            (3.0, 4.9),
            lambda figure: match_log(match, figure.add_subplot(), span_m=span),
            finding=f"Core beside image from {span[0]:g} to {span[1]:g} m.",
        )
        for place, span in enumerate(spans, start=1)
    )


def _of_hole(match: CoreMatch, found: SiteMatch | None, name: str) -> pd.DataFrame | None:
    """The part of a table of all holes that is of this one."""
    if found is None:
        return None
    table: pd.DataFrame = getattr(found, name)
    return table[table["hole"] == match.hole].reset_index(drop=True)


def _pair_table(match: CoreMatch, merged: pd.DataFrame | None) -> Table:
    """Rows are counted as in the user's file, its heading being row 1."""
    rows = [
        (
            f"{row['core_depth_m']:.2f}",
            f"{row['image_depth_m']:.2f}",
            f"{row['core_row']}",
            f"{row['image_row']}",
            number(row["angle_deg"], 2),
            f"{row['chance']:.2f}{', ambiguous' if row['ambiguous'] else ''}",
        )
        for row in rows_as_in_file(match.pairs.head(_MOST_ROWS)).to_dict("records")
    ]
    columns = ["Core, m", "Image, m", "Core row", "Image row", "Angle, °", "Probability"]
    more: list[tuple[str, list[str]]] = []
    if merged is not None:
        both = merged[merged["found"] == "both"].head(_MOST_ROWS)
        more = _known(both, [(f"core_{name}", f"image_{name}") for name in _CONDITION])
    columns += [title for title, _ in more]
    whole = (row + tuple(cells[i] for _, cells in more) for i, row in enumerate(rows))
    return Table("Matched fractures, with their rows in the fracture table", tuple(columns),
                 tuple(whole), frozenset(range(len(columns) - len(more) + 1, len(columns))))


def _known(table: pd.DataFrame, condition: list[tuple[str, ...]]) -> list[tuple[str, list[str]]]:
    """Columns of planes, sets and condition, where the table has any; core before image."""
    planes = [
        f"{dip:.0f}° / {round(direction) % 360:03d}°" if dip == dip else "–"
        for dip, direction in zip(table["dip_deg"], table["dip_direction_deg"], strict=True)
    ]
    columns = [("Dip / dip direction", planes)]
    if "set" in table:
        columns.append(("Set", [str(one) or "–" for one in table["set"]]))
    for names in condition:
        said = [[_said(one) for one in table[name]] for name in names if name in table]
        if any(cell != "–" for cells in said for cell in cells):
            title = names[0].removeprefix("core_").replace("_mm", ", mm").capitalize()
            methods = ": core | image" if len(names) > 1 else ""
            columns.append((title + methods, [" | ".join(cells) for cells in zip(*said, strict=True)]))
    return columns


def _said(cell: object) -> str:
    """What a cell says; a dash where it says nothing."""
    if cell is None or cell != cell:
        return "–"
    return number(cell, 2) if isinstance(cell, float) else str(cell).strip() or "–"


def _alone_table(method: str, alone: pd.DataFrame, lost: pd.DataFrame | None) -> Table:
    """What one method alone has, with its plane, set and condition where they are known."""
    rows = [
        (f"{row['image_depth_m']:.2f}", f"{row['row']}", f"{row['chance_alone']:.2f}")
        for row in rows_as_in_file(alone.head(_MOST_ROWS)).to_dict("records")
    ]
    columns = ["Depth on image, m", "Row", "Probability alone"]
    more = [] if lost is None else _known(lost.head(_MOST_ROWS), [(name,) for name in _CONDITION])
    columns += [title for title, _ in more]
    whole = (row + tuple(cells[i] for _, cells in more) for i, row in enumerate(rows))
    return Table(f"Fractures on the {method} alone", tuple(columns), tuple(whole),
                 frozenset(range(4, len(columns))))


def _detection_table(match: CoreMatch) -> Table:
    rows = []
    for row in match.detection.to_dict("records"):
        rates = [
            f"{100 * row[f'{name}_rate']:.0f} % "
            f"({within((100 * row[f'{name}_low'], 100 * row[f'{name}_high']))})"
            if row[f"{name}_rate"] == row[f"{name}_rate"]
            else "–"
            for name in ("core", "image")
        ]
        total = f"{row['total']:.0f} ({within((row['total_low'], row['total_high']))})"
        counts = (f"{row['n_core']}", f"{row['n_image']}", f"{row['n_both']:.0f}")
        rows.append((row["part"], *counts, *rates, total))
    columns = ("Part", "Core", "Image", "Both", "Core's", "Image's", "All there are")
    return Table("Detection probabilities", columns, tuple(rows))


def _run_tables(match: CoreMatch) -> tuple[Table, ...]:
    """Runs that are turned against the line that β was read from, or of which nothing is known."""
    rows = []
    for row in match.runs[~_in_line(match)].to_dict("records"):
        error = number(row["rotation_error_deg"], 2)
        turn = f"{row['rotation_deg']:.0f} ± {error}".replace("-", "−") if error != "–" else "–"
        rows.append(
            (
                str(row["run"]),
                f"{row['from_m']:.2f} to {row['to_m']:.2f}",
                f"{row['n']}",
                f"{row['n_pairs']}",
                f"{row['shift_m']:+.2f}".replace("-", "−"),
                turn,
            )
        )
    columns = ("Run", "Depths on core, m", "n", "Pairs", "Shift, m", "Turn to add to β, °")
    return (Table("Runs of core that are turned", columns, tuple(rows)),) if rows else ()


def _in_line(match: CoreMatch) -> pd.Series:
    """Which runs were called oriented, and are."""
    return match.runs["rotation_error_deg"] == 0


def _runs_in_line(match: CoreMatch) -> str:
    in_line, shift = _in_line(match), match.runs["shift_m"]
    said = f"{in_line.sum()} of {len(shift)} runs stand as their line says." if in_line.any() else ""
    depth = f"Shift is of the middle of a run, {shift.iloc[0]:+.2f} m in the first and "
    return f"{said} {depth}{shift.iloc[-1]:+.2f} m in the last; runs.csv has all.".replace("-", "−").strip()
