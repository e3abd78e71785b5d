"""Stray poles: centres that a few of them hardly move, and the test of the farthest pole of a set."""

from __future__ import annotations

import numpy as np
from scipy.special import fdtrc

from jointstats.errors import InputError
from jointstats.sphere.axes import lower_hemisphere, sorted_out
from jointstats.sphere.axial_fisher import draw_directed
from jointstats.sphere.resultant import means_of_many, resultant_of
from jointstats.sphere.verdict import Verdict
from jointstats.types import Array, ArrayLike

_DRAWS = 999
#: As many times more are drawn, of which those of the nearest spread are kept.
_POOL = 4
#: 1/κ above which the limit of 90° matters to axes.
_WIDE = 0.05


def _arc(rows: Array, centre: Array, *, axial: bool) -> Array:
    """Angles in radians between rows and a centre."""
    along = rows @ centre
    across = np.linalg.norm(np.cross(rows, centre), axis=1)
    return np.arctan2(across, np.abs(along) if axial else along)


def _toward(rows: Array, centre: Array, *, axial: bool) -> Array:
    """Unit tangents at the centre that point to each row; zero for a row at the centre."""
    along = rows @ centre
    ends = rows * np.where(along < 0, -1.0, 1.0)[:, np.newaxis] if axial else rows
    tangents = ends - (ends @ centre)[:, np.newaxis] * centre
    length = np.linalg.norm(tangents, axis=1, keepdims=True)
    return np.where(length > 1e-12, tangents / np.maximum(length, 1e-12), 0.0)


def spherical_median(
    poles: ArrayLike, weights: ArrayLike | None = None, *, axial: bool = True
) -> Array:
    """Axis (or direction) whose summed angle to all poles is least.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    axial : bool
        Whether the rows are axes.

    Returns
    -------
    ndarray, shape (3,)
        Unit vector; on the lower hemisphere if axial. Where several minima tie, the one reached
        from the mean or the nearest pole.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or the arrays are not axes and weights.

    Notes
    -----
    Fisher (1985), Spherical medians, J. R. Stat. Soc. B 47: 342-348 (from memory); found by the
    steps of Weiszfeld along the sphere.

    Examples
    --------
    One stray pole in five does not move it from the four others:

    >>> spherical_median([[0, 0, 1.0]] * 4 + [[1.0, 0, 0]]) + 0.0
    array([ 0.,  0., -1.])
    """
    rows, values = sorted_out(poles, weights)
    values = values / values.sum()

    def loss(centre: Array) -> float:
        return float(values @ _arc(rows, centre, axial=axial))

    mean = resultant_of(rows, values, axial=axial).mean
    # The best pole is a start too: the minimum may sit on a pole, where the steps stall.
    step = max(1, len(rows) // 200)
    ranked = rows[np.argsort(_arc(rows, mean, axial=axial), kind="stable")][::step]
    starts = [mean, ranked[int(np.argmin([loss(row) for row in ranked]))]]
    ends = [_descend(rows, values, start, axial=axial) for start in starts]
    candidates = ends + starts
    best = candidates[int(np.argmin([loss(end) for end in candidates]))]
    return lower_hemisphere(best)[0] if axial else best


def _descend(rows: Array, values: Array, centre: Array, *, axial: bool) -> Array:
    for _ in range(500):
        angles = np.maximum(_arc(rows, centre, axial=axial), 1e-9)
        tangents = _toward(rows, centre, axial=axial)
        step = values @ tangents / float(values @ (1.0 / angles))
        size = float(np.linalg.norm(step))
        if size < 1e-12:
            break
        centre = np.cos(size) * centre + np.sin(size) * step / size
        centre /= np.linalg.norm(centre)
    return centre


def trimmed_mean(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    share: float = 0.1,
    axial: bool = True,
) -> Array:
    """Mean of the poles nearest to their own mean, a share of the farthest left out.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set.
    weights : array_like, shape (n,), or None
        Weights, zero or more; the share is one of weight.
    share : float
        Share left out, 0 up to 0.5.
    axial : bool
        Whether the rows are axes.

    Returns
    -------
    ndarray, shape (3,)
        Unit vector; on the lower hemisphere if axial. One pole at least is kept.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, or `share` is not 0 to 0.5.

    Examples
    --------
    >>> trimmed_mean([[0, 0, 1.0]] * 9 + [[1.0, 0, 0.2]]).round(6) + 0.0
    array([ 0.,  0., -1.])
    """
    rows, values = sorted_out(poles, weights)
    if not 0.0 <= share <= 0.5:
        raise InputError(f"share must lie between 0 and 0.5; got {share!r}")
    centre = spherical_median(rows, values, axial=axial)
    for _ in range(100):
        angles = _arc(rows, centre, axial=axial)
        order = np.argsort(angles, kind="stable")
        within = np.cumsum(values[order]) <= (1.0 - share) * values.sum() * (1 + 1e-12)
        within[0] = True
        kept = order[within]
        ends = rows[kept]
        if axial:
            ends = ends * np.where(ends @ centre < 0, -1.0, 1.0)[:, np.newaxis]
        following = resultant_of(ends, values[kept], axial=False).mean
        if np.abs(following - centre).max() < 1e-12:
            break
        centre = following
    return lower_hemisphere(centre)[0] if axial else centre


class OutlierVerdict(Verdict):
    """Result of `outlier_test`: a `Verdict`, and which row it is about.

    Attributes
    ----------
    row : int
        Row of the farthest pole, counted from 0.

    Examples
    --------
    >>> outlier_test([[0, 0, 1.0], [0, 0.1, 1.0], [0.1, 0, 1.0], [1.0, 0, 0]]).row
    3
    """

    row: int = 0


def outlier_test(poles: ArrayLike, *, axial: bool = True) -> OutlierVerdict:
    """Test whether the pole that is farthest from the others belongs to the set.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set, four or more.
    axial : bool
        Whether the rows are axes.

    Returns
    -------
    OutlierVerdict
        Statistic E = (n − 2)(1 + R₁ − R) / (n − 1 − R₁), R₁ the resultant without the pole, the
        largest over all poles; each is F with 2 and 2(n − 2) degrees of freedom, and the p-value
        allows for the choice of the largest (n times that of one, at most 1). Axes cannot lie
        farther than 90° out, so for a wide set of axes, κ below 20, the p-value comes from 999
        draws of the fitted distribution with the same spread.

    Raises
    ------
    InputError
        If there are fewer than four poles.

    Notes
    -----
    Fisher, Lewis & Willcox (1981), Tests of discordancy for samples from Fisher's distribution
    on the sphere, Appl. Stat. 30: 230-237 (from memory).

    Examples
    --------
    >>> rows = [[0, 0.1, 1], [0.1, 0, 1], [0, -0.1, 1], [-0.1, 0, 1], [0, 0.2, 1], [1, 1, 1]]
    >>> outlier_test(rows).summary
    'The data speak against this: the farthest pole belongs to the set (p = 0.001; 6 poles).'
    """
    rows, _ = sorted_out(poles, None, min_rows=4)
    n = len(rows)
    statistics, shortfall = _statistics(rows, axial=axial)
    row = int(np.argmax(statistics))
    drawn = axial and shortfall / (n - 1) > _WIDE
    if drawn:
        tail = _drawn_tail(n, float(statistics[row]), shortfall)
    else:
        tail = min(1.0, n * float(fdtrc(2.0, 2.0 * (n - 2), statistics[row])))
    return OutlierVerdict(
        test="outlier",
        hypothesis="the farthest pole belongs to the set",
        statistic=float(statistics[row]),
        pvalue=tail,
        dof=() if drawn else (2.0, 2.0 * (n - 2)),
        n=(n,),
        reference=f"{_DRAWS} draws of the fitted distribution" if drawn else "F, the largest of n",
        assumptions="independent poles, a Fisher set but for one pole",
        row=row,
    )


def _statistics(rows: Array, *, axial: bool) -> tuple[Array, float]:
    """E of each pole, and n − R of all."""
    found = resultant_of(rows, np.ones(len(rows)), axial=axial)
    values = _each(found.rows[np.newaxis], found.mean[np.newaxis], np.array([found.length]))
    return values[0], found.shortfall


def _each(rows: Array, means: Array, lengths: Array) -> Array:
    """E of each pole of each set; the ends that were taken stay."""
    n = rows.shape[1]
    without = (lengths[:, np.newaxis] * means)[:, np.newaxis, :] - rows
    shorter = np.linalg.norm(without, axis=2)
    rest = np.maximum(n - 1 - shorter, 0.0)
    gain = np.maximum(1.0 + shorter - lengths[:, np.newaxis], 0.0)
    gain[gain < 1e-13 * n] = 0.0
    return np.minimum(1e12, (n - 2) * gain / np.maximum(rest, 1e-13 * n))


def _drawn_tail(n: int, statistic: float, shortfall: float) -> float:
    # The seed is fixed so that the same poles always have the same p-value.
    generator = np.random.default_rng(19810101)
    kappa, up = (n - 1) / shortfall, np.array([0.0, 0.0, 1.0])
    largest, shortfalls, block = [], [], max(1, 100_000 // n)
    for at in range(0, _POOL * _DRAWS, block):
        count = min(block, _POOL * _DRAWS - at)
        rows = draw_directed(up, kappa, n * count, generator).reshape(count, n, 3)
        ends, means, lengths = means_of_many(rows, up, axial=True)
        short = n - lengths
        largest.append(_gain(_each(ends, means, lengths).max(axis=1), short, n))
        shortfalls.append(short)
    # Given the spread of a set, what is left to chance does not depend on kappa; and then E
    # rises with the gain 1 + R₁ − R, which small differences of spread do not touch.
    near = np.argsort(np.abs(np.concatenate(shortfalls) - shortfall), kind="stable")[:_DRAWS]
    own = _gain(np.array(statistic), np.array(shortfall), n)
    return float((np.concatenate(largest)[near] >= own).sum() + 1) / (_DRAWS + 1)


def _gain(statistic: Array, shortfall: Array, n: int) -> Array:
    """1 + R₁ − R from E and n − R."""
    return statistic * shortfall / (n - 2 + statistic)
