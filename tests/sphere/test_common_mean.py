"""Tests of means and concentrations of sets: formulas by hand, sizes, power, refusals."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import bartlett, vonmises_fisher
from scipy.stats import f as f_law

from jointstats import InputError, fisher_statistics
from jointstats.sphere import (
    AxialFisher,
    common_kappa_test,
    common_mean_test,
    mean_direction_test,
    mean_in_plane_test,
)
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.verdict import Verdict

MEAN = np.array([0.6, 0.0, 0.8])


def _draw(generator: np.random.Generator, n: int, kappa: float) -> np.ndarray:
    return vonmises_fisher(MEAN, kappa).rvs(n, random_state=generator)


def _size(run: Callable[[np.random.Generator], Verdict], repetitions: int) -> float:
    generator = np.random.default_rng(11)
    return sum(run(generator).pvalue < 0.05 for _ in range(repetitions)) / repetitions


def test_watsons_f_by_hand() -> None:
    """Watson's F of two sets is (N − 2)(R₁ + R₂ − R)/(N − R₁ − R₂), on F(2, 2N − 4)."""
    generator = np.random.default_rng(0)
    a, b = _draw(generator, 12, 30), _draw(generator, 9, 30)
    verdict = common_mean_test(a, -b, method="equal kappa")
    first, second = (np.linalg.norm(x.sum(axis=0)) for x in (a, b))
    both = np.linalg.norm(np.vstack([a, b]).sum(axis=0))
    by_hand = 19 * (first + second - both) / (21 - first - second)
    assert verdict.statistic == pytest.approx(by_hand, rel=1e-9)
    assert verdict.pvalue == pytest.approx(f_law.sf(by_hand, 2, 38), rel=1e-9)


def test_kappa_ratio_by_hand() -> None:
    """The ratio of spreads of two sets is on F, two-sided; of three, near scipy's Bartlett."""
    generator = np.random.default_rng(1)
    sets = [_draw(generator, n, 40) for n in (12, 9, 15)]
    spread = [(len(x) - np.linalg.norm(x.sum(axis=0))) / (len(x) - 1) for x in sets]
    verdict = common_kappa_test(sets[0], sets[1])
    ratio = spread[1] / spread[0]
    assert verdict.statistic == pytest.approx(ratio, rel=1e-9)
    tail = 2 * min(f_law.sf(ratio, 16, 22), f_law.cdf(ratio, 16, 22))
    assert verdict.pvalue == pytest.approx(tail, rel=1e-9)
    # Bartlett's statistic of normal samples with just these variances and 2(n − 1) + 1 values.
    normal = []
    for x, s in zip(sets, spread, strict=True):
        values = np.linspace(-1, 1, 2 * len(x) - 1)
        normal.append(values * np.sqrt(s / values.var(ddof=1)))
    three = common_kappa_test(*sets)
    assert three.statistic == pytest.approx(bartlett(*normal).statistic, rel=1e-9)
    assert three.pvalue == pytest.approx(bartlett(*normal).pvalue, rel=1e-9)


@pytest.mark.parametrize(
    "run",
    [
        lambda g: common_mean_test(_draw(g, 10, 5), _draw(g, 10, 5)),
        lambda g: common_mean_test(_draw(g, 20, 40), _draw(g, 8, 10)),
        lambda g: common_mean_test(_draw(g, 10, 20), _draw(g, 10, 40), _draw(g, 12, 80)),
        lambda g: common_mean_test(_draw(g, 12, 30), _draw(g, 12, 30), method="equal kappa"),
        lambda g: common_kappa_test(_draw(g, 10, 5), _draw(g, 20, 5)),
        lambda g: common_kappa_test(_draw(g, 8, 50), _draw(g, 9, 50), _draw(g, 9, 50)),
        lambda g: mean_direction_test(_draw(g, 8, 10), -MEAN),
        lambda g: mean_in_plane_test(_draw(g, 8, 10), [0, 1.0, 0]),
    ],
    ids=["two", "unequal", "three", "watson", "kappa2", "kappa3", "direction", "plane"],
)
def test_size_is_five_per_cent(run: Callable[[np.random.Generator], Verdict]) -> None:
    """A true hypothesis is rejected 5 times in 100 (300 draws, 3 standard errors)."""
    assert _size(run, 300) == pytest.approx(0.05, abs=0.038)


def test_bootstrap_agrees_with_the_other_methods() -> None:
    """For two fair sets the bootstrap p-value is near the one by formula."""
    generator = np.random.default_rng(4)
    a, b = _draw(generator, 40, 30), _draw(generator, 30, 30) @ rotation_about([0, 1.0, 0], 0.07)
    formula = common_mean_test(a, b).pvalue
    boot = common_mean_test(a, b, method="bootstrap", draws=499).pvalue
    assert boot == pytest.approx(formula, abs=0.06)
    far = b @ rotation_about([0, 1.0, 0], 0.6)
    assert common_mean_test(a, far, method="bootstrap", draws=99).pvalue == pytest.approx(0.01)


def test_weights_are_taken() -> None:
    """Equal weights change nothing; uneven ones lower the degrees of freedom."""
    generator = np.random.default_rng(5)
    a, b = _draw(generator, 15, 30), _draw(generator, 10, 30)
    plain = common_mean_test(a, b)
    even = common_mean_test(a, b, weights=[np.full(15, 3.0), None])
    uneven = common_mean_test(a, b, weights=[np.linspace(1, 6, 15), None])
    assert even.pvalue == pytest.approx(plain.pvalue, rel=1e-9)
    assert uneven.dof[1] < plain.dof[1]


def test_symmetries() -> None:
    """Flipping one set, swapping the sets and turning all leaves the p-value alone."""
    generator = np.random.default_rng(6)
    a, b = _draw(generator, 15, 30), _draw(generator, 10, 30)
    turn = rotation_about([0.2, 0.3, 0.4], 2.0).T
    base = common_mean_test(a, b).pvalue
    for other in ((-a, b), (b, a), (a[::-1] @ turn, b @ turn)):
        assert common_mean_test(*other).pvalue == pytest.approx(base, rel=1e-8)


def test_given_direction_agrees_with_the_cone() -> None:
    """The p-value is 0.05 for a direction on the rim of the 95% cone, with weights too."""
    poles = AxialFisher(MEAN, 20.0).rvs(14, random_state=2)
    for weights in (None, np.linspace(1, 4, 14)):
        found = fisher_statistics(poles, weights)
        across = np.cross(found.mean, [0, 0, 1.0])
        rim = rotation_about(across, np.radians(found.cone_deg)) @ found.mean
        assert mean_direction_test(poles, rim, weights).pvalue == pytest.approx(0.05, rel=1e-6)


def test_identical_sets_are_finite() -> None:
    """Sets without spread agree (p 1) or disagree (p 0) with finite statistics."""
    up, east = [[0, 0, 1.0]] * 3, [[1.0, 0, 0]] * 3
    for method in ("equal kappa", "unequal kappa"):
        assert common_mean_test(up, up, method=method).pvalue == 1.0
        apart = common_mean_test(up, east, method=method)
        assert apart.pvalue < 1e-6 and np.isfinite(apart.statistic)
    assert common_kappa_test(up, east).pvalue == pytest.approx(1.0)
    assert mean_direction_test(up, [0, 0, -1.0]).pvalue == 1.0
    assert mean_in_plane_test(up, [1.0, 0, 0]).pvalue == 1.0
    assert mean_in_plane_test(up, [0, 0, 1.0]).pvalue < 1e-6


def test_bad_arguments_are_named() -> None:
    """Each argument out of range is refused with its rule."""
    a = np.eye(3)
    with pytest.raises(InputError, match="compares two sets or more"):
        common_mean_test(a)
    with pytest.raises(InputError, match="compares two sets or more"):
        common_kappa_test(a)
    with pytest.raises(InputError, match="method must be one of"):
        common_mean_test(a, a, method="best")
    with pytest.raises(InputError, match="takes no weights"):
        common_mean_test(a, a, weights=[[1, 2, 3], None], method="equal kappa")
    with pytest.raises(InputError, match="draws must be 19 or more"):
        common_mean_test(a, a, method="bootstrap", draws=5)
    with pytest.raises(InputError, match="weights must have one entry a set"):
        common_mean_test(a, a, weights=[None])
    with pytest.raises(InputError, match="set 2 needs at least 2 rows"):
        common_mean_test(a, a[:1])
    with pytest.raises(InputError, match="set 1 has directions that cancel"):
        common_mean_test([[0, 0, 1.0], [0, 0, -1.0]], a, axial=False)
    with pytest.raises(InputError, match="direction must be one axis"):
        mean_direction_test(a, a)
    with pytest.raises(InputError, match="plane_pole must be one axis"):
        mean_in_plane_test(a, a)
