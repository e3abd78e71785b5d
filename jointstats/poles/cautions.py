"""What a reader of an analysis of poles must bear in mind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.sets.cautions import orientation_cautions
from jointstats.sets.reliability import ALL_SETS, Caution
from jointstats.words import percent

if TYPE_CHECKING:
    from jointstats.sets.fitted import HasSets

#: What only a sampling can give, as the page says it.
LEFT_OUT = (
    "P32, spacing, frequency, RQD and the blind zone need to know how the rock was sampled: which "
    "lines or faces, how long or large, in which direction. A table of poles doesn't say, so none of "
    "them is given"
)


def cautions_of_poles(result: HasSets) -> tuple[Caution, ...]:
    """Those of sets and readings, then of the sampling that is not known, the table and the fit."""
    found = orientation_cautions(result)
    found.append(
        Caution(
            ALL_SETS,
            f"{LEFT_OUT}. A line or face meets few of the planes that lie along it: such planes are "
            "fewer here than in the rock, and their sets may be missing. Shares, means and κ are those "
            "of the table.",
            "orientation",
            "sampling not known",
            "the lines or faces that were sampled, as a site",
        )
    )
    counts = result.counts
    if counts.not_oriented:
        found.append(
            Caution(
                "the table",
                f"{counts.not_oriented} of {counts.total} rows "
                f"({percent(counts.not_oriented / counts.total)}) have no orientation and are in no set.",
            )
        )
    return (*found, *(Caution("the table", note) for note in result.notes))
