"""The page of a comparison: holes against holes, and core against image."""

from __future__ import annotations

import os
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.plots.comparison import (
    estimate_forest,
    group_net,
    match_log,
    pair_matrix,
)
from jointstats.plots.net import net_axes
from jointstats.report.figures import Picture, picture
from jointstats.report.tables import Table
from jointstats.report.template import fill_template
from jointstats.tables.output import output_folder, write_folder
from jointstats.words import listed, number, within

if TYPE_CHECKING:
    from jointstats.compare.holes import HoleComparison
    from jointstats.pairs.core_image import CoreMatch

__all__ = ["comparison_html", "match_html", "write_comparison", "write_match"]

# Core beside image is drawn in stretches of about so long; in longer ones if they were too many.
_STRETCH_M, _MOST_STRETCHES = 22.0, 24


@dataclass(frozen=True)
class Block:
    """A part of the page: a title, a note, pictures and tables.

    Attributes
    ----------
    title, note : str
    pictures : tuple of Picture
    tables : tuple of Table
    layout : str
        Class of the style sheet that sets the pictures out.

    Examples
    --------
    >>> Block("Nothing", "", (), ()).layout
    'charts'
    """

    title: str
    note: str
    pictures: tuple[Picture, ...]
    tables: tuple[Table, ...]
    layout: str = "charts"


def write_comparison(comparison: HoleComparison, output: str | os.PathLike[str]) -> Path:
    """Write the comparison of holes: comparison.html, and its tables beside it.

    Parameters
    ----------
    comparison : HoleComparison
    output : path
        Directory to write to; made if it is not there.

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
    >>> found = js.compare_holes(js.simulate_site(random_state=1), draws=19)
    >>> with tempfile.TemporaryDirectory() as place:
    ...     print(*sorted(file.name for file in js.write_comparison(found, place).parent.iterdir()))
    comparison.html counts.csv estimates.csv matches.csv tests.csv
    """
    tables = {
        "tests.csv": comparison.to_frame(),
        "counts.csv": comparison.counts,
        "estimates.csv": comparison.estimates,
        "matches.csv": comparison.matches,
    }
    target = output_folder(
        output, ["comparison.html", *tables], comparison.analysis.site.sources
    )
    contents = {"comparison.html": comparison_html(comparison)}
    contents |= {name: _csv(table) for name, table in tables.items()}
    write_folder(target, contents)
    return target / "comparison.html"


def write_match(match: CoreMatch, output: str | os.PathLike[str]) -> Path:
    """Write the match of core and image: match.html, and its tables beside it.

    Parameters
    ----------
    match : CoreMatch
    output : path
        Directory to write to; made if it is not there.

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
    detection.csv fractures.csv match.html oriented_core.csv runs.csv
    """
    tables = {
        "fractures.csv": match.to_frame(),
        "runs.csv": match.runs,
        "oriented_core.csv": match.oriented,
        "detection.csv": match.detection,
    }
    target = output_folder(output, ["match.html", *tables])
    contents = {"match.html": match_html(match)}
    contents |= {name: _csv(table) for name, table in tables.items()}
    write_folder(target, contents)
    return target / "match.html"


def _csv(table: pd.DataFrame) -> str:
    return table.to_csv(index=False, lineterminator="\n", float_format="%.6g")


def comparison_html(comparison: HoleComparison) -> str:
    """The comparison of holes as one self-contained HTML document.

    Parameters
    ----------
    comparison : HoleComparison

    Returns
    -------
    str

    Examples
    --------
    See `write_comparison`.
    """
    return fill_template(
        "comparison.html.j2",
        site=comparison.analysis.site.name,
        kind="Do the holes see one rock?",
        answer=_answer(comparison),
        blocks=[
            Block(
                "The holes on one net each",
                "Poles by the sets of all holes, whose mean planes are the arcs. Rings: cones of "
                "the means that the hole by itself gives. Cross: direction of the hole.",
                _nets(comparison),
                (),
                "quarters",
            ),
            Block(
                "Pairs and domains",
                "p-values of every pair of holes, corrected for their number; filled: below 0.05.",
                (_matrix(comparison),),
                (_grouping_table(comparison),),
            ),
            Block(
                "Each set, hole by hole",
                "Each hole by itself with its interval; band and line: the common fit. A hole's κ is "
                "held within a factor of three of the common one.",
                _forests(comparison),
                (_part_table(comparison), _count_table(comparison)),
            ),
            Block("Sets found in each hole by itself", "", (), (_match_table(comparison),)),
        ],
        notes=[*comparison.notes, f"Assumed in the test: {comparison.overall.assumptions}."],
    )


def _answer(comparison: HoleComparison) -> list[str]:
    domains = comparison.domains
    apart = "; ".join(listed(list(one)) for one in domains)
    sentences = [comparison.overall.summary]
    if len(domains) == 1:
        sentences.append("By model selection all of them make one domain.")
    else:
        sentences.append(f"By model selection there are {len(domains)} domains: {apart}.")
    if len(comparison.groupings) > 1:
        gap = float(comparison.groupings["bic_above_best"].iloc[1])
        sentences.append(f"The next best grouping stands {gap:.0f} higher in the criterion.")
    differing = comparison.parts[comparison.parts["pvalue_holm"] < 0.05]
    named = [f"{row['part']} of {row['set']}" for row in differing.to_dict("records")]
    sentences.append(
        f"They differ in {listed(named)}."
        if named
        else "No single part differs once the number of tests is allowed for."
    )
    return sentences


def _nets(comparison: HoleComparison) -> tuple[Picture, ...]:
    return tuple(
        picture(
            f"net{i}",
            (2.9, 2.9),
            lambda figure, name=one.name: group_net(comparison, name, net_axes(figure)),
            finding=f"Poles of {one.name}: {one.n} fractures in the fit.",
            caption=f"{one.name}: {one.n} fractures, {one.exposure.total_m:.0f} m",
        )
        for i, one in enumerate(comparison.groups)
    )


def _matrix(comparison: HoleComparison) -> Picture:
    side = 0.8 + 0.42 * len(comparison.groups)
    low = comparison.pairs.loc[comparison.pairs["pvalue_holm"].idxmin()]
    return picture(
        "pairs",
        (side, side),
        lambda figure: pair_matrix(comparison, figure.add_subplot()),
        finding=f"The pair that differs most is {low['hole_a']} and {low['hole_b']} "
        f"(corrected p = {low['pvalue_holm']:.2g}).",
    )


def _forests(comparison: HoleComparison) -> tuple[Picture, ...]:
    tall = 0.9 + 0.3 * len(comparison.groups)
    return tuple(
        picture(
            f"forest-{one.name}-{figure}",
            (4.2, tall),
            lambda drawn, name=one.name, what=figure: estimate_forest(
                comparison, name, what, drawn.add_subplot()
            ),
            finding=f"{figure} of {one.name} in each hole, with intervals.",
        )
        for one in comparison.analysis.sets
        for figure in ("p32", "kappa")
    )


def _chance(value: float) -> str:
    return "< 0.001" if value < 0.001 else f"{value:.2g}"


def _part_table(comparison: HoleComparison) -> Table:
    rows = [
        (
            row["set"],
            row["part"].removesuffix("_mm"),
            _chance(row["pvalue"]),
            _chance(row["pvalue_holm"]),
            row["holes"],
            row["n"],
            row["method"],
        )
        for row in comparison.parts.to_dict("records")
    ]
    return Table(
        "Every part of every set",
        ("Set", "Part", "p", "p corrected", "Holes", "n", "How"),
        tuple(rows),
        frozenset({1, 4, 5, 6}),
    )


def _count_table(comparison: HoleComparison) -> Table:
    rows = [
        (
            row["hole"],
            row["set"],
            f"{row['n']}",
            number(row["n_expected"]),
            f"{row['residual']:+.1f}".replace("-", "−"),
            number(row["exposure_m"]),
            f"{100 * row['seen_share']:.0f} %",
        )
        for row in comparison.counts.to_dict("records")
    ]
    columns = ("Hole", "Set", "n", "Expected", "Residual", "Exposure, m", "Seen")
    return Table(
        "Counted and expected, given what each hole could see", columns, tuple(rows), frozenset({1})
    )


def _grouping_table(comparison: HoleComparison) -> Table:
    rows = [
        (
            row["domains"].replace(" | ", " / "),
            f"{row['n_domains']}",
            f"{row['parameters']}",
            f"{row['bic_above_best']:.1f}",
        )
        for row in comparison.groupings.head(5).to_dict("records")
    ]
    columns = ("Domains", "Number", "Parameters", "Criterion above the best")
    return Table("Groupings of the holes, best first", columns, tuple(rows))


def _match_table(comparison: HoleComparison) -> Table:
    rows = [
        (
            row["hole"],
            row["set"] or "–",
            f"{row['n_own']}",
            number(row["n_expected"]),
            number(row["angle_deg"], 2),
            row["finding"],
        )
        for row in comparison.matches.to_dict("records")
    ]
    columns = ("Hole", "Set", "n alone", "Expected", "Angle between means, °", "Finding")
    return Table("Sets of each hole beside those of all", columns, tuple(rows), frozenset({1, 5}))


def match_html(match: CoreMatch) -> str:
    """The match of core and image as one self-contained HTML document.

    Parameters
    ----------
    match : CoreMatch

    Returns
    -------
    str

    Examples
    --------
    See `write_match`.
    """
    return fill_template(
        "comparison.html.j2",
        site=match.hole,
        kind="Core beside image",
        answer=_match_answer(match),
        blocks=[
            Block(
                "What each method sees",
                "Rates with their intervals; the total counts what neither saw.",
                (),
                (_detection_table(match),),
            ),
            Block(
                "Core and image",
                "Orange: on one log alone. Dashed: ambiguous. Ticks at the left: runs of core.",
                _match_logs(match),
                (),
                "logs",
            ),
            Block("Runs of core", "", (), (_run_table(match),)),
        ],
        notes=list(match.notes),
    )


def _match_logs(match: CoreMatch) -> tuple[Picture, ...]:
    """Core beside image in stretches, so that each fits a page."""
    depth = pd.concat([
        match.pairs["core_depth_m"],
        match.pairs["image_depth_m"],
        match.core_only["depth_m"],
        match.image_only["depth_m"],
    ])
    if depth.empty:
        return ()
    start, end = np.floor(depth.min()), np.floor(depth.max()) + 1.0
    number_of = int(min(np.ceil((end - start) / _STRETCH_M), _MOST_STRETCHES))
    edges = start + np.ceil((end - start) / number_of) * np.arange(number_of + 1)
    spans = list(pairwise(edges))
    return tuple(
        picture(
            f"log-{place}",
            (3.0, 4.9),
            lambda figure, span=span: match_log(match, figure.add_subplot(), span_m=span),
            finding=f"Core beside image from {span[0]:g} to {span[1]:g} m.",
        )
        for place, span in enumerate(spans, start=1)
    )


def _match_answer(match: CoreMatch) -> list[str]:
    whole, agreement = match.detection.iloc[0], match.agreement
    sentences = [
        f"{len(match.pairs)} fractures are on both core and image, {len(match.core_only)} on the "
        f"core alone, {len(match.image_only)} on the image alone.",
        f"{len(match.ambiguous)} of the pairs are ambiguous.",
        f"The core has {100 * whole['core_rate']:.0f} % of what the image shows "
        f"({within((100 * whole['core_low'], 100 * whole['core_high']), 2)} %).",
    ]
    if agreement["angle_mean_deg"] is not None:
        sentences.append(
            f"Planes of the pairs lie {agreement['angle_mean_deg']:.0f}° apart on average."
        )
    return sentences


def _detection_table(match: CoreMatch) -> Table:
    rows = []
    for row in match.detection.to_dict("records"):
        rates = [
            f"{100 * row[f'{name}_rate']:.0f} % "
            f"({within((100 * row[f'{name}_low'], 100 * row[f'{name}_high']), 2)})"
            if row[f"{name}_rate"] == row[f"{name}_rate"]
            else "–"
            for name in ("core", "image")
        ]
        total = f"{row['total']:.0f} ({within((row['total_low'], row['total_high']))})"
        rows.append(
            (
                row["part"],
                f"{row['n_core']}",
                f"{row['n_image']}",
                f"{row['n_both']:.0f}",
                *rates,
                total,
            )
        )
    columns = ("Part", "Core", "Image", "Both", "Core's rate", "Image's rate", "All there are")
    return Table("Detection", columns, tuple(rows))


def _run_table(match: CoreMatch) -> Table:
    rows = []
    for row in match.runs.to_dict("records"):
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
    return Table("Runs of core, and the turn of each", columns, tuple(rows))
