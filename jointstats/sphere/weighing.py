"""What a caller hands over, checked: poles with their weights, and levels of confidence."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes, as_weights

__all__ = ["check_level", "sorted_out"]

Array = NDArray[np.float64]


def check_level(value: float, name: str) -> float:
    """Return a share or level of confidence, or say that it is out of range.

    Parameters
    ----------
    value : float
        The level.
    name : str
        Name of the argument, for the error.

    Returns
    -------
    float
        The level.

    Raises
    ------
    InputError
        If it is not above 0 and below 1.

    Examples
    --------
    >>> check_level(0.95, "confidence")
    0.95
    """
    try:
        level = float(value)
    except (TypeError, ValueError):
        raise InputError(f"{name} must be a number, as 0.95; got {value!r}") from None
    if not 0.0 < level < 1.0:
        raise InputError(f"{name} must lie above 0 and below 1, as 0.95; got {value!r}")
    return level


def sorted_out(
    poles: ArrayLike, weights: ArrayLike | None, name: str = "poles", *, min_rows: int = 1
) -> tuple[Array, Array]:
    """Check poles with their weights and leave out those that weigh nothing.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    name : str
        Name of the argument, for the error.
    min_rows : int
        Fewest poles that make sense to the caller.

    Returns
    -------
    rows : ndarray, shape (m, 3)
        Unit rows with a weight above a billionth of the largest.
    weights : ndarray, shape (m,)
        Their weights, the largest 1.

    Raises
    ------
    InputError
        If the poles or weights break a rule or fewer than `min_rows` weigh anything.

    Examples
    --------
    >>> sorted_out([[0, 0, 2.0], [1.0, 0, 0]], [1.0, 0.0])
    (array([[0., 0., 1.]]), array([1.]))
    """
    rows = as_axes(poles, name)
    values = as_weights(weights, len(rows), "weights")
    values = values / values.max(initial=1e-300)
    # A billionth of the largest weight tells nothing, and would undo the arithmetic.
    used = values > 1e-9
    if used.sum() < min_rows:
        raise InputError(
            f"{name} needs at least {min_rows} rows with a weight above zero; got {used.sum()}"
        )
    return rows[used], values[used]
