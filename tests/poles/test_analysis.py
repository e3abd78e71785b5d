"""Sets of poles without holes: the truth of simulated sets, weights, and what is left out."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from scipy.stats import vonmises_fisher

import jointstats as js
from jointstats.errors import InputError
from jointstats.poles.analysis import share_limits
from jointstats.poles.record import poles_json

MEANS = js.poles_from_dip([20.0, 80.0], [120.0, 300.0])


def _mixed(first: int, second: int, strays: int, seed: int) -> np.ndarray:
    """Poles of two round sets by SciPy's generator, either end up, and of none."""
    random = np.random.default_rng(seed)
    sets = [
        vonmises_fisher(mean, kappa, seed=seed + 7 * place).rvs(n)
        for place, (mean, kappa, n) in enumerate(
            zip(MEANS, (60.0, 25.0), (first, second), strict=True)
        )
    ]
    rest = random.normal(size=(strays, 3))
    poles = np.vstack([*sets, rest / np.linalg.norm(rest, axis=1, keepdims=True)])
    return poles * random.choice([-1.0, 1.0], len(poles))[:, np.newaxis]


@pytest.fixture(scope="module")
def found() -> js.poles.PolesAnalysis:
    return js.analyse_poles(_mixed(90, 60, 10, seed=11))


def test_sets_of_scipy_are_found_again(found: js.poles.PolesAnalysis) -> None:
    """Two round sets drawn by scipy.stats.vonmises_fisher come back: number, means, κ, shares."""
    assert [one.shape for one in found.sets] == ["round", "round"]
    for one, mean, kappa, share in zip(found.sets, MEANS, (60, 25), (9 / 16, 6 / 16), strict=True):
        assert js.axis_angles_deg(one.mean, mean)[0] < one.cone_deg
        assert one.kappa_interval[0] < kappa < one.kappa_interval[1]
        assert one.share_interval[0] < share < one.share_interval[1]
    assert found.background_share + sum(one.share for one in found.sets) == pytest.approx(1.0)
    assert sum(one.n for one in found.sets) + found.counts.unassigned == found.counts.total == 160


def test_nothing_that_needs_a_sampling_is_given(found: js.poles.PolesAnalysis) -> None:
    """There is no P32, no spacing and no blind zone, in the record neither, and that is said."""
    assert found.sampling is None and found.exposure is None
    record = json.loads(poles_json(found))
    assert not [key for key in [*record, *record["sets"][0]] if "p32" in key or "spacing" in key]
    assert any("need to know how the rock was sampled" in one.text for one in found.cautions)
    assert {one.quantity for one in found.evidence} == {"orientation"}
    assert "high" not in {one.confidence for one in found.evidence}


def test_equal_weights_change_nothing() -> None:
    """Only the ratios of weights count; a pole without weight counts for nothing."""
    poles = _mixed(50, 30, 5, seed=3)
    plain = js.analyse_poles(poles, n_sets=2, shape="round")
    for weight in (0.2, 1e305):
        same = js.analyse_poles(poles, np.full(len(poles), weight), n_sets=2, shape="round")
        np.testing.assert_allclose(same.sets[0].mean, plain.sets[0].mean, atol=1e-9)
        assert same.sets[0].share_interval == pytest.approx(plain.sets[0].share_interval)
    weights = np.ones(len(poles))
    weights[-5:] = 0.0
    frame = pd.DataFrame(js.trend_from_lines(poles), index=["trend", "plunge"]).T
    frame["length_m"] = weights
    part = js.analyse_poles(frame, "length_m", n_sets=2, shape="round")
    fewer = js.analyse_poles(poles[:-5], n_sets=2, shape="round")
    assert part.sets[0].share == pytest.approx(fewer.sets[0].share, abs=1e-6)


def test_unequal_weights_widen_the_intervals() -> None:
    """A few heavy poles are worth fewer poles than their number."""
    poles = _mixed(50, 30, 5, seed=3)
    weights = np.random.default_rng(0).lognormal(0.0, 1.0, len(poles))
    plain = js.analyse_poles(poles, n_sets=2, shape="round").sets[0]
    heavy = js.analyse_poles(poles, weights, n_sets=2, shape="round").sets[0]
    assert heavy.cone_deg > 1.2 * plain.cone_deg
    assert np.ptp(heavy.share_interval) > 1.2 * np.ptp(plain.share_interval)


def test_intervals_of_shares_hold_their_level() -> None:
    """At 95 % the interval of a share holds it in 92 to 98 of 100 simulated tables."""
    held = 0
    for seed in range(100, 200):
        random = np.random.default_rng(seed)
        counts = random.multinomial(120, [0.55, 0.3, 0.15])
        model = js.JointSetMixture(2, random_state=0).fit(_mixed(*counts, seed=seed))
        low, high = share_limits(model, 0)
        held += low < 0.55 < high
    assert 89 <= held <= 99


def test_given_sets_keep_their_names() -> None:
    """A set that the analyst gives is held and named, as for a site."""
    given = js.GivenSet(20, 120, name="bedding", hold=True)
    result = js.analyse_poles(_mixed(40, 40, 5, seed=4), given=[given])
    held = next(one for one in result.sets if one.name == "bedding")
    np.testing.assert_allclose(held.mean, MEANS[0], atol=1e-9)


def test_what_can_not_be_analysed_is_refused() -> None:
    """No pole, weights of another length, and a column that is not there are told."""
    with pytest.raises(InputError, match="at least 1 rows"):
        js.analyse_poles(np.empty((0, 3)))
    with pytest.raises(InputError, match="one a row"):
        js.analyse_poles(MEANS, [1.0])
    frame = pd.DataFrame({"dip": [10.0, 20.0], "strike": [0.0, 0.0]})
    with pytest.raises(InputError, match="names the column 'w'"):
        js.analyse_poles(frame, "w")
    with pytest.raises(InputError, match="no pole with an orientation"):
        js.analyse_poles(pd.DataFrame({"dip": [None], "strike": [None]}))
