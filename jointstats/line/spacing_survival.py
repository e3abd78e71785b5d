"""Shares and quantiles of the spacings of a set, free of any law, the censored pieces counted."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from jointstats.checks import as_numbers
from jointstats.errors import InputError
from jointstats.line.spacing import SpacingStatistics
from jointstats.line.spacing_terms import SPACING_EDGES_M, SPACING_TERMS
from jointstats.results import Result
from jointstats.types import Array, ArrayLike


class SpacingQuantile(Result):
    """A quantile of the spacings with its interval; None where the log is too short to tell.

    Attributes
    ----------
    share : float
        Share of the spacings that do not exceed it.
    spacing_m, low_m, high_m : float or None
        The quantile and its limits, metres.

    Examples
    --------
    >>> SpacingQuantile(0.5, 0.4, 0.3, 0.6)
    SpacingQuantile(share=0.5, spacing_m=0.4, low_m=0.3, high_m=0.6)
    """

    share: float
    spacing_m: float | None
    low_m: float | None
    high_m: float | None


class SpacingCurve(Result):
    """Share of the spacings that are wider than each length.

    Attributes
    ----------
    spacing_m : ndarray, shape (m,)
        Lengths at which the share falls, rising, metres.
    wider : ndarray, shape (m,)
        Share of the spacings wider than each, falling.
    spread : ndarray, shape (m,)
        Standard error of log(−log wider) at each; infinite where wider is 0 or 1.
    confidence : float

    Examples
    --------
    >>> import jointstats as js
    >>> data = js.line.set_spacing([1, 2, 4, 7, 11], [0, 0, 1], [0, 0, 1])
    >>> spacing_curve(data).wider
    array([0.75, 0.5 , 0.25, 0.  ])
    """

    spacing_m: Array
    wider: Array
    spread: Array
    confidence: float

    def share_wider(self, spacing_m: ArrayLike) -> Array:
        """Share of the spacings wider than each given one.

        Beyond the widest that the log shows it keeps its last value.
        """
        spacing = as_numbers(spacing_m, "spacing_m", low=0)
        at = np.searchsorted(self.spacing_m, spacing, side="right")
        return np.concatenate([[1.0], self.wider])[at]

    def quantile(self, share: float) -> SpacingQuantile:
        """Spacing that a share of the spacings does not exceed, with its interval.

        The interval holds every length whose share the sample can't tell from the one asked for
        (Brookmeyer & Crowley 1982, Biometrics 38:29-41, with the log-log transformation; from
        memory).
        """
        if not 0 < share < 1:
            raise InputError(f"share must lie between 0 and 1; got {share}")
        wanted = 1.0 - share
        z = float(ndtri(0.5 * (1.0 + self.confidence)))
        inner = (self.wider > 0) & (self.wider < 1)
        log_log = np.log(-np.log(np.where(inner, self.wider, 0.5)))
        off = (log_log - np.log(-np.log(wanted))) / np.where(inner, self.spread, 1.0)
        # Before the first fall nothing is known below it; at zero nothing above it.
        off = np.where(inner, off, np.where(self.wider <= 0, np.inf, -np.inf))
        return SpacingQuantile(
            float(share),
            self._first(self.wider <= wanted + 1e-12),
            self._first(off > -z),
            self._first(off > z),
        )

    def _first(self, reached: NDArray[np.bool_]) -> float | None:
        return float(self.spacing_m[np.argmax(reached)]) if reached.any() else None

    def limits(self) -> tuple[Array, Array]:
        """Interval of each share, shape (m,) each; from 0 to 1 where its error is not known."""
        reach = float(ndtri(0.5 * (1.0 + self.confidence))) * self.spread
        known = np.isfinite(reach)
        log_log = np.log(-np.log(np.where(known, self.wider, 0.5)))
        reach = np.where(known, reach, 0.0)
        low, high = (np.exp(-np.exp(log_log + sign * reach)) for sign in (1.0, -1.0))
        return np.where(known, low, 0.0), np.where(known, high, 1.0)

    def to_frame(self) -> pd.DataFrame:
        """One row a length: spacing_m, share_wider."""
        return pd.DataFrame({"spacing_m": self.spacing_m, "share_wider": self.wider})


def spacing_curve(spacing: SpacingStatistics) -> SpacingCurve:
    """Share of the spacings wider than each length, the censored pieces counted.

    The product-limit estimate (Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481; from memory).
    Walking down the hole from each fracture, the last spacing is cut by the end of the log; walking
    up, the first. Both walks are fair, so each censored piece counts half and each complete spacing
    once.

    Parameters
    ----------
    spacing : SpacingStatistics

    Returns
    -------
    SpacingCurve

    Raises
    ------
    InputError
        If there is no complete spacing.

    Examples
    --------
    Of five spacings, one 3 m wide is cut at both ends of the log: the plain share wider than 2 m
    would be none.

    >>> import numpy as np
    >>> data = SpacingStatistics(np.array([1.0, 1.0, 1.0, 2.0]), np.array([3.0, 3.0]))
    >>> spacing_curve(data).share_wider([1.0, 2.0]).round(2)
    array([0.4, 0.2])
    """
    if spacing.n == 0:
        raise InputError("there is no complete spacing, so no share of them; pool the holes")
    values, number = np.unique(spacing.spacings_m, return_counts=True)
    complete, cut = np.sort(spacing.spacings_m), np.sort(spacing.censored_m)
    at_risk = len(complete) - np.searchsorted(complete, values)
    at_risk = at_risk + 0.5 * (len(cut) - np.searchsorted(cut, values))
    wider = np.cumprod(1.0 - number / at_risk)
    wider[wider < 1e-12] = 0.0
    left = np.maximum(at_risk - number, 1e-300)
    # Greenwood's variance of log S, carried to log(−log S).
    greenwood = np.cumsum(np.where(at_risk > number, number / (at_risk * left), 0.0))
    inner = (wider > 0) & (wider < 1)
    log_wider = np.log(np.where(inner, wider, 0.5))
    spread = np.where(inner, np.sqrt(greenwood) / np.abs(log_wider), np.inf)
    return SpacingCurve(values, wider, spread, spacing.confidence)


def spacing_classes(spacing: SpacingStatistics) -> pd.DataFrame:
    """Share of the spacings in each class of the ISRM.

    Parameters
    ----------
    spacing : SpacingStatistics

    Returns
    -------
    pandas.DataFrame
        One row a class: term, from_m, to_m (None for the last), n (complete spacings), share (of
        the complete spacings), share_corrected (censored pieces counted; what the log was too short to
        see stands in the class of the widest), share_of_length (of the length of the complete
        spacings). Shares are None without a complete spacing.

    References
    ----------
    ISRM (1978), in Brady & Brown, Rock Mechanics for Underground Mining, p. 54. A spacing at a class
    edge belongs to the wider class.

    Examples
    --------
    >>> import jointstats as js
    >>> table = spacing_classes(js.line.set_spacing([0.0, 0.1, 0.5, 0.6], [0, 0, 1], [0, 0, 1]))
    >>> table[table["n"] > 0][["term", "n", "share"]].round(2).to_dict("list")
    {'term': ['close', 'moderate'], 'n': [2, 1], 'share': [0.67, 0.33]}
    """
    edges = np.array(SPACING_EDGES_M)
    number = np.bincount(np.searchsorted(edges, spacing.spacings_m, "right"), minlength=7)
    length = np.bincount(
        np.searchsorted(edges, spacing.spacings_m, "right"),
        weights=spacing.spacings_m,
        minlength=7,
    )
    table = pd.DataFrame(
        {
            "term": SPACING_TERMS,
            "from_m": [0.0, *SPACING_EDGES_M],
            "to_m": pd.array([*SPACING_EDGES_M, None], dtype="object"),
            "n": number,
            "share": None,
            "share_corrected": None,
            "share_of_length": None,
        }
    )
    if spacing.n:
        # Wider than "just below the edge": a value at the edge counts to the wider class.
        wider = spacing_curve(spacing).share_wider(np.nextafter(edges, 0.0))
        corrected = -np.diff(np.concatenate([[1.0], wider, [0.0]]))
        widest = int(np.searchsorted(edges, spacing.spacings_m.max(), "right"))
        corrected[widest] += corrected[widest + 1 :].sum()
        corrected[widest + 1 :] = 0.0
        table["share"] = number / spacing.n
        table["share_corrected"] = corrected
        if length.sum() > 0:
            table["share_of_length"] = length / length.sum()
    return table
