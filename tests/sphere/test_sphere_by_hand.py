"""Moment starts, Newton solutions, smears, ellipses and many means: by hand and by quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.optimize import brentq
from scipy.special import ive
from scipy.stats import f as f_law

from jointstats.sphere.axial_fisher import sample
from jointstats.sphere.bingham import solve_bingham
from jointstats.sphere.girdle import roundness_test
from jointstats.sphere.kent import _start
from jointstats.sphere.resultant import means_of_many, resultant_of
from jointstats.sphere.robust import outlier_test, trimmed_mean
from jointstats.sphere.set_density import _envelope
from jointstats.sphere.smear import smear
from jointstats.sphere.tensor import axis_ellipse
from jointstats.sphere.watson import _kappa_of, mean_squared_cosine

FRAME = np.eye(3)[[2, 0, 1]]
CLUSTER = sample([0.0, 0.0, 1.0], 30.0, 25, random_state=1)
CLUSTER *= np.sign(CLUSTER[:, 2:])


def test_starts_of_an_elliptical_fit_are_kents_moments() -> None:
    """Variances 1/(κ ∓ 2β) give κ and β back, β short of κ/2, with the long axis along the spread."""
    found = resultant_of(np.array([[0.0, 0.0, 1.0]] * 3), np.ones(3), axial=True)
    second = FRAME.T @ np.diag([1 - 1 / 20 - 1 / 50, 1 / 20, 1 / 50]) @ FRAME
    axes, kappa, beta = _start(found, second)
    assert (kappa, beta) == pytest.approx((35.0, 7.5))
    np.testing.assert_allclose(np.abs(axes), FRAME, atol=1e-9)
    _, kappa, beta = _start(found, FRAME.T @ np.diag([0.5, 0.49, 0.01]) @ FRAME)
    assert kappa == pytest.approx(0.5 * (100 + 1 / 0.49))
    assert beta == pytest.approx(min(0.45 * kappa, 0.25 * (100 - 1 / 0.49)))
    _, kappa, beta = _start(found, FRAME.T @ np.diag([0.9, 0.05, 0.05]) @ FRAME)
    assert (kappa, beta) == pytest.approx((20.0, 2e-3))
    _, kappa, beta = _start(found, FRAME.T @ np.diag([0.8, 0.19, 0.01]) @ FRAME)
    assert beta / kappa == pytest.approx(min(0.45, 0.25 * (100 - 1 / 0.19) / kappa))


@pytest.mark.parametrize("tau", [(0.3, 0.25), (0.45, 0.02), (0.02, 0.005), (1 / 3, 1 / 3)])
def test_bingham_parameters_give_their_moments(tau: tuple[float, float]) -> None:
    """E y² and E z² under exp(−a y² − b z²), integrated over the sphere."""
    a, b = solve_bingham(np.array(tau))

    def weight(phi: float, x: float) -> float:
        square = 1 - x * x
        return float(np.exp(-square * (a * np.cos(phi) ** 2 + b * np.sin(phi) ** 2)))

    whole = dblquad(weight, 0, 1, 0, np.pi, epsabs=1e-6)[0]
    first = dblquad(lambda p, x: weight(p, x) * (1 - x * x) * np.cos(p) ** 2, 0, 1, 0, np.pi, epsabs=1e-6)
    second = dblquad(lambda p, x: weight(p, x) * (1 - x * x) * np.sin(p) ** 2, 0, 1, 0, np.pi, epsabs=1e-6)
    np.testing.assert_allclose([first[0] / whole, second[0] / whole], tau, atol=2e-5)


def test_many_means_are_those_of_each_alone() -> None:
    """Rows pointing either way are turned to the mean; directed rows are left as they are."""
    rng = np.random.default_rng(0)
    signs = rng.choice([-1.0, 1.0], size=(4, 25, 1))
    turned = CLUSTER * signs
    ends, means, lengths = means_of_many(turned, np.array([0.1, 0.0, 1.0]), axial=True)
    total = CLUSTER.sum(axis=0)
    np.testing.assert_allclose(ends, np.broadcast_to(CLUSTER, (4, 25, 3)))
    np.testing.assert_allclose(means, np.tile(total / np.linalg.norm(total), (4, 1)))
    np.testing.assert_allclose(lengths, np.linalg.norm(total))
    plain = means_of_many(turned, np.array([0.0, 0.0, 1.0]), axial=False)
    np.testing.assert_allclose(plain[2], np.linalg.norm(turned.sum(axis=1), axis=1))
    np.testing.assert_array_equal(plain[0], turned)


@pytest.mark.parametrize("tau", [0.05, 0.3, 1 / 3, 0.34, 0.6, 0.95])
def test_watsons_concentration_answers_its_moment(tau: float) -> None:
    """E t² under exp(κ t²), by quadrature."""
    kappa = _kappa_of(tau)
    top = max(kappa, 0.0)
    whole = quad(lambda t: np.exp(kappa * t * t - top), 0, 1)[0]
    second = quad(lambda t: t * t * np.exp(kappa * t * t - top), 0, 1)[0]
    assert second / whole == pytest.approx(tau, abs=1e-8)
    assert mean_squared_cosine(kappa) == pytest.approx(tau, abs=1e-9)
    assert _kappa_of(1 / 3) == 0.0


@pytest.mark.parametrize(("which", "freedom"), [(0, 23.0), (2, 23.0)])
def test_ellipses_of_an_axis_by_hand(which: int, freedom: float) -> None:
    """Prentice's variances written out, with the small-sample rule of each axis and its quantile."""
    noise = 0.15 * np.random.default_rng(3).normal(size=(25, 3))
    rows = CLUSTER if which == 0 else np.cross(noise / 0.15, [1.0, 0.3, 0.2]) + noise
    rows = rows / np.linalg.norm(rows, axis=1, keepdims=True)
    tensor = rows.T @ rows / 25
    values, vectors = np.linalg.eigh(tensor)
    values, axes = values[::-1], vectors.T[::-1]
    others = [j for j in range(3) if j != which]
    covariance = np.zeros((2, 2))
    pull = sum((rows @ axes[j]) ** 2 / values[j] for j in others) / 25
    for a, i in enumerate(others):
        for b, j in enumerate(others):
            terms = (rows @ axes[which]) ** 2 * (rows @ axes[i]) * (rows @ axes[j])
            if which == 2:
                terms = terms / (1 - pull) ** 2
            gaps = abs(values[which] - values[i]) * abs(values[which] - values[j])
            covariance[a, b] = terms.sum() / 25**2 / gaps
    if which == 0:
        covariance *= 25 / freedom
    spread = np.linalg.eigvalsh(covariance)[::-1]
    found = axis_ellipse(rows, np.ones(25), which=which, confidence=0.9)
    limits = np.degrees(np.sqrt(2 * f_law(2, freedom).ppf(0.9) * spread))
    np.testing.assert_allclose(found.semi_axes_deg, limits, rtol=1e-6)
    total = spread.sum()
    if which == 0:
        cone = np.sqrt(f_law(2, 48).ppf(0.9) * total * freedom / 24)
    else:
        components = total**2 / (spread**2).sum()
        cone = np.sqrt(f_law(components, freedom).ppf(0.9) * total)
    assert found.cone_deg == pytest.approx(np.degrees(cone), rel=1e-6)
    np.testing.assert_allclose(found.directions @ found.axis, 0.0, atol=1e-9)
    none = axis_ellipse(rows[:2], np.ones(2), which=0, confidence=0.9)
    assert none.cone_deg == 90.0


@pytest.mark.parametrize("k", [40.0, 3.0])
def test_a_smear_holds_the_whole_density(k: float) -> None:
    """Σ shares of Fisher densities along the smear is the set: its mean of x by quadrature."""
    b1, b2 = 6.0, 14.0
    one = smear(np.array([k]), np.array([b1]), np.array([b2]))
    assert one.shares.sum() == pytest.approx(1.0)
    assert (one.shares >= 0).all()
    coarse = smear(np.array([k]), np.array([b1]), np.array([b2]), coarse=True)
    assert coarse.shares.shape[1] < one.shares.shape[1]
    means = [(each.shares * np.cos(each[0])).sum() for each in (coarse, one)]
    assert means[0] == pytest.approx(means[1], rel=0.02)
    # By symmetry nothing leans to either side.
    assert (one.shares * np.sin(one[0])).sum() == pytest.approx(0.0, abs=1e-9)


def test_the_envelope_solves_its_equation() -> None:
    """Σ 1 / (b + 2 fall) = 1, b between 1 and 3."""
    fall = np.array([[0.0, 0.0, 0.0], [0.0, 4.0, 9.0], [5.0, 0.0, 200.0], [0.0, 1e9, 1e9]])
    b = _envelope(fall)
    np.testing.assert_allclose((1 / (b[:, np.newaxis] + 2 * fall)).sum(axis=1), 1.0)
    np.testing.assert_allclose(b[[0, 3]], [3.0, 1.0])


def test_trimmed_means_leave_out_the_share_farthest() -> None:
    """Of ten poles a fifth is two: the mean of the eight nearest; nothing left out is the mean."""
    rows = np.vstack([CLUSTER[:8], [[1.0, 0.0, 0.2], [0.2, 1.0, 0.0]]])
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    mean = CLUSTER[:8].sum(axis=0)
    found = trimmed_mean(rows, share=0.2)
    np.testing.assert_allclose(np.abs(found @ mean) / np.linalg.norm(mean), 1.0)
    weights = np.append(np.ones(8), [1.9, 0.1])
    heavy = trimmed_mean(rows, weights, share=0.2)
    np.testing.assert_allclose(np.abs(heavy @ mean) / np.linalg.norm(mean), 1.0)


def test_the_farthest_pole_is_tested_by_its_share_of_the_spread() -> None:
    """n times the tail of F with 2 and 2 (n − 2) degrees, of a directed tight set."""
    found = outlier_test(CLUSTER, axial=False)
    n = len(CLUSTER)
    whole = n - np.linalg.norm(CLUSTER.sum(axis=0))
    best = 0.0
    for i in range(n):
        rest = np.delete(CLUSTER, i, axis=0)
        left = n - 1 - np.linalg.norm(rest.sum(axis=0))
        best = max(best, (whole - left) * (n - 2) / left)
    assert found.statistic == pytest.approx(best)
    assert found.pvalue == pytest.approx(min(1.0, n * f_law(2, 2 * (n - 2)).sf(best)))


def test_roundness_by_doubled_angles() -> None:
    """−(n − 2) log(1 − R²) by moments of Fisher's distribution, R of the doubled angles about the mean."""
    n, total = len(CLUSTER), CLUSTER.sum(axis=0)
    mean = total / np.linalg.norm(total)
    side = np.cross(mean, [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    double = (CLUSTER @ side + 1j * (CLUSTER @ np.cross(mean, side))) ** 2
    long = abs(double.sum()) / np.abs(double).sum()
    resultant = np.linalg.norm(total) / n
    kappa = brentq(lambda k: 1 / np.tanh(k) - 1 / k - resultant, 1e-3, 1e4)
    weight = (ive(1.5, kappa) / ive(0.5, kappa)) ** 2 / (ive(2.5, kappa) / ive(0.5, kappa))
    found = roundness_test(CLUSTER)
    assert found.statistic == pytest.approx(-(n - 2) * np.log(1 - long**2) * weight, rel=1e-6)
    assert found.pvalue == pytest.approx(np.exp(-found.statistic / 2))
