"""Laws of spacing: each against quadrature, the fits against scipy, the test by its size."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

import jointstats as js
from jointstats.errors import InputError
from jointstats.line.spacing import SpacingStatistics
from jointstats.line.spacing_fits import fit_spacings, log_likelihood, simulate_spacings
from jointstats.line.spacing_laws import LAWS

CASES = [
    ("exponential", [0.7], stats.expon(scale=0.7)),
    ("lognormal", [0.5, 0.8], stats.lognorm(0.8, scale=0.5)),
    ("Weibull", [0.6, 1.7], stats.weibull_min(1.7, scale=0.6)),
    ("gamma", [0.3, 0.6], stats.gamma(0.6, scale=0.3)),
]


@pytest.mark.parametrize(("name", "p", "judge"), CASES, ids=lambda one: str(one)[:11])
def test_laws_agree_with_scipy(name: str, p: list[float], judge: stats.rv_continuous) -> None:
    """Density, survival, mean and quantiles of each law are those of scipy."""
    law, q, x = LAWS[name], np.array(p), np.array([0.01, 0.2, 0.9, 3.0])
    np.testing.assert_allclose(law.log_density(x, q), judge.logpdf(x), rtol=1e-10)
    np.testing.assert_allclose(law.log_survival(x, q), judge.logsf(x), rtol=1e-8)
    np.testing.assert_allclose(law.quantile(np.array([0.1, 0.9]), q), judge.ppf([0.1, 0.9]))
    assert law.mean(q) == pytest.approx(judge.mean())
    beyond = [quad(judge.sf, one, 80, limit=400)[0] for one in x]
    np.testing.assert_allclose(law.beyond(x, q), beyond, atol=1e-7)


@pytest.mark.parametrize(("name", "p", "judge"), CASES, ids=lambda one: str(one)[:11])
def test_spacing_at_a_point_is_longer(
    name: str, p: list[float], judge: stats.rv_continuous
) -> None:
    """The spacing that holds a random point has mean E[X²] / E[X]."""
    drawn = LAWS[name].draw_at_a_point(np.array(p), 40000, np.random.default_rng(4))
    expected = judge.moment(2) / judge.mean()
    assert drawn.mean() == pytest.approx(expected, abs=4 * drawn.std() / 200)
    plain = LAWS[name].draw(np.array(p), 40000, np.random.default_rng(5))
    assert plain.mean() == pytest.approx(judge.mean(), abs=4 * plain.std() / 200)


@pytest.mark.parametrize(
    ("name", "judge", "order"),
    [
        ("lognormal", stats.lognorm, ("scale", "shape")),
        ("Weibull", stats.weibull_min, ("scale", "shape")),
        ("gamma", stats.gamma, ("scale", "shape")),
    ],
)
def test_complete_spacings_fit_as_in_scipy(
    name: str, judge: stats.rv_continuous, order: tuple[str, str]
) -> None:
    """Without logged ends the fit is scipy's maximum likelihood of the complete spacings."""
    x = stats.gamma(2.0, scale=0.3).rvs(150, random_state=6)
    shape, _, scale = judge.fit(x, floc=0)
    fit = fit_spacings(SpacingStatistics(x), [name], n_bootstrap=0)[name]
    np.testing.assert_allclose(list(fit.parameters.values()), [scale, shape], rtol=2e-3)
    assert fit.log_likelihood >= judge(shape, scale=scale).logpdf(x).sum() - 1e-4


def test_cut_spacings_count_as_in_scipy() -> None:
    """Exponential with cut pieces: scipy's censored fit and total length over fractures agree."""
    log = simulate_spacings("exponential", [0.6], np.full(20, 3.0), random_state=7)
    right = np.concatenate([log.censored_m[len(log.censored_m) // 2 :], log.empty_m])
    first = log.censored_m[: len(log.censored_m) // 2]
    # A piece from the start of the log to the first fracture is a whole exponential spacing.
    data = stats.CensoredData(np.concatenate([log.spacings_m, first]), right=right)
    _, judge = stats.expon.fit(data, floc=0)
    fit = fit_spacings(log, ["exponential"], n_bootstrap=0).best
    assert fit.mean_m == pytest.approx(judge, rel=1e-4)
    assert fit.mean_m == pytest.approx(log.total_m / log.n_fractures)


def test_likelihood_by_hand() -> None:
    """Two lengths, one empty: the likelihood is the product of its parts."""
    data = js.line.set_spacing([1.0, 1.5], [0, 0, 1], [0, 0, 1], logged=[(0, 2), (3, 4)])
    judge = stats.weibull_min(1.7, scale=0.6)
    mean = judge.mean()
    empty = quad(judge.sf, 1.0, 50)[0] / mean
    expected = judge.sf(1.0) / mean * judge.pdf(0.5) * judge.sf(0.5) * empty
    found = log_likelihood(LAWS["Weibull"], np.array([0.6, 1.7]), data, 0.001)
    assert found == pytest.approx(np.log(expected), rel=1e-8)


@pytest.mark.parametrize(("name", "p", "judge"), CASES[1:], ids=lambda one: str(one)[:11])
def test_truth_is_found_in_short_holes(
    name: str, p: list[float], judge: stats.rv_continuous
) -> None:
    """In many holes a few spacings long the true law is best, its mean within three errors."""
    lengths = np.full(400, 5.0 * judge.mean())
    fits = fit_spacings(simulate_spacings(name, p, lengths, random_state=8), n_bootstrap=0)
    assert fits.best.law == name
    error = judge.std() / judge.mean() / np.sqrt(fits.n + 400)
    assert error < 0.03
    assert fits[name].mean_m == pytest.approx(judge.mean(), rel=3 * error)


def test_bootstrap_rejects_the_wrong_law_and_keeps_the_right_one() -> None:
    """The p-value is small for a law that is wrong, not for the one that made the spacings."""
    log = simulate_spacings("gamma", [0.1, 6.0], [40.0], random_state=9)
    fits = fit_spacings(log, ["exponential", "gamma"], n_bootstrap=39, random_state=1)
    assert fits["exponential"].pvalue < 0.05
    assert fits["gamma"].pvalue > 0.05
    low, high = fits["gamma"].mean_interval_m
    assert np.log(high / low) == pytest.approx(2 * 1.96 * 6**-0.5 / np.sqrt(fits.n), rel=0.35)
    again = fit_spacings(log, ["exponential", "gamma"], n_bootstrap=39, random_state=1)
    assert again.to_frame().equals(fits.to_frame())


def test_test_has_its_size() -> None:
    """Of samples that are exponential about one in ten has a p-value below a tenth."""
    rng = np.random.default_rng(10)
    pvalues = []
    for _ in range(150):
        log = simulate_spacings("exponential", [1.0], [8.0, 8.0, 8.0], rng)
        fits = fit_spacings(log, ["exponential"], n_bootstrap=39, random_state=rng)
        pvalues.append(fits.best.pvalue)
    # Three standard errors of a tenth over 150 samples are 0.073.
    assert abs(np.mean(np.array(pvalues) <= 0.1) - 0.1) < 0.075


@pytest.mark.parametrize("spacings", [np.full(8, 0.5), np.zeros(8), np.r_[np.zeros(3), np.ones(5)]])
def test_degenerate_spacings_give_finite_fits(spacings: np.ndarray) -> None:
    """Identical and zero spacings give finite figures."""
    table = fit_spacings(SpacingStatistics(spacings), n_bootstrap=3, random_state=0).to_frame()
    numbers = table[["mean_m", "median_m", "log_likelihood", "aic", "aic_weight", "pvalue"]]
    assert np.isfinite(numbers.to_numpy(float)).all()


def test_quantiles_and_shares() -> None:
    """Quantile and share below are inverse; the best law's repr says what it is."""
    fits = fit_spacings(SpacingStatistics(np.linspace(0.1, 1.0, 12)), n_bootstrap=0)
    share = np.array([0.1, 0.5, 0.9])
    for fit in fits.fits:
        np.testing.assert_allclose(fit.share_below(fit.quantile(share)), share, rtol=1e-6)
    assert fits.best.law in repr(fits)
    assert fits.to_frame()["aic_weight"].sum() == pytest.approx(1.0)


def test_errors() -> None:
    """Too few spacings, unknown laws and numbers out of range are named."""
    few = SpacingStatistics(np.array([1.0, 2.0]))
    enough = SpacingStatistics(np.linspace(0.1, 1.0, 12))
    with pytest.raises(InputError, match="at least 5 complete spacings; got 2"):
        fit_spacings(few)
    with pytest.raises(InputError, match="laws must be of"):
        fit_spacings(enough, ["normal"])
    with pytest.raises(InputError, match="no law 'gamma' was fitted"):
        fit_spacings(enough, ["Weibull"], n_bootstrap=0)["gamma"]
    with pytest.raises(InputError, match="a law has no largest spacing"):
        fit_spacings(enough, ["Weibull"], n_bootstrap=0).best.quantile(1.0)
    with pytest.raises(InputError, match="law must be one of"):
        simulate_spacings("normal", [1.0], [1.0])
    with pytest.raises(InputError, match="the gamma law takes"):
        simulate_spacings("gamma", [1.0], [1.0])
