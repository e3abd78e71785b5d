"""The window of a face: its axes and area, and how planes cut it."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.faces.face import Face


def test_across_is_level_and_up_is_up_the_dip() -> None:
    """On a face that dips 60° to the east, across points north and up points west and upward."""
    across, up = Face.rectangle("F", 60.0, 90.0, 3.0, 2.0).axes
    np.testing.assert_allclose(across, [0, 1, 0], atol=1e-12)
    np.testing.assert_allclose(up, [-0.5, 0, np.sqrt(0.75)], atol=1e-12)


def test_area_is_that_of_the_corners_in_either_order() -> None:
    """A triangle has half the area of its rectangle, however its corners run."""
    corners = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]])
    for order in (corners, corners[::-1]):
        face = Face("F", 90.0, 0.0, order)
        assert face.area_m2 == pytest.approx(6.0)
        assert face.is_convex
    notched = Face("F", 90.0, 0.0, [[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]])
    assert not notched.is_convex
    assert notched.area_m2 == pytest.approx(10.0)


def test_a_trace_lies_in_both_planes() -> None:
    """The direction of a trace is square to both poles, and the sine is that of the angle between."""
    face = Face.rectangle("F", 70.0, 140.0, 3.0, 2.0)
    poles = js.poles_from_dip([20.0, 85.0], [300.0, 10.0])
    lines = face.trace_lines(poles) @ face.axes
    np.testing.assert_allclose(np.linalg.norm(lines, axis=1), 1.0)
    np.testing.assert_allclose((lines * poles).sum(axis=1), 0.0, atol=1e-12)
    np.testing.assert_allclose(lines @ face.pole, 0.0, atol=1e-12)
    np.testing.assert_allclose(face.sines(poles), np.sin(np.arccos(np.abs(poles @ face.pole))))


def test_breadths_of_a_rectangle() -> None:
    """Square to level lines a window is as broad as it is high, and the other way round."""
    face = Face.rectangle("F", 90.0, 0.0, 6.0, 2.0)
    lines = np.array([[1.0, 0.0], [0.0, 1.0], [0.6, 0.8]])
    np.testing.assert_allclose(face.breadths_m(lines), [2.0, 6.0, 0.8 * 6 + 0.6 * 2])


def test_distances_from_the_outline_have_the_sign_of_the_side() -> None:
    """Inside is positive, outside negative, in a notch too."""
    face = Face("F", 90.0, 0.0, [[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]])
    points = np.array([[1.0, 0.5], [2.0, 3.0], [5.0, 0.0], [2.0, 0.4]])
    found = face.outline_distances_m(points)
    assert (found > 0).tolist() == [True, False, False, True]
    assert found[[0, 2]] == pytest.approx([0.5, -1.0])


@pytest.mark.parametrize(
    ("corners", "rule"),
    [
        ([[0, 0], [1, 1]], "three corners"),
        ([[0, 0], [1, 1], [2, 2]], "encloses no area"),
        ([[0, 0], [2, 2], [2, 0], [0, 2]], "crosses itself: side 1 and side 3"),
        ([[0, 0], [2, np.nan], [2, 0]], "finite"),
    ],
)
def test_a_window_must_enclose_an_area(corners: list, rule: str) -> None:
    """Too few corners, corners in a row and outlines that cross are refused."""
    with pytest.raises(InputError, match=rule):
        Face("F", 90.0, 0.0, np.array(corners, dtype=float))
