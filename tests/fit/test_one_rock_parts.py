"""Parts of the test of one rock: efficient scores, heterogeneity, draws, intensities by EM."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.fit.block_fits import BlockFits, fit_blocks
from jointstats.fit.one_rock import (
    _drawn,
    _efficient,
    _even,
    _heterogeneity,
    _judged,
    _of_kappas,
    _of_means,
    _rates,
    _RoundGroups,
    _Scored,
    _scored,
    _ShapedGroups,
    absence_test,
    one_rock_test,
    orientation_test,
    set_tests,
    shaped_test,
)
from jointstats.fit.rock import Rock
from jointstats.sphere.axial_fisher import AxialFisher
from tests.fit.rock_arrays import ROCK, simulated, truth

DATA = simulated(3, (ROCK,) * 2, holes=((0.0, 90.0, 40.0), (315.0, 55.0, 40.0))).grouped()
FIT = fit_blocks(DATA, np.ones((1, 2), bool), truth())
RNG = np.random.default_rng(0)


def _information(size: int, groups: int) -> np.ndarray:
    half = RNG.normal(size=(groups, size, 2 * size))
    return half @ half.transpose(0, 2, 1)


def test_efficient_scores_are_residuals_of_a_regression() -> None:
    """What is left has the information of the Schur complement, by the inverse of the whole."""
    found = _Scored(RNG.normal(size=(2, 3, 5)), _information(5, 2), np.arange(1))
    ridge = np.array([1.0, 4.0])
    scores, left = _efficient(found, ridge, slice(2, 4))
    for g in range(2):
        whole = found.information[g][:4, :4] + np.diag([1.0, 4.0, 0.0, 0.0])
        inverse = np.linalg.inv(whole)
        np.testing.assert_allclose(left[g], np.linalg.inv(inverse[2:, 2:]))
        # Residuals: score less its regression on those before.
        weights = -np.linalg.inv(inverse[2:, 2:]) @ inverse[2:, :2]
        expected = found.raw[g][:, 2:4] - found.raw[g][:, :2] @ weights.T
        np.testing.assert_allclose(scores[g], expected)


def test_scores_of_means_and_concentrations_stand_in_their_columns() -> None:
    """Of two sets: three intensities, two κ and four turns, each freed of those before it."""
    found = _Scored(RNG.normal(size=(2, 3, 9)), np.tile(np.eye(9), (2, 1, 1)), np.arange(2))
    np.testing.assert_allclose(_of_means(found)[0], found.raw[..., 5:])
    np.testing.assert_allclose(_of_kappas(found)[0], found.raw[..., 3:5])
    mixed = found._replace(information=np.tile(np.eye(9) + 0.1, (2, 1, 1)))
    for (scores, left), ridge, wanted in (
        (_of_means(mixed), [1, 1, 1, 4, 4], slice(5, 9)),
        (_of_kappas(mixed), [1, 1, 1], slice(3, 5)),
    ):
        expected = _efficient(mixed, np.array(ridge, float), wanted)
        np.testing.assert_allclose(scores, expected[0])
        np.testing.assert_allclose(left, expected[1])


def test_one_common_value_is_no_heterogeneity() -> None:
    """Scores that one common step explains leave nothing; others leave a weighed square."""
    information = _information(2, 3)
    step = np.array([0.3, -0.2])
    alike = (information @ step)[:, np.newaxis]
    np.testing.assert_allclose(_heterogeneity(alike, information, 0.2), 0.0, atol=1e-6)
    scores = RNG.normal(size=(3, 4, 2))
    common = np.linalg.inv(information.sum(axis=0)) @ scores.sum(axis=0).T  # (2, 4)
    expected = np.zeros(4)
    for g in range(3):
        apart = scores[g].T - information[g] @ common
        weigh = np.linalg.inv(information[g] + np.eye(2) / 0.04)
        expected += np.einsum("id,ij,jd->d", apart, weigh, apart)
    np.testing.assert_allclose(_heterogeneity(scores, information, 0.2), expected, rtol=1e-5)


def test_p_values_count_the_log_itself() -> None:
    """Three of nine draws as large or larger: 4 of 10. A tie counts."""
    values = np.array([2.0, 1.0, 2.0, 3.0, 0.5, 1.9, 2.5, 0.0, 1.0, 1.5])
    assert _judged(values) == (2.0, 0.4)
    assert _judged(np.array([2.0, 1.0])) == (2.0, 0.5)


def test_draws_have_mean_nothing_and_the_variance_of_their_numbers() -> None:
    """Sums of so many scores as a component has fractures, less their mean."""
    on_grid = RNG.normal(size=(50, 2))
    rates = np.vstack([RNG.uniform(0, 1, 50), np.zeros(50), RNG.uniform(0, 1, 50)])
    members = np.array([7.0, 4.0, 12.0])
    drawn = _drawn(on_grid, rates, members, 20_000, np.random.default_rng(1))
    expected = np.zeros((2, 2))
    for rate, number in zip(rates[[0, 2]], members[[0, 2]], strict=True):
        chance = rate / rate.sum()
        apart = on_grid - chance @ on_grid
        expected += number * (apart.T * chance) @ apart
    np.testing.assert_allclose(drawn.mean(axis=0), 0.0, atol=0.12)
    np.testing.assert_allclose(np.cov(drawn.T), expected, rtol=0.05, atol=0.3)
    # A number between two whole ones is drawn as one or the other.
    half = _drawn(np.ones((50, 1)), rates[:1], np.array([2.5]), 4000, np.random.default_rng(2))
    assert set(np.round(half[:, 0], 9)) == {-0.5, 0.5}
    assert abs(half.mean()) < 0.04


def test_rates_are_densities_times_intensities() -> None:
    """λ f of each set of a group, and λ / 2π of the background; shaped groups give the same."""
    poles, there = DATA.poles[:20], FIT.present[0]
    found = _rates(poles, FIT, 1, there)
    for k, (mean, kappa) in enumerate(zip(FIT.means[0], FIT.kappas[0], strict=True)):
        density = AxialFisher(mean, float(kappa)).pdf(poles)
        np.testing.assert_allclose(found[k], FIT.intensities[0, 1, k] * density)
    np.testing.assert_allclose(found[-1], FIT.intensities[0, 1, -1] / (2 * np.pi))
    gone = FIT._replace(intensities=FIT.intensities * np.array([1.0, 0.0, 1.0, 1.0]))
    np.testing.assert_allclose(_rates(poles, gone, 1, gone.present[0]), found[[0, 2, 3]])
    assert _RoundGroups(gone).sets.tolist() == [0, 2]
    np.testing.assert_allclose(_RoundGroups(gone).members, FIT.members[0][:, [0, 2, 3]])


def test_shaped_groups_of_round_sets_score_as_round_ones() -> None:
    """Scores of a shaped rock whose sets are round are those of round sets with its intensities."""
    rock = Rock.of_round(FIT.means[0], FIT.kappas[0], [1.0, 1.0, 1.0], 0.3)
    shaped = _ShapedGroups(DATA, rock)
    plain = np.array([1.0, 1.0, 1.0, 0.3])
    met = np.column_stack([DATA.of_sets(FIT.means[0], FIT.kappas[0]), DATA.of_uniform()])
    # A fixed point: members under the intensities give the intensities, one fracture being held.
    rates = np.stack([shaped.rates(DATA.poles, g) for g in range(2)])
    share = rates / rates.sum(axis=1, keepdims=True)
    for g in range(2):
        members = share[g][:, DATA.group == g].sum(axis=1)
        np.testing.assert_allclose(shaped.members[g], members, rtol=2e-3, atol=0.02)
        ours = shaped._intensities[g]
        np.testing.assert_allclose(ours, (members + 1) / (met[g] + 1 / plain), rtol=0.02)
        as_round = FIT._replace(intensities=shaped._intensities[np.newaxis])
        expected = _RoundGroups(as_round).scores(DATA.poles, g)
        found = shaped.scores(DATA.poles, g)
        np.testing.assert_allclose(found[:, :7], expected[:, :7], atol=1e-9)
        # The turns are about other axes of the same tangent planes: their squares add up alike.
        squares = [(one[:, 7:].reshape(-1, 3, 2) ** 2).sum(axis=2) for one in (found, expected)]
        np.testing.assert_allclose(*squares, atol=1e-9)


def test_scores_of_a_log_are_less_what_is_expected() -> None:
    """Σ of the scores at the poles less their integral under the rate and the exposure."""
    rock = _RoundGroups(FIT)
    found = _scored(DATA, rock, 3, np.random.default_rng(0))
    assert found.raw.shape == (2, 4, 13) and found.information.shape == (2, 13, 13)
    # By log λ the integral is the expected number, λ E.
    met = np.column_stack([DATA.of_sets(FIT.means[0], FIT.kappas[0]), DATA.of_uniform()])
    for g in range(2):
        scores = rock.scores(DATA.poles[DATA.group == g], g).sum(axis=0)
        number = FIT.intensities[0, g] * met[g]
        np.testing.assert_allclose(found.raw[g, 0, :4], scores[:4] - number, rtol=0.02, atol=0.05)
        # Of one component alone the information of log λ would be the number itself.
        assert (np.diag(found.information[g])[:4] < number * 1.001).all()
        assert np.diag(found.information[g])[:4].sum() > 0.7 * number.sum()


def test_members_are_even_where_they_follow_the_metres() -> None:
    """Even means share each set out as the groups could meet it."""
    counts, met = np.array([[6.0, 0.0], [2.0, 0.0]]), np.array([[10.0, 1.0], [30.0, 1.0]])
    np.testing.assert_allclose(_even(counts, met), [[2.0, 1e-9], [6.0, 1e-9]])
    np.testing.assert_allclose(_even(counts[np.newaxis], met)[0, :, 0], [2.0, 6.0])


def test_absent_sets_are_judged_against_uneven_ones() -> None:
    """Members as the metres have them are no surprise; all of a set in one group is one."""
    met = DATA.of_sets(FIT.means[0], FIT.kappas[0])
    even = np.column_stack([40.0 * met / met.sum(axis=0), np.ones(2)])
    p = absence_test(DATA, FIT._replace(members=even[np.newaxis]), generator=RNG)
    assert p > 0.9
    lone = even.copy()
    lone[:, 0] = [0.0, 60.0]
    p = absence_test(DATA, FIT._replace(members=lone[np.newaxis]), generator=RNG)
    assert p < 0.05
    both = one_rock_test(DATA, FIT, draws=39, generator=np.random.default_rng(0))
    smallest = min(both.pvalue_orientation, 10 * both.pvalue_absence, 1.0)
    assert both.pvalue == pytest.approx(smallest)


def test_every_set_has_its_own_tests() -> None:
    """One test of the mean and one of κ for each set that two groups show."""
    told = set_tests(DATA, FIT, draws=39, generator=np.random.default_rng(0))
    seen = [k for k in range(3) if (FIT.members[0, :, k] >= 3).all()]
    assert [(part, k) for part, k, *_ in told] == [
        (part, k) for k in seen for part in ("orientation", "kappa")
    ]
    assert all(0.0 < p <= 1.0 and value > 0 for *_, value, p, _ in told)
    few = FIT._replace(members=np.where(np.arange(4) == 1, [[[2.9], [50.0]]], FIT.members))
    rest = set_tests(DATA, few, draws=9, generator=np.random.default_rng(0))
    assert {k for _, k, *_ in rest} == set(seen) - {1}


def test_the_tests_need_sets_and_two_groups() -> None:
    """Without sets, or with one group, nothing is contradicted."""
    one, generator = DATA.only([0]), np.random.default_rng(0)
    alone = fit_blocks(one, np.ones((1, 1), bool), truth())
    none = fit_blocks(DATA, np.ones((1, 2), bool), truth().take([]))
    for data, fit in ((one, alone), (DATA, none)):
        assert orientation_test(data, fit, draws=9, generator=generator) == (0.0, 1.0)
        assert absence_test(data, fit, generator=generator) == 1.0
        assert set_tests(data, fit, draws=9, generator=generator) == []
    rock = Rock.of_round(FIT.means[0], FIT.kappas[0], [1.0, 1.0, 1.0], 0.3)
    assert shaped_test(one, rock, draws=9, generator=generator) == 1.0
    assert shaped_test(DATA, rock.take([]), draws=9, generator=generator) == 1.0
    assert isinstance(none, BlockFits)
