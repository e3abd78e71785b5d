"""Rows of the page's tables, every figure already in words with its unit and interval."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import binom

from jointstats.line.quality import rqd_from_frequency
from jointstats.plots.palette import set_style
from jointstats.sets.reliability import Use, how_sure, uses_of
from jointstats.words import listed, number, within

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = [
    "SetRow",
    "Table",
    "account_table",
    "assignment_line",
    "condition_table",
    "hole_table",
    "methods_line",
    "set_rows",
    "spacing_table",
    "trial_table",
]


@dataclass(frozen=True)
class SetRow:
    """What the first table says of one set.

    Attributes
    ----------
    name, slot, marker : str, int, str
        Name, number of its colour, path of its marker.
    dip, direction, cone, kappa, kappa_within, kappa_rock, p32, p32_within : str
    spacing, spacing_within, term, n, seen, sure : str
    uses : tuple of Use
        Orientation, frequency, spacing.

    Examples
    --------
    >>> SetRow.__name__
    'SetRow'
    """

    name: str
    slot: int
    marker: str
    dip: str
    direction: str
    cone: str
    kappa: str
    kappa_within: str
    kappa_rock: str
    p32: str
    p32_within: str
    spacing: str
    spacing_within: str
    term: str
    n: str
    seen: str
    sure: str
    uses: tuple[Use, ...]


@dataclass(frozen=True)
class Table:
    """A plain table: the first cell of each row is its header.

    Attributes
    ----------
    caption : str
    columns : tuple of str
    rows : tuple of tuple of str
    words : frozenset of int
        Columns that hold words, not figures, and so stand at the left.

    Examples
    --------
    >>> Table("Empty", ("a",), ()).rows
    ()
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: frozenset[int] = field(default_factory=frozenset)


# One marker a set, in a box of 12 by 12, as the pictures draw them.
_MARKERS = {
    "o": "M6 1a5 5 0 1 0 .01 0z",
    "s": "M1.5 1.5h9v9h-9z",
    "^": "M6 .8 11.4 10.8H.6z",
    "D": "M6 .4 11.6 6 6 11.6.4 6z",
    "v": "M6 11.2.6 1.2h10.8z",
    "P": "M4 1h4v3h3v4H8v3H4V8H1V4h3z",
    "X": "M3.2.8 6 3.6 8.8.8l2.4 2.4L8.4 6l2.8 2.8-2.4 2.4L6 8.4l-2.8 2.8L.8 8.8 3.6 6 .8 3.2z",
    "p": "M6 .8 11.2 4.6 9.2 10.8H2.8L.8 4.6z",
}


def set_rows(result: SiteAnalysis) -> list[SetRow]:
    """The first table: one row a set.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of SetRow

    Examples
    --------
    >>> import jointstats as js
    >>> [row.name for row in set_rows(js.analyse(js.simulate_site(random_state=1), n_sets=3))]
    ['J1', 'J2', 'J3']
    """
    return [_set_row(position, one) for position, one in enumerate(result.sets)]


def _set_row(position: int, one: JointSet) -> SetRow:
    style = set_style(position)
    spacing = one.spacing
    return SetRow(
        name=one.name,
        slot=style.slot,
        marker=_MARKERS[style.marker],
        dip=f"{one.dip_deg:.0f}°",
        direction=f"{round(one.dip_direction_deg) % 360:03d}°",
        cone=f"{one.cone_deg:.1f}°",
        kappa=number(one.kappa, 2),
        kappa_within=within(one.kappa_interval, 2),
        kappa_rock=_kappa_rock(one),
        p32=number(one.p32_per_m),
        p32_within=within(one.p32_interval),
        spacing="not known" if spacing.mean_m is None else f"{number(spacing.mean_m, 2)} m",
        spacing_within=_spacing_within(one),
        term=one.spacing.term or "",
        n=str(one.n),
        seen=f"{100 * one.seen_share:.0f} %",
        sure=how_sure(one),
        uses=uses_of(one),
    )


def _kappa_rock(one: JointSet) -> str:
    if one.reading_error_deg is None:
        return ""
    low, high = one.kappa_rock_interval
    over = "" if low is None else f"over {number(low, 2)}"
    if one.kappa_rock is None:
        told = "reading errors explain all of the scatter"
        return f"{told}; without them {over}" if over else told
    between = within((low, high), 2) if low is not None and high is not None else over
    return f"without reading errors {number(one.kappa_rock, 2)} ({between})"


def _spacing_within(one: JointSet) -> str:
    interval = one.spacing.mean_interval_m
    if interval is None:
        return ""
    low, high = interval
    return f"over {number(low, 2)} m" if high is None else f"{within((low, high), 2)} m"


def spacing_table(result: SiteAnalysis) -> Table:
    """Spacing of each set in full.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table

    Examples
    --------
    >>> import jointstats as js
    >>> len(spacing_table(js.analyse(js.simulate_site(random_state=1), n_sets=3)).rows)
    3
    """
    rows = [
        (
            one.name,
            str(one.spacing.n),
            str(one.spacing.n_cut),
            number(one.spacing.mean_m, 2),
            _spacing_within(one).removesuffix(" m") or "–",
            number(one.spacing.mean_complete_m, 2),
            _median(one),
            number(1.0 / one.p32_per_m if one.p32_per_m > 0 else None, 2),
            one.spacing_term,
        )
        for one in result.sets
    ]
    columns = (
        "Set",
        "Spacings",
        "Cut by an end",
        "Mean, m",
        "Its interval, m",
        "Mean of the complete ones, m",
        "Median (interval), m",
        "1 / P32, m",
        "ISRM term",
    )
    return Table("Normal spacing of each set", columns, tuple(rows), frozenset({8}))


def _median(one: JointSet) -> str:
    """Median spacing, with the interval that the order of the spacings gives."""
    ordered = np.sort(one.spacing.spacings_m)
    n = len(ordered)
    # The number of spacings below the true median is binomial (n, 1/2).
    place = int(binom.ppf(0.5 * (1.0 - one.confidence), n, 0.5)) if n else 0
    middle = number(one.spacing.median_m, 2)
    if place < 1:
        return middle
    return f"{middle} ({within((ordered[place - 1], ordered[n - place]), 2)})"


def hole_table(result: SiteAnalysis) -> Table:
    """What was logged: one row a hole.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table

    Examples
    --------
    >>> import jointstats as js
    >>> hole_table(js.analyse(js.simulate_site(random_state=1), n_sets=3)).columns[0]
    'Hole'
    """
    rows = []
    for line, row in zip(result.sampling.lines, result.holes.to_dict("records"), strict=True):
        rows.append(
            (
                str(row["hole"]),
                f"{round(row['trend_deg']) % 360:03d}° / {round(row['plunge_deg'])}°".replace("-", "−"),
                number(line.length_m),
                number(row["logged_m"]),
                number(line.gaps.total_m) if line.gaps else "none",
                listed(sorted(line.methods)) or "–",
                str(row["n"]),
                str(row["n_oriented"]),
                number(row["p10_per_m"]),
                within((row["p10_low_per_m"], row["p10_high_per_m"])),
                _rqd(row),
            )
        )
    columns = (
        "Hole",
        "Trend / plunge",
        "Length, m",
        "Logged, m",
        "Not logged, m",
        "Method",
        "Fractures",
        "Oriented",
        "P10, 1/m",
        "Interval, 1/m",
        "Theoretical RQD, %",
    )
    return Table("What was logged, hole by hole", columns, tuple(rows), frozenset({5}))


def _rqd(row: dict[str, float]) -> str:
    """Theoretical RQD, with the ends that the interval of P10 gives it."""
    if not np.isfinite(row["rqd_theoretical"]):
        return "–"
    ends = [float(rqd_from_frequency(row[f"p10_{end}_per_m"])) for end in ("high", "low")]
    return f"{number(row['rqd_theoretical'])} ({within((ends[0], ends[1]))})"


def methods_line(result: SiteAnalysis) -> str:
    """How many fractures each method gave, and how to compare the two; empty with one method.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> methods_line(js.analyse(js.simulate_site(random_state=1), n_sets=3))
    ''
    """
    fractures = result.fractures
    if "method" not in fractures:
        return ""
    named = fractures["method"].fillna("").astype(str)
    counts = named[named != ""].value_counts(sort=False).sort_index()
    if len(counts) < 2:
        return ""
    each = listed([f"{n} by {method}" for method, n in counts.items()])
    return (
        f"Of the fractures, {each}. The fit takes them alike; where two methods saw one hole, "
        "`jointstats match` sets them side by side."
    )


def assignment_line(result: SiteAnalysis) -> str:
    """Why the number of fractures assigned is not that expected of the sets.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str
        Empty without a set.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> assignment_line(result).split(" sum")[0]
    'P32 times exposure, over the sets,'
    """
    if not result.sets:
        return ""
    expected = sum(one.n_expected for one in result.sets)
    more = result.counts.in_a_set > expected
    return (
        f"P32 times exposure, over the sets, sums to {expected:.0f} fractures; "
        f"{result.counts.in_a_set} are assigned. Each goes whole to its largest membership, which "
        f"{'takes some of the background along' if more else 'leaves some to the background'}."
    )


def account_table(result: SiteAnalysis) -> Table:
    """What became of every fracture of the tables.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table

    Examples
    --------
    >>> import jointstats as js
    >>> account_table(js.analyse(js.simulate_site(random_state=1), n_sets=3)).rows[-1][0]
    'All fractures'
    """
    counts = result.counts
    rows = [(f"In {one.name}", str(one.n), "In the fit and assigned") for one in result.sets]
    rows += [
        ("Unassigned", str(counts.unassigned), "In the fit, nearer the background than any set"),
        (
            "Below the blind angle",
            str(counts.below_blind_angle),
            f"Less than {result.exposure.blind_angle_deg:g}° to their hole: left "
            "out of the fit; those near a set count in its spacings",
        ),
        ("Not oriented", str(counts.not_oriented), "In P10 and RQD, in no set"),
        (
            "Seen by a second method",
            str(counts.other_method),
            "Outside the lengths that count for their method: left out, so that none counts twice",
        ),
        ("All fractures", str(counts.total), "Every row of the fracture table"),
    ]
    return Table(
        "Every fracture, counted once",
        ("Fractures", "Number", "What it means"),
        tuple(rows),
        frozenset({2}),
    )


# Terms of one set and one column that are named; the rest are summed.
_MOST_TERMS = 5


def condition_table(result: SiteAnalysis) -> Table | None:
    """Condition of the fractures of each set, a row for each column of the tables that has words.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table or None
        None if the tables describe no condition.

    Examples
    --------
    >>> import jointstats as js
    >>> condition_table(js.analyse(js.simulate_site(random_state=1), n_sets=3)) is None
    True
    """
    found = result.condition
    if found.empty:
        return None
    rows = []
    for (name, column), own in found.groupby(["set", "column"], sort=False):
        terms = [
            f"{row['term']} {row['n']} ({100 * row['share']:.0f} %, "
            f"{100 * row['low']:.0f} to {100 * row['high']:.0f} %)"
            for row in own.head(_MOST_TERMS).to_dict("records")
        ]
        rest = own.iloc[_MOST_TERMS:]
        if len(rest):
            terms.append(
                f"{len(rest)} other {'term' if len(rest) == 1 else 'terms'} {rest['n'].sum()} "
                f"({100 * rest['share'].sum():.0f} %)"
            )
        described = f"{own['described'].iloc[0]} of {own['total'].iloc[0]}"
        rows.append((str(name), str(column).capitalize(), described, "; ".join(terms)))
    return Table(
        "Condition of the fractures of each set: number, share of those described, interval",
        ("Set", "Property", "Described", "Terms"),
        tuple(rows),
        frozenset({1, 3}),
    )


def trial_table(result: SiteAnalysis) -> Table | None:
    """The numbers of sets that were tried.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table or None
        None if the analysis keeps no trials.

    Examples
    --------
    >>> import jointstats as js
    >>> trial_table(js.analyse(js.simulate_site(random_state=1))).columns[0]
    'Sets'
    """
    trials = getattr(result.mixture, "trials_", ())
    if not trials:
        return None
    best = min(trial.bic for trial in trials if np.isfinite(trial.bic))
    kept = [place for place, trial in enumerate(trials) if trial.verdict == "accepted"]
    outcome = [trial.verdict for trial in trials]
    for place in kept:
        outcome[place] = "better than fewer" if place else "the start"
    if kept:
        outcome[kept[-1]] = "chosen"
    rows = tuple(
        (str(trial.n_sets), f"{trial.bic - best:.1f}", told)
        for trial, told in zip(trials, outcome, strict=True)
    )
    return Table(
        "Numbers of sets that were tried, in order",
        ("Sets", "BIC above the lowest", "Outcome"),
        rows,
        frozenset({2}),
    )
