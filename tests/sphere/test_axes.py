"""Axes as unit rows: checks, ends, frames, turns and angles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import jointstats as js
from jointstats.errors import InputError
from jointstats.sphere import axes

ROWS = np.random.default_rng(2).normal(size=(40, 3))


def test_rows_become_unit_and_the_input_is_left_alone() -> None:
    """Any length but zero is brought to one, tiny and huge rows included."""
    given = np.array([[0, 3.0, 4.0], [1e-200, 0, 0], [0, 1e200, 1e200]])
    before = given.copy()
    np.testing.assert_allclose(np.linalg.norm(axes.as_axes(given), axis=1), 1.0, rtol=1e-15)
    np.testing.assert_array_equal(given, before)


def test_lower_hemisphere_chooses_one_end() -> None:
    """Both ends of an axis give the same end, also on the horizon."""
    level = np.array([[1.0, 1, 0], [-1, 1, 0], [0, -2, 0], [3, 0, 0]])
    for rows in (ROWS, level):
        one, two = axes.lower_hemisphere(rows), axes.lower_hemisphere(-rows)
        np.testing.assert_array_equal(one, two)
        assert (one[:, 2] <= 0).all()


def test_alignment_keeps_axes_within_a_right_angle() -> None:
    """Every aligned axis makes an acute angle with the direction, and is the same axis."""
    aligned = axes.align_axes(ROWS, [1.0, 2.0, 3.0])
    assert (aligned @ [1.0, 2.0, 3.0] >= 0).all()
    assert (axes.axis_angles_deg(aligned, ROWS) < 1e-6).all()


def test_angles_are_exact_where_they_are_small() -> None:
    """An angle of a billionth of a degree is not lost in rounding."""
    tiny = np.radians(1e-9)
    got = js.axis_angles_deg([1.0, 0, 0], [-np.cos(tiny), -np.sin(tiny), 0])
    assert got[0] == pytest.approx(1e-9, rel=1e-6)


def test_frames_are_right_handed() -> None:
    """Frames are orthonormal and right-handed, at both poles too."""
    for row in np.vstack([ROWS, [[0, 0, 1.0], [0, 0, -1.0]]]):
        frame = axes.frame_about(row)
        np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-14)
        np.testing.assert_allclose(np.cross(frame[0], frame[1]), frame[2], atol=1e-14)


def test_turns_are_those_of_scipy() -> None:
    """A turn about an axis is scipy's rotation by the same vector."""
    for row in ROWS[:5]:
        unit = row / np.linalg.norm(row)
        expected = Rotation.from_rotvec(0.7 * unit).as_matrix()
        np.testing.assert_allclose(axes.rotation_about(row, 0.7), expected, atol=1e-14)


def test_weights_default_to_one() -> None:
    """No weights are ones; given weights come back as a new array."""
    assert axes.as_weights(None, 3).tolist() == [1, 1, 1]
    assert axes.as_weights([0, 2], 2).tolist() == [0, 2]


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (lambda: axes.as_axes([["a", "b", "c"]]), "poles must be numbers"),
        (lambda: axes.as_axes([[1, 2]]), r"poles must have shape \(n, 3\).*got \(1, 2\)"),
        (lambda: axes.as_axes([[1, 2, np.nan]]), "poles must be finite; row 0"),
        (lambda: axes.as_axes([[1, 0, 0], [0, 0, 0]]), "zero row; row 1 has no direction"),
        (lambda: axes.as_axes([], min_rows=1), "poles needs at least 1 rows; got 0"),
        (lambda: axes.as_weights(["x"], 1), "weights must be numbers"),
        (lambda: axes.as_weights([1, 2], 3), r"weights must have shape \(3,\)"),
        (lambda: axes.as_weights([-1, 2], 2), "weights must be finite and not negative"),
        (lambda: axes.as_weights([0, 0], 2), "weights must not all be zero"),
        (lambda: axes.axis_angles_deg(ROWS, ROWS[:2]), "a and b must have the same length"),
    ],
)
def test_refusals(call: object, rule: str) -> None:
    """What is not an axis or a weight is refused with the rule."""
    with pytest.raises(InputError, match=rule):
        call()  # type: ignore[operator]


def test_grid_is_even() -> None:
    """The orientation tensor of the grid is that of a uniform distribution, a third each way."""
    grid = axes.hemisphere_grid(5000)
    np.testing.assert_allclose(grid.T @ grid / 5000, np.eye(3) / 3.0, atol=1e-3)
