"""Shares of several groups at once: as alike as the numbers say, and no more."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import betaln, xlogy

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike

#: Sizes of the beta distribution of the shares that are tried: the smaller, the less alike they are.
_SIZES = np.array([300.0, 100.0, 30.0, 10.0, 3.0, 1.0])
_ALIKE = 0.5  # prior probability that all are the same


class Shares(NamedTuple):
    """Shares of some groups, and whether they differ.

    Attributes
    ----------
    shares : ndarray, shape (J,)
    p_alike : float
        Probability that all groups have one share.

    Examples
    --------
    >>> Shares(np.array([0.5]), 1.0).p_alike
    1.0
    """

    shares: Array
    p_alike: float


def pooled_shares(found: ArrayLike, of: ArrayLike) -> Shares:
    """Share of each group, drawn towards the share of all as far as the groups are alike.

    `found` and `of` (J,) are the numbers with the property and in all. They are beta-binomial about
    the common share m: the share of a group is beta of mean m and size a. The evidence of each a
    weighs (found + m a) / (of + a); equal shares, a without end, have the prior probability one half
    (Skellam 1948, J. R. Statist. Soc. B 10:257-261, for the distribution; from memory). A group of
    none has the common share; with no group of any, shares are one.
    """
    number, whole = as_numbers(found, "found", low=0), as_numbers(of, "of", low=0)
    if number.shape != whole.shape or (number > whole).any():
        raise InputError("found must have as many values as of, none of them larger")
    total = whole.sum()
    share = float(number.sum() / total) if total else 1.0
    if share in (0.0, 1.0) or not total:
        return Shares(np.full(len(whole), share), 1.0)
    lost = whole - number
    same = float((xlogy(number, share) + xlogy(lost, 1.0 - share)).sum())
    a, b = share * _SIZES[:, np.newaxis], (1.0 - share) * _SIZES[:, np.newaxis]
    evidence = (betaln(number + a, lost + b) - betaln(a, b)).sum(axis=1)
    weights = np.exp(np.append(same, evidence) - max(same, evidence.max()))
    weights *= np.append(_ALIKE, np.full(len(_SIZES), (1.0 - _ALIKE) / len(_SIZES)))
    weights /= weights.sum()
    own = (number + a) / (whole + a + b)
    return Shares(weights[0] * share + weights[1:] @ own, float(weights[0]))
