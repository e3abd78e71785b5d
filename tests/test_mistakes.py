"""Mistakes that a script makes are caught by name, and any source of random numbers will do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import InputError

SITE = js.simulate_site(random_state=1)
POLES = js.orient_fractures(SITE)[["pole_east", "pole_north", "pole_up"]].to_numpy()


def test_angles_are_not_taken_for_axes() -> None:
    """A frame of dips and dip directions is refused with what to give; one of axes is not."""
    angles = SITE.fractures[["dip_deg", "dip_direction_deg"]]
    with pytest.raises(InputError, match="columns dip_deg, dip_direction_deg: angles"):
        js.JointSetMixture().fit(angles)
    poles = js.poles_from_dip(angles["dip_deg"], angles["dip_direction_deg"])
    model = js.JointSetMixture(2, random_state=0).fit(pd.DataFrame(poles, columns=["x", "y", "z"]))
    with pytest.raises(InputError, match="angles"):
        model.predict(angles)
    assert model.n_sets_ == 2


def test_rows_of_angles_are_not_taken_for_poles() -> None:
    """An array whose rows are far from unit length is refused by the row; rounded poles are not."""
    angles = np.column_stack([SITE.fractures[["dip_deg", "dip_direction_deg"]], SITE.fractures["depth_m"]])
    with pytest.raises(InputError, match=r"poles must be unit vectors; row 0 has length"):
        js.analyse_poles(angles)
    assert js.analyse_poles(POLES.round(2), n_sets=1).counts.total == len(POLES)


def test_an_estimator_is_no_result(tmp_path: Path) -> None:
    """A report or a net of a fitted mixture says which function gives what it takes."""
    model = js.JointSetMixture(1)
    with pytest.raises(InputError, match="give the site, or the poles, to one of them"):
        js.write_report(model, tmp_path / "report")
    with pytest.raises(InputError, match=r"draw stereonet\(analyse_poles\(poles\)\)"):
        js.plots.stereonet(model)


COUNTS = [[12, 9, 15]], [[10.0, 10.0, 10.0]]
CALLS: dict[str, Callable[[object], object]] = {
    "analyse": lambda one: js.analyse(SITE, 3, domains="none", random_state=one).to_frame(),
    "analyse_poles": lambda one: js.analyse_poles(POLES, n_sets=3, random_state=one).to_frame(),
    "compare_holes": lambda one: js.compare_holes(SITE, 3, draws=19, random_state=one).overall.pvalue,
    "simulate_site": lambda one: js.simulate_site(random_state=one).fractures,
    "leave_out_lines": lambda one: [
        line.predicted.counts.tolist()
        for line in js.uneven.leave_out_lines(*COUNTS, n_draws=50, random_state=one)
    ],
    "mixture": lambda one: js.JointSetMixture(3, random_state=one).fit(POLES).means_.tolist(),
}


QUICK = ["simulate_site", "leave_out_lines", "mixture"]


@pytest.mark.parametrize(
    ("name", "source"),
    [*((name, np.random.default_rng) for name in CALLS), *((name, np.random.RandomState) for name in QUICK)],
)
def test_any_source_of_random_numbers_will_do(name: str, source: Callable[[int], object]) -> None:
    """A Generator and a RandomState are taken, and two of one seed give the same."""
    first, second = CALLS[name](source(7)), CALLS[name](source(7))
    same = first.equals(second) if isinstance(first, pd.DataFrame) else first == second
    assert same
