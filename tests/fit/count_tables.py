"""Counts of fractures in cells of lines through rock of known unevenness."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class CountTable(NamedTuple):
    """Counts (K, B) in cells of a metre, and the truth."""

    counts: np.ndarray
    exposure: np.ndarray
    line: np.ndarray
    lengths_m: np.ndarray
    p32: np.ndarray  # (K,)


def count_table(
    rng: np.random.Generator,
    *,
    n_sets: int = 3,
    n_lines: int = 4,
    number: float = 60.0,
    length_m: int = 75,
    variation: float = 0.0,
    shared: bool = False,
    swarm: int = 0,
) -> CountTable:
    """Draw a table: `number` fractures of each set expected, on all lines together.

    Lines differ by gamma effects of coefficient of variation `variation`, one for all sets or each
    its own. Swarms: parents are Poisson, each with a Poisson number of fractures (mean `swarm`)
    within a metre of it.
    """
    cosine = rng.uniform(0.35, 1.0, (n_sets, n_lines))
    p32 = number / (cosine.sum(axis=1) * length_m)
    effects = np.ones((n_sets, n_lines))
    if variation:
        shape = 1.0 / variation**2
        effects = rng.gamma(shape, 1.0 / shape, (1 if shared else n_sets, n_lines)) * effects
    rates = p32[:, np.newaxis] * cosine * effects
    edges = np.arange(length_m + 1)
    counts = [np.histogram(_depths(rate, length_m, swarm, rng), edges)[0] for rate in rates.ravel()]
    return CountTable(
        np.array(counts, float).reshape(n_sets, -1),
        np.repeat(cosine, length_m, axis=1),
        np.repeat(np.arange(n_lines), length_m),
        np.ones(n_lines * length_m),
        p32,
    )


def _depths(rate: float, length_m: float, swarm: int, rng: np.random.Generator) -> np.ndarray:
    if not swarm:
        return rng.uniform(0.0, length_m, rng.poisson(rate * length_m))
    parents = rng.uniform(-1.0, length_m + 1.0, rng.poisson(rate * (length_m + 2.0) / swarm))
    children = np.repeat(parents, rng.poisson(swarm, len(parents)))
    return children + rng.uniform(-1.0, 1.0, len(children))
