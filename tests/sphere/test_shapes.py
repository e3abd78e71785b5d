"""Watson, Bingham and Kent fits, their constants, fold axes and roundness."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from mpmath import mp
from scipy.integrate import dblquad, quad
from scipy.optimize import minimize
from scipy.special import gammaln, ive
from scipy.stats import f as f_law
from scipy.stats import vonmises_fisher

from jointstats import InputError, axis_angles_deg, orientation_tensor
from jointstats.sphere import (
    AxialFisher,
    fit_bingham,
    fit_kent,
    fit_watson,
    fold_axis,
    roundness_test,
)
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.normalise import bingham_moments, log_bingham, log_kent
from jointstats.sphere.set_shapes import GirdleDensity
from jointstats.sphere.watson import log_watson, mean_squared_cosine


@pytest.mark.parametrize(("a", "b"), [(0, 0), (0.1, 3), (-2, 7), (20, 500), (0, 1e4), (1e3, 1e6)])
def test_bingham_constant_in_many_digits(a: float, b: float) -> None:
    """The constant agrees with adaptive quadrature of 20 digits to 1e-12."""
    with mp.workdps(20):
        edges = [0, *(1 - mp.mpf(2) ** -k for k in range(1, 24)), 1]
        exact = mp.log(
            2
            * mp.pi
            * mp.quad(
                lambda u: (
                    mp.exp(-(1 - u * u) * (a + b) / mp.mpf(2))
                    * mp.besseli(0, (1 - u * u) * (b - a) / mp.mpf(2))
                ),
                edges,
            )
        )
        assert abs(log_bingham(a, b) - float(exact)) < 1e-12


def test_bingham_constant_from_its_definition() -> None:
    """It is the integral of exp(−a y² − b z²) over the hemisphere x > 0, and so are the means."""

    def part(power: tuple[int, int]) -> float:
        return dblquad(
            lambda phi, c: (
                np.exp(-(1 - c * c) * (2.0 * np.cos(phi) ** 2 + 9.0 * np.sin(phi) ** 2))
                * ((1 - c * c) * np.cos(phi) ** 2) ** power[0]
                * ((1 - c * c) * np.sin(phi) ** 2) ** power[1]
            ),
            0,
            1,
            0,
            2 * np.pi,
        )[0]

    whole = part((0, 0))
    assert log_bingham(2.0, 9.0) == pytest.approx(np.log(whole), abs=1e-9)
    mean, covariance = bingham_moments(2.0, 9.0)
    assert mean == pytest.approx([part((1, 0)) / whole, part((0, 1)) / whole], abs=1e-8)
    assert covariance[0, 1] + mean[0] * mean[1] == pytest.approx(part((1, 1)) / whole, abs=1e-8)


@pytest.mark.parametrize(("kappa", "beta"), [(1.0, 0.3), (10.0, 4.9), (100.0, 30.0), (1e4, 100.0)])
def test_kent_constant_is_its_series(kappa: float, beta: float) -> None:
    """The constant agrees with Kent's (1982) series, summed in logs, to 1e-10."""
    j = np.arange(400)
    with np.errstate(divide="ignore"):
        terms = (
            gammaln(j + 0.5)
            - gammaln(j + 1)
            + 2 * j * np.log(beta)
            - (2 * j + 0.5) * np.log(kappa / 2)
            + np.log(ive(2 * j + 0.5, kappa))
        )
    series = np.log(2 * np.pi) + terms.max() + np.log(np.exp(terms - terms.max()).sum())
    assert log_kent(kappa, beta) == pytest.approx(series, abs=1e-10)


@pytest.mark.parametrize("kappa", [-1e4, -8.0, -1e-4, 1e-4, 8.0, 1e4])
def test_watson_constant_and_mean(kappa: float) -> None:
    """Constant and mean of t² agree with quadrature."""
    shift = max(kappa, 0.0)
    edges = [0.0, 1e-2, 0.1, 0.9, 0.99, 0.999, 1.0]

    def part(power: int) -> float:
        return sum(
            quad(lambda t: t**power * np.exp(kappa * t * t - shift), a, b, epsabs=1e-16)[0]
            for a, b in pairwise(edges)
        )

    whole, second = part(0), part(2)
    assert log_watson(kappa) == pytest.approx(np.log(2 * np.pi * whole), abs=1e-10)
    assert mean_squared_cosine(kappa) == pytest.approx(second / whole, rel=1e-9)


def test_bingham_fit_is_the_maximum() -> None:
    """No other concentrations are likelier; the means of the fit are the eigenvalues."""
    poles = AxialFisher([0.1, 0.2, -1.0], 6.0).rvs(60, random_state=0) * [1.0, 2.0, 1.0]
    fit, tensor = fit_bingham(poles), orientation_tensor(poles)
    mean, _ = bingham_moments(*-fit.concentrations[1:])
    assert mean == pytest.approx(tensor.eigenvalues[1:], abs=1e-9)
    found = minimize(
        lambda at: log_bingham(*at) + at @ tensor.eigenvalues[1:],
        [3.0, 5.0],
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-12},
    )
    assert fit.log_likelihood == pytest.approx(-60 * found.fun, abs=1e-8)
    assert fit.log_likelihood >= fit_watson(poles).log_likelihood - 1e-9


def test_watson_fit_of_axially_symmetric_poles_is_binghams() -> None:
    """For poles with two equal eigenvalues both fits have one likelihood and one axis."""
    phi = np.arange(12) * np.pi / 6
    for height, kind in ((2.0, "bipolar"), (0.1, "girdle")):
        poles = np.column_stack([np.cos(phi), np.sin(phi), np.full(12, height)])
        watson, bingham = fit_watson(poles), fit_bingham(poles)
        assert watson.kind == kind
        assert watson.log_likelihood == pytest.approx(bingham.log_likelihood, abs=1e-7)
        assert axis_angles_deg(watson.axis, [0, 0, 1.0])[0] < 1e-6


def test_kent_fit_recovers_fisher_and_beats_it() -> None:
    """With round data κ is near the Fisher one and the likelihood at least as high."""
    rows = vonmises_fisher([0, 0.6, -0.8], 30.0).rvs(300, random_state=1)
    fit = fit_kent(rows)
    mean, kappa = vonmises_fisher.fit(rows)
    fisher = vonmises_fisher(mean, kappa).logpdf(rows).sum()
    assert fisher - 1e-6 <= fit.log_likelihood <= fisher + 8
    assert fit.kappa == pytest.approx(kappa, rel=0.05)
    assert axis_angles_deg(fit.axes[0], mean)[0] < 1e-2
    np.testing.assert_allclose(fit.axes @ fit.axes.T, np.eye(3), atol=1e-12)


def test_kent_fit_is_the_maximum() -> None:
    """The likelihood, written out, is that of the fit, and falls to all sides of it."""
    rows = vonmises_fisher([0, 0.6, -0.8], 20.0).rvs(60, random_state=3) * [2.0, 1.0, 1.0]
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    fit = fit_kent(rows, axial=False)

    def likelihood(axes: np.ndarray, kappa: float, beta: float) -> float:
        along = rows @ axes.T
        elliptical = beta * (along[:, 1] ** 2 - along[:, 2] ** 2)
        return float((kappa * (along[:, 0] - 1) + elliptical - log_kent(kappa, beta)).sum())

    best = likelihood(fit.axes, fit.kappa, fit.beta)
    assert best == pytest.approx(fit.log_likelihood, abs=1e-8)
    for turn in np.eye(3):
        for step in (-0.01, 0.01):
            assert likelihood(fit.axes @ rotation_about(turn, step).T, fit.kappa, fit.beta) < best
    for k, b in ((1.02, 1.0), (0.98, 1.0), (1.0, 1.03), (1.0, 0.97)):
        assert likelihood(fit.axes, k * fit.kappa, b * fit.beta) < best


def _girdle(generator: np.random.Generator, n: int) -> np.ndarray:
    phi, out = generator.uniform(0, np.pi, n), generator.normal(0, 0.15, n)
    return np.column_stack([np.cos(phi) * np.cos(out), np.sin(phi) * np.cos(out), np.sin(out)])


def test_fold_axis_cone_covers() -> None:
    """The 95% cone of the fold axis covers it (500 girdles of 30 poles, 3 standard errors)."""
    generator, hits = np.random.default_rng(0), 0
    for _ in range(500):
        fold = fold_axis(_girdle(generator, 30))
        hits += axis_angles_deg(fold.axis, [0, 0, 1.0])[0] <= fold.cone_deg
    assert hits / 500 == pytest.approx(0.95, abs=0.03)


def test_fold_axis_turns_with_the_poles() -> None:
    """Turning and flipping the poles turns the axis and leaves its cone alone."""
    poles = _girdle(np.random.default_rng(1), 40)
    turn = rotation_about([1.0, 0.2, 0.1], 1.0)
    base, turned = fold_axis(poles), fold_axis(-poles[::-1] @ turn.T)
    assert axis_angles_deg(turned.axis, turn @ base.axis)[0] < 1e-6
    assert turned.cone_deg == pytest.approx(base.cone_deg, rel=1e-9)
    assert base.scatter_deg == pytest.approx(np.degrees(0.15), rel=0.3)


@pytest.mark.parametrize(("kappa", "n"), [(8.0, 20), (60.0, 6)])
def test_size_of_the_roundness_test(kappa: float, n: int) -> None:
    """A round set is rejected 5 times in 100 (500 draws, 3 standard errors)."""
    generator = np.random.default_rng(2)
    law = AxialFisher([0, 0.4, -1.0], kappa)
    rejected = [roundness_test(law.rvs(n, generator)).pvalue < 0.05 for _ in range(500)]
    assert np.mean(rejected) == pytest.approx(0.05, abs=0.03)


def test_tables_and_reprs() -> None:
    """Each fit has a table and a repr without an address."""
    poles = AxialFisher([0.1, 0.2, -1.0], 6.0).rvs(20, random_state=0)
    for fit in (fit_watson(poles), fit_bingham(poles), fit_kent(poles), fold_axis(poles)):
        assert len(fit.to_frame()) >= 1
        assert "0x" not in repr(fit) and "n=20" in repr(fit)
        assert "<table" in fit._repr_html_()


def test_bad_arguments_are_named() -> None:
    """Unknown kinds, levels out of range and too few poles are refused."""
    with pytest.raises(InputError, match="kind must be one of"):
        fit_watson(np.eye(3), kind="round")
    for fit in (fit_watson, fit_bingham, fit_kent, fold_axis):
        with pytest.raises(InputError, match="confidence must lie between 0"):
            fit(np.eye(3), confidence=1.0)
        with pytest.raises(InputError, match="at least 1 rows"):
            fit([])
    with pytest.raises(InputError, match="at least 4 rows"):
        roundness_test(np.eye(3))


def test_the_ellipse_of_a_mean_is_that_of_hotelling() -> None:
    """Half-angles by T² of the coordinates square to the mean (Mardia, Kent & Bibby 1979; from memory)."""
    rows = AxialFisher([0.2, 0.1, -1.0], 300.0).rvs(30, random_state=4) * [1.5, 1.0, 1.0]
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    fit = fit_kent(rows, confidence=0.9)
    mean = rows.sum(axis=0) / np.linalg.norm(rows.sum(axis=0))
    square = np.linalg.svd(mean[np.newaxis])[2][1:]
    spread = np.linalg.eigvalsh(np.cov(rows @ square.T, rowvar=False))[::-1]
    limit = 2 * 29 / (30 * 28) * f_law.ppf(0.9, 2, 28)
    np.testing.assert_allclose(fit.ellipse_deg, np.degrees(np.sqrt(limit * spread)), rtol=0.01)


def test_a_girdle_is_widened_by_the_variance_of_reading() -> None:
    """The variances 1/2a across and 1/4e along grow by that of the reading."""
    across, along = GirdleDensity.widened(np.array([10.0]), np.array([2.0]), 0.01)
    assert 1 / (2 * across[0]) == pytest.approx(1 / 20 + 0.01)
    assert 1 / (4 * along[0]) == pytest.approx(1 / 8 + 0.01)
