"""Does the farthest pole of a set belong to it?"""

from __future__ import annotations

import numpy as np
from scipy.special import fdtrc

from jointstats.sphere.axes import sorted_out
from jointstats.sphere.axial_fisher import draw_directed
from jointstats.sphere.resultant import means_of_many, resultant_of
from jointstats.sphere.verdict import Verdict
from jointstats.types import Array, ArrayLike

_DRAWS = 999
#: As many times more are drawn, of which those of the nearest spread are kept.
_POOL = 4
#: 1/κ above which the limit of 90° matters to axes.
_WIDE = 0.05


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
