"""The page of the record: what was asked and read, how it was done, terms and sources."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from jointstats.borehole.fractures import UNASSIGNED
from jointstats.fit.search import tried_numbers
from jointstats.report import corrections
from jointstats.report.condition import condition_table
from jointstats.report.method import method_paragraphs
from jointstats.report.section import SOURCES, Section, Table
from jointstats.sets.membership import (
    DOUBT,
    SURE,
    called,
    membership_finding,
    membership_groups,
)
from jointstats.sets.record import run_record
from jointstats.sets.since import changes_since
from jointstats.words import GLOSSARY, counted

if TYPE_CHECKING:
    from jointstats.sets.fitted import HasSets
    from jointstats.sets.result import SiteAnalysis


def record_sections(
    result: SiteAnalysis,
    shown: Iterable[Section],
    earlier: Mapping[str, object] | None = None,
) -> list[Section]:
    """The sections of the record; `shown` are those of the report, whose terms are defined here.

    `earlier` is the sets.json of a report to compare with.
    """
    made = [run(result), account(result), membership(result)]
    corrected = corrections.section(result)
    if corrected is not None:
        made.append(corrected)
    if earlier is not None:
        made.insert(0, changes(result, earlier))
    conditions = condition_table(result)
    if conditions is not None:
        made.append(Section("terms", "Condition in numbers", tables=(conditions,), wide=True))
    made += [method(result)]
    return [*made, terms([*shown, *made]), sources([*shown, *made])]


def changes(result: SiteAnalysis, earlier: Mapping[str, object]) -> Section:
    """What changed since an earlier report."""
    found = changes_since(result, earlier)
    return Section(
        name="since",
        title="Changed since the earlier report",
        items=tuple(found),
        text=() if found else ("Nothing: same tables, settings, counts and sets.",),
        wide=True,
    )


def run(result: SiteAnalysis) -> Section:
    """Version, settings and tables of the run."""
    rows = tuple((name, value) for name, value in run_record(result))
    return Section(
        name="run",
        title="Settings and input",
        tables=(Table("What made this report", ("What", "Value"), rows, frozenset({1})),),
        wide=True,
    )


def account(result: SiteAnalysis) -> Section:
    """What became of every fracture of the tables, and the numbers of sets that were tried."""
    tables = [account_table(result)]
    trials = tried_numbers(result.mixture.trials_)
    if trials:
        rows = tuple((str(one.n_sets), f"{one.bic_above:.1f}", one.outcome) for one in trials)
        tables.append(Table("Numbers of sets tried, in order", ("Sets", "ΔBIC", "Outcome"), rows,
                            frozenset({2})))
    return Section(
        name="account",
        title="Every fracture, and every number of sets tried",
        text=tuple(filter(None, (assignment_line(result),))),
        tables=tuple(tables),
        definitions=("ΔBIC", "random fractures"),
        sources=("Schwarz",) if trials else (),
        wide=True,
    )


def account_table(result: SiteAnalysis) -> Table:
    """What became of every fracture of the tables."""
    counts = result.counts
    rows = [(f"In {one.name}", str(one.n), "In the fit and assigned") for one in result.sets]
    rows += [
        (
            UNASSIGNED.capitalize(),
            str(counts.unassigned),
            "In the fit, nearer the random fractures than any set",
        ),
        (
            "Below the blind angle",
            str(counts.below_blind_angle),
            f"Less than {result.exposure.blind_angle_deg:g}° to their hole: left "
            "out of the fit; those near a set count in its spacings",
        ),
        ("Not oriented", str(counts.not_oriented), "In P10 and RQD, in no set"),
        (
            "Partly oriented",
            str(counts.partly_oriented),
            "Known by α, dip or dip direction alone: in the fit with every plane left open",
        ),
        (
            "Of a second method",
            str(counts.other_method),
            "Outside the lengths that count for their method: left out, so that none counts twice",
        ),
        (
            "Paired",
            str(counts.paired),
            "Seen by core and image: the fracture counts by the other row of its pair",
        ),
        (
            "Not included",
            str(counts.not_included),
            "Made by drilling, or of a class that the analyst left out: counted in nothing",
        ),
        ("All fractures", str(counts.total), "Every row of the fracture table"),
    ]
    columns = ("Fractures", "Number", "What it means")
    return Table("Every fracture, counted once", columns, tuple(rows), frozenset({2}))


def assignment_line(result: SiteAnalysis) -> str:
    """Why the number of fractures assigned is not that expected of the sets; empty without a set."""
    if not result.sets:
        return ""
    expected = sum(one.n_expected for one in result.sets)
    more = result.counts.in_a_set > expected
    return (
        f"P32 times equivalent length, over the sets, gives {expected:.0f} fractures; "
        f"{counted(result.counts.in_a_set, 'fracture')} are assigned. Each goes whole to its "
        f"largest membership, which {'takes some random ones along' if more else 'leaves some out'}."
    )


def membership(result: HasSets) -> Section:
    """The finding, and a row a set."""
    return Section(
        name="membership",
        title="Membership",
        text=(membership_finding(result),),
        tables=(membership_table(result),),
        definitions=("membership",),
        wide=True,
    )


def membership_table(result: HasSets) -> Table:
    """How many fractures of each set belong surely, likely, or in doubt, and between which sets."""
    rows = []
    for name, counts, rival in membership_groups(result):
        total = max(sum(counts), 1)
        shares = [f"{n} ({100 * n / total:.0f} %)" for n in counts]
        rivals = ", ".join(f"{called(one)} {n}" for one, n in Counter(rival).most_common())
        rows.append((name, str(sum(counts)), *shares, rivals or "–"))
    columns = (
        "Set",
        "Fractures",
        f"Sure: {SURE:g} or more",
        f"Likely: {DOUBT:g} to {SURE:g}",
        f"In doubt: below {DOUBT:g}",
        "Those in doubt could as well be",
    )
    return Table("Membership of the fractures in the fit", columns, tuple(rows), frozenset({5}))


def method(result: SiteAnalysis) -> Section:
    """How the figures were made."""
    stated = not result.fractures["angular_error_deg"].isna().all()
    return Section(
        name="method",
        title="Method",
        text=tuple(method_paragraphs(result)),
        definitions=("measurement error",) if stated else (),
        sources=("Mardia",) if stated else (),
    )


def terms(
    shown: Iterable[Section], always: tuple[str, ...] = ("pole", "kappa", "P32")
) -> Section:
    """The terms that stand on the pages, in the order of the glossary."""
    used = {name for one in shown for name in one.definitions} | set(always)
    items = tuple((term, meaning) for term, meaning in GLOSSARY.items() if term in used)
    return Section(name="definitions", title="Terms", items=items)


def sources(shown: Iterable[Section]) -> Section:
    """The sources that the pages rest on."""
    used = {name for one in shown for name in one.sources}
    text = tuple(source for key, source in SOURCES.items() if key in used)
    return Section(name="sources", title="Sources", notes=text, wide=True)
