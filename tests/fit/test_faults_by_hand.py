"""Parts of the search for faulty holes: the turn, what it meets, what is worth naming."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.block_fits import fit_blocks
from jointstats.fit.faulty_holes import (
    _best_turn,
    _exposures,
    _half_turn,
    _in_line,
    _mirrored,
    _put_right,
    _tried,
    _value,
    find_faults,
)
from jointstats.fit.grouped import grouped_poles
from jointstats.sphere.angles import turn_in_azimuth
from tests.fit.rock_arrays import simulated, truth

ARRAYS = simulated(7)
DATA, SETS = ARRAYS.grouped(), truth()
SINGLE = np.eye(4, dtype=bool)
FITS = fit_blocks(DATA, np.vstack([~SINGLE, SINGLE]), SETS)
READ = np.ones(len(DATA.poles), bool)


def test_a_turned_hole_meets_what_its_turned_line_does() -> None:
    """Mean exposure of a hole to each set, its azimuth moved, hole by hole by the exact series."""
    found = _exposures(DATA.only([1]), SETS, np.array([0.0, 30.0, -70.0]))
    for row, turn in zip(found, (0.0, 30.0, -70.0), strict=True):
        line = js.LineExposure(js.lines_from_trend(315.0 + turn, 55.0), [50.0])
        exact = [line.of_set(m, k) for m, k in zip(*SETS[:2], strict=True)] + [line.of_uniform()]
        np.testing.assert_allclose(row, exact, rtol=1e-3)


@pytest.mark.parametrize("off", [20.0, -40.0, 170.0])
def test_the_turn_is_the_one_that_was_made(off: float) -> None:
    """Poles and hole turned away come back, within three standard errors by a second parabola."""
    back = DATA.turned(np.arange(4) == 1, turn_in_azimuth(-off)).only([1])
    turn, error, value = _best_turn(back, SETS)
    assert abs((turn - off + 180) % 360 - 180) < 3 * error < 9

    def at(angle: float) -> float:
        rows = back.poles @ turn_in_azimuth(angle).T
        return float(_value(back, SETS, rows[np.newaxis], np.array([angle]))[0])

    assert at(turn) == pytest.approx(value, abs=1e-9)
    assert value >= max(at(turn - 0.25), at(turn + 0.25)) - 1e-9
    # A parabola through seven points about the top has the curvature 1 / error².
    angles = turn + np.linspace(-0.75, 0.75, 7)
    bend = np.polyfit(angles - turn, [at(float(one)) for one in angles], 2)[0]
    assert error == pytest.approx(1 / np.sqrt(-2 * bend), rel=0.1)
    assert -180.0 <= turn < 180.0


def test_what_is_tried_on_a_hole() -> None:
    """Gains against the hole as it is; an angle costs the log of the number of fractures."""
    own = DATA.group == 2
    lines = ARRAYS.lines
    found = {one.cause: one for one in _tried(DATA, FITS, 2, lines, READ)}
    assert set(found) == {"beta_180", "beta_mirrored", "azimuth"}
    rock, mine = FITS.parameters(2), DATA.only([2])
    poles = mine.poles
    as_it_is = _value(mine, rock, poles[np.newaxis], np.zeros(1))[0]
    half = _value(mine, rock, _half_turn(poles, lines[own])[np.newaxis], np.zeros(1))[0]
    assert found["beta_180"].gain == pytest.approx(half - as_it_is)
    assert found["beta_180"].delta_bic == pytest.approx(-2 * (half - as_it_is))
    assert found["beta_180"].gains["as it is"] == pytest.approx(as_it_is)
    turned = found["azimuth"]
    assert turned.delta_bic == pytest.approx(np.log(len(DATA.poles)) - 2 * turned.gain)
    assert turned.gain >= 0.0 and turned.hole == 2
    # Too few read by β, or too few at all.
    few = np.zeros(len(READ), bool)
    few[np.flatnonzero(own)[:7]] = True
    assert [one.cause for one in _tried(DATA, FITS, 2, lines, few)] == ["azimuth"]
    few[np.flatnonzero(own)[7]] = True
    assert len(_tried(DATA, FITS, 2, lines, few)) == 3
    other = np.flatnonzero(own)[7:]
    left = np.delete(np.arange(len(READ)), other)
    small = replace(DATA, poles=DATA.poles[left], group=DATA.group[left])
    assert _tried(small, FITS, 2, lines[left], READ[left]) == []


def test_sets_of_its_own_may_explain_a_hole_better() -> None:
    """A cause is in line where it does as well as the hole's own sets, less their cost, and 10."""
    fault = {one.cause: one for one in _tried(DATA, FITS, 1, ARRAYS.lines, READ)}["azimuth"]
    alone = 4 + 1
    cost = 3 * int(FITS.present[alone].sum()) * np.log(len(DATA.poles))
    gain = 2 * (FITS.log_likelihood[alone] - fault.gains["as it is"]) - cost
    for delta, expected in ((-(gain - 9.9), True), (-(gain - 10.1), False)):
        assert _in_line(DATA, FITS, replace(fault, delta_bic=float(delta))) == expected


def test_what_is_put_right_comes_back() -> None:
    """The change is undone in the hole named, where β was read; a turn takes the hole along."""
    groups, own = np.arange(4) == 1, DATA.group == 1
    fault = _tried(DATA, FITS, 1, ARRAYS.lines, READ)[0]
    for cause, change in (("beta_180", _half_turn), ("beta_mirrored", _mirrored)):
        read = READ.copy()
        read[np.flatnonzero(own)[0]] = False
        data, lines = _put_right(DATA, groups, replace(fault, cause=cause), ARRAYS.lines, read)
        changed = own & read
        expected = change(DATA.poles[changed], ARRAYS.lines[changed])
        np.testing.assert_allclose(data.poles[changed], expected)
        np.testing.assert_allclose(data.poles[~changed], DATA.poles[~changed])
        assert lines is ARRAYS.lines
    turned = replace(fault, cause="azimuth", turn_deg=25.0)
    data, lines = _put_right(DATA, groups, turned, ARRAYS.lines, READ)
    np.testing.assert_allclose(lines[own][0], js.lines_from_trend(340.0, 55.0)[0])
    np.testing.assert_allclose(lines[~own], ARRAYS.lines[~own])
    np.testing.assert_allclose(data.poles[own], DATA.poles[own] @ turn_in_azimuth(25.0).T)


def test_mirrors_of_a_plumb_hole_are_counted_from_north() -> None:
    """Within a degree of plumb β has its zero at north; beyond, at the low or high side."""
    pole = js.poles_from_dip([40.0], [30.0])
    mirrored = _mirrored(pole, js.lines_from_trend([77.0], [89.5]))
    assert js.axis_angles_deg(mirrored, js.poles_from_dip(40.0, 330.0)).max() < 1.0
    across = _mirrored(pole, js.lines_from_trend([77.0], [88.5]))
    assert js.axis_angles_deg(across, js.poles_from_dip(40.0, 124.0)).max() < 3.5


def test_a_single_hole_is_never_at_fault() -> None:
    """There is nothing to hold it against; at most half of the holes are named."""
    one = grouped_poles(DATA.poles, np.zeros(len(DATA.poles), int), [ARRAYS.exposures[0]])
    assert find_faults(one, np.zeros(1, int), SETS, ARRAYS.lines, READ)[0] == ()
