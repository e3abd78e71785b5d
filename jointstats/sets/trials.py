"""The numbers of sets that a fit tried, and how near the next best came."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

#: A number of sets within so much of the best BIC describes the rock about as well: beyond it the
#: evidence is called very strong (Kass & Raftery 1995, J. Am. Stat. Assoc. 90:773-795; from memory).
NEAR_BIC = 10.0


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


def rival_number(result: SiteAnalysis) -> Tried | None:
    """Another number of sets that describes the rock about as well as the one chosen."""
    near = [
        one
        for one in tried_numbers(result)
        if one.n_sets != len(result.sets) and one.bic_above < NEAR_BIC and "too few" not in one.outcome
    ]
    return min(near, key=lambda one: one.bic_above, default=None)
