"""The resultant of axes: the choice of ends against every choice there is."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from jointstats.sphere.resultant import longest_signs, resultant_of


@pytest.mark.parametrize("seed", range(8))
def test_ends_make_the_longest_sum(seed: int) -> None:
    """No choice of ends of ten scattered, weighted axes gives a longer sum."""
    generator = np.random.default_rng(seed)
    rows = generator.standard_normal((10, 3))
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    weights = generator.uniform(0.5, 3.0, 10)
    weights *= 10 / weights.sum()
    every = np.array(list(product((-1.0, 1.0), repeat=10)))
    best = np.linalg.norm((every * weights) @ rows, axis=1).max()
    assert resultant_of(rows, weights, axial=True).length == pytest.approx(best, rel=1e-12)


def test_large_scattered_sets_come_close() -> None:
    """Climbing from many starts finds the sum that exact search finds, for uniform axes."""
    generator = np.random.default_rng(3)
    for _ in range(10):
        rows = generator.standard_normal((24, 3))
        rows /= np.linalg.norm(rows, axis=1, keepdims=True)
        exact = np.linalg.norm(longest_signs(rows, np.ones(24)) @ rows)
        doubled = np.vstack([rows, -rows])
        climbed = np.linalg.norm(longest_signs(doubled, np.ones(48)) @ doubled)
        assert climbed == pytest.approx(2 * exact, rel=1e-12)


def test_shortfall_is_exact_for_close_poles() -> None:
    """n − R keeps its digits where the poles lie within a hundredth of a second of arc."""
    rows = np.array([[1e-8, 0, 1.0], [-1e-8, 0, 1.0]])
    assert resultant_of(rows, np.ones(2), axial=True).shortfall == pytest.approx(1e-16, rel=1e-6)
