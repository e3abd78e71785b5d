"""How well a mean spacing is known for the number measured, and the number a precision needs."""

from __future__ import annotations

import warnings

from scipy.special import ndtri

from jointstats.checks import check_confidence, check_number
from jointstats.errors import InputError, JointStatsWarning
from jointstats.results import Result

#: Fewest spacings for the normal approximation.
FEWEST = 20


class SpacingPrecision(Result):
    """Precision of a mean spacing by the normal approximation.

    Attributes
    ----------
    n : int
        Spacings measured.
    mean_m : float
    precision : float
        Half-width of the interval of the mean, as a share of it.
    spacing_interval_m : (float, float)
        Mean spacing, metres.
    frequency_interval_per_m : (float, float or None)
        Reciprocals; None where the spacing interval reaches zero.
    confidence : float

    Examples
    --------
    >>> spacing_precision(100, 0.5).precision.__round__(3)
    0.196
    """

    n: int
    mean_m: float
    precision: float
    spacing_interval_m: tuple[float, float]
    frequency_interval_per_m: tuple[float, float | None]
    confidence: float


def _z(confidence: float) -> float:
    return float(ndtri(0.5 * (1.0 + check_confidence(confidence))))


def spacing_precision(
    n: int, mean_m: float, confidence: float = 0.95, *, deviation: float = 1.0
) -> SpacingPrecision:
    """Precision of a mean spacing for the number of spacings measured.

    Parameters
    ----------
    n : int
        Complete spacings, at least 1.
    mean_m : float
        Their mean, metres.
    confidence : float
    deviation : float
        Standard deviation of the spacings over their mean; 1 for exponential spacings.

    Returns
    -------
    SpacingPrecision
        The mean ± z · deviation / √n.

    Raises
    ------
    InputError
        If an argument is out of range.

    Warns
    -----
    JointStatsWarning
        With fewer than 20 spacings, for which the normal approximation is too rough.

    References
    ----------
    Priest S.D., Hudson J.A. (1981), in Brady & Brown, Rock Mechanics for Underground Mining, p. 64.
    The limit of 20 spacings is common practice, no source.

    Examples
    --------
    >>> found = spacing_precision(128, 0.215, 0.80)
    >>> [round(limit, 3) for limit in found.spacing_interval_m]
    [0.191, 0.239]
    """
    number = check_number(n, "n", low=1)
    mean = check_number(mean_m, "mean_m", low=0, open_end=True)
    share = _z(confidence) * check_number(deviation, "deviation", low=0) / number**0.5
    if number < FEWEST:
        warnings.warn(
            f"the normal approximation wants at least {FEWEST} spacings; got {number:g}. Use "
            "SpacingStatistics.mean_interval_m, which holds for fewer",
            JointStatsWarning,
            stacklevel=2,
        )
    low, high = mean * max(1.0 - share, 0.0), mean * (1.0 + share)
    frequency = (1.0 / high, 1.0 / low if low > 0 else None)
    return SpacingPrecision(int(number), mean, share, (low, high), frequency, confidence)


def spacings_needed(precision: float, confidence: float = 0.95, *, deviation: float = 1.0) -> float:
    """Number of spacings that a wanted precision of the mean needs.

    Parameters
    ----------
    precision : float
        Half-width of the interval wanted, as a share of the mean: 0.1 for ± 10 %.
    confidence : float
    deviation : float
        Standard deviation of the spacings over their mean; 1 for exponential spacings.

    Returns
    -------
    float
        (z · deviation / precision)²; round up.

    Raises
    ------
    InputError
        If an argument is out of range.

    References
    ----------
    Priest S.D., Hudson J.A. (1981), in Brady & Brown, Rock Mechanics for Underground Mining, p. 64.

    Examples
    --------
    >>> round(spacings_needed(0.1, 0.90), 1)
    270.6
    """
    share = check_number(precision, "precision", low=0, open_end=True)
    if share >= 1:
        raise InputError(f"precision must lie between 0 and 1, as in 0.1 for ± 10 %; got {share:g}")
    return (_z(confidence) * check_number(deviation, "deviation", low=0) / share) ** 2
