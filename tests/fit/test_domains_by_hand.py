"""Parts of the search for domains, against every way there is."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from jointstats.fit.domains import _best_split, _Blocks, _path, _reassigned, _seeds, find_domains
from tests.fit.rock_arrays import OTHER, ROCK, simulated, truth

HOLES = ((0.0, 90.0, 30.0), (315.0, 55.0, 30.0), (200.0, 50.0, 30.0))
DATA = simulated(1, (ROCK, ROCK, OTHER), holes=HOLES).grouped()


@pytest.mark.parametrize("change", [0.0, 0.8, 3.0])
def test_the_path_is_the_best_of_all(change: float) -> None:
    """Along seven places every sequence of two states is tried."""
    values = np.random.default_rng(int(10 * change)).normal(size=(2, 7))

    def worth(states: tuple[int, ...]) -> float:
        changes = np.count_nonzero(np.diff(states))
        return float(values[list(states), np.arange(7)].sum() - change * changes)

    best = max(product((0, 1), repeat=7), key=worth)
    np.testing.assert_array_equal(_path(values, change), np.array(best, bool))
    assert _path(np.array([[0.0], [1.0]]), change).tolist() == [True]
    # Nothing to gain: the state stays.
    assert _path(np.zeros((2, 3)), 0.0).tolist() == [False] * 3


def test_seeds_are_lower_parts_of_holes() -> None:
    """From each stretch of each hole down, and below a quarter, half and three quarters of all."""
    hole, own = np.array([0, 0, 0, 0, 1, 1]), np.array([1, 1, 1, 1, 1, 1], bool)
    found = [tuple(np.flatnonzero(one)) for one in _seeds(hole, own)]
    assert found == [
        (0, 1, 2, 3), (1, 2, 3), (2, 3), (3,), (4, 5), (5,),
        (1, 2, 3, 5), (2, 3, 5), (3,),
    ]  # fmt: skip
    part = [tuple(np.flatnonzero(one)) for one in _seeds(hole, np.array([0, 1, 1, 1, 0, 0], bool))]
    assert part[:3] == [(1, 2, 3), (2, 3), (3,)] and len(part) == 6


def test_blocks_cost_their_parameters() -> None:
    """BIC of parts adds up; a cut of one hole is one parameter more; each fit is made once."""
    blocks = _Blocks(DATA, truth())
    blocks.learn([(0, 1), (2,), (0, 1)])
    assert set(blocks._known) == {(0, 1), (2,)}
    fits, b, number = blocks._known[(2,)]
    assert blocks.penalty == pytest.approx(np.log(len(DATA.poles)))
    cost = number * blocks.penalty - 2 * fits.log_likelihood[b]
    assert blocks.cost((2,)) == pytest.approx(cost)
    apart = blocks.grouping([(2,), (0, 1)], np.array([0, 1, 2]))
    assert apart.domains == ((0, 1), (2,))
    assert apart.bic == pytest.approx(blocks.cost((0, 1)) + cost)
    cut = blocks.grouping([(2,), (0, 1)], np.array([0, 1, 1]))
    assert cut.parameters == apart.parameters + 1
    assert cut.bic == pytest.approx(apart.bic + blocks.penalty)
    # A cut is where the domain changes inside a hole, not where a hole ends.
    assert blocks.grouping([(0, 1), (2,)], np.array([0, 0, 1])).parameters == apart.parameters
    assert len(blocks.values((2,))) == 3


def test_a_block_needs_five_fractures() -> None:
    """Fewer make no domain."""
    few = DATA.group != 0
    few[np.flatnonzero(~few)[:5]] = True
    blocks = _Blocks(replace(DATA, poles=DATA.poles[few], group=DATA.group[few]), truth())
    assert blocks.is_enough((0,))
    few[np.flatnonzero(DATA.group == 0)[4]] = False
    blocks = _Blocks(replace(DATA, poles=DATA.poles[few], group=DATA.group[few]), truth())
    assert not blocks.is_enough((0,)) and blocks.is_enough((0, 1))


def test_other_rock_is_split_off() -> None:
    """The hole in other rock is taken apart; rock of one kind is not."""
    blocks, hole = _Blocks(DATA, truth()), np.arange(3)
    side = _best_split(blocks, hole, np.ones(3, bool))
    assert side is not None and side.tolist() in ([False, False, True], [True, True, False])
    assert _best_split(blocks, hole, np.array([True, True, False])) is None
    assert _best_split(blocks, hole, np.array([True, False, False])) is None
    blocks.learn([(0, 2), (1,)])
    moved = _reassigned(blocks, hole, np.ones(3, bool), np.array([False, False, True]))
    blocks.learn([(0, 1), (2,)])
    assert moved.tolist() == [False, False, True]


def test_stretches_of_one_hole_are_cut() -> None:
    """With stretches the split is sought too, and the best way comes first."""
    found = find_domains(DATA, np.array([0, 0, 0]), truth())
    assert found[0].domains == ((0, 1), (2,))
    assert [one.bic for one in found] == sorted(one.bic for one in found)
    assert len(find_domains(DATA, np.arange(3), truth(), keep=2)) == 2
    ways = find_domains(DATA, np.arange(3), truth(), keep=99)
    assert len(ways) == 5
