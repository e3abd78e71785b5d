"""Fractures without an orientation: how far P32 moves if it was not by chance that they lost it."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from jointstats.checks import as_numbers, check_number
from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike

#: How many times as often as the rest a set may have lost its orientation, or as seldom.
TIMES = 3.0


def loss_factors(shares: ArrayLike, lost: float, times: float = TIMES) -> Array:
    """What P32 of sets is multiplied by if they lost their orientation `times` as often as the rest.

    `shares` (K,) are those of the sets among the oriented fractures, `lost` that of all fractures that
    have no orientation. Of N oriented fractures p N are of the set; with chances ℓ of the others and
    R ℓ of the set, N (p R ℓ / (1 − R ℓ) + (1 − p) ℓ / (1 − ℓ)) have lost it, which gives ℓ. The
    factor is (1 − lost) / (1 − R ℓ).
    """
    share = as_numbers(shares, "shares", low=0, high=1)
    gone, ratio = check_number(lost, "lost"), check_number(times, "times", low=0)
    if not 0 <= gone < 1 or ratio == 0:
        raise InputError(f"lost must lie from 0 up to 1 and times above 0; got {lost}, {times}")
    return np.array([(1.0 - gone) / (1.0 - ratio * _chance(p, gone, ratio)) for p in share])


def _chance(share: float, lost: float, times: float) -> float:
    """Chance ℓ of the other fractures to have lost their orientation."""
    if lost == 0:
        return 0.0
    odds = lost / (1.0 - lost)

    def excess(chance: float) -> float:
        own = times * chance
        return share * own / (1.0 - own) + (1.0 - share) * chance / (1.0 - chance) - odds

    top = min(1.0, 1.0 / times) * (1.0 - 1e-12)
    # With no fracture of the set, or none but of it, the loss of one of the two says nothing.
    return float(brentq(excess, 0.0, top)) if excess(top) > 0 else top
