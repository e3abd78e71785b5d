"""Runs of core: the offset of the orientation line, its error, and runs without one."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.settings import ReadingErrors
from jointstats.errors import SiteError

HOLES = pd.DataFrame({"hole": ["B"], "trend_deg": 140, "plunge_deg": 55, "length_m": 30})


def site_of(runs: pd.DataFrame | None, **columns: object) -> js.Site:
    """A hole with five core readings, and runs."""
    table = {"hole": "B", "depth_m": [1.0, 4, 7, 10, 13], "alpha_deg": 40.0, "beta_deg": 100.0}
    errors = ReadingErrors(alpha_deg=2, beta_deg=3, roll_deg=4)
    settings = js.SiteSettings(reference="low side", errors=errors)
    frame = pd.DataFrame(table | columns)
    return js.Site.from_frames(HOLES, frame, runs=runs, settings=settings)


RUNS = pd.DataFrame(
    {
        "hole": "B",
        "run": ["R1", "R2", "R3"],
        "from_m": [0.0, 3, 6],
        "to_m": [3.0, 6, 9],
        "beta_offset_deg": [0, -30, 20.0],
        "line": ["marked", "", "none"],
        "line_error_deg": [np.nan, 10, np.nan],
    }
)


def test_the_offset_of_a_run_turns_its_readings() -> None:
    """A line drawn 30° anticlockwise of the reference makes β 100 mean 70, in that run alone."""
    table = js.orient_fractures(site_of(RUNS))
    expected = js.orient_core(40, [100, 70, 100, 100, 100], 140, 55, "low side")
    poles = table[["pole_east", "pole_north", "pole_up"]].to_numpy()
    read = [0, 1, 3, 4]
    assert js.axis_angles_deg(poles[read], expected[read]).max() < 1e-6
    assert np.isnan(poles[2]).all()  # the third lies in a run without a line
    assert table["oriented_from"][2] == "not oriented"


def test_the_sense_of_reading_comes_before_the_offset_of_the_line() -> None:
    """β counted looking up is turned to looking down, then the line's offset is added."""
    table = js.orient_fractures(site_of(RUNS, looking="up"))
    expected = js.orient_core(40, 360 - 100 - 30, 140, 55, "low side")
    poles = table[["pole_east", "pole_north", "pole_up"]].to_numpy()
    assert js.axis_angles_deg(poles[1], expected)[0] < 1e-6


def test_a_named_run_comes_before_depth() -> None:
    """A reading that names its run is turned by it, wherever its depth lies."""
    table = js.orient_fractures(site_of(RUNS, run=["R2", "", "", "", ""]))
    expected = js.orient_core(40, 70, 140, 55, "low side")
    poles = table[["pole_east", "pole_north", "pole_up"]].to_numpy()
    assert js.axis_angles_deg(poles[0], expected)[0] < 1e-6


def test_the_error_of_a_line_stands_in_for_that_of_the_site() -> None:
    """The mean square error of the pole is that of α, and of β and line shortened by cos α."""
    error = js.orient_fractures(site_of(RUNS))["angular_error_deg"]
    cosine = np.cos(np.radians(40))
    assert error[0] == pytest.approx(np.sqrt(4 + cosine**2 * (9 + 16)))
    assert error[1] == pytest.approx(np.sqrt(4 + cosine**2 * (9 + 100)))


def test_runs_that_cannot_be_are_faults() -> None:
    """Overlaps, ends before starts, depths beyond the hole, and runs that are not there."""
    wrong = RUNS.assign(from_m=[0.0, 2, 9], to_m=[3.0, 6, 8])
    with pytest.raises(SiteError) as caught:
        site_of(wrong, run=["R2", "", "", "", "R9"])
    told = [str(fault) for fault in caught.value.faults]
    assert "runs, row 1, column from_m: '2': overlaps row 0, 0 to 3" in told
    assert "runs, row 2, column to_m: '8': ends above its start, and from_m is 9" in told
    assert any(
        "column run: 'R9': hole 'B' has no such run in runs; the near" in one for one in told
    )
    with pytest.raises(SiteError, match="'80': hole 'B' is 30 long, so this lies beyond its end"):
        site_of(RUNS.assign(to_m=[3.0, 6, 80]))
