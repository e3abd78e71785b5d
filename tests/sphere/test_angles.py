"""Degrees to vectors and back: hand-made cases, round trips, ties, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import jointstats as js
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth

dips = st.floats(0, 90)
azimuths = st.floats(0, 360)


@pytest.mark.parametrize(
    ("dip", "direction", "pole"),
    [
        (0, 123, (0, 0, -1)),
        (90, 90, (1, 0, 0)),
        (90, 270, (1, 0, 0)),
        (90, 0, (0, 1, 0)),
        (90, 180, (0, 1, 0)),
        (45, 0, (0, -(0.5**0.5), -(0.5**0.5))),
    ],
)
def test_frame_is_east_north_up(dip: float, direction: float, pole: tuple) -> None:
    """Poles are lower-hemisphere normals in a frame of x east, y north, z up; ties as stated."""
    np.testing.assert_allclose(js.poles_from_dip(dip, direction)[0], pole, atol=1e-15)


@given(dips, azimuths)
def test_planes_come_back(dip: float, direction: float) -> None:
    """Dip and dip direction survive the way through the pole (a vertical plane as itself)."""
    pole = js.poles_from_dip(dip, direction)
    again = js.poles_from_dip(*js.dip_from_poles(pole))
    np.testing.assert_allclose(again, pole, atol=1e-12)
    back, _ = js.dip_from_poles(pole)
    assert back[0] == pytest.approx(dip, abs=1e-9)


@given(dips, azimuths)
def test_pole_is_square_to_the_plane(dip: float, direction: float) -> None:
    """The pole is square to the line of dip and to the strike, and points down."""
    pole = js.poles_from_dip(dip, direction)[0]
    down = js.lines_from_trend(direction, dip)[0]
    strike = js.lines_from_trend((direction + 90) % 360, 0)[0]
    assert abs(pole @ down) < 1e-14 and abs(pole @ strike) < 1e-14
    assert pole[2] <= 0


@given(azimuths, st.floats(-90, 90))
def test_lines_come_back(trend: float, plunge: float) -> None:
    """Trend and plunge survive the way through the vector; plunge is positive downward."""
    line = js.lines_from_trend(trend, plunge)
    assert line[0, 2] == pytest.approx(-np.sin(np.radians(plunge)), abs=1e-12)
    np.testing.assert_allclose(js.lines_from_trend(*js.trend_from_lines(line)), line, atol=1e-12)


def test_flipped_poles_are_the_same_plane() -> None:
    """Dip and dip direction do not depend on the end of the pole."""
    poles = np.random.default_rng(1).normal(size=(50, 3))
    for one, two in zip(js.dip_from_poles(poles), js.dip_from_poles(-poles), strict=True):
        np.testing.assert_allclose(one, two)


def test_one_value_goes_with_many() -> None:
    """A single dip may stand beside many dip directions."""
    assert js.poles_from_dip(30, [10, 20, 30]).shape == (3, 3)
    assert js.poles_from_dip([], []).shape == (0, 3)


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (
            lambda: js.poles_from_dip(91, 0),
            "dip_deg must lie between 0 and 90; value 0 is 91",
        ),
        (lambda: js.poles_from_dip(float("nan"), 0), "dip_deg must lie between 0 and 90"),
        (lambda: js.poles_from_dip(0, 361), "dip_direction_deg must lie between 0 and 360"),
        (lambda: js.poles_from_dip(0, -10), "dip_direction_deg must lie between 0 and 360"),
        (lambda: js.poles_from_dip("steep", 0), "dip_deg must be numbers; got 'steep'"),
        (lambda: js.poles_from_dip([[1.0]], 0), "dip_deg must be one-dimensional"),
        (lambda: js.poles_from_dip([1, 2], [1, 2, 3]), "must have the same length, or one"),
        (lambda: js.lines_from_trend(0, 95), "plunge_deg must lie between -90 and 90"),
    ],
)
def test_refusals(call: object, rule: str) -> None:
    """Angles out of range, words, and lengths that differ are refused by name."""
    with pytest.raises(InputError, match=rule):
        call()  # type: ignore[operator]


def test_azimuths_stay_below_a_full_turn() -> None:
    """Whatever is turned, even by less than a rounding, lies from 0 up to 360."""
    tiny = np.array([-1e-14, -1e-300, -0.0, 360.0, 720.0, -90.0, 359.999])
    found = as_azimuth(tiny)
    assert ((found >= 0.0) & (found < 360.0)).all()
    np.testing.assert_allclose(found, [0, 0, 0, 0, 0, 270, 359.999])
    # The plain remainder does not: this is what the helper is for.
    assert (tiny % 360.0)[0] == 360.0


@pytest.mark.parametrize(("dip", "cone"), [(35.0, 1.7), (10.0, 1.7), (80.0, 6.0)])
def test_margins_of_a_plane_are_the_reach_of_its_cone(dip: float, cone: float) -> None:
    """Walking round the cone about the pole, dip and dip direction reach just as far."""
    from jointstats.sphere.angles import plane_margins_deg
    from jointstats.sphere.axes import frame_about

    across, aside, pole = frame_about(js.poles_from_dip(dip, 90.0))
    turn = np.linspace(0, 2 * np.pi, 20_001)[:, np.newaxis]
    ring = np.cos(turn) * across + np.sin(turn) * aside
    dips, directions = js.dip_from_poles(np.cos(np.radians(cone)) * pole + np.sin(np.radians(cone)) * ring)
    reach = plane_margins_deg(dip, cone)
    assert np.abs(directions - 90.0).max() == pytest.approx(reach[1], rel=1e-5)
    assert np.abs(dips - dip).max() == pytest.approx(reach[0], rel=1e-5)
