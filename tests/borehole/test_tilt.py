"""Bedding brought back to level: by hand-made cases, the stereographic rule, and invariances."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.sphere.axes import rotation_about


def test_the_bed_itself_becomes_level() -> None:
    """Whatever its attitude, the bed's own pole comes to vertical."""
    rng = np.random.default_rng(2)
    dip, direction = rng.uniform(0, 90, 50), rng.uniform(0, 360, 50)
    level = js.tilt_correct(js.poles_from_dip(dip, direction), dip, direction)
    np.testing.assert_allclose(level, np.tile([0, 0, -1.0], (50, 1)), atol=1e-12)


def test_the_turn_is_about_the_strike_and_lifts_the_down_dip_side() -> None:
    """A line along the strike stays; the down-dip line of the bed comes up to its own bearing."""
    dip, direction = 35.0, 110.0
    strike = js.lines_from_trend(20, 0)
    assert js.axis_angles_deg(js.tilt_correct(strike, dip, direction), strike)[0] < 1e-9
    down = js.lines_from_trend(direction, dip)
    level = js.tilt_correct(down, dip, direction)
    assert js.axis_angles_deg(level, js.lines_from_trend(direction, 0))[0] < 1e-9
    # Turned the other way it would come to a plunge of 70°.
    steeper = js.tilt_correct(js.lines_from_trend(direction, 65), dip, direction)
    assert js.axis_angles_deg(steeper, js.lines_from_trend(direction, 30))[0] < 1e-9


def test_it_is_the_rotation_matrix_of_any_textbook() -> None:
    """The result equals a right-hand turn by −dip about the strike with the bed on its right."""
    rng = np.random.default_rng(4)
    poles = js.poles_from_dip(rng.uniform(0, 90, 20), rng.uniform(0, 360, 20))
    strike = js.lines_from_trend((250 - 90) % 360, 0)[0]
    turned = poles @ rotation_about(strike, -np.radians(40)).T
    angles = js.axis_angles_deg(js.tilt_correct(poles, 40, 250), turned)
    assert angles.max() < 1e-9


def test_the_inverse_turn_brings_everything_back() -> None:
    """Levelling with the bed, then tilting with the same bed upside down, changes nothing."""
    poles = js.poles_from_dip([10, 50, 88], [5, 140, 270])
    there = js.tilt_correct(poles, 30, 75)
    back = js.tilt_correct(there, 30, 255)
    assert js.axis_angles_deg(back, poles).max() < 1e-9


def test_each_fracture_may_have_its_own_bedding() -> None:
    """Beddings of intervals, one a row, give what each gives alone."""
    poles = js.poles_from_dip([10, 50, 88], [5, 140, 270])
    dip, direction = [10, 20, 0], [90, 200, 10]
    together = js.tilt_correct(poles, dip, direction)
    for k in range(3):
        alone = js.tilt_correct(poles[k], dip[k], direction[k])
        np.testing.assert_allclose(together[k], alone[0], atol=1e-12)


def test_overturned_beds_are_turned_past_vertical() -> None:
    """A bed that faces east and is overturned to dip 60° west has a dip of 120° to the east."""
    bed = js.poles_from_dip(60, 270)
    np.testing.assert_allclose(js.tilt_correct(bed, 120, 90), [[0, 0, -1.0]], atol=1e-12)
    along = js.lines_from_trend(90, -60)  # in the bed, what was once toward the east
    level = js.tilt_correct(along, 120, 90)
    assert js.axis_angles_deg(level, js.lines_from_trend(90, 0))[0] < 1e-9


def test_limbs_of_a_plunging_fold_come_level_with_the_axis() -> None:
    """Both limbs hold the axis; after its plunge is taken out, both come level about it."""
    axis = js.lines_from_trend(70, 25)[0]
    for around in (30, -50):
        # A limb: the plane of the axis and its level normal, turned about the axis.
        across = rotation_about(axis, np.radians(around)) @ js.lines_from_trend(160, 0)[0]
        dip, direction = js.dip_from_poles(np.cross(axis, across))
        bed = js.poles_from_dip(dip, direction)
        level = js.tilt_correct(bed, dip, direction, fold_trend_deg=70, fold_plunge_deg=25)
        np.testing.assert_allclose(level, [[0, 0, -1.0]], atol=1e-9)
        found = js.tilt_correct(axis, dip, direction, fold_trend_deg=70, fold_plunge_deg=25)
        assert js.axis_angles_deg(found, js.lines_from_trend(70, 0))[0] < 1e-9


def test_flips_and_turns_of_the_frame_do_not_matter() -> None:
    """Either end of a pole gives the same; turning map and bedding turns the answer."""
    poles = js.poles_from_dip([10, 50, 88], [5, 140, 270])
    base = js.tilt_correct(poles, 30, 75)
    assert js.axis_angles_deg(js.tilt_correct(-poles, 30, 75), base).max() < 1e-9
    turn = rotation_about([0, 0, 1], -np.radians(50))
    other = js.tilt_correct(poles @ turn.T, 30, 125)
    assert js.axis_angles_deg(other, base @ turn.T).max() < 1e-9


def test_degenerate_input() -> None:
    """No poles give none; level beds change nothing; half an axis and wrong angles are refused."""
    assert js.tilt_correct([], 30, 75).shape == (0, 3)
    poles = js.poles_from_dip([10, 50], [5, 140])
    np.testing.assert_allclose(js.tilt_correct(poles, 0, 75), poles, atol=1e-12)
    with pytest.raises(InputError, match="both fold_trend_deg and fold_plunge_deg"):
        js.tilt_correct(poles, 30, 75, fold_trend_deg=20)
    with pytest.raises(InputError, match="bedding_dip_deg must lie between 0 and 180"):
        js.tilt_correct(poles, 190, 75)
    with pytest.raises(InputError, match="bedding_dip_deg must have one value, or one a pole"):
        js.tilt_correct(poles, [1, 2, 3], 75)


def test_the_mean_of_what_is_typed_as_bedding_levels_it() -> None:
    """Two beds either side of a mean level to equal and opposite dips; others do not count."""
    poles = js.poles_from_dip([20, 30, 80], [100, 100, 10])
    table = pd.DataFrame(poles, columns=["pole_east", "pole_north", "pole_up"])
    table["type"] = ["bedding", "Bedding ", "joint"]
    dip, direction = js.borehole.mean_bedding(table)
    assert (dip, direction) == (pytest.approx(25), pytest.approx(100))
    level, _ = js.dip_from_poles(js.tilt_correct(poles[:2], dip, direction))
    np.testing.assert_allclose(level, [5, 5])
    with pytest.raises(InputError, match="no oriented structure has the type 'vein'"):
        js.borehole.mean_bedding(table, word="vein")
    with pytest.raises(InputError, match="needs the column type and poles"):
        js.borehole.mean_bedding(table.drop(columns="type"))
    square = pd.DataFrame(np.eye(3), columns=["pole_east", "pole_north", "pole_up"])
    with pytest.raises(InputError, match="have no single mean"):
        js.borehole.mean_bedding(square.assign(type="bedding"))
