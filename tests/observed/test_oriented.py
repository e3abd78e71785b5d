"""P32 counts fractures without an orientation, by the share oriented of each hole and stretch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

import jointstats as js
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.sampling import SampledLength
from jointstats.borehole.simulate import SETS
from jointstats.borehole.site import Site
from jointstats.observed.observe import observe
from jointstats.observed.oriented import with_shares

_DIP = ["dip_deg", "dip_direction_deg"]


def _thinned(site: Site, chance: np.ndarray, rng: np.random.Generator) -> Site:
    table = site.fractures.copy()
    table.loc[rng.random(len(table)) < chance, _DIP] = np.nan
    return replace(site, fractures=table)


def test_counts_over_exposure_are_right_where_orientations_are_lost_by_chance() -> None:
    """With 40 in 100 lost, number over exposure gives the true P32 within 2 % over 80 sites."""
    ratios = []
    for seed in range(80):
        site = js.simulate_site(random_state=seed)
        lost = _thinned(site, np.full(len(site.fractures), 0.4), np.random.default_rng(seed))
        found = observe(lost)
        used = Fractures(found.fractures).fitted.table["true_set"]
        for number, (dip, way, kappa, p32) in enumerate(SETS, start=1):
            met = found.sampling.exposure.of_set(js.poles_from_dip(dip, way)[0], kappa)
            ratios.append((used == number).sum() / met / p32)
    # One standard error is 0.7 %.
    assert abs(np.mean(ratios) - 1) < 0.02


def test_the_widened_interval_holds_a_set_that_lost_more() -> None:
    """A set that loses three times as often has its true P32 inside the interval, and is told of."""
    inside = 0
    for seed in range(3):
        site = js.simulate_site(random_state=20 + seed)
        chance = np.where(site.fractures["true_set"] == 1, 0.6, 0.2)
        lost = _thinned(site, chance, np.random.default_rng(seed))
        found = js.analyse(lost, n_sets=3, shape="round", domains="none")
        assert "three times as often" in " ".join(one.text for one in found.cautions)
        for dip, way, _, p32 in SETS:
            pole = js.poles_from_dip(dip, way)[0]
            same = max(found.sets, key=lambda one: abs(float(np.dot(one.mean, pole))))
            inside += same.p32_interval[0] <= p32 <= same.p32_interval[1]
    assert inside >= 8


def test_a_hole_without_any_orientation_gives_no_length_to_the_fit() -> None:
    """A hole whose fractures all lack an orientation no longer makes P32 too low."""
    site = js.simulate_site(random_state=3)
    table = site.fractures.copy()
    table.loc[table["hole"] == "H2", _DIP] = np.nan
    found = js.analyse(replace(site, fractures=table), n_sets=3, shape="round", domains="none")
    share = found.observation.shares.set_index("hole")["oriented_share"]
    assert share["H2"] < 0.02 and share["H1"] > 0.95
    rest = table["hole"] != "H2"
    holes = tuple(one for one in site.holes if one.name != "H2")
    without = replace(site, holes=holes, fractures=table[rest].reset_index(drop=True))
    two = js.analyse(without, n_sets=3, shape="round", domains="none")
    np.testing.assert_allclose(found.rock.intensities, two.rock.intensities, rtol=0.01)


def test_a_stretch_that_lost_its_orientations_has_a_share_of_its_own() -> None:
    """Half a hole without orientations is cut off from the other half; lengths add up."""
    depth = np.linspace(0.5, 99.5, 100)
    lengths = [SampledLength("A", 0.0, 100.0, "core")]
    parts = with_shares(lengths, np.full(100, "A"), depth, depth < 50)
    assert len(parts) > 1
    assert sum(one.length_m for one in parts) == 100.0
    shares = pd.Series({one.from_m: one.oriented for one in parts})
    assert (shares[shares.index < 40] > 0.9).all() and (shares[shares.index > 55] < 0.1).all()
    rng = np.random.default_rng(1)
    assert len(with_shares(lengths, np.full(100, "A"), depth, rng.random(100) < 0.5)) == 1
