"""Arithmetic of lengths along one line, set beside a count of small cells."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.borehole.spans import Spans
from jointstats.errors import InputError

#: Middles of cells of a line of 20 m, too small for a length to end within one.
CELLS = np.arange(0.005, 20.0, 0.01)


def _drawn(seed: int) -> tuple[Spans, Spans]:
    rng = np.random.default_rng(seed)
    lows = rng.integers(0, 18, (2, 4)).astype(float)
    highs = np.minimum(lows + rng.integers(1, 5, (2, 4)), 20.0)
    a, b = (Spans(list(zip(*ends, strict=True))) for ends in zip(lows, highs, strict=True))
    return a, b


@pytest.mark.parametrize("seed", range(20))
def test_spans_are_sets_of_depths(seed: int) -> None:
    """Union, difference, clip and length are those of the cells that each holds."""
    a, b = _drawn(seed)
    held, other = a.holds(CELLS), b.holds(CELLS)
    np.testing.assert_array_equal(a.union(b).holds(CELLS), held | other)
    np.testing.assert_array_equal(a.minus(b).holds(CELLS), held & ~other)
    np.testing.assert_array_equal(a.both(b).holds(CELLS), held & other)
    np.testing.assert_array_equal(a.clip(3, 11).holds(CELLS), held & (CELLS > 3) & (CELLS < 11))
    assert a.total_m == pytest.approx(0.01 * held.sum())
    np.testing.assert_allclose(a.metres_to(CELLS), 0.01 * (np.cumsum(held) - 0.5 * held), atol=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_depth_and_metres_invert_each_other(seed: int) -> None:
    """A depth inside a length comes back from the metres above it."""
    a, _ = _drawn(seed)
    for depth in CELLS[a.holds(CELLS)][::37]:
        metres = float(a.metres_to(np.array([depth]))[0])
        assert a.depth_at(metres, end=True) == pytest.approx(depth)
        assert a.depth_at(metres, end=False) == pytest.approx(depth)


def test_a_gap_has_two_edges() -> None:
    """The metres at a gap stand for its upper edge or its lower, as is asked."""
    spans = Spans([(5, 9), (0, 2)])
    assert spans.edges_m.tolist() == [0.0, 2.0, 6.0]
    assert spans.depth_at(2.0, end=True) == 2.0
    assert spans.depth_at(2.0, end=False) == 5.0


def test_lengths_that_touch_are_one() -> None:
    """Lengths that touch or overlap are joined, those a hair apart too; a real gap stays."""
    assert Spans([(2, 8), (8, 12)]).pairs == ((2.0, 12.0),)
    assert Spans([(0.1 + 0.2, 1), (0, 0.3)]).pairs == ((0.0, 1.0),)
    assert len(Spans([(0, 1), (1.001, 2)])) == 2
    assert len(Spans([(0, 1)]).minus(Spans([(0, 1 - 1e-9)]))) == 0
    assert not Spans()
    with pytest.raises(InputError, match="to_m must lie beyond from_m"):
        Spans([(3, 3)])
