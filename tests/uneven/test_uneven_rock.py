"""P32 of uneven rock: against brute-force sums, and against rock whose unevenness is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

import jointstats as js
from benchmarks.uneven_counts import CountTable, count_table
from jointstats.errors import InputError
from jointstats.uneven.between_lines import VARIATIONS
from jointstats.uneven.swarms import COMPANIONS, along_lines, pairs_within
from jointstats.uneven.uneven_rock import Unevenness, unevenness


def _found(table: CountTable) -> Unevenness:
    return unevenness(*table[:4])


@pytest.fixture(scope="module")
def uneven() -> CountTable:
    return count_table(np.random.default_rng(5), variation=0.5)


def test_each_effect_of_its_own_is_a_negative_binomial() -> None:
    """The posterior of one set at a known variation is that of negative binomial counts."""
    counts, metres = np.array([12.0, 30.0, 9.0]), np.array([10.0, 15.0, 12.0])
    found = unevenness([counts], [metres])
    c = 5
    size = 1.0 / VARIATIONS[c] ** 2
    p32 = np.exp(found.log_p32[0])
    mean = p32[:, np.newaxis] * metres
    value = stats.nbinom.pmf(counts, size, size / (size + mean)).prod(axis=1)
    # Jeffreys' prior of the mean of a negative binomial number, by log P32.
    value *= np.sqrt(p32 / (1.0 + mean.mean(axis=1) / size))
    value *= np.gradient(found.log_p32[0])
    np.testing.assert_allclose(found.between.own[0, c], value / value.sum(), rtol=1e-9)


def test_a_shared_effect_agrees_with_sums_over_it() -> None:
    """Where two sets share an effect, the posterior agrees with brute-force sums over all of it."""
    counts = np.array([[12.0, 30.0, 9.0], [25.0, 48.0, 20.0]])
    metres = np.array([[10.0, 15.0, 12.0], [12.0, 8.0, 20.0]])
    found = unevenness(counts, metres)
    c, size = 5, 4.0
    assert VARIATIONS[c] == 0.5
    first, second = np.meshgrid(*(np.linspace(-2.0, 3.0, 126),) * 2, indexing="ij")
    effects = stats.gamma(size, scale=1.0 / size).ppf((np.arange(300) + 0.5) / 300)
    value = first + second  # twice half of each: see the prior below
    value = 0.5 * value
    for h in range(3):
        means = [np.exp(first) * metres[0, h], np.exp(second) * metres[1, h]]
        number = counts[:, h].sum()
        whole = means[0] + means[1]
        seen = stats.poisson.pmf(number, whole[..., np.newaxis] * effects).mean(axis=-1)
        share = stats.binom.logpmf(counts[0, h], number, means[0] / whole)
        value += np.log(np.maximum(seen, 1e-300)) + share
    level = (np.exp(first) * metres[0].mean() + np.exp(second) * metres[1].mean()) / size
    value -= np.log1p(level)
    weight = np.exp(value - value.max())
    weight /= weight.sum()
    for k, log_p32 in enumerate((first, second)):
        mean = (weight * log_p32).sum()
        deviation = np.sqrt((weight * (log_p32 - mean) ** 2).sum())
        x, density = found.log_p32[k], found.between.shared[k, c]
        assert density @ x == pytest.approx(mean, abs=0.03)
        assert np.sqrt(density @ (x - density @ x) ** 2) == pytest.approx(deviation, rel=0.05)


def test_pairs_within_a_block_agree_with_a_double_sum() -> None:
    """The share of the pairs of a swarm within a block is a double integral over the block."""
    for blocks in (0.3, 1.0, 5.0):
        place = (np.arange(2000) + 0.5) / 2000 * blocks
        near = np.exp(-np.abs(place[:, np.newaxis] - place))
        # The whole of a swarm's pairs about a fracture: ∫ exp(−|s|) ds = 2.
        expected = near.mean() * blocks / 2.0
        assert pairs_within(blocks) == pytest.approx(expected, abs=1e-3)


def test_companions_come_back() -> None:
    """A fracture of a swarm of a Poisson number, mean 5, has 5 companions on average."""
    rng = np.random.default_rng(8)
    found = [
        along_lines(*count_table(rng, n_sets=4, number=200.0, swarm=5)[:4]).weights @ COMPANIONS
        for _ in range(6)
    ]
    # Twenty-four sets of some forty swarms: standard error 5 %.
    assert np.mean(found) == pytest.approx(5.0, rel=0.2)


@pytest.mark.parametrize(
    ("name", "settings", "even_holds"),
    [
        ("between lines", {"variation": 0.5}, 0.8),
        ("between lines, shared", {"shared_variation": 0.5}, 0.8),
        ("swarms", {"swarm": 3}, 0.85),
    ],
)
def test_intervals_hold_in_uneven_rock(
    name: str, settings: dict[str, float], even_holds: float
) -> None:
    """In uneven rock 95 % intervals of P32 hold the truth; those of even rock do not."""
    rng = np.random.default_rng(11)
    held, plain = [], []
    for _ in range(40):
        table = count_table(rng, **settings)
        found = _found(table)
        for k, truth in enumerate(table.p32):
            low, high = found.p32_interval(k)
            held.append(low <= truth <= high)
            low, high = found.even_interval(k)
            plain.append(low <= truth <= high)
    # 120 intervals of 40 rocks: standard error 2 to 3.5 % at 95 %.
    assert np.mean(held) > 0.88, name
    assert np.mean(plain) < even_holds, name


def test_even_rock_costs_little() -> None:
    """In even rock the interval of P32 holds, and is at most a quarter longer than the plain one."""
    rng = np.random.default_rng(12)
    held, longer = [], []
    for _ in range(40):
        table = count_table(rng)
        found = _found(table)
        for k, truth in enumerate(table.p32):
            low, high = found.p32_interval(k)
            held.append(low <= truth <= high)
            longer.append(np.log(high / low) / np.log(np.divide(*found.even_interval(k)[::-1])))
    assert np.mean(held) > 0.93
    assert 1.0 < np.mean(longer) < 1.25


def test_order_of_sets_and_lines_changes_nothing(uneven: CountTable) -> None:
    """Sets and lines in another order give the same intervals."""
    found = _found(uneven)
    line = 3 - uneven.line[::-1]
    turned = unevenness(
        uneven.counts[::-1, ::-1], uneven.exposure[::-1, ::-1], line, uneven.lengths_m
    )
    for k in range(3):
        assert turned.p32_interval(2 - k) == pytest.approx(found.p32_interval(k), rel=1e-3)


def test_longer_lines_mean_less_rock(uneven: CountTable) -> None:
    """Twice the exposure for the same counts halves every limit."""
    found = _found(uneven)
    twice = unevenness(uneven.counts, 2.0 * uneven.exposure, uneven.line, uneven.lengths_m)
    for k in range(3):
        assert 2.0 * np.array(twice.p32_interval(k)) == pytest.approx(found.p32_interval(k))


def test_factors_turn_even_draws_into_those_of_the_site(uneven: CountTable) -> None:
    """Draws of even rock times the factors have the interval of the rock of the site."""
    found = _found(uneven)
    drawn = found.p32_draws(20000, 1) * found.draws(20000, 2).factors
    for k in range(3):
        low, high = found.p32_interval(k)
        share = ((drawn[:, k] > low) & (drawn[:, k] < high)).mean()
        assert share == pytest.approx(0.95, abs=0.02)


def test_uneven_rock_is_called_so(uneven: CountTable) -> None:
    """The coefficient of variation has an interval that holds the true one, and zero in even rock."""
    _, low, high = _found(uneven).variation_interval(0)
    assert low < 0.5 < high
    even = _found(count_table(np.random.default_rng(6), number=150.0))
    assert even.variation_interval(0)[1] == 0.0 and even.companions_interval(0)[1] == 0.0
    assert even.p_even.min() > 0.4


def test_one_line_or_no_fracture_still_has_an_interval() -> None:
    """One line, or a set that was never met, gives finite limits."""
    for counts in ([[4.0]], [[0.0, 0.0]], [[0.0, 3.0]]):
        found = unevenness(counts, np.full_like(counts, 10.0))
        low, high = found.p32_interval(0)
        assert 0.0 < low < high < 100.0


def test_a_line_that_cannot_see_a_set_says_nothing_of_it() -> None:
    """A further line without exposure leaves the intervals, even with a stray membership in it."""
    metres = np.array([[10.0, 15.0, 12.0, 0.0]])
    found = unevenness([[12.0, 30.0, 9.0, 0.3]], metres)
    assert found.p32_interval(0) == pytest.approx(
        unevenness([[12.0, 30.0, 9.0]], metres[:, :3]).p32_interval(0), rel=1e-3
    )


def test_wrong_tables_are_refused() -> None:
    """Shapes that differ, numbers below zero and sets without exposure are named."""
    with pytest.raises(InputError, match="one shape"):
        unevenness([[1, 2]], [[1.0]])
    with pytest.raises(InputError, match="not below zero"):
        unevenness([[1, -2]], [[1.0, 1.0]])
    with pytest.raises(InputError, match="no exposure"):
        unevenness([[1, 2]], [[0.0, 0.0]])
    with pytest.raises(InputError, match="one value a cell"):
        unevenness([[1, 2]], [[1.0, 1.0]], line=[0])


def test_public_names_are_in_the_room() -> None:
    """The function is public under fit."""
    assert js.uneven.unevenness is unevenness
