"""Posterior draws against Fisher's exact results and a brute-force grid."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from scipy.stats import gamma

import jointstats as js
from jointstats.fit.certainty import certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.posterior import weighted_quantiles
from jointstats.sphere.axes import frame_about
from jointstats.sphere.axial_fisher import sample

MEAN = js.poles_from_dip(40, 120)
TAILS = [0.025, 0.975]
HOLE = js.LineExposure([[0.0, 0.0, -1.0]], [30.0])


def _fit(rows: np.ndarray, exposure: object = None, **kwargs: object) -> js.JointSetMixture:
    kwargs = {"n_sets": 1, "background": False, "random_state": 0} | kwargs
    return js.JointSetMixture(**kwargs).fit(rows, exposure=exposure)


@pytest.mark.parametrize("n", [6, 25, 120])
def test_one_set_alone_has_the_exact_intervals(n: int) -> None:
    """κ has the chi-square, the count the gamma, and the mean the cone of Fisher (1953)."""
    rows = sample(MEAN[0], 60.0, n, random_state=n)
    rows *= np.sign(rows @ MEAN[0])[:, np.newaxis]
    resultant = float(np.linalg.norm(rows.sum(axis=0)))
    sure = _fit(rows).certainty_
    exact = gamma(n - 1, scale=1.0 / (n - resultant)).ppf(TAILS)
    np.testing.assert_allclose(sure.kappa_interval(0), exact, rtol=0.03)
    # Without an exposure the intensity is the expected number.
    np.testing.assert_allclose(sure.intensity_interval(0), gamma(n + 0.5).ppf(TAILS), rtol=0.03)
    # Fisher 1953, Proc. R. Soc. A 217:295-305; from memory.
    drop = (n - resultant) / resultant * (0.05 ** (-1.0 / (n - 1)) - 1.0)
    assert sure.cone_deg(0) == pytest.approx(np.degrees(np.arccos(1.0 - drop)), rel=0.03)


def test_a_set_at_the_edge_of_a_blind_zone_agrees_with_a_grid() -> None:
    """Twelve fractures beside the only hole's blind zone: the draws are those of the posterior."""
    edge = js.poles_from_dip(78, 0)[0]
    rows = sample(edge, 40.0, 400, random_state=3)
    rows = rows[HOLE.at(rows) > 0][:12]
    sure = _fit(rows, HOLE).certainty_
    found = sure.posterior.of_set(0)

    # A grid of mean and log κ; λ is integrated by hand: ∫ λ^(n − ½) √E exp(−λE) dλ ∝ E^−n.
    best = sure.rock.means[0]
    side = np.radians(np.linspace(-24, 24, 49))
    tangents = np.array([[u, v, 0.0] for u in side for v in side])
    turn = np.linalg.norm(tangents, axis=1, keepdims=True)
    local = np.sinc(turn / np.pi) * tangents + np.cos(turn) * [0, 0, 1.0]
    means, area = local @ frame_about(best), np.sinc(turn[:, 0] / np.pi)
    kappas = np.exp(np.linspace(np.log(3.0), np.log(1500.0), 80))
    along = np.abs(means @ rows.T)
    posterior = np.empty((len(means), len(kappas)))
    for j, kappa in enumerate(kappas):
        # κ cosh(κ t) / (2π sinh κ), written so that it can't overflow.
        ends = np.exp(kappa * (along - 1.0)) + np.exp(-kappa * (along + 1.0))
        density = kappa * ends / (-2 * np.pi * np.expm1(-2 * kappa))
        met = HOLE.of_sets(means, np.full(len(means), kappa))
        posterior[:, j] = area * np.exp(np.log(density / met[:, np.newaxis]).sum(axis=1))
    posterior /= posterior.sum()
    expected = weighted_quantiles(kappas, posterior.sum(axis=0), [0.1, 0.5, 0.9])
    got = weighted_quantiles(found.concentrations, found.weights, [0.1, 0.5, 0.9])
    np.testing.assert_allclose(got, expected, rtol=0.05)
    away = js.axis_angles_deg(means, best)
    expected = weighted_quantiles(away, posterior.sum(axis=1), [0.5, 0.95])
    got = weighted_quantiles(js.axis_angles_deg(found.axes, best), found.weights, [0.5, 0.95])
    np.testing.assert_allclose(got, expected, rtol=0.05)


def test_background_of_nothing_but_background_is_a_count() -> None:
    """Where no set competes the background has the gamma of its number."""
    rows = np.random.default_rng(2).normal(size=(30, 3))
    sure = _fit(rows, n_sets=0, background=True).certainty_
    np.testing.assert_allclose(sure.intensity_interval(0), gamma(30.5).ppf(TAILS), rtol=0.03)


def test_draws_repeat_and_survive_a_pickle() -> None:
    """The same data give the same intervals, after a pickle too."""
    rows = sample(MEAN[0], 30.0, 20, random_state=5)
    first, again = _fit(rows, HOLE).certainty_, _fit(rows, HOLE).certainty_
    assert first.kappa_interval(0) == again.kappa_interval(0)
    other = pickle.loads(pickle.dumps(again))
    assert other.cone_deg(0) == first.cone_deg(0)


def test_large_sets_have_the_plain_intervals() -> None:
    """Beyond some hundreds of fractures no draw is made, and the two kinds of interval agree."""
    rows = sample(MEAN[0], 30.0, 600, random_state=6)
    sure = _fit(rows, HOLE).certainty_
    assert sure.draws(0) is None
    drawn = sure.posterior.of_set(0)
    low, high = weighted_quantiles(drawn.concentrations, drawn.weights, TAILS)
    np.testing.assert_allclose(sure.kappa_interval(0), (low, high), rtol=0.02)


@pytest.mark.parametrize("n", [0, 1, 2])
def test_a_given_set_of_hardly_any_fractures_has_finite_intervals(n: int) -> None:
    """A given set with no, one or two fractures is as uncertain as can be, and finite."""
    rows = np.vstack([sample(MEAN[0], 50.0, 30, random_state=7), np.eye(3)[[0] * n]])
    model = _fit(rows, HOLE, n_sets=2, background=True, given_means=[MEAN[0], [1.0, 0.2, 0.3]])
    k = int(np.argmin(js.axis_angles_deg(model.means_, MEAN[0]))) ^ 1
    sure = model.certainty_
    values = [sure.cone_deg(k), *sure.kappa_interval(k), *sure.intensity_interval(k)]
    assert np.isfinite(values).all()
    assert sure.cone_deg(k) > 25
    low, high = sure.intensity_interval(k)
    assert low < 0.2 * high


def test_identical_poles_reach_the_end_of_the_range() -> None:
    """Poles that are all the same leave κ open upwards: the interval ends at the prior's range."""
    low, high = _fit(np.repeat(MEAN, 8, axis=0), HOLE).certainty_.kappa_interval(0)
    assert 200 < low < high <= 2000


def test_rows_that_may_not_join_are_kept_out() -> None:
    """A row closed to a set says nothing of it."""
    rows = sample(MEAN[0], 50.0, 15, random_state=8)
    near = sample(MEAN[0], 50.0, 5, random_state=9)
    square = np.repeat(frame_about(MEAN[0])[:1], 5, axis=0)
    rock = _fit(rows).rock_.with_background(5.0)
    closed = np.append(np.zeros(15, bool), np.ones(5, bool))[:, np.newaxis]
    data = FitData(np.vstack([rows, near]), np.ones(20), closed=closed)
    shut = certainty_of(data, rock, 0.95)
    far = certainty_of(FitData(np.vstack([rows, square]), np.ones(20)), rock, 0.95)
    # At right angles to the set a fracture is none of it either.
    assert shut.kappa_interval(0) == pytest.approx(far.kappa_interval(0), rel=1e-6)
