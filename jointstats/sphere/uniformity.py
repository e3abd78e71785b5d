"""Are poles or directions spread uniformly over the sphere?"""

from __future__ import annotations

from fractions import Fraction
from math import comb, factorial

import numpy as np
from scipy.special import chdtrc

from jointstats.sphere.axes import sorted_out, uniform_axes
from jointstats.sphere.resultant import resultant_of
from jointstats.sphere.verdict import Verdict
from jointstats.types import Array, ArrayLike

#: Up to this many directions the exact distribution of the resultant is used.
EXACT_UP_TO = 40
#: Up to this many axes the tensor statistic is compared with draws of uniform axes.
_DRAWN_UP_TO = 100
_DRAWS = 20_000


def _uniform_sum(n: int, r: Fraction) -> tuple[Fraction, Fraction]:
    """Density and cumulative at r of a sum of n uniforms on (−1, 1), exact."""
    density = cumulative = Fraction(0)
    for k in range(n + 1):
        reach = r + n - 2 * k
        if reach <= 0:
            break
        term = (-1) ** k * comb(n, k) * reach ** (n - 1)
        density += term
        cumulative += term * reach
    scale = Fraction(2) ** n
    return density / (scale * factorial(n - 1)), cumulative / (scale * factorial(n))


def resultant_tail(n: int, length: float) -> float:
    """Chance that the resultant of n uniform directions is at least so long.

    Exact for n up to 40: P(R ≤ r) = 2 F(r) − 1 − 2 r f(r), with f and F of a sum of n uniforms on
    (−1, 1) (Watson 1956, A test for randomness of directions, Geophys. J. 7: 160-161), summed in
    whole numbers. Above, χ² with 3 degrees of freedom of S (1 − 1/2n) + S²/10n, S = 3R²/n (Mardia
    & Jupp 2000, Directional Statistics, section 10.4; from memory).

    `n`: number of directions, 1 or more; `length`: resultant, 0 to n. Gives 0 to 1.
    """
    if length <= 0 or n == 1:
        return 1.0
    if length >= n:
        return 0.0
    if n <= EXACT_UP_TO:
        r = Fraction(length)
        density, cumulative = _uniform_sum(n, r)
        return float(min(Fraction(1), max(Fraction(0), 2 - 2 * cumulative + 2 * r * density)))
    s = 3.0 * length**2 / n
    return float(chdtrc(3, s * (1 - 0.5 / n) + s**2 / (10.0 * n)))


def tensor_statistic(rows: Array) -> Array:
    """(15/2) n Σ (τ − 1/3)² of one set of axes or of many.

    `rows` (..., n, 3): unit rows. Gives (...): statistic of Bingham (1974).
    """
    n = rows.shape[-2]
    tensor = np.swapaxes(rows, -1, -2) @ rows / n
    return np.maximum(0.0, 7.5 * n * ((tensor**2).sum(axis=(-2, -1)) - 1.0 / 3.0)) + 0.0


def _drawn_tail(n: int, statistic: float) -> float:
    # The seed is fixed so that the same poles always have the same p-value.
    generator = np.random.default_rng(19740901)
    beyond, block = 0, max(1, 400_000 // n)
    for at in range(0, _DRAWS, block):
        rows = uniform_axes(generator, min(block, _DRAWS - at), n)
        beyond += int((tensor_statistic(rows) >= statistic * (1 - 1e-12)).sum())
    return (beyond + 1) / (_DRAWS + 1)


def uniformity_test(poles: ArrayLike, *, axial: bool = True) -> Verdict:
    """Test whether poles (or directions) are uniform over the sphere.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes or directions, one or more. They must be a fair sample: a single hole makes even
        uniform fractures look clustered.
    axial : bool
        True: axes, tested by their orientation tensor (Bingham). False: directions, tested by
        their resultant (Rayleigh; Watson).

    Returns
    -------
    Verdict
        Axial: statistic (15/2) n Σ(τ − 1/3)², χ² with 5 degrees of freedom above 100 poles, below
        that compared with 20,000 draws of uniform axes. Directed: the resultant R; see
        `resultant_tail`.

    Raises
    ------
    InputError
        If there is no pole, or the rows are not axes.

    Notes
    -----
    Bingham (1974), An antipodally symmetric distribution on the sphere, Ann. Stat. 2: 1201-1225;
    Watson (1956), Geophys. J. 7: 160-161 (formulas from memory, the second checked against
    printed tables).

    Examples
    --------
    >>> uniformity_test([[0, 0, 1.0]] * 6 + [[0, 0.1, 1.0]] * 6).pvalue < 0.001
    True
    """
    rows, _ = sorted_out(poles, None)
    n = len(rows)
    if axial:
        statistic = float(tensor_statistic(rows))
        drawn = n <= _DRAWN_UP_TO
        tail = _drawn_tail(n, statistic) if drawn else float(chdtrc(5, statistic))
        reference = f"{_DRAWS} draws of uniform axes" if drawn else "chi squared"
        dof: tuple[float, ...] = () if drawn else (5.0,)
        name, what = "uniformity of axes (Bingham)", "the poles are spread uniformly"
    else:
        statistic = resultant_of(rows, np.ones(n), axial=False).length
        tail = resultant_tail(n, statistic)
        exact = n <= EXACT_UP_TO
        reference = "exact distribution" if exact else "chi squared, corrected"
        dof = () if exact else (3.0,)
        name, what = "uniformity of directions", "the directions are spread uniformly"
    return Verdict(name, what, statistic, tail, dof, (n,), reference, "independent, fair sample")
