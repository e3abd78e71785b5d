"""What was logged, what was not, and what share of orientations nobody could see."""

from __future__ import annotations

from types import SimpleNamespace as Plain

import numpy as np
import pytest

import jointstats as js
from jointstats.borehole.drilled import (
    blind_share,
    gaps_of,
    hole_lines,
    logged_spans,
)


def _hole(*spans: tuple[float, float]) -> Plain:
    return Plain(length_m=20.0, logged=[Plain(from_m=a, to_m=b) for a, b in spans])


@pytest.mark.parametrize(
    ("spans", "gaps"),
    [
        ([], [(0.0, 20.0)]),
        ([(0.0, 20.0)], []),
        ([(2.0, 8.0), (8.0, 12.0)], [(0.0, 2.0), (12.0, 20.0)]),
        ([(5.0, 20.0), (0.0, 6.0)], []),
        ([(0.0, 15.0), (3.0, 4.0)], [(15.0, 20.0)]),
    ],
)
def test_gaps_and_spans_fill_the_hole(
    spans: list[tuple[float, float]], gaps: list[tuple[float, float]]
) -> None:
    """Touching and overlapping lengths are joined; gaps are all that is left of the hole."""
    hole = _hole(*spans)
    assert gaps_of(hole) == gaps
    covered = sum(b - a for a, b in logged_spans(hole)) + sum(b - a for a, b in gaps)
    assert covered == pytest.approx(20.0)


@pytest.mark.parametrize("angle", [5.0, 10.0, 30.0])
def test_one_hole_is_blind_to_the_sine_of_the_blind_angle(angle: float) -> None:
    """The band within ψ of a great circle has the share sin ψ of the sphere (Archimedes)."""
    line = js.LineExposure(js.lines_from_trend(33, 21), [10.0], blind_angle_deg=angle)
    assert blind_share(line) == pytest.approx(np.sin(np.radians(angle)), abs=1e-3)


def test_two_square_holes_leave_the_crossing_of_two_bands() -> None:
    """The share blind to two holes at right angles equals a count over random orientations."""
    both = js.LineExposure([[0, 0, 1.0], [1.0, 0, 0]], [10.0, 10.0], blind_angle_deg=25.0)
    rows = np.random.default_rng(5).normal(size=(200_000, 3))
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    chance = (np.abs(rows[:, [0, 2]]) < np.sin(np.radians(25.0))).all(axis=1).mean()
    assert blind_share(both) == pytest.approx(chance, abs=4 * np.sqrt(chance / 200_000))


def test_lines_keep_every_hole() -> None:
    """Each hole appears once, with its direction at the middle of what was logged."""
    site = js.simulate_site(random_state=1)
    lines = hole_lines(site)
    assert [line.name for line in lines] == [hole.name for hole in site.holes]
    np.testing.assert_allclose(lines[0].middle, [0, 0, -1.0], atol=1e-9)
