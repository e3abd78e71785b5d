"""What was sampled: lengths logged by each method, what was not, and what could be seen."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.sampling import SampledLine, Sampling
from jointstats.borehole.site import Site
from jointstats.borehole.spans import Spans
from jointstats.errors import InputError


def _site(*logged: tuple[float, float, str]) -> Site:
    """A curved hole of 60 m logged in part, and a straight one of 20 m that nobody logged."""
    curved = js.HolePath([0.0, 30.0, 60.0], [40.0, 50.0, 60.0], [80.0, 60.0, 45.0])
    intervals = tuple(LoggedInterval(*one) for one in logged)
    holes = (
        Hole("A", curved, 60.0, None, None, intervals),
        Hole("B", js.HolePath([0.0], [120.0], [30.0]), 20.0, None, None, ()),
    )
    return Site("made", holes, pd.DataFrame({"hole": [], "depth_m": []}))


def test_the_preferred_method_takes_each_metre_once() -> None:
    """Where image and core saw the same length the image counts; nothing counts twice."""
    site = _site((0, 30, "core"), (10, 20, "image"), (18, 25, "image"), (40, 50, "core"))
    line = Sampling.of(site).line("A")
    found = [(one.method, one.from_m, one.to_m) for one in line.lengths]
    assert found == [("core", 0, 10), ("image", 10, 25), ("core", 25, 30), ("core", 40, 50)]
    assert line.methods == ("image", "core")
    assert line.spans.pairs == ((0, 30), (40, 50))
    assert line.gaps.pairs == ((30, 40), (50, 60))


def test_lines_that_nobody_logged_are_kept_but_count_for_nothing() -> None:
    """A line without a log stands among the lines, not among the logged, and has no exposure."""
    sampling = Sampling.of(_site((5, 55, "image")))
    assert [one.name for one in sampling.lines] == ["A", "B"]
    assert [one.name for one in sampling.logged] == ["A"]
    assert sampling.exposure.total_m == pytest.approx(50.0)
    np.testing.assert_allclose(sampling.line("B").middle, js.lines_from_trend(120, 30)[0])
    with pytest.raises(InputError, match="nothing was logged"):
        sampling.line("B").exposure
    with pytest.raises(InputError, match="called 'C'; there are A, B"):
        sampling.line("C")


def test_parts_of_a_line_add_up_to_the_whole() -> None:
    """Exposure of the parts of a cut line, and of logged and unlogged, add up to the integral."""
    site = _site((0, 20, "core"), (12, 35, "image"), (41, 60, "core"))
    sampling = Sampling.of(site, blind_angle_deg=0.0)
    line = sampling.line("A")
    poles = np.random.default_rng(4).normal(size=(50, 3))
    parts = sum(line.clip(a, b).exposure.at(poles) for a, b in [(0, 15), (15, 44), (44, 60)])
    np.testing.assert_allclose(parts, line.exposure.at(poles), rtol=2e-3)
    # The integral of |n · d| along both paths, summed over small steps of depth.
    unit = poles / np.linalg.norm(poles, axis=1, keepdims=True)
    whole = np.zeros(len(poles))
    for hole in site.holes:
        step = np.arange(0.005, hole.length_m, 0.01)
        whole += 0.01 * np.abs(unit @ hole.path.direction(step).T).sum(axis=1)
    both = sampling.exposure.at(poles) + sampling.unlogged.at(poles)
    np.testing.assert_allclose(both, whole, atol=2e-3 * 80)


def test_fractures_are_covered_by_their_own_method() -> None:
    """A fracture counts where its own method does; one without a method where any does."""
    sampling = Sampling.of(_site((0, 30, "core"), (10, 20, "image")))
    table = pd.DataFrame(
        {
            "hole": ["A", "A", "A", "A", "A", "B"],
            "depth_m": [5.0, 15.0, 15.0, 15.0, 40.0, 5.0],
            "method": ["core", "core", "image", None, "core", "core"],
        }
    )
    assert sampling.covers(table).tolist() == [True, False, True, True, False, False]
    plain = table.drop(columns="method")
    assert sampling.covers(plain).tolist() == [True, True, True, True, False, False]


def test_a_site_wholly_logged_has_nothing_unlogged() -> None:
    """Without a gap there is no unlogged exposure."""
    assert Sampling.of(js.simulate_site(random_state=1)).unlogged is None
    line = SampledLine("A", js.HolePath([0], [0], [90]), 0, 9, {"core": Spans([(0, 9)])}, 10.0)
    assert not line.gaps


@pytest.mark.parametrize("angle", [5.0, 10.0, 30.0])
def test_one_hole_is_blind_to_the_sine_of_the_blind_angle(angle: float) -> None:
    """The band within ψ of a great circle has the share sin ψ of the sphere (Archimedes)."""
    line = js.LineExposure(js.lines_from_trend(33, 21), [10.0], blind_angle_deg=angle)
    assert line.blind_share() == pytest.approx(np.sin(np.radians(angle)), abs=1e-3)


def test_two_square_holes_leave_the_crossing_of_two_bands() -> None:
    """The share blind to two holes at right angles equals a count over random orientations."""
    both = js.LineExposure([[0, 0, 1.0], [1.0, 0, 0]], [10.0, 10.0], blind_angle_deg=25.0)
    rows = np.random.default_rng(5).normal(size=(200_000, 3))
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    chance = (np.abs(rows[:, [0, 2]]) < np.sin(np.radians(25.0))).all(axis=1).mean()
    assert both.blind_share() == pytest.approx(chance, abs=4 * np.sqrt(chance / 200_000))


def test_the_largest_cosine_tells_who_is_blind() -> None:
    """Orientations below the blind angle of every piece, and only those, have no exposure."""
    exposure = Sampling.of(_site((0, 60, "core")), blind_angle_deg=15).exposure
    poles = np.random.default_rng(6).normal(size=(2000, 3))
    blind = exposure.largest_cosine(poles) < np.sin(np.radians(15))
    np.testing.assert_array_equal(blind, exposure.at(poles) == 0)
    assert 0 < blind.mean() == pytest.approx(exposure.blind_share(), abs=0.03)
