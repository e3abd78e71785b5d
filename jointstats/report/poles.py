"""The page of poles without holes: sets, readings, net and checks, and what it leaves out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.borehole.fractures import UNASSIGNED
from jointstats.fit.search import tried_numbers
from jointstats.poles.cautions import LEFT_OUT
from jointstats.poles.record import poles_json, poles_run
from jointstats.report import evidence, fit, readings
from jointstats.report.figures import Picture, picture
from jointstats.report.first import (
    Cell,
    Column,
    SetTable,
    curves,
    orientation_cell,
    plane_of,
)
from jointstats.report.record import membership, sources, terms
from jointstats.report.section import Link, Section, Table
from jointstats.report.template import fill_template, slots_of
from jointstats.sets.record import fractures_csv, sets_csv
from jointstats.words import NOTICE, counted, listed, number, percent, within

if TYPE_CHECKING:
    from jointstats.poles.result import PolesAnalysis
    from jointstats.sets.oriented_set import OrientedSet

POLES_FILES = ("index.html", "sets.csv", "fractures.csv", "sets.json")
_LINKS = (
    Link("sets.csv", "one row a set"),
    Link("fractures.csv", "one row a pole, with its set"),
    Link("sets.json", "for other programs"),
)


def poles_files(result: PolesAnalysis) -> dict[str, str]:
    """The page and the tables beside it, by the name of their file."""
    return {
        "index.html": poles_page(result),
        "sets.csv": sets_csv(result),
        "fractures.csv": fractures_csv(result),
        "sets.json": poles_json(result),
    }


def poles_page(result: PolesAnalysis) -> str:
    """The page, one self-contained HTML document; the same text for the same result."""
    parts = (
        *(readings.section(result), _left_out(), evidence.section(result)),
        *(evidence.cautions(result), fit.section(result), membership(result)),
        *(_account(result), _run(result), _method(result)),
    )
    made = [one for one in parts if one is not None]
    counts = result.counts
    return fill_template(
        "page.html.j2",
        kind="Sets from poles",
        title=result.name,
        basis=f"{counted(counts.total, 'pole')}, {counts.total - counts.not_oriented} oriented; "
        "sampling not known",
        block=(),
        notice=NOTICE,
        slots=slots_of(result),
        first={
            "headline": poles_headline(result),
            "sentences": [f"{LEFT_OUT}."],
            "readings": readings.readings_table(result),
            "table": _table(result) if result.sets else None,
            "note": f"Intervals at {100 * float(result.settings['confidence']):g} %, of the reading "
            "shown. Shares are of the poles in the table.",
            "cautions": len(result.cautions),
            "net": _net(result),
            "forest": None,
        },
        sections=[*made, terms(made, ("pole", "kappa")), sources(made)],
        links=_LINKS,
    )


def poles_headline(result: PolesAnalysis) -> str:
    """The sets by shape with their shares, and every other reading with its odds."""
    if not result.sets:
        return "No set stands out from random poles."
    each = listed(
        [f"{one.name} ({plane_of(one)}, {percent(one.share)} of the poles)" for one in result.sets]
    )
    lead = readings.reading_sentence(result)
    opened = f"{lead}. The first is shown:" if len(result.readings) > 1 else f"{lead}:"
    return f"{opened} {each}; random {percent(result.background_share)}."


def _table(result: PolesAnalysis) -> SetTable:
    shares = {one.name: (one.share, one.share_interval) for one in result.sets}

    def share(_: object, one: OrientedSet) -> Cell:
        value, (low, high) = shares[one.name]
        return Cell(percent(value), f"{percent(low)} to {percent(high)}")

    def confidence(_: object, one: OrientedSet) -> Cell:
        found = next(given for given in result.evidence if given.about == one.name)
        return Cell(found.confidence, found.against[0] if found.against else found.rests_on)

    columns = (
        Column("Dip / dip direction", "margins of the mean", orientation_cell),
        Column("Share of poles", "interval", share),
        Column("κ", "interval", _kappa),
        Column("n", "", lambda _, one: Cell(str(one.n))),
        Column("Confidence", "worst caution", confidence, words=True),
    )
    rows = [(one.name, tuple(c.cell(result, one) for c in columns)) for one in result.sets]
    low, high = result.background_interval
    random = {
        "Share of poles": Cell(percent(result.background_share), f"{percent(low)} to {percent(high)}"),
        "n": Cell(str(result.counts.unassigned)),
    }
    rows.append(("random", tuple(random.get(c.title, Cell("")) for c in columns)))
    return SetTable(columns, tuple(rows))


def _kappa(_: object, one: OrientedSet) -> Cell:
    return Cell("–") if one.kappa is None else Cell(number(one.kappa, 2), within(one.kappa_interval))


def _net(result: PolesAnalysis) -> Picture:
    return picture(
        "net",
        (4.9, 5.5),
        lambda figure: plots.stereonet(result, plots.net_axes(figure)),
        finding="Stereonet of poles. " + poles_headline(result),
        caption=f"Equal area, lower hemisphere, poles. Curves: {curves(result)}; rings: confidence "
        "cones; a pole is paler the lower its membership. Tones: density of the poles, from "
        f"{plots.DENSITY_LEVELS[0]:g} times uniform, doubling.",
    )


def _left_out() -> Section:
    return Section(
        name="left-out",
        title="What this page leaves out",
        text=(
            f"{LEFT_OUT}. Given as a site, with holes or other lines and their logged lengths, the "
            "same fractures have them.",
        ),
        wide=True,
    )


def _account(result: PolesAnalysis) -> Section:
    counts = result.counts
    rows = [(f"In {one.name}", str(one.n)) for one in result.sets]
    rows += [
        (UNASSIGNED.capitalize(), str(counts.unassigned)),
        ("Without orientation", str(counts.not_oriented)),
        ("All rows", str(counts.total)),
    ]
    tables = [Table("Every pole, counted once", ("Poles", "Number"), tuple(rows))]
    trials = tried_numbers(result.mixture.trials_)
    if trials:
        tried = tuple((str(one.n_sets), f"{one.bic_above:.1f}", one.outcome) for one in trials)
        tables.append(Table("Numbers of sets tried, in order", ("Sets", "ΔBIC", "Outcome"), tried,
                            frozenset({2})))
    return Section(
        name="account",
        title="Every pole, and every number of sets tried",
        tables=tuple(tables),
        definitions=("ΔBIC", "random fractures"),
        sources=("Schwarz",) if trials else (),
        wide=True,
    )


def _run(result: PolesAnalysis) -> Section:
    table = Table("What made this page", ("What", "Value"), tuple(poles_run(result)), frozenset({1}))
    return Section(name="run", title="Settings and input", tables=(table,), wide=True)


def _method(result: PolesAnalysis) -> Section:
    weighed = "" if result.settings["weights"] == "none" else (
        f" The poles were weighted; they are taken as worth {number(result.mixture.data_.total)} of "
        "equal weight."
    )
    return Section(
        name="method",
        title="Method",
        text=(
            f"{result.settings['poles']} Sets and uniform random poles were fitted together by maximum "
            "likelihood as a mixture, number and shape of the sets by the Bayesian information "
            "criterion unless they were given. No bias of sampling is taken out, since none is "
            f"known.{weighed}",
            "Cones and intervals of κ are of each set's posterior, given the number of sets; those of "
            "shares are normal in the logit, by the observed information.",
        ),
        sources=("Fisher",),
    )
