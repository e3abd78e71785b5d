"""Means over a Fisher set: the series against quadrature, simulation and finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import vonmises_fisher

from jointstats.errors import InputError
from jointstats.sphere import zonal


def _by_quadrature(angle_deg: float, kappa: float, blind_angle_deg: float) -> float:
    """Integrate |t| over the circle of latitude about d, then over t, by scipy."""
    smallest = np.sin(np.radians(blind_angle_deg))
    along, across = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    phi = 2 * np.pi * (np.arange(4000) + 0.5) / 4000

    def ring(t: float) -> float:
        cosine = t * along + np.sqrt(1 - t * t) * across * np.cos(phi)
        density = kappa / (2 * np.pi * (1 - np.exp(-2 * kappa))) * np.exp(kappa * (cosine - 1))
        return abs(t) * density.mean() * 2 * np.pi

    points = [along] if abs(along) < 1 else None
    upper, _ = quad(ring, smallest, 1, points=points, epsabs=1e-11, limit=400)
    lower, _ = quad(ring, -1, -smallest, epsabs=1e-11, limit=400)
    return upper + lower


@pytest.mark.parametrize("kappa", [0.5, 8.0, 40.0, 300.0])
@pytest.mark.parametrize("angle_deg", [0.0, 35.0, 79.0, 86.0, 90.0])
@pytest.mark.parametrize("blind_angle_deg", [0.0, 10.0, 30.0])
def test_series_agrees_with_quadrature(
    kappa: float, angle_deg: float, blind_angle_deg: float
) -> None:
    """The Legendre series equals the integral that defines it."""
    cosine = np.cos(np.radians(angle_deg))
    got = zonal.fisher_mean_of_cosine([cosine], kappa, blind_angle_deg=blind_angle_deg)[0]
    assert got == pytest.approx(_by_quadrature(angle_deg, kappa, blind_angle_deg), abs=2e-9)


def test_series_agrees_with_simulation() -> None:
    """The mean over draws of scipy's von Mises-Fisher lies within four standard errors."""
    mean = np.array([np.sin(np.radians(80)), 0, np.cos(np.radians(80))])
    draws = vonmises_fisher(mean, 25.0).rvs(200_000, random_state=np.random.default_rng(1))
    cosine = np.abs(draws[:, 2])
    seen = np.where(cosine >= np.sin(np.radians(10)), cosine, 0.0)
    got = zonal.fisher_mean_of_cosine([mean[2]], 25.0, blind_angle_deg=10.0)[0]
    assert abs(got - seen.mean()) < 4 * seen.std() / np.sqrt(len(seen))


@pytest.mark.parametrize("kappa", [0.1, 3.0, 60.0, 2000.0])
def test_derivatives_are_those_of_finite_differences(kappa: float) -> None:
    """First and second derivatives agree with central differences of the order below."""
    t = np.array([0.0, 0.1, 0.2, 0.6, 0.95, -0.4])

    def at(cosine: np.ndarray, concentration: float) -> zonal.CosineMean:
        return zonal.fisher_mean_of_cosine_slopes(cosine, concentration, blind_angle_deg=10)

    mean = at(t, kappa)
    h = 1e-5 / np.sqrt(max(kappa, 1.0))
    up, down = at(t + h, kappa), at(t - h, kappa)
    scale = max(1.0, kappa)
    np.testing.assert_allclose(mean.by_cosine, (up.value - down.value) / (2 * h), atol=1e-6 * scale)
    np.testing.assert_allclose(
        mean.by_cosine_twice, (up.by_cosine - down.by_cosine) / (2 * h), atol=1e-5 * scale
    )
    step = 1e-4 * kappa
    up, down = at(t, kappa + step), at(t, kappa - step)
    for slope, of in [
        ("by_kappa", "value"),
        ("by_cosine_and_kappa", "by_cosine"),
        ("by_kappa_twice", "by_kappa"),
    ]:
        difference = (getattr(up, of) - getattr(down, of)) / (2 * step)
        np.testing.assert_allclose(getattr(mean, slope), difference, rtol=1e-4, atol=1e-8)


@pytest.mark.parametrize("blind_angle_deg", [0.0, 10.0, 25.0])
def test_table_agrees_with_the_series(blind_angle_deg: float) -> None:
    """Between its knots the table is within 1e-7 in value, and its slopes within 1e-4."""
    table = zonal.cosine_mean_table(blind_angle_deg)
    t = np.random.default_rng(3).uniform(-1, 1, 400)
    for kappa in (0.7, 9.3, 41.0, 333.0, 1900.0):
        exact = zonal.fisher_mean_of_cosine_slopes(t, kappa, blind_angle_deg=blind_angle_deg)
        got = table.at(t, kappa)
        np.testing.assert_allclose(got.value, exact.value, atol=1e-7)
        np.testing.assert_allclose(table.value_at(t, kappa), exact.value, atol=1e-7)
        np.testing.assert_allclose(got.by_cosine, exact.by_cosine, atol=1e-4)
        np.testing.assert_allclose(got.by_cosine_twice, exact.by_cosine_twice, atol=0.02)
        for name in ("by_kappa", "by_cosine_and_kappa"):
            np.testing.assert_allclose(
                kappa * getattr(got, name), kappa * getattr(exact, name), atol=1e-4
            )
        np.testing.assert_allclose(
            kappa**2 * got.by_kappa_twice, kappa**2 * exact.by_kappa_twice, atol=1e-4
        )


def test_extremes_of_concentration() -> None:
    """No concentration gives cos²ψ / 2; a very tight set gives its own cosine."""
    t = np.array([0.0, 0.3, 1.0])
    none = zonal.fisher_mean_of_cosine(t, 0.0, blind_angle_deg=20)
    np.testing.assert_allclose(none, zonal.uniform_mean_of_hole(20, np.zeros(1))[0], atol=1e-8)
    tight = zonal.fisher_mean_of_cosine(t, 1e9, blind_angle_deg=10)
    np.testing.assert_allclose(tight, [0.0, 0.3, 1.0], atol=1e-4)


def test_refusals() -> None:
    """A negative concentration and a blind angle of 90° or more are refused."""
    with pytest.raises(InputError, match="kappa must be finite and not negative"):
        zonal.fisher_mean_of_cosine([0.5], -1.0)
    with pytest.raises(InputError, match="blind_angle_deg must lie between 0 and below 90"):
        zonal.uniform_mean_of_hole(90, np.zeros(1))
