"""How surely the fractures belong to their sets."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from jointstats.report.section import Section, Table
from jointstats.sets.membership import (
    DOUBT,
    SURE,
    called,
    membership_finding,
    membership_groups,
)

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def section(result: SiteAnalysis) -> Section:
    """The finding, and a row a set."""
    return Section(
        name="membership",
        title="Membership",
        text=(membership_finding(result),),
        tables=(membership_table(result),),
        definitions=("membership",),
        wide=True,
    )


def membership_table(result: SiteAnalysis) -> Table:
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
