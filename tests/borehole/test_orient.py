"""Core readings turned into poles, against ellipses built point by point, and printed planes."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.borehole.frame import reference_lines
from jointstats.errors import InputError
from jointstats.sphere.axes import rotation_about
from tests.references import APPARENT_TO_TRUE_DIP, PLANE_INTERSECTIONS, WALL_TRACE_DIP

HOLES = {
    "vertical": (0, 90),
    "inclined": (136, 55),
    "horizontal": (250, 0),
    "upward": (40, -65),
    "straight up": (0, -90),
}


def _references(name: str) -> tuple[str, ...]:
    return ("north",) if name in ("vertical", "straight up") else ("low side", "high side")


def ellipse_readings(pole: np.ndarray, hole: np.ndarray, toward: np.ndarray) -> tuple[float, float]:
    """α and β of a plane, read off an ellipse built on the core point by point.

    `toward` is a vector whose part square to the hole points at the reference line. The wall is
    walked clockwise as seen by someone who looks down the hole, by asking which of two
    quarter-turned vectors is on the right hand.
    """
    radial = toward - (toward @ hole) * hole
    radial /= np.linalg.norm(radial)
    # Facing along the hole with the reference overhead, the right hand points to hole x radial.
    right = np.cross(hole, radial)
    angle = np.linspace(0, 2 * np.pi, 720_001)
    wall = np.cos(angle)[:, None] * radial + np.sin(angle)[:, None] * right
    along = -(wall @ pole) / (hole @ pole)  # depth at which the plane cuts each line of the wall
    beta = np.degrees(angle[np.argmax(along)])
    # α is the steepness of the ellipse against the axis: diameter over height.
    alpha = np.degrees(np.arctan2(2.0, np.ptp(along)))
    return alpha, beta


def test_the_right_hand_of_a_person_looking_down_a_vertical_hole() -> None:
    """Looking down with north ahead, clockwise from north comes to east first."""
    down, north = np.array([0, 0, -1.0]), np.array([0, 1.0, 0])
    np.testing.assert_allclose(np.cross(down, north), [1, 0, 0])


@pytest.mark.parametrize("name", HOLES)
def test_readings_of_an_ellipse_give_its_plane_back(name: str) -> None:
    """In every kind of hole and for every reference, α and β of an ellipse return its pole."""
    trend, plunge = HOLES[name]
    hole = js.lines_from_trend(trend, plunge)[0]
    toward = {"low side": [0, 0, -1.0], "high side": [0, 0, 1.0], "north": [0, 1.0, 0]}
    rng = np.random.default_rng(3)
    for reference in _references(name):
        for pole in js.poles_from_dip(rng.uniform(0, 90, 6), rng.uniform(0, 360, 6)):
            if abs(pole @ hole) < 0.1:
                continue
            alpha, beta = ellipse_readings(pole, hole, np.array(toward[reference]))
            back = js.orient_core(alpha, beta, trend, plunge, reference)
            assert js.axis_angles_deg(pole, back)[0] < 1e-3  # the walk has steps of 0.0005°


def test_a_level_plane_in_an_inclined_hole_has_its_lowest_point_on_the_high_side() -> None:
    """Plunge 60°: a level plane makes 60° with the core; its ellipse dips to the high side.

    Going down the hole, the high side is met by a level plane farther along than the low side.
    """
    dip, _ = js.dip_from_poles(js.orient_core(60, 180, 136, 60, "low side"))
    assert dip[0] == pytest.approx(0, abs=1e-9)
    dip, _ = js.dip_from_poles(js.orient_core(60, 0, 136, 60, "high side"))
    assert dip[0] == pytest.approx(0, abs=1e-9)


def test_printed_wall_trace() -> None:
    """Height 0.62 ft on a hole of 3.91 in: the plane stands at the printed angle to the hole."""
    reference = WALL_TRACE_DIP
    to_hole = np.degrees(np.arctan2(0.62 * 12, 3.91))
    alpha = 90 - to_hole
    dip, _ = js.dip_from_poles(js.orient_core(alpha, 0, 0, 90, "north"))
    assert dip[0] == pytest.approx(reference.value, abs=reference.tolerance)


def test_printed_intersections_of_planes() -> None:
    """Lines of intersection of two pairs of planes agree with their printed trend and plunge."""
    pairs = (((36, 266), (59, 146)), ((50, 130), (30, 250)))
    for reference, pair in zip(PLANE_INTERSECTIONS, pairs, strict=True):
        one, two = (js.poles_from_dip(dip, direction)[0] for dip, direction in pair)
        line = np.cross(one, two)
        trend, plunge = js.trend_from_lines(line if line[2] < 0 else -line)
        got = (trend[0], plunge[0])
        np.testing.assert_allclose(got, reference.value, atol=reference.tolerance)


def test_printed_true_dip_from_an_apparent_dip() -> None:
    """An apparent dip on a wall and the strike give the printed true dip and direction."""
    # The plane holds the line of 40° on the wall 140-320 and the level line 020-200.
    level = js.lines_from_trend(20, 0)[0]
    for trend in (140, 320):
        dip, direction = js.dip_from_poles(np.cross(js.lines_from_trend(trend, 40)[0], level))
        if 20 < direction[0] < 200:
            got = (dip[0], direction[0])
    reference = APPARENT_TO_TRUE_DIP
    np.testing.assert_allclose(got, reference.value, atol=reference.tolerance)


def test_a_plane_square_to_the_core_needs_no_beta() -> None:
    """At α 90 the pole is the hole itself, whatever β is."""
    poles = js.orient_core(90, [0, 77, 360], 136, 55)
    hole = js.lines_from_trend(136, 55)
    np.testing.assert_allclose(js.axis_angles_deg(poles, hole), 0, atol=1e-9)


def test_alpha_is_the_angle_to_the_hole_and_references_are_half_a_turn_apart() -> None:
    """The pole lies 90° − α from the hole; low and high side differ by 180° in β."""
    alpha, beta = np.array([5.0, 30, 60, 89]), np.array([0.0, 100, 200, 300])
    low = js.orient_core(alpha, beta, 250, 20, "low side")
    high = js.orient_core(alpha, (beta + 180) % 360, 250, 20, "high side")
    np.testing.assert_allclose(js.axis_angles_deg(low, high), 0, atol=1e-9)
    to_hole = js.axis_angles_deg(low, js.lines_from_trend(250, 20))
    np.testing.assert_allclose(to_hole, 90 - alpha, atol=1e-9)


def test_turning_the_hole_turns_the_planes() -> None:
    """Readings are in the hole's frame: 70° more of trend turns every plane by 70°."""
    turn = rotation_about([0, 0, 1.0], -np.radians(70))
    one = js.orient_core([20, 50], [10, 250], 100, 40)
    two = js.orient_core([20, 50], [10, 250], 170, 40)
    np.testing.assert_allclose(js.axis_angles_deg(one @ turn.T, two), 0, atol=1e-9)


def test_reference_lines_are_square_to_the_hole() -> None:
    """The line from the axis to the reference has no part along the hole, and points right."""
    holes = js.lines_from_trend([10, 200], [30, -40])
    low = reference_lines(holes, "low side")
    np.testing.assert_allclose((low * holes).sum(axis=1), 0, atol=1e-12)
    assert (low[:, 2] < 0).all()
    np.testing.assert_allclose(reference_lines(holes, "high side"), -low, atol=1e-12)
    north = reference_lines([[0, 0, -1.0]], "north", north_deg=90.0)
    np.testing.assert_allclose(north, [[1, 0, 0]], atol=1e-12)


def test_refusals() -> None:
    """Angles out of range, unequal lengths and references that do not exist are refused."""
    with pytest.raises(InputError, match="alpha_deg must lie between 0 and 90"):
        js.orient_core(91, 0, 0, 60)
    with pytest.raises(InputError, match="beta_deg must lie between 0 and 360"):
        js.orient_core(10, -1, 0, 60)
    with pytest.raises(InputError, match="alpha_deg must lie between"):
        js.orient_core(np.nan, 0, 0, 60)
    with pytest.raises(InputError, match="beta_deg must have 3 values, or one; got 2"):
        js.orient_core([1, 2, 3], [1, 2], 0, 60)
    with pytest.raises(InputError, match="trend_deg and plunge_deg must have 3 values"):
        js.orient_core([1, 2, 3], 1, [0, 1], 60)
    with pytest.raises(InputError, match='reference must be one of "low side"'):
        js.orient_core(10, 0, 0, 60, "top")
    with pytest.raises(InputError, match='a vertical hole has no low side; use "north"'):
        js.orient_core(10, 0, 0, 90)
    with pytest.raises(InputError, match="a vertical hole has no high side"):
        js.orient_core(10, 0, 0, -90, "high side")
    with pytest.raises(InputError, match=r"only within 10° of vertical, and the hole is 30.0°"):
        js.orient_core(10, 0, 0, 60, "north")
    assert js.orient_core([], [], [], []).shape == (0, 3)
