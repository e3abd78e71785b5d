"""What a further line should meet."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js

SETS = [(20.0, 100.0, 40.0, 1.2), (75.0, 200.0, 40.0, 0.9)]
HOLES = [(0.0, 90.0, 60.0), (90.0, 55.0, 60.0), (210.0, 50.0, 60.0)]


@pytest.fixture(scope="module")
def result() -> js.SiteAnalysis:
    return js.analyse(js.simulate_site(SETS, HOLES, random_state=4))


def test_mean_is_p32_times_exposure(result: js.SiteAnalysis) -> None:
    """The mean number of a set is near its P32 times what the line would meet of it."""
    line = js.LineExposure(js.lines_from_trend(150, 20), [40.0])
    table = js.predict_counts(result, line).to_frame().set_index("set")
    for one in result.sets:
        expected = one.p32_per_m * one.density.mean_exposure(line)
        assert table.loc[one.name, "mean"] == pytest.approx(expected, rel=0.1)
    assert table.loc["all", "mean"] == pytest.approx(table["mean"].iloc[:-1].sum(), rel=1e-9)


def test_intervals_hold_what_a_further_hole_met() -> None:
    """Of holes left out of ten even sites, 90 % intervals hold at least 15 of 20 counts."""
    held = 0
    for seed in range(10):
        site = js.simulate_site(SETS, [*HOLES, (300.0, 40.0, 50.0)], random_state=100 + seed)
        last = site.holes[-1]
        rest = js.Site.from_frames(
            holes=site_frame(site, last.name), fractures=site.fractures[site.fractures["hole"] != last.name]
        )
        found = js.analyse(rest, 2, shape="round", domains="none")
        ahead = js.predict_counts(found, last)
        seen = site.fractures[site.fractures["hole"] == last.name]
        poles = js.poles_from_dip(seen["dip_deg"], seen["dip_direction_deg"])
        means = js.poles_from_dip([20.0, 75.0], [100.0, 200.0])
        near = np.array([js.axis_angles_deg(poles, mean) for mean in means]).argmin(axis=0)
        for k, one in enumerate(found.sets):
            own = int(np.argmin(js.axis_angles_deg(means, one.mean)))
            low, high = ahead.counts.interval(k, 0.9)
            held += low <= np.count_nonzero(near == own) <= high
    # 18 of 20 expected; 14 or fewer has probability 0.002.
    assert held >= 15


def site_frame(site: js.Site, left_out: str) -> object:
    """Holes of a site but one, as a table."""
    import pandas as pd

    rows = []
    for hole in site.holes:
        if hole.name != left_out:
            trend, plunge = js.trend_from_lines(hole.path.direction(0.0))
            rows.append((hole.name, hole.length_m, float(trend[0]), float(plunge[0])))
    return pd.DataFrame(rows, columns=["hole", "length_m", "trend_deg", "plunge_deg"])


def test_a_site_without_sets_predicts_random_fractures_alone() -> None:
    """Where no set was found the random fractures are all there is."""
    site = js.simulate_site([], HOLES, background_per_m=0.5, random_state=2)
    ahead = js.predict_counts(js.analyse(site), site.holes[0])
    assert ahead.names[-1] == "random"
    with pytest.raises(js.InputError, match="confidence"):
        js.predict_counts(js.analyse(site), site.holes[0], confidence=1.0)
