"""The numbers of sets that a fit tried, and how near each came to the best."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


@dataclass(frozen=True)
class Tried:
    """One number of sets: how far its BIC stands above the lowest, and what became of it."""

    n_sets: int
    bic_above: float
    outcome: str


def tried_numbers(result: SiteAnalysis) -> tuple[Tried, ...]:
    """The numbers of sets in the order in which they were tried; none if the number was given."""
    trials = getattr(result.mixture, "trials_", ())
    if not trials:
        return ()
    best = min((one.bic for one in trials if np.isfinite(one.bic)), default=0.0)
    kept = [place for place, one in enumerate(trials) if one.verdict == "accepted"]
    outcome = [one.verdict for one in trials]
    for place in kept:
        outcome[place] = "better than fewer" if place else "the start"
    if kept:
        outcome[kept[-1]] = "chosen"
    return tuple(
        Tried(one.n_sets, one.bic - best, told) for one, told in zip(trials, outcome, strict=True)
    )
