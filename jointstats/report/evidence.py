"""How far each quantity of each set may be relied on, and every caution."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.report.section import Section, Table
from jointstats.sets.reliability import rules

if TYPE_CHECKING:
    from jointstats.sets.fitted import Reported


def section(result: Reported) -> Section:
    """A row for each quantity of each set: confidence, what it rests on, what is against it."""
    rows = tuple(
        (
            one.about,
            one.quantity,
            one.confidence,
            one.rests_on,
            "; ".join(one.against) or "–",
            "; ".join(one.mend) or "–",
        )
        for one in result.evidence
    )
    columns = ("Set", "Quantity", "Confidence", "Rests on", "Against it", "What would mend it")
    table = Table("Confidence in each quantity", columns, rows, frozenset(range(1, 6)))
    return Section(
        name="evidence",
        title="What each figure rests on",
        tables=(table,) if rows else (),
        text=() if rows else ("There is no set to judge.",),
        notes=(rules(),),
        definitions=("confidence cone",),
        wide=True,
    )


def cautions(result: Reported) -> Section:
    """Every caution in full."""
    return Section(
        name="cautions",
        title="Cautions",
        items=tuple((one.about, one.text) for one in result.cautions),
        wide=True,
    )
