"""Minimum-curvature paths: a printed example, brute-force integration, and refusals."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.sphere.axes import rotation_about
from tests.references import MINIMUM_CURVATURE_DOGLEG, MINIMUM_CURVATURE_STEP

HOLES = {
    "curved": ([0, 20, 55, 90], [350, 2, 15, 340], [60, 64, 50, 71]),
    "vertical": ([0, 50], [0, 120], [90, 89.5]),
    "horizontal": ([10, 30, 60], [355, 5, 20], [0, 1, -2]),
    "upward": ([0, 40], [200, 210], [-80, -60]),
    "one station": ([25], [123], [45]),
}


def test_a_printed_survey_leg_comes_out_to_its_digits() -> None:
    """Dogleg, north, east and vertical of the printed leg agree to the last digit."""
    # Inclination from vertical 15° and 25°: plunges of 75° and 65°.
    path = js.HolePath([3500, 3600], [20, 45], [75, 65])
    start, end = path.position([3500, 3600])
    east, north, up = end - start
    reference = MINIMUM_CURVATURE_STEP
    np.testing.assert_allclose((north, east, -up), reference.value, atol=reference.tolerance)
    turn = np.degrees(np.arccos(path.directions[0] @ path.directions[1]))
    assert turn == pytest.approx(
        MINIMUM_CURVATURE_DOGLEG.value, abs=MINIMUM_CURVATURE_DOGLEG.tolerance
    )


@pytest.mark.parametrize("name", HOLES)
def test_position_is_the_integral_of_direction(name: str) -> None:
    """The closed form of the position equals a fine sum of directions, for any hole."""
    path = js.HolePath(*HOLES[name])
    edges = np.linspace(0, 120, 120_001)
    middle = path.direction(0.5 * (edges[1:] + edges[:-1]))
    summed = (middle * np.diff(edges)[:, np.newaxis]).sum(axis=0)
    np.testing.assert_allclose(path.position(120)[0], summed, atol=1e-6)
    np.testing.assert_allclose(path.position(0)[0], 0.0, atol=1e-15)


@pytest.mark.parametrize("name", HOLES)
def test_the_path_passes_its_stations_and_is_straight_outside(name: str) -> None:
    """At each station the direction is the measured one; past the ends it stays."""
    depths, trend, plunge = HOLES[name]
    path = js.HolePath(depths, trend, plunge)
    measured = js.lines_from_trend(trend, plunge)
    np.testing.assert_allclose(path.direction(depths), measured, atol=1e-12)
    np.testing.assert_allclose(path.direction(depths[-1] + 1000.0)[0], measured[-1], atol=1e-12)
    np.testing.assert_allclose(path.direction(0.0)[0], measured[0], atol=1e-12)
    below = path.position([depths[-1], depths[-1] + 7.0])
    np.testing.assert_allclose(below[1] - below[0], 7.0 * measured[-1], atol=1e-9)


def test_an_azimuth_that_crosses_north_turns_the_short_way() -> None:
    """Halfway from 350° to 10° a level hole points north, not south."""
    middle = js.HolePath([0, 10], [350, 10], [0, 0]).direction(5)
    np.testing.assert_allclose(middle, [[0, 1, 0]], atol=1e-12)


def test_direction_turns_at_an_even_rate() -> None:
    """Within a leg, equal lengths turn by equal angles: the arc is of a circle."""
    lines = js.HolePath([0, 40], [200, 210], [-80, -60]).direction(np.linspace(0, 40, 9))
    turns = js.axis_angles_deg(lines[1:], lines[:-1])
    np.testing.assert_allclose(turns, turns[0], rtol=1e-9)


def test_the_path_turns_with_the_frame() -> None:
    """A survey with every trend turned by 70° gives the path turned by 70°."""
    depths, trend, plunge = HOLES["curved"]
    turn = rotation_about([0, 0, 1.0], -np.radians(70))  # trends run clockwise
    plain = js.HolePath(depths, trend, plunge).position([10, 70, 100])
    turned = js.HolePath(depths, (np.array(trend) + 70) % 360, plunge).position([10, 70, 100])
    np.testing.assert_allclose(turned, plain @ turn.T, atol=1e-9)


def test_segments_add_up_and_turn_little() -> None:
    """Pieces sum to the length asked for, turn at most as told, and keep the mean direction."""
    path = js.HolePath(*HOLES["curved"])
    directions, lengths = path.segments(5, 110, max_turn_deg=1.0)
    assert lengths.sum() == pytest.approx(105)
    edges = 5 + np.concatenate([[0], np.cumsum(lengths)])
    turns = js.axis_angles_deg(path.direction(edges[1:]), path.direction(edges[:-1]))
    assert turns.max() <= 1.0 + 1e-9
    whole = path.position(110)[0] - path.position(5)[0]
    np.testing.assert_allclose(lengths @ directions, whole, atol=2e-3)
    assert len(js.HolePath([0], [0], [90]).segments(0, 500)[1]) == 1


def test_paths_show_and_compare() -> None:
    """The repr counts the stations; equal surveys make equal paths."""
    path = js.HolePath([0, 30], [10, 12], [60, 61])
    assert repr(path) == "HolePath(2 stations, the last at 30 m)"
    assert path == js.HolePath([0, 30], [10, 12], [60, 61])
    assert path != js.HolePath([0, 31], [10, 12], [60, 61])
    assert path != "hole"


def test_refusals() -> None:
    """Surveys that make no path, and depths that are not on it, are refused with the rule."""
    with pytest.raises(InputError, match="at least one station"):
        js.HolePath([], [], [])
    with pytest.raises(InputError, match="must rise from station to station; station 2"):
        js.HolePath([0, 10, 10], [0, 0, 0], [90, 90, 90])
    with pytest.raises(InputError, match="must rise"):
        js.HolePath([10, 0], [0, 0], [90, 90])
    with pytest.raises(InputError, match="plunge_deg must have one value a station"):
        js.HolePath([0, 10], [0, 0], [90])
    with pytest.raises(InputError, match="trend_deg must lie between 0 and 360"):
        js.HolePath([0], [361], [90])
    with pytest.raises(InputError, match="plunge_deg must lie between -90 and 90"):
        js.HolePath([0], [0], [91])
    with pytest.raises(InputError, match="point opposite ways"):
        js.HolePath([0, 10], [0, 180], [0, 0])
    with pytest.raises(InputError, match="finite and at least 0"):
        js.HolePath([-1], [0], [90])
    with pytest.raises(InputError, match="depth_m must be numbers"):
        js.HolePath(["a"], [0], [90])
    with pytest.raises(InputError, match="must be one-dimensional"):
        js.HolePath([0], [0], [90]).direction([[1.0]])
    path = js.HolePath([0], [0], [90])
    with pytest.raises(InputError, match="finite and at least 0"):
        path.position(np.nan)
    with pytest.raises(InputError, match="must lie above"):
        path.segments(10, 5)
    with pytest.raises(InputError, match="max_turn_deg must be more than 0"):
        path.segments(0, 5, max_turn_deg=0)
