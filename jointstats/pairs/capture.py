"""How many fractures there are, and what each method sees of them, from what both saw."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import betaln, gammaln, ndtri

from jointstats.checks import check_confidence, check_number
from jointstats.errors import InputError
from jointstats.intervals import share_interval
from jointstats.types import Interval

_REACH = 50  # times what was seen: the most that is looked for


class Detection(NamedTuple):
    """What two methods saw of the same fractures."""

    n_first: float
    n_second: float
    n_both: float
    first_rate: float | None
    first_interval: Interval
    second_rate: float | None
    second_interval: Interval
    total: float
    total_interval: Interval


def _rate(
    both: float, seen: float, doubt: float, confidence: float
) -> tuple[float | None, Interval]:
    if seen <= 0:
        return None, (0.0, 1.0)
    share = min(both / seen, 1.0)
    chance = max(both * (1.0 - share), 0.25)
    # Pairs that are in doubt spread the count beyond the binomial; fewer trials spread as much.
    trials = seen * chance / (chance + doubt)
    return share, share_interval(share * trials, trials, confidence, method="Jeffreys")


def detection_rates(
    n_first: float,
    n_second: float,
    n_both: float,
    *,
    doubt: float = 0.0,
    confidence: float = 0.95,
) -> Detection:
    """Detection rate of two methods, and the number of all fractures, by capture and recapture.

    What one method saw is a sample for the other: the first saw n_both of the n_second. This
    holds where a fracture that one method sees is no likelier to be seen by the other. Where both
    miss the same kind (closed ones, say), rates come out too high and the total too low.

    Seber (1982), The Estimation of Animal Abundance, section 3.1; Brown, Cai & DasGupta (2001),
    Statistical Science 16:101-133 for the intervals (from memory).

    `n_first, n_second`: number seen by each method; `n_both`: number seen by both; `doubt`:
    variance of `n_both` from pairs that are in doubt. Gives rates with Jeffreys' intervals for a
    binomial share; None where there was nothing to see. Total by Chapman (1951); its interval is
    that of the posterior with Jeffreys' prior on the rates and 1/N on the number. Where nothing
    was seen by both, nothing bounds the total, and its upper limit is the end of what is looked
    for, 50 times what was seen.
    """
    first = check_number(n_first, "n_first", low=0)
    second = check_number(n_second, "n_second", low=0)
    both = check_number(n_both, "n_both", low=0)
    if both > min(first, second) + 1e-9:
        raise InputError(
            f"n_both must not exceed either number seen ({first:g}, {second:g}); got {both:g}"
        )
    level = check_confidence(confidence)
    first_rate, first_interval = _rate(both, second, doubt, level)
    second_rate, second_interval = _rate(both, first, doubt, level)
    total = (first + 1) * (second + 1) / (both + 1) - 1.0
    low, high = _total_interval(first, second, both, level)
    apart = float(ndtri(0.5 + 0.5 * level)) * np.sqrt(doubt) * total / (both + 1)
    low = max(total - np.hypot(total - min(low, total), apart), first + second - both)
    high = total + np.hypot(max(high, total) - total, apart)
    return Detection(
        first,
        second,
        both,
        first_rate,
        first_interval,
        second_rate,
        second_interval,
        total,
        (float(low), float(high)),
    )


def _total_interval(first: float, second: float, both: float, confidence: float) -> Interval:
    """Equal-tailed posterior interval of the number of all, rates given Jeffreys' prior, N 1/N.

    p(N) ∝ N! / (N − S)! B(n₁ + ½, N − n₁ + ½) B(n₂ + ½, N − n₂ + ½) / N, S being all that were
    seen.
    """
    seen = first + second - both
    unseen = np.arange(_REACH * (seen + 10.0))
    n = seen + unseen
    log_chance = gammaln(n + 1) - gammaln(unseen + 1) - np.log(np.maximum(n, 0.5))
    log_chance += betaln(first + 0.5, n - first + 0.5) + betaln(second + 0.5, n - second + 0.5)
    chance = np.exp(log_chance - log_chance.max())
    reached = np.cumsum(chance) / chance.sum()
    tail = 0.5 * (1.0 - confidence)
    low, high = np.searchsorted(reached, [tail, 1.0 - tail])
    return float(n[low]), float(n[min(high, len(n) - 1)])
