"""The axial Fisher distribution: against quadrature, many digits, scipy and its own draws."""

from __future__ import annotations

import numpy as np
import pytest
from mpmath import mp
from scipy.integrate import quad
from scipy.stats import kstest, vonmises_fisher

from jointstats import InputError, axis_angles_deg
from jointstats.sphere import AxialFisher
from jointstats.sphere.axial_fisher import log_density, sample

KAPPAS = [0.0, 1e-8, 1e-3, 0.7, 5.0, 14.9, 15.1, 80.0, 1e3, 1e6]
UP = np.array([0.0, 0.0, 1.0])


@pytest.mark.parametrize("kappa", KAPPAS)
def test_density_integrates_to_one(kappa: float) -> None:
    """Over the hemisphere the density sums to one, from no concentration to a very high one."""

    def ring(log_drop: float) -> float:
        drop = np.exp(log_drop)
        pole = np.array([[np.sqrt(drop * (2 - drop)), 0.0, 1 - drop]])
        return float(2 * np.pi * drop * np.exp(log_density(pole, UP, kappa))[0])

    total, _ = quad(ring, -40, 0, limit=400, points=[-np.log(kappa + 1)])
    assert total == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize("kappa", KAPPAS[1:])
@pytest.mark.parametrize("cosine", [0.0, 0.3, 0.999, 1.0])
def test_log_density_is_stable(kappa: float, cosine: float) -> None:
    """The log density agrees with the formula in a thousand digits."""
    with mp.workdps(1000):
        k, c = mp.mpf(kappa), mp.mpf(cosine)
        exact = mp.log(k * mp.cosh(k * c) / (2 * mp.pi * mp.sinh(k)))
        pole = [np.sqrt(1 - cosine**2), 0.0, cosine]
        got = log_density(pole, UP, kappa)[0]
        assert float(abs(got - exact) / (1 + abs(exact))) < 2e-13


@pytest.mark.parametrize("kappa", [0.5, 8.0, 60.0])
def test_density_is_scipys_folded(kappa: float) -> None:
    """The density is scipy's von Mises-Fisher density with both ends added."""
    law = vonmises_fisher(UP, kappa)
    poles = vonmises_fisher(UP, 1.0).rvs(50, random_state=1)
    np.testing.assert_allclose(
        AxialFisher(UP, kappa).pdf(poles), law.pdf(poles) + law.pdf(-poles), rtol=1e-12
    )


@pytest.mark.parametrize("kappa", KAPPAS)
def test_quantile_inverts_cumulative(kappa: float) -> None:
    """The share within the quantile of a share is that share."""
    law = AxialFisher(UP, kappa)
    shares = np.array([0.0, 1e-9, 0.01, 0.5, 0.95, 1 - 1e-9, 1.0])
    np.testing.assert_allclose(law.cdf(law.ppf(shares)), shares, atol=1e-13)
    assert law.ppf(1.0)[0] == pytest.approx(90.0, abs=1e-6)


@pytest.mark.parametrize("kappa", [0.0, 2.0, 40.0, 1e4])
def test_draws_follow_the_cumulative(kappa: float) -> None:
    """Angles of draws to the mean follow the cumulative (Kolmogorov, 4000 draws, p > 0.001)."""
    law = AxialFisher([0.3, -0.5, 0.2], kappa)
    angles = axis_angles_deg(law.rvs(4000, random_state=5), law.mean)
    assert kstest(angles, law.cdf).pvalue > 0.001


def test_several_means_make_columns() -> None:
    """Several means give one column each, the same as one by one."""
    poles = sample(UP, 3.0, 5, random_state=0)
    both = log_density(poles, [[0, 0, 1.0], [1.0, 0, 0]], [3.0, 50.0])
    assert both.shape == (5, 2)
    np.testing.assert_array_equal(both[:, 1], log_density(-poles, [-1.0, 0, 0], 50.0))


def test_draws_are_repeatable_and_sized() -> None:
    """One seed gives one set of draws; zero draws give an empty array."""
    np.testing.assert_array_equal(sample(UP, 9.0, 4, 7), sample(UP, 9.0, 4, 7))
    assert sample(UP, 9.0, 0).shape == (0, 3)
    assert (sample(UP, 9.0, 50, 7)[:, 2] <= 0).all()


def test_bad_arguments_are_named() -> None:
    """Each argument out of range is refused with its rule."""
    with pytest.raises(InputError, match="kappa must be finite and not negative"):
        AxialFisher(UP, -1.0)
    with pytest.raises(InputError, match="kappa must be a number"):
        AxialFisher(UP, "high")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="kappa must be one number"):
        AxialFisher(UP, [1.0, 2.0])  # type: ignore[arg-type]
    with pytest.raises(InputError, match="mean must be one axis"):
        AxialFisher(np.eye(3), 1.0)
    with pytest.raises(InputError, match="kappa must have one value, or one for each mean"):
        log_density(UP, np.eye(3), [1.0, 2.0])
    with pytest.raises(InputError, match="share must lie between 0 and 1"):
        AxialFisher(UP, 1.0).ppf(1.5)
    with pytest.raises(InputError, match="size must be zero or more"):
        sample(UP, 1.0, -1)
