"""Checks of arguments that the figures of spacing, frequency and blocks share."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError

__all__ = ["as_numbers", "check_confidence", "check_interval", "check_number"]

Array = NDArray[np.float64]


def as_numbers(
    values: ArrayLike, name: str, *, low: float = -np.inf, open_end: bool = False, min_n: int = 0
) -> Array:
    """Check numbers and return them as a one-dimensional array.

    Parameters
    ----------
    values : array_like, shape (n,) or scalar
    name : str
        Name of the argument, for the error.
    low : float
        Smallest value allowed.
    open_end : bool
        Whether `low` itself is refused.
    min_n : int
        Fewest values that make sense to the caller.

    Returns
    -------
    ndarray, shape (n,)
        Float64; a new array.

    Raises
    ------
    InputError
        If a value is not a number, not finite, too low, or there are too few.

    Examples
    --------
    >>> as_numbers([1, 2], "spacings_m", low=0)
    array([1., 2.])
    """
    try:
        numbers = np.atleast_1d(np.array(values, dtype=np.float64))
    except (TypeError, ValueError):
        raise InputError(f"{name} must be numbers; got {values!r}") from None
    if numbers.ndim != 1:
        raise InputError(f"{name} must be one-dimensional; got shape {numbers.shape}")
    if len(numbers) < min_n:
        raise InputError(f"{name} needs at least {min_n} values; got {len(numbers)}")
    wrong = ~np.isfinite(numbers) | (numbers <= low if open_end else numbers < low)
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        rule = "finite"
        if np.isfinite(low):
            rule += f" and {'above' if open_end else 'at least'} {low:g}"
        raise InputError(f"{name} must be {rule}; value {at} is {numbers[at]:g}")
    return numbers


def check_number(value: float, name: str, *, low: float = -np.inf, open_end: bool = False) -> float:
    """Check one number and return it as a float.

    Parameters
    ----------
    value, name, low, open_end
        As for `as_numbers`.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If it is not one finite number, or too low.

    Examples
    --------
    >>> check_number(2, "threshold_m", low=0)
    2.0
    """
    numbers = as_numbers(value, name, low=low, open_end=open_end)
    if np.ndim(value) != 0:
        raise InputError(f"{name} must be one number; got shape {np.shape(value)}")
    return float(numbers[0])


def check_confidence(confidence: float) -> float:
    """Check a confidence level and return it.

    Parameters
    ----------
    confidence : float
        Between 0 and 1, both excluded.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If it is out of range.

    Examples
    --------
    >>> check_confidence(0.95)
    0.95
    """
    level = check_number(confidence, "confidence")
    if not 0 < level < 1:
        raise InputError(
            f"confidence must lie between 0 and 1, as in 0.95 for 95 %; got {confidence}"
        )
    return level


def check_interval(from_m: float, to_m: float) -> tuple[float, float]:
    """Check one interval of depth and return it.

    Parameters
    ----------
    from_m, to_m : float
        Depths along the hole, metres.

    Returns
    -------
    (float, float)

    Raises
    ------
    InputError
        If the second is not beyond the first.

    Examples
    --------
    >>> check_interval(3, 5)
    (3.0, 5.0)
    """
    low, high = check_number(from_m, "from_m"), check_number(to_m, "to_m")
    if not high > low:
        raise InputError(f"to_m must lie beyond from_m; got {low:g} to {high:g}")
    return low, high
