"""Domains: the right holes together, holes cut by depth, uneven rock left whole."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.fit.domains import find_domains, partitions
from tests.fit.rock_arrays import OTHER, ROCK, Rock, fitted_sets, simulated, truth


@pytest.mark.parametrize(("n", "ways"), [(0, 1), (3, 5), (5, 52), (7, 877)])
def test_partitions_are_counted_by_bell(n: int, ways: int) -> None:
    """The number of ways is Bell's (1, 1, 2, 5, 15, 52, 203, 877: from memory), none twice."""
    found = [tuple(sorted(tuple(sorted(part)) for part in one)) for one in partitions(n)]
    assert len(found) == len(set(found)) == ways


@pytest.mark.parametrize(
    ("rocks", "expected"),
    [
        ((ROCK, ROCK, OTHER, OTHER), ((0, 1), (2, 3))),
        ((ROCK, ROCK, ROCK, OTHER), ((0, 1, 2), (3,))),
        ((ROCK,) * 4, ((0, 1, 2, 3),)),
    ],
)
def test_holes_of_one_rock_make_a_domain(
    rocks: tuple[Rock, ...], expected: tuple[tuple[int, ...], ...]
) -> None:
    """The criterion finds the grouping that the rock was made with, with sets for each."""
    arrays = simulated(1, rocks)
    best = find_domains(arrays.grouped(), np.arange(4), fitted_sets(arrays))[0]
    assert best.domains == expected
    assert len(best.sets) == len(expected)


def test_frequency_alone_makes_no_domain() -> None:
    """Rock whose P32 differs from hole to hole (coefficient of variation .5) stays one domain."""
    for seed in range(5):
        arrays = simulated(seed, uneven=0.5)
        found = find_domains(arrays.grouped(), np.arange(4), truth())
        assert len(found[0].domains) == 1


def test_a_hole_is_cut_where_the_rock_changes() -> None:
    """Stretches are parted by rock, across holes: here each pair of groups is one hole."""
    arrays = simulated(1, (ROCK, ROCK, ROCK, OTHER))
    best = find_domains(arrays.grouped(), np.array([0, 0, 1, 1]), fitted_sets(arrays))[0]
    assert best.domains == ((0, 1, 2), (3,))
