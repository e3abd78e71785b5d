"""Are two or more sets equally concentrated?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import chdtrc, fdtr, fdtrc

from jointstats.errors import InputError
from jointstats.sphere.axes import sorted_out
from jointstats.sphere.cones import kappa_of_shortfall, mean_error
from jointstats.sphere.resultant import Resultant, resultant_of
from jointstats.sphere.verdict import Verdict
from jointstats.types import Array, ArrayLike


def resultants_of_sets(
    sets: Sequence[ArrayLike], weights: Sequence[ArrayLike | None] | None, *, axial: bool
) -> list[Resultant]:
    """Check sets of two poles or more and sum each.

    `sets` (n_i, 3): poles of each set; `weights`: weights of each set.
    """
    if weights is None:
        weights = [None] * len(sets)
    if len(weights) != len(sets):
        raise InputError(f"weights must have one entry a set ({len(sets)}); got {len(weights)}")
    found = []
    for number, (poles, values) in enumerate(zip(sets, weights, strict=True), start=1):
        rows, values = sorted_out(poles, values, f"set {number}", min_rows=2)
        found.append(resultant_of(rows, values, axial=axial))
        if found[-1].length <= 0:
            raise InputError(f"set {number} has directions that cancel; it has no mean")
    return found


def spread_verdict(found: Sequence[Resultant]) -> Verdict:
    """Compare the spreads of sets already summed.

    `found`: two sets or more; the verdict is that of `common_kappa_test`.
    """
    sizes = tuple(len(one.weights) for one in found)
    shares = [one.weights / len(one.weights) for one in found]
    # Σ h (1 − cos) / (1 − Σh²) is an unbiased estimate of 1/κ, (n − R)/(n − 1) if unweighted.
    spreads = np.array(
        [
            h @ one.drops / np.maximum(1.0 - h @ h, 1e-9)
            for h, one in zip(shares, found, strict=True)
        ]
    )
    spreads = np.maximum(spreads, 1e-24)
    dof = np.array([mean_error(one).dof for one in found])
    if found[0].axial:
        dof = dof * [_steadiness(min(spread, 0.4999)) for spread in spreads]
    if len(found) == 2:
        # Two estimates of 1 / κ, each about chi squared: their ratio is F.
        ratio = float(min(1e12, spreads[1] / spreads[0]))
        tail = 2.0 * min(fdtr(dof[1], dof[0], ratio), fdtrc(dof[1], dof[0], ratio))
        degrees: tuple[float, ...] = (float(dof[1]), float(dof[0]))
        reference = "F, two-sided"
    else:
        ratio = _bartlett(spreads, dof)
        degrees, reference = (len(found) - 1.0,), "chi squared"
        tail = chdtrc(degrees[0], ratio)
    name, what = "common kappa", "the sets are equally concentrated"
    assumed = "independent poles, Fisher sets of kappa above about 3"
    return Verdict(name, what, ratio, min(1.0, float(tail)), degrees, sizes, reference, assumed)


def _steadiness(shortfall: float) -> float:
    """(E d)² / var d of d = 1 − |cos|: 1 for a concentrated set, more for a wide set of axes.

    E d = tanh(κ/2)/κ and E cos² = 1 − 2 (coth κ − 1/κ)/κ.
    """
    if shortfall < 0.06:
        return 1.0
    # Chi squared has a relative variance of 2 / dof; that of 1 − cos in a slack Fisher set is smaller or larger, and the
    # degrees of freedom go with it.
    kappa = kappa_of_shortfall(shortfall)
    squared = 1.0 - 2.0 * (1.0 / np.tanh(kappa) - 1.0 / kappa) / kappa
    return float(shortfall**2 / (squared - (1.0 - shortfall) ** 2))


def _bartlett(spreads: Array, dof: Array) -> float:
    """Bartlett's statistic with its correction (Bartlett 1937, Proc. R. Soc. A 160: 268-282)."""
    total = dof.sum()
    pooled = dof @ spreads / total
    # Bartlett (1937): the logarithm of the pooled variance against that of each.
    raw = total * np.log(pooled) - dof @ np.log(spreads)
    correction = 1.0 + ((1.0 / dof).sum() - 1.0 / total) / (3.0 * (len(dof) - 1))
    return float(max(0.0, raw / correction))


def common_kappa_test(
    *sets: ArrayLike,
    axial: bool = True,
    weights: Sequence[ArrayLike | None] | None = None,
) -> Verdict:
    """Test whether two or more sets have the same concentration.

    Parameters
    ----------
    *sets : array_like, shape (n_i, 3)
        Poles of each set, two or more a set.
    axial : bool
        Whether the rows are axes.
    weights : sequence of array_like or None
        Weights of each set; they lower the degrees of freedom.

    Returns
    -------
    Verdict
        Two sets: the ratio of the spreads (second to first), F with 2(n₂ − 1) and 2(n₁ − 1)
        degrees of freedom, two-sided. More: Bartlett's statistic, χ² with q − 1. Identical poles
        count as a spread of 1e-24.

    Raises
    ------
    InputError
        If there are fewer than two sets, or a set has fewer than two poles with a weight above
        zero, or directed rows cancel.

    Notes
    -----
    Watson & Irving (1957), Monthly Not. R. Astr. Soc. Geophys. Suppl. 7: 289-300, from memory:
    2κ(n − R) is χ² with 2(n − 1) degrees of freedom.

    Examples
    --------
    >>> from jointstats.sphere import AxialFisher
    >>> a = AxialFisher([0, 0, -1.0], 10.0).rvs(30, random_state=1)
    >>> b = AxialFisher([1.0, 0, 0], 100.0).rvs(30, random_state=2)
    >>> common_kappa_test(a, b).pvalue < 0.001
    True
    """
    if len(sets) < 2:
        raise InputError(f"common_kappa_test compares two sets or more; got {len(sets)}")
    return spread_verdict(resultants_of_sets(sets, weights, axial=axial))
