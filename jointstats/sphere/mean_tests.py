"""Do sets share one mean; is the mean of a set a given direction, or in a given plane?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from jointstats.checks import as_generator, check_choice, check_count
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes, rotation_about
from jointstats.sphere.common_kappa import resultants_of_sets
from jointstats.sphere.cones import fold_inflation, mean_error
from jointstats.sphere.resultant import Resultant, longest_signs, resultant_of
from jointstats.sphere.verdict import Verdict, f_verdict
from jointstats.types import Array, ArrayLike, RandomState

_METHODS = ("equal kappa", "unequal kappa", "bootstrap")
_NAME = "common mean"
_HYPOTHESIS = "the sets share one mean"
_ASSUMED = "independent poles, each set round about its mean"


def _together(found: Sequence[Resultant]) -> Array:
    """Mean of each set, by the ends that agree best if the sets are axes."""
    means = np.array([one.mean for one in found])
    if found[0].axial:
        lengths = np.array([one.length for one in found])
        means = means * longest_signs(means, lengths)[:, np.newaxis]
    return means


def _watson(found: Sequence[Resultant]) -> Verdict:
    """F = (N − q)(ΣR_i − R) / ((q − 1)(N − ΣR_i)), Watson (1956) and Watson & Williams (1956)."""
    sizes = tuple(len(one.weights) for one in found)
    lengths = np.array([one.length for one in found])
    means = _together(found)
    pooled = lengths @ means
    pooled /= np.linalg.norm(pooled)
    # ΣR_i − R as a sum of terms that are never negative.
    between = float(lengths @ (0.5 * ((means - pooled) ** 2).sum(axis=1)))
    within = sum(one.shortfall for one in found)
    # Watson & Williams (1956): (n − q)(ΣR_i − R) / ((q − 1)(n − ΣR_i)) is about F for κ above 3 (Mardia & Jupp 2000).
    q, total = len(found), sum(sizes)
    if found[0].axial:
        # Axes folded into one hemisphere look tighter than the poles of their set are.
        within *= fold_inflation(within / (total - q))
    dof = (2.0 * (q - 1), 2.0 * (total - q))
    statistic = _ratio(between / (q - 1), within / (total - q))
    assumed = "independent poles, Fisher sets of one kappa above about 3"
    return f_verdict(f"{_NAME}, equal kappa", _HYPOTHESIS, statistic, dof, sizes, assumed)


def _ratio(between: float, within: float) -> float:
    """Quotient that stays finite: at most 1e12, and 0 where there is nothing to divide."""
    if between <= 1e-28:
        return 0.0
    return float(min(1e12, between / max(within, 1e-300)))


def _weighted_distance(found: Sequence[Resultant]) -> tuple[float, Array, Array]:
    """2 (Σω − |Σ ω m|) with ω one over the variance of each mean; the ω, and their dof."""
    errors = [mean_error(one) for one in found]
    # Each mean weighs by how well it is known, not by its number alone.
    omega = 1.0 / np.maximum(1e-24, [error.scale for error in errors])
    means = _together(found)
    pooled = omega @ means
    pooled /= np.linalg.norm(pooled)
    statistic = float(omega @ ((means - pooled) ** 2).sum(axis=1))
    return statistic, omega, np.array([error.dof for error in errors])


def _unequal(found: Sequence[Resultant]) -> Verdict:
    """Watson's (1983) statistic, with Johansen's (1980) correction for small sets.

    With two components a set, u_i the share of ω_i and ν_i the degrees of freedom of its
    variance: A = Σ 2 (1 − u_i)² / ν_i, p = 2 (q − 1), statistic / (p + 2A − 6A/(p + 2)) is F with
    p and p (p + 2) / 3A degrees of freedom.
    """
    statistic, omega, dof = _weighted_distance(found)
    p = 2.0 * (len(found) - 1)
    # Welch (1951, Biometrika 38:330) with two coordinates a mean in place of one: weights that are estimated make the
    # statistic heavier in the tail than chi squared.
    a = float((2.0 * (1.0 - omega / omega.sum()) ** 2 / dof).sum())
    divisor = p + 2.0 * a - 6.0 * a / (p + 2.0)
    degrees = (p, p * (p + 2.0) / (3.0 * a))
    ratio = min(1e12, statistic / divisor) if statistic > 1e-4 else 0.0
    sizes = tuple(len(one.weights) for one in found)
    name = f"{_NAME}, unequal kappa"
    return f_verdict(name, _HYPOTHESIS, ratio, degrees, sizes, _ASSUMED, "F, approximate")


def _turned(found: Resultant, onto: Array) -> Array:
    """Rows of a set turned so that its mean lies on another axis."""
    axis = np.cross(found.mean, onto)
    sine = float(np.linalg.norm(axis))
    if sine < 1e-15:
        return found.rows
    return found.rows @ rotation_about(axis, float(np.arctan2(sine, found.mean @ onto))).T


def _bootstrap(found: Sequence[Resultant], draws: int, generator: np.random.Generator) -> Verdict:
    """Fisher & Hall (1990): resample the sets, turned to one mean; the statistic is pivotal."""
    statistic, omega, _ = _weighted_distance(found)
    pooled = omega @ _together(found)
    pooled /= np.linalg.norm(pooled)
    means = _together(found)
    turned = []
    for one, mean in zip(found, means, strict=True):
        # The sets are turned onto one mean, so that they are drawn as the hypothesis has them.
        rows = _turned(one, pooled * np.sign(one.mean @ mean))
        turned.append((rows, one.weights))
    beyond = 0
    for _ in range(draws):
        again = []
        for rows, weights in turned:
            pick = generator.integers(len(rows), size=len(rows))
            again.append(resultant_of(rows[pick], weights[pick], axial=found[0].axial))
        # A draw equal to the data but for rounding counts as reaching it.
        beyond += _weighted_distance(again)[0] >= statistic * (1 - 1e-12)
    return Verdict(
        test=f"{_NAME}, bootstrap",
        hypothesis=_HYPOTHESIS,
        statistic=statistic,
        pvalue=(beyond + 1) / (draws + 1),
        dof=(),
        n=tuple(len(one.weights) for one in found),
        reference=f"{draws} bootstrap draws",
        assumptions="independent poles, ten or more a set",
    )


def common_mean_test(
    *sets: ArrayLike,
    axial: bool = True,
    weights: Sequence[ArrayLike | None] | None = None,
    method: str = "unequal kappa",
    draws: int = 999,
    random_state: RandomState = 0,
) -> Verdict:
    """Test whether two or more sets share one mean.

    Parameters
    ----------
    *sets : array_like, shape (n_i, 3)
        Poles of each set, two or more a set.
    axial : bool
        Whether the rows are axes.
    weights : sequence of array_like or None
        Weights of each set, zero or more.
    method : str
        "unequal kappa": each set by its own spread; takes weights. "equal kappa": Watson's F, a
        little stronger where the sets are known to be equally concentrated, and wrong (too many
        rejections) where the smaller set is the wider one. "bootstrap": no assumption on the
        spread; for ten poles a set or more.
    draws : int
        Bootstrap draws.
    random_state : int, Generator or None
        Seed or source of random numbers of the bootstrap.

    Returns
    -------
    Verdict
        Identical poles give a statistic of at most 1e12.

    Raises
    ------
    InputError
        If there are fewer than two sets, a set has fewer than two poles with a weight above
        zero, directed rows cancel, or an argument is out of range.

    Notes
    -----
    Watson & Williams (1956), Biometrika 43: 344-352; Watson (1983), Statistics on Spheres;
    Johansen (1980), Biometrika 67: 85-92; Fisher & Hall (1990), JASA 85 (from memory).

    Examples
    --------
    >>> from jointstats.sphere import AxialFisher
    >>> a = AxialFisher([0, 0, -1.0], 50.0).rvs(20, random_state=1)
    >>> b = AxialFisher([0.5, 0, -1.0], 50.0).rvs(20, random_state=2)
    >>> common_mean_test(a, -b).pvalue < 0.001
    True
    """
    if len(sets) < 2:
        raise InputError(f"common_mean_test compares two sets or more; got {len(sets)}")
    check_choice(method, "method", _METHODS)
    found = resultants_of_sets(sets, weights, axial=axial)
    even = all(np.ptp(one.weights) <= 1e-9 for one in found)
    if method == "equal kappa" and not even:
        raise InputError("method 'equal kappa' takes no weights; use 'unequal kappa'")
    if method == "equal kappa":
        return _watson(found)
    if method == "unequal kappa":
        return _unequal(found)
    return _bootstrap(found, check_count(draws, "draws", 19), as_generator(random_state))


def _one_axis(values: ArrayLike, name: str) -> Array:
    rows = as_axes(values, name)
    if len(rows) != 1:
        raise InputError(f"{name} must be one axis (x, y, z); got {len(rows)} rows")
    return rows[0]


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
    dof, n = (error.components, error.dof), (len(found.weights),)
    name, what = "mean against a given direction", "the mean is the given direction"
    return f_verdict(name, what, statistic, dof, n, _ASSUMED)


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
    # The error of the mean along that one way, not round about.
    variance = float(way @ error.covariance @ way) / length**2 if length > 1e-9 else error.scale
    # How far the mean lies out of the plane, over its error that very way.
    angle = np.arctan2(abs(out), length)
    statistic = _ratio(float(4.0 * np.sin(angle / 2.0) ** 2), variance)
    dof, n = (1.0, error.dof), (len(found.weights),)
    name, what = "mean against a given plane", "the mean axis lies in the given plane"
    return f_verdict(name, what, statistic, dof, n, _ASSUMED)
