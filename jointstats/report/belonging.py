"""How surely the fractures belong to their sets, as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.report.tables import Table
from jointstats.sets.membership import DOUBT, SURE, called, membership_groups

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

__all__ = ["membership_table"]


def _rivals(rival: list[str]) -> str:
    found, counts = np.unique(np.array(rival, dtype=str), return_counts=True)
    order = np.argsort(-counts, kind="stable")
    return ", ".join(f"{called(found[i])} {counts[i]}" for i in order) or "–"


def membership_table(result: SiteAnalysis) -> Table:
    """How many fractures of each set belong surely, likely, or in doubt, and between which sets.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table

    Examples
    --------
    >>> import jointstats as js
    >>> table = membership_table(js.analyse(js.simulate_site(random_state=1), n_sets=3))
    >>> [row[0] for row in table.rows]
    ['J1', 'J2', 'J3', 'unassigned']
    """
    rows = []
    for name, counts, rival in membership_groups(result):
        total = max(int(counts.sum()), 1)
        shares = [f"{n} ({100 * n / total:.0f} %)" for n in counts]
        rows.append((name, str(counts.sum()), *shares, _rivals(rival)))
    columns = (
        "Set",
        "Fractures",
        f"Sure: {SURE:g} or more",
        f"Likely: {DOUBT:g} to {SURE:g}",
        f"In doubt: below {DOUBT:g}",
        "Those in doubt could as well be",
    )
    return Table("Membership of the fractures in the fit", columns, tuple(rows), frozenset({5}))
