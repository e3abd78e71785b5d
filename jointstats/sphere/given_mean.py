"""Is the mean of a set a given direction, or does it lie in a given plane?"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc

from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes
from jointstats.sphere.common_kappa import resultants_of_sets
from jointstats.sphere.cones import mean_error
from jointstats.sphere.verdict import Verdict

__all__ = ["mean_direction_test", "mean_in_plane_test"]

Array = NDArray[np.float64]

_ASSUMED = "independent poles, the set round about its mean"


def _one_axis(values: ArrayLike, name: str) -> Array:
    rows = as_axes(values, name)
    if len(rows) != 1:
        raise InputError(f"{name} must be one axis (x, y, z); got {len(rows)} rows")
    return rows[0]


def _ratio(squared: float, variance: float) -> float:
    return 0.0 if squared <= 1e-28 else float(min(1e12, squared / max(variance, 1e-300)))


def mean_direction_test(
    poles: ArrayLike,
    direction: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    axial: bool = True,
) -> Verdict:
    """Test whether the mean of a set is a given direction.

    The p-value is below 0.05 just where the direction lies outside the 95% cone of confidence
    of `fisher_statistics`.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles, two or more.
    direction : array_like, shape (3,)
        The direction, in advance of the data.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    axial : bool
        Whether poles and direction are axes.

    Returns
    -------
    Verdict
        Statistic (1 − cos) over the variance of the mean; F with 2 and 2(n − 1) degrees of
        freedom if unweighted (Fisher 1953).

    Raises
    ------
    InputError
        If there are fewer than two poles with a weight above zero, `direction` is not one axis,
        or directed rows cancel.

    Examples
    --------
    >>> poles = [[0, 0.1, 1], [0.1, 0, 1], [0, -0.1, 1], [-0.1, 0, 1]]
    >>> round(mean_direction_test(poles, [0, 0, -1.0]).pvalue, 6)
    1.0
    """
    target = _one_axis(direction, "direction")
    (found,) = resultants_of_sets([poles], [weights], axial=axial)
    error = mean_error(found)
    if axial and found.mean @ target < 0:
        target = -target
    statistic = _ratio(0.5 * float(((found.mean - target) ** 2).sum()), error.scale)
    dof = (error.components, error.dof)
    return Verdict(
        test="mean against a given direction",
        hypothesis="the mean is the given direction",
        statistic=statistic,
        pvalue=float(fdtrc(*dof, statistic)),
        dof=dof,
        n=(len(found.weights),),
        reference="F",
        assumptions=_ASSUMED,
    )


def mean_in_plane_test(
    poles: ArrayLike,
    plane_pole: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    axial: bool = True,
) -> Verdict:
    """Test whether the mean axis of a set lies in a given plane.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles, two or more.
    plane_pole : array_like, shape (3,)
        Normal of the plane, in advance of the data.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    axial : bool
        Whether the poles are axes.

    Returns
    -------
    Verdict
        Statistic: the squared angle between mean and plane over the variance of the mean in that
        direction; F with 1 and 2(n − 1) degrees of freedom if unweighted.

    Raises
    ------
    InputError
        If there are fewer than two poles with a weight above zero, `plane_pole` is not one axis,
        or directed rows cancel.

    Examples
    --------
    A set about the vertical against the level plane:

    >>> poles = [[0, 0.1, 1], [0.1, 0, 1], [0, -0.1, 1], [-0.1, 0, 1]]
    >>> mean_in_plane_test(poles, [0, 0, 1.0]).pvalue < 0.001
    True
    """
    normal = _one_axis(plane_pole, "plane_pole")
    (found,) = resultants_of_sets([poles], [weights], axial=axial)
    error = mean_error(found)
    out = float(found.mean @ normal)
    # The way from the mean to the plane; any way will do where the mean is the normal itself.
    way = normal - out * found.mean
    length = float(np.linalg.norm(way))
    variance = float(way @ error.covariance @ way) / length**2 if length > 1e-9 else error.scale
    angle = np.arctan2(abs(out), length)
    statistic = _ratio(float(4.0 * np.sin(angle / 2.0) ** 2), variance)
    return Verdict(
        test="mean against a given plane",
        hypothesis="the mean axis lies in the given plane",
        statistic=statistic,
        pvalue=float(fdtrc(1.0, error.dof, statistic)),
        dof=(1.0, error.dof),
        n=(len(found.weights),),
        reference="F",
        assumptions=_ASSUMED,
    )
