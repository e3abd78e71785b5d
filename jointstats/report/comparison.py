"""The page of a comparison of holes against holes."""

from __future__ import annotations

import os
from pathlib import Path
from string import ascii_uppercase
from typing import TYPE_CHECKING

import pandas as pd

from jointstats.compare.detectable import smallest_detectable
from jointstats.plots.comparison import estimate_forest, group_net, pair_matrix
from jointstats.plots.net import net_axes
from jointstats.report.figures import Picture, picture
from jointstats.report.section import SOURCES, Link, Section, Table
from jointstats.report.template import fill_template, slots_of
from jointstats.tables.csv_text import csv_of
from jointstats.tables.output import output_folder, write_folder
from jointstats.words import GLOSSARY, NOTICE, listed, number, p_value

if TYPE_CHECKING:
    from jointstats.compare.holes import HoleComparison

#: Level of the tests, and what counts as a difference in the criterion.
LEVEL, STRONG_BIC = 0.05, 10.0


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
    write_folder(target, contents | {name: noticed_csv(table) for name, table in tables.items()})
    return target / "comparison.html"


def noticed_csv(table: pd.DataFrame) -> str:
    """A table as CSV, with the notice as its last column, in the first row only."""
    told = [NOTICE if place == 0 else "" for place in range(len(table))]
    return csv_of(table.assign(notice=told), "%.6g")


def comparison_html(comparison: HoleComparison) -> str:
    """The comparison of holes as one self-contained HTML document."""
    sections = [*_told(comparison), *_tabled(comparison)]
    return fill_template(
        "page.html.j2",
        title=comparison.analysis.site.name,
        kind="Do the holes differ?",
        basis="",
        block=(),
        notice=NOTICE,
        first=None,
        slots=slots_of(comparison.analysis),
        sections=[*sections, *closing(sections, ("Holm", "Schwarz"))],
        links=tuple(
            Link(name, said)
            for name, said in (
                ("tests.csv", "every test"),
                ("counts.csv", "counts"),
                ("estimates.csv", "each hole by itself"),
                ("matches.csv", "sets of each hole"),
            )
        ),
    )


def _told(comparison: HoleComparison) -> list[Section]:
    """The answer, its cautions, and how the holes stand to one another."""
    answer = domains_sentences(comparison)
    return [
        Section("answer", answer[0], text=tuple(answer[1:]), wide=True),
        Section("cautions", "Cautions", items=cautions_of_comparison(comparison), wide=True),
        Section(
            "nets",
            "The holes on one net each",
            pictures=_nets(comparison),
            notes=("Poles by the sets of all holes, whose mean planes are the arcs. Rings: cones of "
                   "the means that the hole by itself gives, where they tell. Cross: the hole.",),
            layout="row",
            wide=True,
        ),
        Section(
            "pairs",
            "Pairs and domains",
            pictures=(_matrix(comparison),),
            tables=(_grouping_table(comparison),),
            notes=("Holm-adjusted p of every pair of holes; filled: below 0.05.",),
            definitions=("Holm-adjusted p", "ΔBIC"),
        ),
        Section(
            "tests",
            "Every part of every set",
            tables=(_part_table(comparison),),
            notes=(f"In brackets the Holm-adjusted p. {_fractures_by_hole(comparison)}",),
            wide=True,
        ),
    ]


def _tabled(comparison: HoleComparison) -> list[Section]:
    """Each set in each hole."""
    return [
        Section(
            "holes",
            "Each set, hole by hole",
            pictures=_forests(comparison),
            notes=("Each hole by itself with its interval; band and line: the common fit. A hole's "
                   "κ is held within a factor of three of the common one.",),
            layout="row",
            wide=True,
        ),
        Section(
            "counts",
            "Observed and expected counts",
            tables=(_count_table(comparison),),
            definitions=(
                "standardised residual",
                "equivalent length square to the set",
                "observable share",
            ),
        ),
        Section("alone", "Sets found in each hole by itself", tables=(_match_table(comparison),)),
    ]


def closing(sections: list[Section], sources: tuple[str, ...]) -> list[Section]:
    """The terms that the sections use, and the sources."""
    used = {name for one in sections for name in one.definitions}
    items = tuple((term, meaning) for term, meaning in GLOSSARY.items() if term in used)
    return [
        Section("definitions", "Terms", items=items),
        Section("sources", "Sources", notes=tuple(SOURCES[key] for key in sources)),
    ]


def domains_sentences(comparison: HoleComparison) -> list[str]:
    """Whether the holes differ, in words that can't be reversed; the finding first."""
    pvalue, domains = comparison.overall.pvalue, comparison.domains
    tested = f"score test of one rock in orientation for all holes, {p_value(pvalue)}"
    if len(domains) > 1:
        names = [
            f"{letter} ({', '.join(holes)})"
            for letter, holes in zip(ascii_uppercase, domains, strict=False)
        ]
        word = {2: "Two", 3: "Three", 4: "Four"}.get(len(domains), str(len(domains)))
        told = [f"{word} domains: {listed(names)}."]
        if pvalue >= LEVEL:
            told.append(f"The test by itself finds no difference ({tested}); read both.")
        else:
            told.append(f"The holes differ ({tested}).")
    elif pvalue < LEVEL:
        told = [
            "The holes differ, but no way of sorting them into domains describes them better.",
            f"{tested.capitalize()}.",
        ]
    else:
        told = ["No difference was found between the holes.", f"{tested.capitalize()}."]
    return [*told, *_where(comparison), _power(comparison), *_next(comparison)]


def _where(comparison: HoleComparison) -> list[str]:
    differing = comparison.parts[comparison.parts["pvalue_holm"] < LEVEL].to_dict("records")
    named = [f"{row['part']} of {row['set']}" for row in differing]
    if named:
        return [f"They differ in {listed(named)} (Holm-adjusted p below {LEVEL:g})."]
    return ["No single part differs once the number of tests is allowed for."]


def _power(comparison: HoleComparison) -> str:
    """What a test of so many fractures would have found."""
    name, hole, factor = smallest_detectable(comparison.counts)
    if not name or factor == float("inf"):
        return "There are too few fractures for any difference to be found."
    return (
        f"What would have been found: P32 of {name} in {hole} {100 * (factor - 1):.0f} % above the "
        "other holes, in 80 of 100 such investigations; of other sets and holes only larger "
        "differences. A smaller difference may be there."
    )


def _next(comparison: HoleComparison) -> list[str]:
    if len(comparison.groupings) < 2:
        return []
    row = comparison.groupings.iloc[1]
    near = "about as good" if row["bic_above_best"] < STRONG_BIC else "worse"
    holes = row["domains"].replace(" | ", " / ")
    return [f"The next best grouping, {holes}, is {near} (ΔBIC {row['bic_above_best']:.0f})."]


def cautions_of_comparison(comparison: HoleComparison) -> tuple[tuple[str, str], ...]:
    """What the comparison touches, and what to bear in mind; then the cautions of the common fit."""
    notes = [*comparison.notes, f"Assumed in the test: {comparison.overall.assumptions}."]
    own = [(one.about, one.text) for one in comparison.analysis.cautions]
    return (*(("the comparison", note) for note in notes), *own)


def _nets(comparison: HoleComparison) -> tuple[Picture, ...]:
    return tuple(
        picture(
            f"net{i}",
            (2.9, 2.9),
            lambda figure: group_net(comparison, one.name, net_axes(figure)),
            finding=f"Poles of {one.name}: {one.n} fractures in the fit.",
            caption=f"{one.name}: {one.n} fractures, {one.exposure.total_m:.0f} m",
        )
        for i, one in enumerate(comparison.groups)
    )


def _matrix(comparison: HoleComparison) -> Picture:
    side = 0.8 + 0.42 * len(comparison.groups)
    low = min(comparison.pairs.to_dict("records"), key=lambda row: row["pvalue_holm"])
    return picture(
        "pairs-matrix",
        (side, side),
        lambda figure: pair_matrix(comparison, figure.add_subplot()),
        finding=f"The pair that differs most is {low['hole_a']} and {low['hole_b']} "
        f"(Holm-adjusted {p_value(low['pvalue_holm'])}).",
    )


def _forests(comparison: HoleComparison) -> tuple[Picture, ...]:
    tall = 0.9 + 0.3 * len(comparison.groups)
    return tuple(
        picture(
            f"forest-{place}-{figure}",
            (4.2, tall),
            lambda drawn: estimate_forest(comparison, one.name, figure, drawn.add_subplot()),
            finding=f"{figure} of {one.name} in each hole, with intervals.",
        )
        for place, one in enumerate(comparison.analysis.sets)
        for figure in ("p32", "kappa")
        if figure == "p32" or one.kappa is not None
    )


def _p(value: float) -> str:
    return "< 0.001" if value < 0.001 else f"{value:.2g}"


def _part_table(comparison: HoleComparison) -> Table:
    """A row a part, a column a set: p, and Holm-adjusted p behind it."""
    cells: dict[str, dict[str, str]] = {}
    methods: dict[str, list[str]] = {}
    for row in comparison.parts.to_dict("records"):
        said = f"{_p(row['pvalue'])} ({_p(row['pvalue_holm'])})"
        part = row["part"].removesuffix("_mm")
        cells.setdefault(part, {})[row["set"]] = said + (
            ", differs" if row["pvalue_holm"] < LEVEL else ""
        )
        if row["method"] not in methods.setdefault(part, []):
            methods[part].append(row["method"])
    sets = [one.name for one in comparison.analysis.sets]
    rows = tuple(
        (part, *(found.get(name, "–") for name in sets), "; or ".join(methods[part]))
        for part, found in cells.items()
    )
    columns = ("Part", *(f"{name}, p" for name in sets), "How")
    return Table("Tests of each part, hole against hole", columns, rows, frozenset({len(sets) + 1}))


def _fractures_by_hole(comparison: HoleComparison) -> str:
    """How many fractures of each set the tests had, hole by hole."""
    holes = ", ".join(one.name for one in comparison.groups)
    found = {row["set"]: row["n"] for row in comparison.parts.to_dict("records")
             if row["part"] == "P32"}
    counts = "; ".join(f"{name} {number}" for name, number in found.items())
    return f"Fractures of {holes}: {counts}."


def _count_table(comparison: HoleComparison) -> Table:
    rows = [
        (
            row["hole"],
            row["set"],
            f"{row['n']}",
            number(row["n_expected"], 2),
            f"{row['residual']:+.1f}".replace("-", "−"),
            number(row["exposure_m"], 2),
            f"{100 * row['seen_share']:.0f} %",
        )
        for row in comparison.counts.to_dict("records")
    ]
    columns = (
        "Hole",
        "Set",
        "Observed",
        "Expected",
        "Standardised residual",
        "Equivalent length, m",
        "Observable",
    )
    return Table("Observed and expected, by what each hole could observe", columns, tuple(rows),
                 frozenset({1}))


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
    columns = ("Domains", "Number", "Parameters", "ΔBIC")
    return Table("Groupings of the holes, best first", columns, tuple(rows))


def _match_table(comparison: HoleComparison) -> Table:
    rows = [
        (
            row["hole"],
            row["set"] or "–",
            f"{row['n_own']}",
            number(row["n_expected"], 2),
            number(row["angle_deg"], 2),
            row["finding"],
        )
        for row in comparison.matches.to_dict("records")
    ]
    columns = ("Hole", "Set", "n alone", "Expected", "Angle between means, °", "Finding")
    return Table("Sets of each hole beside those of all", columns, tuple(rows), frozenset({1, 5}))
