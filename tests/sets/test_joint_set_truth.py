"""Joint sets against simulated truth: a small part of benchmarks/joint_sets.py."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kstest
from sklearn.metrics import adjusted_rand_score

import jointstats as js
from benchmarks import joint_sets as truth

SEEDS = range(700, 708)


@pytest.fixture(scope="module")
def results() -> list[truth.Recovery]:
    """Investigations fitted once for all tests."""
    return [truth.recover(seed, rivals=False) for seed in SEEDS]


def test_labels_come_near_the_optimum(results: list[truth.Recovery]) -> None:
    """Labels are as good, to 3 %, as those from the true densities, on average."""
    best, ours = np.mean([[pair[0] for pair in one.rand.values()] for one in results], axis=0)
    assert ours > 0.97 * best


def test_number_of_sets_is_right(results: list[truth.Recovery]) -> None:
    """Every set of 15 fractures is found, and none that is not there, in 7 of 8."""
    assert sum(one.must_find <= one.found <= one.true_sets for one in results) >= 7


def test_labels_beat_kmeans_that_is_told_the_number(results: list[truth.Recovery]) -> None:
    """On the same logs, k-means on dyads that knows the number of sets does worse."""
    ours = [one.rand["JointSetMixture, number unknown"][0] for one in results]
    rival = []
    for seed in SEEDS:
        rock, log = truth.investigation(seed)
        labels = truth.RIVALS["KMeans, told the number"](truth.dyads(log.poles), len(rock.p32))
        rival.append(adjusted_rand_score(log.truth, labels))
    assert np.mean(ours) > np.mean(rival) + 0.03


def test_a_steep_set_has_its_true_intensity() -> None:
    """P32 of a set nearly along a hole is unbiased; Terzaghi weights err far more.

    Over many repetitions the errors are in the ratio of about a half.
    """
    rows = np.array([truth.steep_estimates(seed, None, False, True) for seed in range(30)])
    mean, spread = rows[:, 0].mean(), rows[:, 0].std(ddof=1) / np.sqrt(len(rows))
    assert abs(mean - truth.STEEP_P32) < 3 * spread
    rms = np.sqrt(((rows[:, [0, 2]] - truth.STEEP_P32) ** 2).mean(axis=0))
    assert rms[0] < 0.65 * rms[1]


def test_the_simulator_meets_what_the_exposure_expects() -> None:
    """Thinning and exposure, which share no code, agree on the number of fractures met."""
    rock, log = truth.investigation(3)
    rng = np.random.default_rng(4)
    met = sum(
        truth.log_holes(rock, log.directions, log.lengths_m, rng).counts(len(rock.p32))
        for _ in range(30)
    )
    exposure = log.exposure()
    expected = 30 * np.array(
        [
            p32 * exposure.of_set(mean, kappa)
            for mean, kappa, p32 in zip(rock.means, rock.kappas, rock.p32, strict=True)
        ]
    )
    assert (np.abs(met - expected) < 4 * np.sqrt(expected)).all()


def test_the_simulator_draws_the_rock_it_says() -> None:
    """Seeds repeat; sets are far enough apart; draws of a set follow its κ."""
    rock, log = truth.investigation(5)
    again = truth.investigation(5)[1]
    np.testing.assert_array_equal(log.poles, again.poles)
    apart = js.axis_angles_deg(rock.means[1:], rock.means[0])
    assert (apart >= truth.APART_DEG - 1e-9).all()
    assert rock.background == pytest.approx(0.1 * rock.rates().sum())
    along = np.abs(rock.draw(0, 4000, np.random.default_rng(1)) @ rock.means[0])
    kappa = rock.kappas[0]
    # 1 − t is exponential to within e^(−κ).
    assert kstest(1 - along, "expon", args=(0, 1 / kappa)).pvalue > 0.01


def test_a_background_that_was_emptied_comes_back() -> None:
    """Two wide sets leave no background here; with the third it is there again, as in the truth."""
    rng = np.random.default_rng([5, 25, 44])
    rock, holes = truth.random_rock(rng), truth.random_holes(rng)
    met = truth.met_per_metre(rock, holes, rng).sum(axis=1)
    rare = int(rng.choice(len(rock.p32)))
    log = truth.log_holes(rock, holes, np.full(len(holes), 25 / met[rare]), rng)
    found = js.JointSetMixture(random_state=0).fit(log.poles, exposure=log.exposure())
    told = js.JointSetMixture(3, given_means=rock.means).fit(log.poles, exposure=log.exposure())
    assert found.n_sets_ == 3
    assert found.bic_ == pytest.approx(told.bic_, abs=0.01)
