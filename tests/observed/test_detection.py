"""Core and image of one length as one list: each fracture once, and the share that neither saw."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.fractures import Fractures, Status
from jointstats.borehole.hole import LoggedInterval
from jointstats.borehole.sampling import BOTH
from jointstats.borehole.site import Site
from jointstats.observed.detection import BothLogs, Detection
from jointstats.observed.observe import observe


def _detection(n: tuple[int, int, float], doubt: float = 0.0) -> Detection:
    core, image, both = n
    return Detection((BothLogs("A", 50.0, core, image, both, round(both), doubt),))


def test_shares_are_those_of_capture_and_recapture() -> None:
    """The list over the share seen of it is the number of Lincoln and Petersen, n m / both."""
    found = _detection((90, 80, 72.0))
    assert (found.core, found.image) == (0.9, 0.8)
    assert found.logs[0].n_listed / found.together == pytest.approx(90 * 80 / 72)
    (low, high), _ = found.intervals
    assert low < 0.9 < high


def test_errors_are_the_scatter_of_simulated_counts() -> None:
    """Variance of log P32 is that of a count of the list, and of one log, with the error added."""
    rng = np.random.default_rng(1)
    both, core, image, neither = rng.poisson(
        np.outer([0.72, 0.18, 0.08, 0.02], np.full(20000, 400))
    )
    n_core, n_image, listed = both + core, both + image, both + core + image
    found = _detection((360, 320, 288.0))
    there = np.log(n_core * n_image / both)
    expected = 1 / (400 * 0.98) + found.log_error(BOTH) ** 2
    assert there.var() == pytest.approx(expected, rel=0.03)
    # Another length, seen by the image alone, takes its share from here.
    other = np.log(rng.poisson(320, 20000) * n_core / both)
    assert other.var() == pytest.approx(1 / 320 + found.log_error("image") ** 2, rel=0.03)
    assert listed.mean() + neither.mean() == pytest.approx(400, rel=0.01)


def test_methods_that_agree_too_well_move_p32_as_told() -> None:
    """With odds ratio R between the methods the number that neither saw is R times as large."""
    both, core, image = 600.0, 150.0, 90.0
    for times in (1.0, 3.0):
        neither = times * core * image / both
        found = _detection((int(both + core), int(both + image), both))
        there = found.logs[0].n_listed / found.together * found.moved(times)
        assert there == pytest.approx(both + core + image + neither)
    assert "odds three times" in _detection((90, 80, 72.0)).sentence


@pytest.fixture(scope="module")
def site() -> Site:
    """Core that has 90 in 100 and image that has 80, on 40 m."""
    return js.pairs.simulate_core_and_image(
        40.0, core_rate=0.9, image_rate=0.8, spun=False, random_state=3
    )


def test_every_fracture_stands_once(site: Site) -> None:
    """Rows that count are distinct fractures of the truth but for a few wrong pairs."""
    found = observe(site)
    counted = Fractures(found.fractures).counted.table["true_fracture"]
    true = site.fractures["true_fracture"].nunique()
    assert abs(len(counted) - true) <= 3
    assert counted.duplicated().sum() <= 3
    status = found.fractures["status"].value_counts()
    assert status.sum() == len(site.fractures) and "other method" not in status
    assert status["paired"] == found.fractures["pair_row"].notna().sum() / 2


def test_pairs_name_each_other(site: Site) -> None:
    """Each row of a pair gives the row of the other in its file, and both the same probability."""
    table = observe(site).fractures
    pairs = table[table["pair_row"].notna()]
    other = table.iloc[pairs["pair_row"].to_numpy(int) - 2]
    assert (other["pair_row"].to_numpy() - 2 == pairs.index).all()
    assert (other["pair_probability"].to_numpy() == pairs["pair_probability"].to_numpy()).all()
    assert (other["method"].to_numpy() != pairs["method"].to_numpy()).all()


def test_lengths_count_by_what_their_method_saw(site: Site) -> None:
    """Both logs see more than either; image alone, elsewhere, has the share found where both were."""
    hole = site.holes[0]
    more = replace(hole, name="H2", logged=(LoggedInterval(0.0, 20.0, "image"),))
    extra = pd.DataFrame({"depth_m": [5.0], "method": "image", "dip_deg": 30.0, "hole": "H2"})
    table = pd.concat([site.fractures, extra.assign(dip_direction_deg=10.0)], ignore_index=True)
    found = observe(replace(site, holes=(hole, more), fractures=table))
    shares = {(one.line, one.method): one.detected for one in found.sampling.lengths}
    detection = found.observation.detection
    assert detection is not None
    assert shares["H2", "image"] == pytest.approx(detection.image, abs=0.02)
    assert shares["H1", BOTH] > 0.95 > shares["H2", "image"]
    assert found.sampling.log_error > 0.01


def test_alpha_alone_takes_the_orientation_of_its_pair(site: Site) -> None:
    """A core fracture without β has the plane of the image fracture that it is paired with."""
    table = site.fractures.copy()
    table.loc[table["method"] == "core", "beta_deg"] = np.nan
    found = observe(replace(site, fractures=table)).fractures
    own = found[(found["status"] == Status.PAIRED) & (found["oriented_from"] == "its pair")]
    assert len(own) > 20
    other = found.iloc[own["pair_row"].to_numpy(int) - 2]
    np.testing.assert_array_equal(Fractures(own).poles, Fractures(other).poles)


def test_too_few_pairs_leave_the_preferred_method(site: Site) -> None:
    """Where the match rests on little the image alone counts, the core is set aside, and it is said."""
    core = site.fractures["method"] == "core"
    table = pd.concat([site.fractures[~core], site.fractures[core].iloc[:5]], ignore_index=True)
    found = observe(replace(site, fractures=table))
    assert (found.fractures["status"] == "other method").sum() == 5
    assert found.observation.detection is None
    assert "image alone counts" in found.observation.notes[0]
