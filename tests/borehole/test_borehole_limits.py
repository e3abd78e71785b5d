"""What lies at a limit: depths at the ends of runs and lengths, likely figures, blind angles."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.contradictions import (
    LIKELY_FRACTURE,
    LIKELY_HOLE,
    SAME_DEPTH_M,
    TURN_DEG_PER_M,
    _found_again,
    _outside,
)
from jointstats.borehole.path import circle_path
from jointstats.borehole.rotation import run_lines
from jointstats.borehole.sampling import Sampling
from jointstats.borehole.terms import CLASSES, classed, interval_columns

SITE = js.simulate_site(random_state=1)
SAMPLING = Sampling.of(SITE)


def test_likely_figures_hold_their_ends() -> None:
    """A figure at its least or most is likely; beyond either it is not."""
    for low, high, _ in (*LIKELY_HOLE.values(), *LIKELY_FRACTURE.values()):
        step = 1e-6 * max(high - low, 1.0)
        values = pd.Series([low, high, low - step, high + step, np.nan])
        assert _outside(values, (low, high, "")).tolist() == [2, 3]
    assert TURN_DEG_PER_M == 2.0


def test_fractures_are_found_again_within_the_limits() -> None:
    """0.15 m apart is one, more is not; planes of other directions are not."""

    def log(depth: list[float], poles: np.ndarray) -> object:
        return SimpleNamespace(depth_m=np.array(depth), poles=poles)

    poles = js.poles_from_dip([10.0, 10.0, 30.0], [0.0, 0.0, 0.0])
    first = log([0.0, 5.0, 9.0], poles)
    second = log([SAME_DEPTH_M, 5.0 + 1.01 * SAME_DEPTH_M, 9.0], js.poles_from_dip([20.0, 10.0, 50.0], [0.0] * 3))
    assert _found_again(first, second).tolist() == [True, False, False]  # type: ignore[arg-type]


def test_a_run_holds_its_ends() -> None:
    """By depth where no run is named; by its name wherever the depth lies."""
    runs = pd.DataFrame(
        {
            "hole": ["A", "A"],
            "run": ["1", "2"],
            "from_m": [0.0, 4.0],
            "to_m": [3.0, 6.0],
            "beta_offset_deg": [10.0, np.nan],
            "line_error_deg": [2.0, 5.0],
            "line": ["", "none"],
        }
    )
    table = pd.DataFrame(
        {
            "hole": ["A", "A", "A", "A", "A", "B", "A"],
            "depth_m": [0.0, 3.0, 3.5, 4.0, 6.0, 1.0, 5.0],
            "run": ["", "", "", "", "", "", "1"],
        }
    )
    found = run_lines(runs, table)
    assert found.offset_deg.tolist() == [10.0, 10.0, 0.0, 0.0, 0.0, 0.0, 10.0]
    np.testing.assert_array_equal(found.error_deg, [2.0, 2.0, np.nan, 5.0, 5.0, np.nan, 2.0])
    assert found.usable.tolist() == [True, True, True, False, False, True, True]


def test_lengths_hold_their_ends_and_are_cut_between_depths() -> None:
    """A depth at either end lies in it; a cut beyond it has no length."""
    length = SAMPLING.lengths[0]
    low, high = length.from_m, length.to_m
    assert length.holds(np.array([low, high, low - 1e-9, high + 1e-9])).tolist() == [True, True, False, False]
    part = length.clip(low + 1.0, high - 2.0)
    assert (part.from_m, part.to_m, part.length_m) == (low + 1.0, high - 2.0, pytest.approx(high - low - 3.0))
    assert length.clip(high + 5.0, high + 9.0).length_m == 0.0
    assert length.clip(low - 9.0, low - 5.0).length_m == 0.0


def test_fractures_of_a_size_make_holes_thick() -> None:
    """Radius of the hole over theirs; the error of the size moves the exposure from both ends."""
    thick = SAMPLING.with_fractures_of(0.5)
    for one, before in zip(thick.lines, SAMPLING.lines, strict=True):
        assert one.girth == pytest.approx(0.5e-3 * (before.diameter_mm or 0.0) / 0.5)
    assert thick.log_error == SAMPLING.log_error
    wide = replace(SAMPLING, lines=tuple(replace(one, diameter_mm=100.0) for one in SAMPLING.lines))
    unsure = wide.with_fractures_of(0.5, log_error=0.4)
    small, large = (wide.with_fractures_of(0.5 * np.exp(s * 0.4)).exposure.of_uniform() for s in (-1, 1))
    assert small > large
    own = 0.5 * np.log(small / large)
    assert unsure.log_error == pytest.approx(np.hypot(wide.log_error, own))
    more = replace(wide, log_error=0.1).with_fractures_of(0.5, log_error=0.4)
    assert more.log_error == pytest.approx(np.hypot(0.1, own))


def test_the_middle_of_a_line_is_that_of_what_was_logged() -> None:
    """Half way between the first and the last logged metre, in a hole that bends."""
    line = SAMPLING.lines[0]
    low, high = line.spans.pairs[0][0], line.spans.pairs[-1][1]
    expected = line.path.direction(np.array([0.5 * (low + high)]))[0]
    np.testing.assert_allclose(line.middle, expected)
    assert line.detected == pytest.approx(1.0)


def test_a_blind_angle_of_nothing_bears_no_pole_square_to_its_hole() -> None:
    """Poles short of square have their weights; with a blind angle all have."""
    poles = js.poles_from_dip([0.0, 60.0], [0.0, 90.0])
    np.testing.assert_allclose(js.terzaghi_weights(poles, [0, 0, -1], blind_angle_deg=0.0), [1.0, 2.0])
    square = np.array([[1.0, 0.0, 0.0]])
    with pytest.raises(js.InputError, match="blind angle is 0"):
        js.terzaghi_weights(square, [0, 0, -1], blind_angle_deg=0.0)
    assert js.terzaghi_weights(square, [0, 0, -1], blind_angle_deg=30.0)[0] == pytest.approx(2.0)


def test_columns_and_classes_of_terms() -> None:
    """Ends of an interval keep the unit at the end; a number at an edge lies in the class beyond."""
    assert interval_columns("infill_thickness_mm") == ("infill_thickness_low_mm", "infill_thickness_high_mm")
    for column, classes in CLASSES.items():
        ordered = list(classes)
        for (end, term), (_, beyond) in zip(ordered[:-1], ordered[1:], strict=True):
            assert classed(column, end) == beyond
            assert classed(column, end - 1e-9 * max(abs(end), 1.0)) == term


def test_the_simulated_site_has_a_fifth_of_a_fracture_of_no_set() -> None:
    """By default 0.2 a metre, and what is not asked to be random repeats."""
    again = js.simulate_site(random_state=1, background_per_m=0.2)
    pd.testing.assert_frame_equal(SITE.fractures, again.fractures)
    assert len(js.simulate_site(random_state=1, background_per_m=0.4).fractures) != len(again.fractures)


@pytest.mark.parametrize("lengths", [[10.0, 0.0], [10.0, -1.0], [10.0, np.nan]])
def test_every_length_of_an_exposure_is_more_than_nothing(lengths: list[float]) -> None:
    """One that is not is refused, whatever the others are."""
    with pytest.raises(js.InputError, match="finite and more than zero"):
        js.LineExposure(np.eye(3)[:2], lengths)


def test_a_circle_lies_in_its_face_about_its_centre() -> None:
    """It starts to the strike, goes down the dip first, and stays a radius from the centre."""
    path, start = circle_path(2.0, 50.0, 120.0)
    normal, down = js.poles_from_dip(50.0, 120.0)[0], js.lines_from_trend(120.0, 50.0)[0]
    np.testing.assert_allclose(start, 2.0 * js.lines_from_trend(30.0, 0.0)[0], atol=1e-12)
    np.testing.assert_allclose(path.direction(np.zeros(1))[0], down, atol=1e-9)
    steps = np.linspace(0.0, 4.0 * np.pi, 4001)
    along = path.direction(0.5 * (steps[1:] + steps[:-1]))
    np.testing.assert_allclose(along @ normal, 0.0, atol=1e-9)
    places = start + np.cumsum(along * np.diff(steps)[:, np.newaxis], axis=0)
    np.testing.assert_allclose(np.linalg.norm(places, axis=1), 2.0, rtol=1e-3)
