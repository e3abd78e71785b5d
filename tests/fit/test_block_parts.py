"""Parts of the fit of blocks: expected members, limits, parameters, groups left out."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit import block_fits
from jointstats.fit.block_fits import (
    BlockFits,
    _handled_at_once,
    expected,
    fit_blocks,
    group_values,
    kappa_limits,
)
from jointstats.fit.grouped import WeightedExposure, grouped_poles
from jointstats.fit.likelihood import RoundSets
from jointstats.sphere.axes import moved_along
from jointstats.sphere.axial_fisher import AxialFisher
from tests.fit.rock_arrays import ROCK, simulated, truth

HOLES = ((0.0, 90.0, 30.0), (315.0, 55.0, 30.0), (200.0, 50.0, 30.0))
DATA, SETS = simulated(1, (ROCK,) * 3, holes=HOLES).grouped(), truth()
BLOCKS = np.array([[1, 1, 0], [0, 0, 1]], bool)


def test_limits_of_a_concentration() -> None:
    """A third to three times that of all, from 1 to 1500, and never upside down."""
    low, high = kappa_limits(np.array([30.0, 2.0, 900.0, 0.1, 6000.0]))
    np.testing.assert_allclose(low, [10.0, 1.0, 300.0, 1.0, 2000.0])
    np.testing.assert_allclose(high, [90.0, 6.0, 1500.0, 1.01, 2020.0])


def test_members_of_blocks_are_plain_sums() -> None:
    """Shares of λ f by set, summed by group; pulls of both ends of each axis; log densities."""
    means = np.array([SETS.means, moved_along(SETS.means, 0.1 * np.roll(SETS.means, 1, axis=0))])
    kappas = np.array([[4.0, 30.0, 50.0], [20.0, 3.0, 9.0]])
    rng = np.random.default_rng(0)
    intensities = rng.uniform(0.1, 2.0, (2, 3, 4))
    members, sums, value = expected(DATA, means, kappas, intensities, BLOCKS)
    for b in range(2):
        density = [AxialFisher(m, k).pdf(DATA.poles) for m, k in zip(means[b], kappas[b], strict=True)]
        density.append(np.full(len(DATA.poles), 1 / (2 * np.pi)))
        rates = np.column_stack(density) * intensities[b][DATA.group]
        inside = BLOCKS[b][DATA.group]
        shares = rates / rates.sum(axis=1, keepdims=True) * inside[:, np.newaxis]
        for g in range(3):
            np.testing.assert_allclose(members[b, g], shares[DATA.group == g].sum(axis=0), atol=1e-12)
        pull = np.tanh(kappas[b] * (DATA.poles @ means[b].T)) * shares[:, :3]
        np.testing.assert_allclose(sums[b], pull.T @ DATA.poles, atol=1e-9)
        assert value[b] == pytest.approx(np.log(rates.sum(axis=1))[inside].sum())


def test_parameters_of_a_block() -> None:
    """Mean intensities over its groups; a set counts where one fracture of it was to be expected."""
    ones = np.ones((1, 3, 3))
    fit = BlockFits(
        np.array([SETS.means[:2]]),
        np.array([[30.0, 40.0]]),
        ones * [1.0, 0.0, 1.0],
        np.array([[[6.0, 0.0, 2.0], [2.0, 0.0, 4.0], [9.0, 0.0, 9.0]]]),
        np.array([[[10.0, 5.0, 10.0], [30.0, 5.0, 20.0], [1.0, 5.0, 1.0]]]),
        np.zeros(1),
        np.array([[True, True, False]]),
    )
    assert fit.present.tolist() == [[True, False]]
    own = fit.parameters(0)
    np.testing.assert_allclose(own.intensities, [8.0 / 40.0])
    assert own.background == pytest.approx(6.0 / 30.0)
    np.testing.assert_array_equal(own.kappas, [30.0])
    # 17 fractures in 41 m: 4.1, 12.4 and 0.4 are to be expected, so two groups see the set.
    assert fit.n_parameters().tolist() == [3 + 2 + 2]
    rare = fit._replace(exposures=fit.exposures * np.array([[[1.0], [1.0], [2.5]]]))
    # 17 in 42.5 m: exactly one is to be expected of 2.5 m.
    assert rare.n_parameters().tolist() == [3 + 3 + 2]


def test_blocks_are_handled_some_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many as keep rows times blocks within the limit, in their order, none lost."""
    n = DATA.sizes
    blocks = np.array([[1, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 1]], bool)
    monkeypatch.setattr(block_fits, "_ROWS", int(2 * n[0]))
    parts = list(_handled_at_once(DATA, blocks))
    assert [len(one) for one in parts] == [2, 1, 1]
    np.testing.assert_array_equal(np.vstack(parts), blocks)
    monkeypatch.setattr(block_fits, "_ROWS", 1)
    assert [len(one) for one in _handled_at_once(DATA, blocks)] == [1] * 4
    monkeypatch.setattr(block_fits, "_ROWS", int(3 * (n[0] + n[1])))
    assert [len(one) for one in _handled_at_once(DATA, blocks)] == [3, 1]
    small = fit_blocks(DATA, blocks, SETS)
    monkeypatch.undo()
    np.testing.assert_allclose(small.log_likelihood, fit_blocks(DATA, blocks, SETS).log_likelihood)


def test_a_fit_balances_members_and_metres() -> None:
    """Intensities are posterior means about those of the block; groups outside have none."""
    fit = fit_blocks(DATA, BLOCKS[:1], SETS)
    assert not fit.intensities[0, 2].any() and not fit.members[0, 2].any()
    members, met = fit.members[0, :2], fit.exposures[0, :2]
    mean = members.sum(axis=0) / met.sum(axis=0)
    np.testing.assert_allclose(
        fit.intensities[0, :2], mean * (members + 1) / (met * mean + 1), rtol=1e-9
    )
    exact = DATA.of_sets(fit.means[0], fit.kappas[0])[:2]
    np.testing.assert_allclose(met[:, :3], exact, rtol=1e-9)
    np.testing.assert_allclose(met[:, 3], DATA.of_uniform()[:2])
    # All but the last step's movement of its likelihood.
    found = expected(DATA, *fit[:3], BLOCKS[:1])[2][0] - (fit.intensities[0, :2] * met).sum()
    assert fit.log_likelihood[0] == pytest.approx(found, abs=0.05)
    assert js.axis_angles_deg(fit.means[0], SETS.means).max() < 8


def test_sets_of_hardly_any_fractures_go() -> None:
    """A set where nothing lies is taken out; with nothing asked of it, it stays."""
    nowhere = SETS.joined(js.poles_from_dip(45.0, 225.0)[0], 80.0, 0.05)
    fit = fit_blocks(DATA, np.ones((1, 3), bool), nowhere)
    assert fit.present[0].tolist() == [True, True, True, False]
    assert len(fit.parameters(0).kappas) == 3
    kept = fit_blocks(DATA, np.ones((1, 3), bool), nowhere, fewest=0.0)
    assert kept.present.all()
    without = fit_blocks(DATA, np.ones((1, 3), bool), SETS)
    np.testing.assert_allclose(fit.kappas[0, :3], without.kappas[0], rtol=0.1)


def test_values_of_groups_follow_the_prior() -> None:
    """One set far from every pole and none of its metres: its intensity stays as it was."""
    pole = np.array([[0.0, 0.0, -1.0]])
    rock = RoundSets(pole, np.array([50.0]), np.array([2.0]), 0.0)
    met = np.array([[4.0, 1.0], [3.0, 2.0]])
    found = group_values(np.repeat(pole, 5, axis=0), np.array([0, 0, 0, 0, 1]), rock, met)
    f = 50.0 / (2 * np.pi * -np.expm1(-100.0))
    for g, n in enumerate((4, 1)):
        lam = 2.0 * (n + 1) / (2.0 * met[g, 0] + 1)
        prior = np.log(lam / 2) - lam / 2 + 1
        assert found[g] == pytest.approx(n * np.log(lam * f) - lam * met[g, 0] + prior, abs=1e-4)


def test_weighted_exposures_have_their_slopes() -> None:
    """Each set with metres of its own: derivatives by mean and κ against differences."""
    lengths = np.random.default_rng(0).uniform(1.0, 30.0, (3, len(DATA.directions)))
    exposure = WeightedExposure(DATA, lengths)
    means, kappas, h = SETS.means, SETS.kappas, 1e-2
    met = exposure.of_sets_slopes(means, kappas)
    np.testing.assert_allclose(met.value, exposure.of_sets(means, kappas), rtol=1e-9)
    up, down = (exposure.of_sets(means, kappas + d) for d in (h, -h))
    np.testing.assert_allclose(met.by_kappa, (up - down) / (2 * h), atol=1e-3)
    up, down = (exposure.of_sets_slopes(means, kappas + d) for d in (h, -h))
    np.testing.assert_allclose(met.by_kappa_twice, (up.by_kappa - down.by_kappa) / (2 * h), atol=1e-3)
    np.testing.assert_allclose(
        met.by_mean_and_kappa, (up.by_mean - down.by_mean) / (2 * h), atol=2e-2
    )
    tangent = np.cross(means, [0.0, 0.0, 1.0])
    up, down = (exposure.of_sets_slopes(moved_along(means, d * tangent), kappas) for d in (h, -h))
    slope = (met.by_mean * tangent).sum(axis=1)
    np.testing.assert_allclose(slope, (up.value - down.value) / (2 * h), rtol=2e-2, atol=0.02)
    assert (exposure.of_uniform(), exposure.log_error) == (1.0, 0.0)


def test_groups_alone_and_at_the_blind_angle() -> None:
    """Groups taken out keep their poles and metres; what lies below the blind angle is not met."""
    only = DATA.only([2, 0])
    np.testing.assert_array_equal(only.poles[only.group == 0], DATA.poles[DATA.group == 2])
    np.testing.assert_allclose(only.of_uniform(), DATA.of_uniform()[[2, 0]])
    assert len(only.directions) == 2 and only.sizes.tolist() == DATA.sizes[[2, 0]].tolist()
    down = js.LineExposure([[0, 0, -1]], [10.0], blind_angle_deg=20.0)
    alone = grouped_poles(np.eye(3), [0, 0, 0], [down])
    angles = np.radians([90.0, 20.001, 19.999, 0.0])
    poles = np.column_stack([np.cos(angles), np.zeros(4), np.sin(angles)])
    expected_m = [10.0, 10.0 * np.sin(angles[1]), 0.0, 0.0]
    np.testing.assert_allclose(alone.at(poles)[0], expected_m)
    thick = js.LineExposure([[0, 0, -1]], [10.0], blind_angle_deg=20.0, girths=[0.1])
    wide = grouped_poles(np.eye(3), [0, 0, 0], [thick])
    np.testing.assert_allclose(wide.at(poles)[0], thick.at(poles))
    assert wide.at(poles)[0, 1] > expected_m[1]
