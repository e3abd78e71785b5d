"""The likelihood against plain sums, integrals over the hemisphere and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import entropy, vonmises_fisher

import jointstats as js
from jointstats.fit.likelihood import (
    BLOCK,
    RoundSets,
    component_log_densities,
    entropy_of,
    expectation,
    expected_count,
    log_likelihood,
    log_prior,
    log_scale,
    log_uniform_density,
    set_exposures,
)

SETS = RoundSets(
    js.poles_from_dip([62, 80], [135, 20]), np.array([12.0, 30.0]), np.array([1.1, 0.7]), 0.3
)
HOLES = js.LineExposure(js.lines_from_trend([0, 315], [90, 50]), [60.0, 40.0])
ROWS = np.random.default_rng(3).normal(size=(40, 3))
ROWS /= np.linalg.norm(ROWS, axis=1, keepdims=True)
WEIGHTS = np.random.default_rng(4).uniform(0.2, 2.0, 40)


def _rates(rows: np.ndarray, sets: RoundSets = SETS) -> np.ndarray:
    """λ f by scipy: both ends of an axis; the background last."""
    ends = [
        lam * (vonmises_fisher(m, k).pdf(rows) + vonmises_fisher(m, k).pdf(-rows))
        for m, k, lam in zip(*sets[:3], strict=True)
    ]
    return np.column_stack([*ends, np.full(len(rows), sets.background / (2 * np.pi))])


@pytest.mark.parametrize("kappa", [0.7, 5.0, 40.0])
def test_densities_integrate_to_one(kappa: float) -> None:
    """c(κ) in three columns by an integral over the hemisphere, in two round a half circle."""
    three = float(log_scale(np.array([kappa]), 3)[0])
    two = float(log_scale(np.array([kappa]), 2)[0])

    def bare(t: float) -> float:
        return float(np.exp(kappa * (t - 1)) * (1 + np.exp(-2 * kappa * t)))

    assert 2 * np.pi * np.exp(three) * quad(bare, 0, 1)[0] == pytest.approx(1.0)
    around = quad(lambda a: bare(np.cos(a)), -np.pi / 2, np.pi / 2)[0]
    assert np.exp(two) * around == pytest.approx(1.0)


def test_the_uniform_density_is_one_over_half_a_sphere() -> None:
    """Half a circle is π long, half a sphere 2π large, half of the next π²."""
    found = [np.exp(-log_uniform_density(p)) for p in (2, 3, 4)]
    np.testing.assert_allclose(found, [np.pi, 2 * np.pi, np.pi**2])


def test_rates_are_those_of_scipy() -> None:
    """Every component at every row; closed ones and those without intensity have none."""
    found = component_log_densities(ROWS, SETS)
    np.testing.assert_allclose(np.exp(found), _rates(ROWS))
    closed = np.zeros((40, 1), bool)
    closed[7] = True
    shut = component_log_densities(ROWS, SETS._replace(background=0.0), closed)
    assert np.isneginf(shut[7, 0]) and np.isneginf(shut[:, -1]).all()
    np.testing.assert_array_equal(shut[:, 1], found[:, 1])
    np.testing.assert_array_equal(shut[:7, 0], found[:7, 0])


@pytest.mark.parametrize("background", [0.3, 0.0])
def test_expectations_are_plain_sums(background: float) -> None:
    """Counts, pulls and log density, written out with the two ends of each axis."""
    sets, closed = SETS._replace(background=background), np.zeros((40, 1), bool)
    closed[[3, 11]] = True
    rates = _rates(ROWS, sets)
    rates[[3, 11], 0] = 0.0
    shares = WEIGHTS[:, np.newaxis] * rates / rates.sum(axis=1, keepdims=True)
    pull = np.tanh(sets.kappas * (ROWS @ sets.means.T)) * shares[:, :2]
    found = expectation(ROWS, WEIGHTS, sets, closed)
    np.testing.assert_allclose(found.counts, shares.sum(axis=0), rtol=1e-9)
    np.testing.assert_allclose(found.sums, pull.T @ ROWS, rtol=1e-9, atol=1e-12)
    assert found.log_density == pytest.approx(WEIGHTS @ np.log(rates.sum(axis=1)), rel=1e-9)


def test_blocks_of_rows_add_up() -> None:
    """Rows of more than one block give the sum of their blocks; closed rows stay theirs."""
    rows = np.resize(ROWS, (BLOCK + 5, 3))
    closed = np.zeros((len(rows), 1), bool)
    closed[BLOCK + 2] = True
    whole = expectation(rows, np.ones(len(rows)), SETS, closed)
    first = expectation(rows[:BLOCK], np.ones(BLOCK), SETS, closed[:BLOCK])
    rest = expectation(rows[BLOCK:], np.ones(5), SETS, closed[BLOCK:])
    for all_of, one, other in zip(whole, first, rest, strict=True):
        np.testing.assert_allclose(all_of, one + other, rtol=1e-12)


def test_expected_numbers_and_prior() -> None:
    """Σ λ E, ½ Σ log E, and the likelihood of both; ones without an exposure."""
    met = [HOLES.of_set(m, k) for m, k in zip(*SETS[:2], strict=True)]
    np.testing.assert_allclose(set_exposures(SETS, HOLES), [*met, HOLES.of_uniform()], rtol=1e-5)
    number = 1.1 * met[0] + 0.7 * met[1] + 0.3 * HOLES.of_uniform()
    assert expected_count(SETS, HOLES) == pytest.approx(number, rel=1e-5)
    assert expected_count(SETS, None) == pytest.approx(2.1)
    assert log_prior(SETS, HOLES) == pytest.approx(0.5 * np.log(met).sum(), rel=1e-5)
    assert log_prior(SETS, None) == 0.0 == log_prior(SETS.take([]), HOLES)
    fit = WEIGHTS @ np.log(_rates(ROWS).sum(axis=1)) - number
    assert log_likelihood(ROWS, WEIGHTS, SETS, HOLES) == pytest.approx(fit, rel=1e-5)


def test_entropy_of_memberships_against_scipy() -> None:
    """Weighted sum of the entropies of the rows; an impossible component adds nothing."""
    logs = np.log(np.random.default_rng(5).uniform(0.1, 3.0, (40, 3)))
    logs[4, 1] = -np.inf
    expected = WEIGHTS @ entropy(np.exp(logs), axis=1)
    assert entropy_of(logs, WEIGHTS) == pytest.approx(expected)


def test_sets_are_joined_and_taken() -> None:
    """One more set at the end; sets in the order named; a rock and back."""
    more = SETS.joined(np.array([0.0, 0.0, -1.0]), 50.0, 0.4)
    np.testing.assert_array_equal(more.means[-1], [0, 0, -1])
    np.testing.assert_array_equal(more.kappas, [12, 30, 50])
    back = more.take([2, 0])
    np.testing.assert_array_equal(back.intensities, [0.4, 1.1])
    again = RoundSets.of(back.rock())
    for one, other in zip(again, back, strict=True):
        np.testing.assert_allclose(one, other)
