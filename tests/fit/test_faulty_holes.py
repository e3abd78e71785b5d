"""Faults of reading: what they do to poles, and whether they are named, rightly and only there."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.faulty_holes import (
    FaultyHole,
    _half_turn,
    _mirrored,
    find_faults,
)
from jointstats.sphere.angles import turn_in_azimuth
from tests.fit.rock_arrays import ROCK, Arrays, simulated, truth


def faults_of(arrays: Arrays) -> tuple[FaultyHole, ...]:
    """Holes named."""
    every = np.ones(len(arrays.poles), bool)
    data = arrays.grouped()
    # From the sets of the rock itself: that a search finds them is tested where all is put together.
    return find_faults(data, np.arange(4), truth(), arrays.lines, every)[0]


def test_faults_are_those_of_beta_and_azimuth() -> None:
    """Poles of β + 180°, of −β and of another azimuth are those that orienting gives."""
    alpha, beta = np.array([20.0, 45.0, 70.0]), np.array([30.0, 160.0, 275.0])
    line = js.lines_from_trend(315.0, 55.0)
    poles = js.orient_core(alpha, beta, 315.0, 55.0, reference="low side")
    for changed, other in (
        (
            _half_turn(poles, line),
            js.orient_core(alpha, (beta + 180) % 360, 315.0, 55.0, reference="low side"),
        ),
        (
            _mirrored(poles, line),
            js.orient_core(alpha, 360 - beta, 315.0, 55.0, reference="low side"),
        ),
        (
            poles @ turn_in_azimuth(20.0).T,
            js.orient_core(alpha, beta, 335.0, 55.0, reference="low side"),
        ),
    ):
        assert js.axis_angles_deg(changed, other).max() < 1e-5


@pytest.mark.parametrize("cause", ["beta_180", "beta_mirrored", "azimuth"])
@pytest.mark.parametrize("hole", [1, 2])
def test_the_hole_and_the_cause_are_named(cause: str, hole: int) -> None:
    """One of four holes is made faulty: that one is named, with its cause and the angle."""
    arrays = simulated(7)
    own = arrays.group == hole
    poles, lines, exposures = (arrays.poles.copy(), arrays.lines.copy(), list(arrays.exposures))
    if cause == "azimuth":
        matrix = turn_in_azimuth(-20.0)
        poles[own], lines[own] = poles[own] @ matrix.T, lines[own] @ matrix.T
        directions = exposures[hole].directions @ matrix.T
        exposures[hole] = js.LineExposure(directions, exposures[hole].lengths_m)
    else:
        change = _half_turn if cause == "beta_180" else _mirrored
        poles[own] = change(poles[own], lines[own])
    found = faults_of(Arrays(poles, arrays.group, exposures, lines))
    assert [(one.hole, one.cause) for one in found] == [(hole, cause)]
    assert found[0].delta_bic < -14
    if found[0].turn_deg is not None and found[0].turn_error_deg is not None:
        assert abs(found[0].turn_deg - 20) < 3 * found[0].turn_error_deg < 12


def test_none_is_named_in_rock_without_faults() -> None:
    """Twelve faultless sites, half of them uneven, have no faulty hole."""
    for seed in range(12):
        assert not faults_of(simulated(seed, (ROCK,) * 4, uneven=0.5 * (seed % 2)))
