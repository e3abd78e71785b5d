"""Rock quality designation and the volumetric joint count."""

from __future__ import annotations

import warnings
from collections.abc import Sequence

import numpy as np

from jointstats.borehole.spans import Spans
from jointstats.checks import as_numbers, check_interval, check_number
from jointstats.errors import InputError, JointStatsWarning
from jointstats.types import Array, ArrayLike


def _like(values: Array, given: ArrayLike) -> float | Array:
    return float(values[0]) if np.ndim(given) == 0 else values


def rqd_from_frequency(frequency_per_m: ArrayLike, threshold_m: float = 0.1) -> float | Array:
    """Theoretical rock quality designation of fractures at random along a line.

    Parameters
    ----------
    frequency_per_m : array_like, shape (n,) or scalar
        Fractures per metre of the line, zero or more.
    threshold_m : float
        Shortest sound piece that counts, metres.

    Returns
    -------
    float or ndarray, shape (n,)
        Percent of the length that stands in pieces of at least the threshold t:
        100 exp(−λt)(λt + 1).

    Raises
    ------
    InputError
        If a frequency or the threshold is negative or not finite.

    References
    ----------
    Priest S.D., Hudson J.A. (1976), Discontinuity spacings in rock, Int. J. Rock Mech. Min. Sci.
    13:135-148. Holds for exponential spacings; regular spacings give more, clustered ones too.

    Examples
    --------
    >>> round(rqd_from_frequency(10.0), 2)
    73.58
    """
    frequency = as_numbers(frequency_per_m, "frequency_per_m", low=0)
    product = frequency * check_number(threshold_m, "threshold_m", low=0)
    # Beyond 1000 the result is zero in any case, and 0 · inf must not arise.
    product = np.minimum(product, 1e3)
    return _like(100.0 * np.exp(-product) * (product + 1.0), frequency_per_m)


def rqd_linear(frequency_per_m: ArrayLike) -> float | Array:
    """Rock quality designation by the linear rule, for comparison with other people's figures.

    Parameters
    ----------
    frequency_per_m : array_like, shape (n,) or scalar
        Fractures per metre; the rule is stated for 6 to 16.

    Returns
    -------
    float or ndarray, shape (n,)
        110.4 − 3.68 λ, percent, kept within 0 to 100: the tangent to `rqd_from_frequency` at 10.

    Raises
    ------
    InputError
        If a frequency is negative or not finite.

    Warns
    -----
    JointStatsWarning
        Outside 6 to 16 fractures per metre.

    References
    ----------
    Priest S.D., Hudson J.A. (1976), Int. J. Rock Mech. Min. Sci. 13:135-148.

    Examples
    --------
    >>> round(rqd_linear(10.0), 2)
    73.6
    """
    frequency = as_numbers(frequency_per_m, "frequency_per_m", low=0)
    if ((frequency < 6) | (frequency > 16)).any():
        warnings.warn(
            "the linear rule for RQD holds for 6 to 16 fractures per metre; use "
            "rqd_from_frequency outside it",
            JointStatsWarning,
            stacklevel=2,
        )
    return _like(np.clip(110.4 - 3.68 * frequency, 0.0, 100.0), frequency_per_m)


def rqd_from_depths(
    depths_m: ArrayLike,
    from_m: float,
    to_m: float,
    threshold_m: float = 0.1,
    *,
    lost: Sequence[tuple[float, float]] = (),
) -> float:
    """Rock quality designation measured along a logged length.

    Parameters
    ----------
    depths_m : array_like, shape (n,)
        Depths of all fractures, metres, any order; those outside the length are left out.
    from_m, to_m : float
        The logged length. Its ends are taken as breaks, as the ends of a core run are.
    threshold_m : float
        Shortest sound piece that counts, metres. A piece of just this length counts.
    lost : sequence of (float, float)
        Lengths of lost core, metres: they count in the length and in no piece (ASTM D6032, from
        memory).

    Returns
    -------
    float
        Percent of the length that stands in pieces of at least the threshold. On a long line of
        random fractures its mean is `rqd_from_frequency`.

    Raises
    ------
    InputError
        If the length does not end beyond its start, or a number is not finite.

    Notes
    -----
    Drilling breaks must be left out of the depths.

    Examples
    --------
    Pieces of 0.5, 0.05 and 0.45 m:

    >>> round(rqd_from_depths([0.5, 0.55], 0.0, 1.0), 1)
    95.0
    """
    depth = as_numbers(depths_m, "depths_m")
    low, high = check_interval(from_m, to_m)
    threshold = check_number(threshold_m, "threshold_m", low=0)
    gone = Spans(tuple((float(a), float(b)) for a, b in lost)).clip(low, high)
    ends = np.concatenate([[low, high], np.ravel(list(gone))])
    breaks = np.unique(np.concatenate([depth[(depth > low) & (depth < high)], ends]))
    pieces = np.diff(breaks)
    pieces = np.where(gone.holds(breaks[:-1] + 0.5 * pieces), 0.0, pieces)
    # Depths are read to a millimetre at best: a difference of rounded numbers must not drop a piece.
    counted = pieces >= threshold - 1e-9
    return float(100.0 * pieces[counted].sum() / (high - low))


def volumetric_joint_count(spacings_m: ArrayLike) -> float:
    """Volumetric joint count: joints met per metre, summed over the sets.

    Parameters
    ----------
    spacings_m : array_like, shape (K,)
        Mean normal spacing of each set, metres, above zero.

    Returns
    -------
    float
        Jv = Σ 1 / S_k, 1/m; for sets without dispersion the sum of their P32.

    Raises
    ------
    InputError
        If there is no spacing, or one is not above zero.

    References
    ----------
    Palmström's count (from memory; not read in the source).

    Examples
    --------
    >>> volumetric_joint_count([0.5, 1.0, 2.0])
    3.5
    """
    spacing = as_numbers(spacings_m, "spacings_m", low=0, open_end=True, min_n=1)
    return float((1.0 / spacing).sum())


def volumetric_joint_count_interval(
    frequencies_per_m: ArrayLike, intervals_per_m: ArrayLike
) -> tuple[float, tuple[float, float]]:
    """Volumetric joint count with an interval, from the frequency of each set and its interval.

    Parameters
    ----------
    frequencies_per_m : array_like, shape (K,)
        1 / mean spacing, or P32, of each set.
    intervals_per_m : array_like, shape (K, 2)
        Lower and upper limit of each, all at one confidence.

    Returns
    -------
    count_per_m : float
        Sum of the frequencies.
    interval : (float, float)
        At the confidence of the intervals given, the sets being measured independently: the
        distances to the limits are added in squares, each side by itself.

    Raises
    ------
    InputError
        If shapes differ, or a frequency lies outside its interval.

    References
    ----------
    Zou G.Y., Donner A. (2008), Construction of confidence limits about effect measures, Stat. Med.
    27:1693-1702 (from memory).

    Examples
    --------
    >>> volumetric_joint_count_interval([2.0, 1.0], [[1.7, 2.6], [0.6, 1.8]])
    (3.0, (2.5, 4.0))
    """
    frequency = as_numbers(frequencies_per_m, "frequencies_per_m", low=0, min_n=1)
    limits = as_numbers(np.ravel(intervals_per_m), "intervals_per_m", low=0)
    if len(limits) != 2 * len(frequency):
        raise InputError(
            f"intervals_per_m must have a lower and an upper limit for each of the "
            f"{len(frequency)} sets; got shape {np.shape(intervals_per_m)}"
        )
    low, high = limits.reshape(-1, 2).T
    if (low > frequency).any() or (high < frequency).any():
        raise InputError("each frequency must lie within its interval")
    count = float(frequency.sum())
    below = float(np.sqrt(((frequency - low) ** 2).sum()))
    above = float(np.sqrt(((high - frequency) ** 2).sum()))
    return count, (count - below, count + above)


def rqd_from_volumetric_count(count_per_m: ArrayLike, *, slope: float = 2.5) -> float | Array:
    """Rock quality designation from the volumetric joint count by a linear rule.

    Parameters
    ----------
    count_per_m : array_like, shape (n,) or scalar
        Volumetric joint count Jv, 1/m.
    slope : {2.5, 3.3}
        2.5: RQD = 110 − 2.5 Jv, the later rule; 3.3: RQD = 115 − 3.3 Jv, the earlier one.

    Returns
    -------
    float or ndarray, shape (n,)
        Percent, kept within 0 to 100.

    Raises
    ------
    InputError
        If a count is negative, or `slope` is neither of the two.

    Warns
    -----
    JointStatsWarning
        Where the rule gives above 100 or below 0 before it is cut.

    References
    ----------
    Palmström (1974; 2005), both from memory; not read in the sources.

    Examples
    --------
    >>> rqd_from_volumetric_count(20.0)
    60.0
    """
    count = as_numbers(count_per_m, "count_per_m", low=0)
    rules = {2.5: 110.0, 3.3: 115.0}
    if slope not in rules:
        raise InputError(f"slope must be 2.5 or 3.3, the two published rules; got {slope!r}")
    percent = rules[slope] - slope * count
    if ((percent < 0) | (percent > 100)).any():
        warnings.warn(
            f"the rule RQD = {rules[slope]:g} − {slope:g} Jv holds between 0 and 100 %, "
            f"Jv {(rules[slope] - 100) / slope:.3g} to {rules[slope] / slope:.3g} /m; cut there",
            JointStatsWarning,
            stacklevel=2,
        )
    return _like(np.clip(percent, 0.0, 100.0), count_per_m)
