"""The elliptical set: density, normaliser, mean exposure, moments and draws against other roads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.special import gammaln, iv

import jointstats as js
from jointstats.sphere.axes import frame_about, rotation_about
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.sphere.axial_fisher import log_density as fisher_log_density
from jointstats.sphere.elliptical import (
    log_density,
    log_normaliser,
    mean_exposure,
    moments,
    sample,
)

HOLES = js.LineExposure(js.lines_from_trend([0, 130], [90, 60]), [60.0, 40.0])
TILTED = rotation_about([1, 2, 3], 0.8) @ rotation_about([0, 0, 1], 0.5)
FRAMES = [np.eye(3)[[2, 0, 1]], TILTED]


def _brute(frame: np.ndarray, kappa: float, beta: float, nodes: int = 240) -> float:
    """Mean exposure on a grid about each hole, whose edge is the blind angle itself."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    least = np.sin(np.radians(HOLES.blind_angle_deg))
    t, phi = least + (1 - least) * (x + 1) / 2, np.arange(2 * nodes) * np.pi / nodes
    across = np.sqrt(1 - t * t)[:, np.newaxis]
    grid = np.stack(
        [across * np.cos(phi), across * np.sin(phi), np.repeat(t[:, None], 2 * nodes, 1)], axis=-1
    )
    total = 0.0
    for direction, length in zip(HOLES.directions, HOLES.lengths_m, strict=True):
        rows = grid.reshape(-1, 3) @ frame_about(direction)
        value = np.exp(log_density(rows, frame, kappa, beta)).reshape(nodes, -1).sum(axis=1)
        total += length * float((w * t) @ value) * (1 - least) / 2 * np.pi / nodes
    return total


def _kent_series(kappa: float, beta: float) -> float:
    """Kent's (1982) series for the integral over the sphere."""
    j = np.arange(60)
    logs = (
        gammaln(j + 0.5) - gammaln(j + 1) + 2 * j * np.log(beta) - (2 * j + 0.5) * np.log(kappa / 2)
    )
    return float(2 * np.pi * (np.exp(logs) * iv(2 * j + 0.5, kappa)).sum())


@pytest.mark.parametrize(("kappa", "beta"), [(2.0, 0.8), (20.0, 4.0), (60.0, 20.0)])
def test_normaliser_is_that_of_kents_series(kappa: float, beta: float) -> None:
    """Half of Kent's series for the sphere is the normaliser over the hemisphere."""
    expected = np.log(_kent_series(kappa, beta) / 2) - kappa
    assert log_normaliser(kappa, beta) == pytest.approx(expected, abs=1e-10)


@pytest.mark.parametrize(("kappa", "beta"), [(1.0, 0.4), (15.0, 6.0)])
def test_density_integrates_to_one(kappa: float, beta: float) -> None:
    """The density over the hemisphere holds all of the set, by adaptive quadrature."""

    def density(phi: float, t: float) -> float:
        s = np.sqrt(1 - t * t)
        row = np.array([[s * np.cos(phi), s * np.sin(phi), t]])
        return float(np.exp(log_density(row, FRAMES[0], kappa, beta))[0])

    assert 4 * dblquad(density, 0, 1, 0, np.pi / 2, epsabs=1e-7)[0] == pytest.approx(1, abs=1e-6)


def test_round_oval_set_is_the_fisher_set() -> None:
    """At β = 0 density, mean exposure and draws are those of the axial Fisher set."""
    rows = AxialFisher([0, 0, 1], 2.0).rvs(50, random_state=1)
    ours = log_density(rows, TILTED, 30.0, 0.0)
    np.testing.assert_allclose(ours, fisher_log_density(rows, TILTED[0], 30.0), atol=1e-11)
    expected = HOLES.of_set(TILTED[0], 30.0)
    assert mean_exposure(TILTED, 30.0, 0.0, HOLES) == pytest.approx(expected, rel=1e-6)
    assert mean_exposure(TILTED, 30.0, 1e-5, HOLES) == pytest.approx(expected, rel=1e-6)


def test_density_does_not_depend_on_the_ends_of_axes() -> None:
    """Flipping rows or any axis of the frame, or turning everything, changes nothing."""
    rows = AxialFisher([0, 0, 1], 2.0).rvs(50, random_state=1)
    first = log_density(rows, TILTED, 30.0, 10.0)
    np.testing.assert_allclose(log_density(-rows, TILTED, 30.0, 10.0), first)
    flipped = TILTED * [[-1], [1], [-1]]
    np.testing.assert_allclose(log_density(rows, flipped, 30.0, 10.0), first)
    turn = rotation_about([3, -1, 2], 1.1)
    np.testing.assert_allclose(log_density(rows @ turn.T, TILTED @ turn.T, 30.0, 10.0), first)


@pytest.mark.parametrize("frame", FRAMES, ids=["level", "tilted"])
@pytest.mark.parametrize(
    ("kappa", "ratio", "error"),
    [(4, 0.9, 1e-3), (10, 0.98, 1e-5), (20, 0.98, 1e-6), (40, 0.6, 1e-6), (150, 0.9, 1e-6)],
)
def test_mean_exposure_is_that_of_a_fine_grid(
    frame: np.ndarray, kappa: float, ratio: float, error: float
) -> None:
    """The smear of Fisher sets gives the mean exposure within the stated error, step and all."""
    beta = 0.5 * ratio * kappa
    found = mean_exposure(frame, kappa, beta, HOLES)
    assert found == pytest.approx(_brute(frame, kappa, beta), rel=error)
    assert moments(frame, kappa, beta, HOLES).met == pytest.approx(found, rel=1e-9)


@pytest.mark.parametrize("exposure", [None, HOLES], ids=["even", "holes"])
def test_moments_are_those_of_draws_that_were_met(exposure: js.LineExposure | None) -> None:
    """First and second moments agree with 200,000 draws, weighted by their exposure."""
    kappa, beta = 25.0, 9.0
    rows = sample(TILTED, kappa, beta, 200_000, random_state=3)
    weights = np.ones(len(rows)) if exposure is None else exposure.at(rows)
    found = moments(TILTED, kappa, beta, exposure)
    assert found.met == pytest.approx(weights.mean(), rel=5e-3)
    share = weights / weights.sum()
    second = (rows * share[:, np.newaxis]).T @ rows
    np.testing.assert_allclose(found.second, second, atol=3e-3)
    bent = share * np.tanh(kappa * (rows @ TILTED[0]))
    np.testing.assert_allclose(found.first, bent @ rows, atol=3e-3)
    assert np.trace(found.second) == pytest.approx(1, abs=1e-6)


def test_moments_are_the_slopes_of_the_integral() -> None:
    """The slope of log (C × mean exposure) by κ and by β is the moment that says so."""
    kappa, beta, h = 30.0, 8.0, 1e-3

    def integral(k: float, b: float) -> float:
        return float(np.log(mean_exposure(TILTED, k, b, HOLES))) + log_normaliser(k, b) + k

    found = moments(TILTED, kappa, beta, HOLES)
    by_kappa = (integral(kappa + h, beta) - integral(kappa - h, beta)) / (2 * h)
    by_beta = (integral(kappa, beta + h) - integral(kappa, beta - h)) / (2 * h)
    assert TILTED[0] @ found.first == pytest.approx(by_kappa, abs=1e-6)
    elliptical = TILTED[1] @ found.second @ TILTED[1] - TILTED[2] @ found.second @ TILTED[2]
    assert elliptical == pytest.approx(by_beta, abs=1e-6)


@pytest.mark.parametrize(("kappa", "beta"), [(0.5, 0.2), (6.0, 2.9), (300.0, 100.0)])
def test_draws_have_the_density_of_the_set(kappa: float, beta: float) -> None:
    """The mean of log f over 40,000 draws is that of the density, within 4 standard errors."""
    poles = sample(np.eye(3), kappa, beta, 40_000, random_state=5)
    x, w = np.polynomial.legendre.leggauss(400)
    reach = min(1.0, 60.0 / max(kappa - 2 * beta, 1.0))
    t, phi = 1 - reach * (1 - x) / 2, np.arange(400) * np.pi / 200
    s = np.sqrt(1 - t * t)[:, np.newaxis]
    rows = np.stack([np.repeat(t[:, None], 400, 1), s * np.cos(phi), s * np.sin(phi)], axis=-1)
    logs = log_density(rows.reshape(-1, 3), np.eye(3), kappa, beta).reshape(400, 400)
    expected = float((w @ (np.exp(logs) * logs)).sum()) * reach / 2 * np.pi / 200
    drawn = log_density(poles, np.eye(3), kappa, beta)
    assert abs(drawn.mean() - expected) < 4 * drawn.std() / np.sqrt(len(drawn))


def test_draws_are_repeatable_and_few() -> None:
    """The same seed gives the same poles; none are drawn where none are asked for."""
    first, again = (sample(TILTED, 20.0, 5.0, 7, random_state=2) for _ in range(2))
    np.testing.assert_array_equal(first, again)
    assert (first[:, 2] <= 0).all()
    assert sample(TILTED, 20.0, 5.0, 0).shape == (0, 3)


def test_what_is_no_oval_set_is_refused() -> None:
    """A frame that is not square, β of κ/2 or a negative size are named."""
    with pytest.raises(js.InputError, match="square to each other"):
        log_density([0, 0, 1.0], np.ones((3, 3)), 10.0, 1.0)
    with pytest.raises(js.InputError, match="less than kappa / 2"):
        log_density([0, 0, 1.0], np.eye(3), 10.0, 5.0)
    with pytest.raises(js.InputError, match="size must be zero or more"):
        sample(np.eye(3), 10.0, 1.0, -1)
