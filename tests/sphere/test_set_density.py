"""Densities of a set: density, normaliser, mean exposure, moments and draws against other roads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.special import gammaln, iv

import jointstats as js
from jointstats.sphere.axes import frame_about, rotation_about
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.sphere.axial_fisher import log_density as fisher_log_density
from jointstats.sphere.normalise import log_kent, set_sums
from jointstats.sphere.set_chart import SetChart
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity
from jointstats.sphere.zonal import SetMoments

HOLES = js.LineExposure(js.lines_from_trend([0, 130], [90, 60]), [60.0, 40.0])
TILTED = rotation_about([1, 2, 3], 0.8) @ rotation_about([0, 0, 1], 0.5)
FRAMES = [np.eye(3)[[2, 0, 1]], TILTED]


def log_density(rows: np.ndarray, frame: np.ndarray, kappa: float, beta: float) -> np.ndarray:
    return EllipticalDensity(frame, kappa, beta).log_density(rows)


def mean_exposure(frame: np.ndarray, kappa: float, beta: float, holes: js.LineExposure) -> float:
    return EllipticalDensity(frame, kappa, beta).mean_exposure(holes)


def moments(
    frame: np.ndarray, kappa: float, beta: float, holes: js.LineExposure | None
) -> SetMoments:
    return EllipticalDensity(frame, kappa, beta).moments(holes)


def log_normaliser(kappa: float, beta: float) -> float:
    return log_kent(kappa, beta) - float(np.log(2.0))


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


def test_round_elliptical_set_is_the_fisher_set() -> None:
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
    [(4, 0.9, 1e-3), (10, 0.97, 1e-5), (20, 0.97, 1e-6), (40, 0.6, 1e-6), (150, 0.9, 1e-6)],
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
    rows = EllipticalDensity(TILTED, kappa, beta).sample(200_000, 3)
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
    poles = EllipticalDensity(np.eye(3), kappa, beta).sample(40_000, 5)
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
    density = EllipticalDensity(TILTED, 20.0, 5.0)
    first, again = density.sample(7, 2), density.sample(7, 2)
    np.testing.assert_array_equal(first, again)
    assert (first[:, 2] <= 0).all()
    assert density.sample(0).shape == (0, 3)


def _bingham_draws(flat: float, e: float, size: int) -> np.ndarray:
    """Plain rejection from uniform axes: slow, and without the package's envelope."""
    rng = np.random.default_rng(4)
    rows = rng.normal(size=(size, 3))
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    log = -flat * rows[:, 0] ** 2 + e * (rows[:, 1] ** 2 - rows[:, 2] ** 2) - e
    return rows[np.log(rng.random(size)) < log]


@pytest.mark.parametrize(("flat", "e"), [(5.0, 1.0), (30.0, 0.0), (80.0, 25.0)])
def test_girdle_against_plain_rejection(flat: float, e: float) -> None:
    """Mean exposure, moments, mean cosines and spread of a girdle are those of draws by rejection."""
    girdle = GirdleDensity(TILTED, flat, e)
    rows = _bingham_draws(flat, e, 600_000) @ TILTED
    met = HOLES.at(rows)
    error = met.std() / np.sqrt(len(met))
    assert abs(girdle.mean_exposure(HOLES) - met.mean()) < 4 * error + 1e-3 * met.mean()
    found = girdle.moments(HOLES)
    second = (rows * (met / met.sum())[:, np.newaxis]).T @ rows
    np.testing.assert_allclose(found.second, second, atol=6e-3)
    np.testing.assert_allclose(girdle.moments().second, rows.T @ rows / len(rows), atol=4e-3)
    along = np.abs(rows @ HOLES.directions.T).mean(axis=0)
    np.testing.assert_allclose(girdle.mean_cosines(HOLES.directions), along, atol=4e-3)
    off = np.degrees(np.arcsin(np.abs(rows @ TILTED[0])))
    assert girdle.spread_deg(0.95) == pytest.approx(np.quantile(off, 0.95), rel=0.02)


def test_girdle_draws_have_its_second_moment() -> None:
    """Exact draws of a girdle agree with plain rejection; the density of a girdle is its own image."""
    girdle = GirdleDensity(TILTED, 30.0, 6.0)
    drawn = girdle.sample(100_000, 1)
    plain = _bingham_draws(30.0, 6.0, 600_000) @ TILTED
    np.testing.assert_allclose(
        drawn.T @ drawn / len(drawn), plain.T @ plain / len(plain), atol=5e-3
    )
    np.testing.assert_allclose(girdle.log_density(drawn), girdle.log_density(-drawn))


def test_girdle_normaliser_is_binghams() -> None:
    """The one-dimensional integral agrees with an adaptive one in two dimensions."""
    flat, e = 12.0, 3.0

    def density(phi: float, t: float) -> float:
        square = 1.0 - t * t
        return float(np.exp(-flat * t * t + e * square * np.cos(2 * phi)))

    whole = dblquad(density, 0, 1, 0, 2 * np.pi, epsabs=1e-9)[0]
    sums = set_sums(np.zeros(1), np.array([flat]), np.array([e]))
    assert sums.log_size[0] == pytest.approx(np.log(whole), abs=1e-8)


@pytest.mark.parametrize("kind", [EllipticalDensity, GirdleDensity])
def test_constants_of_many_sets_are_those_of_each(kind: type[SetDensity]) -> None:
    """Normalising constants from the table, and beyond its reach, agree with the integral."""
    rng = np.random.default_rng(5)
    c = np.exp(rng.uniform(np.log(0.05), np.log(2e4), 400))
    e = kind.limit * c * rng.uniform(size=400)
    rows, frames = TILTED[:1], np.broadcast_to(TILTED, (400, 3, 3))
    many = kind.log_densities(rows, frames, c, e)
    each = kind.log_densities(rows, frames, c, e, kind.sums_of(c, e))
    np.testing.assert_allclose(many, each, atol=1e-3)


@pytest.mark.parametrize("kappa", [0.5, 8.0, 200.0])
def test_spread_cone_of_a_round_set_is_fishers_quantile(kappa: float) -> None:
    """The 95 % spread cone of a round set is the quantile of the axial Fisher distribution."""
    expected = AxialFisher([0, 0, 1], kappa).ppf([0.95])[0]
    assert RoundDensity.about([0, 0, 1], kappa).spread_deg() == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    "density",
    [
        RoundDensity.about([0, 0.6, 0.8], 30.0),
        EllipticalDensity(TILTED, 40.0, 10.0),
        EllipticalDensity(TILTED, 40.0, 0.0),
        GirdleDensity(TILTED, 30.0, 6.0),
    ],
    ids=["round", "elliptical", "no ellipticity", "girdle"],
)
def test_slopes_by_the_coordinates_are_differences(density: SetDensity) -> None:
    """The chart turns slopes by the natural parameters into those by its five coordinates."""
    rng = np.random.default_rng(2)
    rows, step = AxialFisher([0, 0, 1], 1.0).rvs(60, random_state=3), rng.normal(size=5) * 0.2
    chart = SetChart(density, (1.0, 1000.0))
    at = chart.at(step)
    whole, bend = at.moments(), np.tanh((at.kappa or 0.0) * (rows @ at.frame[0]))
    by_vector = bend @ rows - len(rows) * whole.first
    by_matrix = rows.T @ rows - len(rows) * whole.second
    ours = chart.slope(step, at, by_vector, by_matrix)
    plain = [
        (chart.at(step + h).log_density(rows).sum() - chart.at(step - h).log_density(rows).sum())
        / 2e-5
        for h in np.eye(5) * 1e-5
    ]
    free = 5 if density.limit else 3
    np.testing.assert_allclose(ours[:free], plain[:free], atol=1e-3)


def test_what_is_no_set_is_refused() -> None:
    """A frame that is not square, too much ellipticity or a negative size are named."""
    with pytest.raises(js.InputError, match="square to each other"):
        EllipticalDensity(np.ones((3, 3)), 10.0, 1.0)
    with pytest.raises(js.InputError, match="at most 0.49 times its concentration 10; got 5"):
        EllipticalDensity(np.eye(3), 10.0, 5.0)
    with pytest.raises(js.InputError, match="at most 0.333 times"):
        GirdleDensity(np.eye(3), 10.0, 4.0)
    with pytest.raises(js.InputError, match="size must be zero or more"):
        RoundDensity.about([0, 0, 1], 10.0).sample(-1)
