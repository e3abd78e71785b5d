"""Bootstrap of an analysis: agrees with the information where both hold, widens for clusters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from joblib import parallel_config

import jointstats as js
from jointstats.errors import InputError
from jointstats.sets.bootstrap import simulated_poles

RESULT = js.analyse(js.simulate_site(random_state=1))


@pytest.fixture(scope="module")
def parametric() -> js.sets.SetBootstrap:
    return js.bootstrap_sets(RESULT, 80, random_state=1)


def test_parametric_bootstrap_agrees_with_the_information(parametric: js.sets.SetBootstrap) -> None:
    """Cones and the width of the P32 intervals come out alike on well-separated sets."""
    table = parametric.sets.set_index("set")
    for one in RESULT.sets:
        row = table.loc[one.name]
        assert row["cone_deg"] == pytest.approx(one.cone_deg, rel=0.35)
        width = one.p32_even_interval[1] - one.p32_even_interval[0]
        assert row["p32_high_per_m"] - row["p32_low_per_m"] == pytest.approx(width, rel=0.35)
        assert row["p32_low_per_m"] < one.p32_per_m < row["p32_high_per_m"]
        assert row["kappa_low"] < one.kappa < row["kappa_high"]


def test_resamples_hold_as_many_fractures_as_expected() -> None:
    """The number drawn is that of a Poisson count about the number in the fit."""
    rng = np.random.default_rng(0)
    counts = [len(simulated_poles(RESULT, rng)) for _ in range(200)]
    seen = RESULT.counts.in_a_set + RESULT.counts.unassigned
    assert abs(np.mean(counts) - seen) < 4 * np.sqrt(seen / 200)


def test_memberships_are_of_the_fractures_in_the_fit(parametric: js.sets.SetBootstrap) -> None:
    """Sure members stay sure; each fracture of the fit has a row under its place."""
    table = parametric.memberships
    assert len(table) == RESULT.counts.in_a_set + RESULT.counts.unassigned
    joined = RESULT.fractures.loc[table.index]
    assert (joined["set"] == table["set"]).all()
    sure = joined["membership"] > 0.99
    assert table.loc[sure, "agreement"].min() > 0.8
    assert table["agreement"].between(0, 1).all()


def test_blocks_of_depth_see_clusters() -> None:
    """Fractures that come in swarms make P32 less certain than a Poisson process would."""
    rng = np.random.default_rng(2)
    site = js.simulate_site(sets=[(10, 100, 60, 1.0)], background_per_m=0.02, random_state=3)
    swarms = []
    for hole in site.holes:
        centres = rng.uniform(2, hole.length_m - 2, 8)
        dip, direction = js.dip_from_poles(
            js.sphere.AxialFisher(js.poles_from_dip(10, 100)[0], 60).rvs(64, random_state=rng)
        )
        depth = np.clip(np.repeat(centres, 8) + rng.normal(0, 0.3, 64), 0, hole.length_m)
        swarms.append(
            pd.DataFrame(
                {
                    "hole": hole.name,
                    "depth_m": depth,
                    "dip_deg": dip,
                    "dip_direction_deg": direction,
                    "method": "image",
                }
            )
        )
    result = js.analyse(replace(site, fractures=pd.concat(swarms, ignore_index=True)))
    blocks = js.bootstrap_sets(result, 60, kind="depth blocks", block_m=6).sets.iloc[0]
    plain = js.bootstrap_sets(result, 60).sets.iloc[0]
    wide = blocks["p32_high_per_m"] - blocks["p32_low_per_m"]
    assert wide > 1.4 * (plain["p32_high_per_m"] - plain["p32_low_per_m"])


def test_the_number_of_sets_has_a_distribution() -> None:
    """Asked for, each resample is searched, and the shares add up to one."""
    holes = [(0.0, 90.0, 40.0), (315.0, 45.0, 40.0)]
    sets = [(10, 100, 60, 1.0), (70, 310, 60, 1.0)]
    small = js.analyse(js.simulate_site(sets, holes, random_state=2), max_sets=3, shape="round", domains="none")
    found = js.bootstrap_sets(small, 20, find_number=True)
    assert found.n_sets.sum() == pytest.approx(1.0)
    assert found.n_sets.idxmax() == len(small.sets) == 2


def test_the_answer_does_not_depend_on_the_workers() -> None:
    """Two workers give the bits of one."""
    one = js.bootstrap_sets(RESULT, 20, random_state=1)
    with parallel_config(backend="threading"):
        two = js.bootstrap_sets(RESULT, 20, random_state=1, n_jobs=2)
    pd.testing.assert_frame_equal(one.to_frame(), two.to_frame(), check_exact=True)


def test_refusals() -> None:
    """Too few resamples, an unknown kind, a block of no length and no set are refused."""
    with pytest.raises(InputError, match="n_resamples must be 20 or more; got 5"):
        js.bootstrap_sets(RESULT, 5)
    with pytest.raises(InputError, match='kind must be "parametric" or "depth blocks"; got'):
        js.bootstrap_sets(RESULT, 20, kind="jack")
    with pytest.raises(InputError, match="block_m must be more than 0"):
        js.bootstrap_sets(RESULT, 20, block_m=0)
    with pytest.raises(InputError, match="found no set"):
        js.bootstrap_sets(replace(RESULT, sets=()), 20)
