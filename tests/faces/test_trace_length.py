"""Mean length of traces of which the window cuts the ends."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.faces.face import Face
from jointstats.faces.trace_length import mean_trace_length
from jointstats.sphere.axial_fisher import AxialFisher


def test_counts_give_the_published_formula() -> None:
    """For parallel traces the estimate by counts is Pahl's (1981) formula, from memory.

    μ = w h (1 + R0 − R2) / ((w cos φ + h sin φ)(1 − R0 + R2)), φ between the traces and the vertical,
    R0 and R2 the shares with no end and both ends seen.
    """
    face = Face.rectangle("F", 90.0, 0.0, 6.0, 2.5)
    poles = np.repeat(js.poles_from_dip(50.0, 90.0), 10, axis=0)
    line = face.trace_lines(poles)[0]
    words = ["none"] * 2 + ["one"] * 5 + ["both"] * 3
    found = mean_trace_length(face, np.ones(10), words, poles)
    broad = 6.0 * abs(line[1]) + 2.5 * abs(line[0])
    expected = 15.0 * (1 + 0.2 - 0.3) / (broad * (1 - 0.2 + 0.3))
    assert found.pahl_m == pytest.approx(expected)


def test_mean_length_of_discs_is_that_of_their_chords() -> None:
    """Over many faces both estimates have the mean chord of discs, π/2 r, and the interval holds it.

    The mean chord of a circle of radius r at random distances is its area over its breadth, π r / 2.
    """
    face = Face.rectangle("F", 90.0, 0.0, 6.0, 4.0)
    rng = np.random.default_rng(5)
    density = AxialFisher(js.poles_from_dip(60.0, 80.0)[0], 30.0)
    true, found, counted, held = 0.75 * np.pi, [], [], []
    for _ in range(120):
        traces = js.faces.simulate_face_traces(face, [(density, 3.0)], [1.5], random_state=rng)
        poles = js.poles_from_dip(traces["dip_deg"], traces["dip_direction_deg"])
        one = mean_trace_length(face, traces["length_m"], traces["ends_seen"], poles)
        found.append(one.mean_m)
        counted.append(one.pahl_m)
        held.append(one.mean_interval[0] <= true <= one.mean_interval[1])
        assert one.observed_m < true
    assert np.median(found) == pytest.approx(true, rel=0.05)
    assert np.median(counted) == pytest.approx(true, rel=0.05)
    assert np.mean(held) > 0.9


def test_a_window_that_is_too_small_is_told() -> None:
    """With few ends seen a caution stands, and with none the mean has no upper end."""
    face = Face.rectangle("F", 90.0, 0.0, 2.0, 2.0)
    level = np.repeat([[0.0, 0.0, 1.0]], 20, axis=0)
    found = mean_trace_length(face, np.full(20, 2.0), ["none"] * 20, level)
    assert found.mean_m == np.inf and found.mean_interval == (0.0, np.inf)
    assert found.caution.startswith("0 of 40 ends of traces are seen")
    assert mean_trace_length(face, np.full(20, 1.0), ["both"] * 20, level).caution == ""


def test_what_is_not_a_number_of_ends_is_refused() -> None:
    """The words are both, one and none."""
    face = Face.rectangle("F", 90.0, 0.0, 2.0, 2.0)
    with pytest.raises(InputError, match="ends_seen must be one of none, one, both; got 'two'"):
        mean_trace_length(face, [1.0], ["two"], [[0, 0, 1]])
