"""Intervals of counts and shares, and p-values corrected for their number."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy.optimize import brentq
from scipy.special import bdtr, betaincinv, gammaincinv, pdtr, pdtrc

from jointstats.checks import check_confidence, check_number
from jointstats.errors import InputError
from jointstats.types import Array, ArrayLike


def poisson_interval(
    count: float, confidence: float = 0.95, *, method: Literal["exact", "mid-p"] = "exact"
) -> tuple[float, float]:
    """Confidence interval of the mean of a Poisson count.

    Parameters
    ----------
    count : float
        Number counted, zero or more. A sum of shares need not be whole.
    confidence : float
        Between 0 and 1.
    method : {"exact", "mid-p"}
        "exact" never covers less than `confidence`, and for small counts covers more. "mid-p"
        takes half the chance of the count itself from each tail: coverage is close to
        `confidence` on average, now above and now below it.

    Returns
    -------
    (float, float)
        Lower and upper limit, in the unit of the count.

    Raises
    ------
    InputError
        If `count` is negative or not finite, or another argument is out of range.

    References
    ----------
    Garwood F. (1936), Fiducial limits for the Poisson distribution, Biometrika 28:437-442
    (from memory).

    Examples
    --------
    >>> low, high = poisson_interval(10)
    >>> round(low, 3), round(high, 3)
    (4.795, 18.39)
    """
    n = check_number(count, "count", low=0)
    tail = 0.5 * (1.0 - check_confidence(confidence))
    if method not in ("exact", "mid-p"):
        raise InputError(f'method must be "exact" or "mid-p"; got {method!r}')
    # χ²_p(2a) / 2 is the quantile of a gamma variable of shape a.
    low = float(gammaincinv(n, tail)) if n > 0 else 0.0
    high = float(gammaincinv(n + 1.0, 1.0 - tail))
    if method == "exact":
        return low, high
    if n != int(n):
        raise InputError(f"the mid-p interval needs a whole count; got {count}")
    return _mid_p(int(n), tail, low, high)


@lru_cache(maxsize=4096)
def _mid_p(n: int, tail: float, low: float, high: float) -> tuple[float, float]:
    """Solve ½ P(n) + P(more or fewer) = tail; the exact limits bracket the roots."""

    def above(mean: float) -> float:
        return 0.5 * (pdtrc(n, mean) + pdtrc(n - 1, mean)) - tail

    def below(mean: float) -> float:
        fewer = pdtr(n - 1, mean) if n else 0.0
        return 0.5 * (pdtr(n, mean) + fewer) - tail

    lower = float(brentq(above, low, n)) if n else 0.0
    return lower, float(brentq(below, n, high))


def median_interval(values: ArrayLike, confidence: float = 0.95) -> tuple[float, float] | None:
    """Interval of a median by the order of the values; None where they are too few for one.

    Of any law: the number of values below the true median is binomial (n, 1/2).

    >>> median_interval([1, 2, 3, 4, 5, 6]), median_interval([1, 2, 3])
    ((1.0, 6.0), None)
    """
    ordered = np.sort(np.asarray(values, dtype=float))
    n = len(ordered)
    tail = 0.5 * (1.0 - check_confidence(confidence))
    place = int(np.searchsorted(bdtr(np.arange(n + 1), n, 0.5), tail)) if n else 0
    return (float(ordered[place - 1]), float(ordered[n - place])) if place else None


def uniform_order_limits(n: int, confidence: float = 0.95) -> tuple[Array, Array, Array]:
    """Lower limit, centre and upper limit of each of n ordered uniform numbers, shape (n,) each.

    The i-th has the law Beta(i, n + 1 − i); the limits hold for each number alone.

    >>> low, centre, high = uniform_order_limits(1, 0.9)
    >>> low.round(2), centre, high.round(2)
    (array([0.05]), array([0.5]), array([0.95]))
    """
    place = np.arange(1, n + 1)
    tail = 0.5 * (1.0 - check_confidence(confidence))
    low, high = (betaincinv(place, n + 1.0 - place, share) for share in (tail, 1.0 - tail))
    return low, (place - 0.5) / max(n, 1), high


def gamma_limits(shape: float, confidence: float) -> Array:
    """Lower and upper limit (2,) of a gamma variable of this shape and a scale of one."""
    tail = 0.5 * (1.0 - check_confidence(confidence))
    return np.asarray(gammaincinv(shape, [tail, 1.0 - tail]))


def share_interval(
    count: float, n: float, confidence: float, *, method: Literal["exact", "Jeffreys"] = "exact"
) -> tuple[float, float]:
    """Interval of the share that `count` is of `n`.

    Exact: Clopper & Pearson (1934), Biometrika 26:404-413; Jeffreys' prior: Brown, Cai & DasGupta
    (2001), Stat. Sci. 16:101-133 (both from memory). The second covers as often on average, and
    takes counts that are not whole.
    """
    tail = 0.5 * (1.0 - check_confidence(confidence))
    half = 0.5 if method == "Jeffreys" else 0.0
    rest = n - count
    low = betaincinv(count + half, rest + 1.0 - half, tail) if count > 0 else 0.0
    high = betaincinv(count + 1.0 - half, rest + half, 1.0 - tail) if rest > 0 else 1.0
    return float(low), float(high)


def holm(pvalues: Sequence[float] | Array) -> Array:
    """p-values (m,) corrected for their number, so that the chance of any false one is kept.

    Holm (1979), Scandinavian J. Statistics 6:65-70 (from memory): the smallest times m, the next
    times m − 1, …, none below one before it, none above 1.
    """
    values = np.asarray(pvalues, dtype=float)
    order = np.argsort(values, kind="stable")
    raised = values[order] * np.arange(len(values), 0, -1)
    corrected = np.empty(len(values))
    corrected[order] = np.minimum(np.maximum.accumulate(raised), 1.0)
    return corrected
