"""Zones of constant frequency: the exact optimum, boundaries found, intervals, gaps."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from jointstats.errors import InputError
from jointstats.line.zones import frequency_zones


def _log(rng: np.random.Generator, length: float, n: float, factor: float) -> np.ndarray:
    """About n fractures in a length whose frequency changes by a factor half way down."""
    rate, half = n / (0.5 * length * (1 + factor)), 0.5 * length
    return np.concatenate(
        [
            rng.uniform(0, half, rng.poisson(rate * half)),
            rng.uniform(half, length, rng.poisson(factor * rate * half)),
        ]
    )


def _log_likelihood(counts: np.ndarray, edges: tuple[int, ...]) -> float:
    """Largest Poisson log likelihood of given zones, written out."""
    value = 0.0
    for low, high in zip((0, *edges), (*edges, len(counts)), strict=True):
        n, metres = counts[low:high].sum(), high - low
        value += n * np.log(n / metres) - n if n else 0.0
    return value


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_other_cut_is_better(seed: int) -> None:
    """The zones found beat every way to cut the log into up to five, tried one by one."""
    rng = np.random.default_rng(seed)
    depth = np.concatenate([_log(rng, 14.0, 60, 5.0), 14 + _log(rng, 10.0, 40, 3.0)])
    penalty = 3.0
    found = frequency_zones(depth, [(0, 24)], cell_m=1.0, shortest_m=1.0, penalty=penalty)
    counts = np.histogram(depth, bins=24, range=(0, 24))[0]
    best = max(
        (_log_likelihood(counts, edges) - penalty * len(edges), edges)
        for number in range(5)
        for edges in combinations(range(1, 24), number)
    )
    assert tuple(round(one.depth_m) for one in found.boundaries) == best[1]
    asked = frequency_zones(depth, [(0, 24)], cell_m=1.0, shortest_m=1.0, n_zones=3)
    two = max((_log_likelihood(counts, edges), edges) for edges in combinations(range(1, 24), 2))
    assert tuple(round(one.depth_m) for one in asked.boundaries) == two[1]


def test_constant_frequency_is_seldom_split() -> None:
    """Of logs of constant frequency fewer than one in eight is given a boundary."""
    rng = np.random.default_rng(4)
    split = [
        len(frequency_zones(rng.uniform(0, 50, rng.poisson(100)), [(0, 50)]).boundaries) > 0
        for _ in range(100)
    ]
    assert np.mean(split) < 0.125


def test_doubled_frequency_is_found_as_well_as_can_be() -> None:
    """A doubled frequency among 100 fractures is placed within 1 m nearly as often as by a method
    that knows both frequencies."""
    rng = np.random.default_rng(5)
    near = known = 0
    for _ in range(120):
        depth = np.sort(_log(rng, 5.0, 100, 2.0))
        edge = frequency_zones(depth, [(0, 5)], n_zones=2).boundaries[0]
        near += abs(edge.depth_m - 2.5) <= 1
        grid = np.linspace(0, 5, 1001)
        likelihood = (len(depth) - np.searchsorted(depth, grid)) * np.log(2) + 100 / 7.5 * grid
        known += abs(grid[likelihood.argmax()] - 2.5) <= 1
    assert near / 120 > 0.78
    assert near >= known - 0.15 * 120


def test_interval_of_a_boundary_covers() -> None:
    """A boundary anywhere in the middle of a log lies in its interval in about 95 % of logs."""
    rng = np.random.default_rng(8)
    covered = 0
    for _ in range(150):
        truth = rng.uniform(6, 34)
        depth = np.concatenate(
            [
                rng.uniform(0, truth, rng.poisson(2 * truth)),
                rng.uniform(truth, 40, rng.poisson(8 * (40 - truth))),
            ]
        )
        edge = frequency_zones(depth, [(0, 40)], n_zones=2, cell_m=0.1).boundaries[0]
        covered += edge.low_m <= truth <= edge.high_m
    assert 0.90 <= covered / 150 <= 0.995


def test_tenfold_frequency_is_found_within_a_metre() -> None:
    """A frequency that changes tenfold is found within 1 m in at least 8 of 10 logs of 50 m."""
    rng = np.random.default_rng(6)
    near = 0
    for _ in range(60):
        found = frequency_zones(_log(rng, 50.0, 100, 10.0), [(0, 50)])
        near += any(abs(one.depth_m - 25) <= 1 for one in found.boundaries)
    assert near >= 48


def test_gap_is_listed_and_left_out() -> None:
    """Lost core is listed as not logged, and frequency is per logged metre."""
    depth = np.concatenate([np.arange(0.5, 10), np.arange(20.05, 29, 0.1)])
    found = frequency_zones(depth, [(0, 10), (20, 29)])
    assert [(one.kind, one.from_m, one.to_m) for one in found.zones] == [
        ("zone", 0.0, 10.0),
        ("not logged", 10.0, 20.0),
        ("fracture zone", 20.0, 29.0),
    ]
    assert [one.n for one in found.zones] == [10, 0, 90]
    assert found.zones[1].p10_per_m is None
    assert found.boundaries[0].depth_m == 20.0
    table = found.to_frame()
    assert table["n"].sum() == len(depth)
    assert len(table) == 3


def test_most_of_a_hole_is_no_fracture_zone() -> None:
    """A zone is marked only where it is the smaller part of the hole."""
    depth = np.concatenate([np.arange(0.5, 5), np.arange(5.05, 30, 0.1)])
    assert [one.kind for one in frequency_zones(depth, [(0, 30)]).zones] == ["zone", "zone"]


@pytest.mark.parametrize("depth", [[], [3.0], [3.0, 3.0], [0.0, 10.0]])
def test_few_fractures_make_one_zone(depth: list[float]) -> None:
    """With next to no fractures the whole log is one zone, with a finite interval."""
    found = frequency_zones(depth, [(0, 10)])
    assert len(found.zones) == 1
    assert found.zones[0].n == len(depth)
    assert np.isfinite(found.zones[0].high_per_m)
    assert "10.0 m" in repr(found)


def test_order_and_shift_do_not_matter() -> None:
    """Reordered depths give the same zones; a log that starts deeper gives them deeper."""
    rng = np.random.default_rng(7)
    depth = _log(rng, 40.0, 120, 6.0)
    first = frequency_zones(depth, [(0, 40)])
    second = frequency_zones(rng.permutation(depth) + 100, [(100, 140)])
    assert [one.n for one in first.zones] == [one.n for one in second.zones]
    np.testing.assert_allclose(
        [one.depth_m + 100 for one in first.boundaries], [one.depth_m for one in second.boundaries]
    )


def test_errors() -> None:
    """Arguments out of range are named."""
    with pytest.raises(InputError, match="logged has no length"):
        frequency_zones([1], [])
    with pytest.raises(InputError, match="outside every logged length"):
        frequency_zones([11], [(0, 10)])
    with pytest.raises(InputError, match="cell_m 1e-06 makes more than"):
        frequency_zones([1], [(0, 10)], cell_m=1e-6)
    with pytest.raises(InputError, match="n_zones must be a whole number"):
        frequency_zones([1, 2], [(0, 10)], n_zones=50)
    with pytest.raises(InputError, match="penalty must be finite and at least 0"):
        frequency_zones([1], [(0, 10)], penalty=-1)
