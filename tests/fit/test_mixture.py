"""JointSetMixture: truth recovered, references, invariance, degenerate input, refusals."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from scipy.stats import vonmises_fisher
from sklearn.base import clone
from sklearn.utils.estimator_checks import parametrize_with_checks

import jointstats as js
from jointstats.errors import InputError
from jointstats.fit.likelihood import RoundSets, log_likelihood, log_prior
from jointstats.sphere.axes import rotation_about

HOLES = js.lines_from_trend([0, 315, 200], [90, 55, 50])
EXPOSURE = js.LineExposure(HOLES, [80.0, 70.0, 70.0])
MEANS = js.poles_from_dip([62, 78, 12], [135, 20, 300])


def _poles(seed: int) -> np.ndarray:
    """Three sets drawn by scipy and met by chance, and some of any orientation; flipped at random."""
    rng = np.random.default_rng(seed)
    rows = []
    for direction, length in zip(HOLES, EXPOSURE.lengths_m, strict=True):
        for mean, kappa, p32 in zip(MEANS, [40, 30, 50], [1.2, 0.8, 0.6], strict=True):
            n = max(rng.poisson(p32 * length), 1)
            draws = vonmises_fisher(mean, kappa).rvs(n, random_state=rng)
            cosine = np.abs(draws @ direction)
            rows.append(draws[(rng.uniform(size=n) < cosine) & (cosine > np.sin(np.radians(10)))])
    anything = rng.normal(size=(25, 3))
    anything /= np.linalg.norm(anything, axis=1, keepdims=True)
    rows.append(anything[EXPOSURE.at(anything) > 0])
    poles = np.vstack(rows)
    return poles * rng.choice([-1.0, 1.0], size=(len(poles), 1))


POLES = _poles(11)


@pytest.fixture(scope="module")
def model() -> js.JointSetMixture:
    return js.JointSetMixture(random_state=0).fit(POLES, exposure=EXPOSURE)


# array_api_input needs an environment variable that only scikit-learn's own test run sets; it
# skips itself with a warning where that is missing.
@pytest.mark.filterwarnings("ignore::sklearn.exceptions.SkipTestWarning")
@parametrize_with_checks([js.JointSetMixture(max_sets=3)])
def test_scikit_learn_checks(estimator: object, check: object) -> None:
    """Every check that scikit-learn has for an estimator passes."""
    check(estimator)  # type: ignore[operator]


def test_three_sets_are_found_within_their_intervals() -> None:
    """Number, means, κ and P32 of the truth lie in the intervals at 99.9 %."""
    model = js.JointSetMixture(random_state=0, confidence=0.999).fit(POLES, exposure=EXPOSURE)
    assert model.n_sets_ == 3
    for mean, kappa, p32 in zip(MEANS, [40, 30, 50], [1.2, 0.8, 0.6], strict=True):
        k = int(np.argmin(js.axis_angles_deg(model.means_, mean)))
        sure = model.certainty_
        assert js.axis_angles_deg(model.means_[k], mean)[0] < sure.cone_deg(k)
        low, high = sure.kappa_interval(k)
        assert low < kappa < high
        low, high = sure.intensity_interval(k)
        assert low < p32 < high


def test_expected_number_is_the_number_seen(model: js.JointSetMixture) -> None:
    """At the maximum the expected count equals the number of fractures in the fit."""
    expected = [
        p32 * EXPOSURE.of_set(mean, kappa)
        for mean, kappa, p32 in zip(model.means_, model.kappas_, model.intensities_, strict=True)
    ]
    total = sum(expected) + model.background_ * EXPOSURE.of_uniform()
    assert total == pytest.approx(len(POLES), rel=1e-6)


def test_no_small_step_is_more_likely(model: js.JointSetMixture) -> None:
    """Likelihood and prior are at a maximum: steps of every parameter lower them."""
    parameters = RoundSets.of(model.rock_)

    def objective(moved: RoundSets) -> float:
        likelihood = log_likelihood(POLES, np.ones(len(POLES)), moved, EXPOSURE)
        return likelihood + log_prior(moved, EXPOSURE)

    best = objective(parameters)
    for factor in (0.98, 1.02):
        for k in range(3):
            kappas, intensities = parameters.kappas.copy(), parameters.intensities.copy()
            kappas[k] *= factor
            intensities[k] *= factor
            for moved in (
                parameters._replace(kappas=kappas),
                parameters._replace(intensities=intensities),
                parameters._replace(background=parameters.background * factor),
            ):
                assert objective(moved) < best
    for axis in np.eye(3):
        for turn in (-0.02, 0.02):
            means = parameters.means @ rotation_about(axis, turn).T
            moved = parameters._replace(means=means)
            assert objective(moved) < best


def test_one_set_without_exposure_is_the_fisher_mean() -> None:
    """A single set on its own data gives the mean and κ of the classical statistics, and scipy's."""
    draws = vonmises_fisher([0, 0, 1.0], 30).rvs(80, random_state=np.random.default_rng(2))
    model = js.JointSetMixture(1, background=False, tol=1e-12, kappa_bounds=(1, 1e4)).fit(draws)
    mean, kappa = vonmises_fisher.fit(draws)
    assert js.axis_angles_deg(model.means_[0], mean)[0] < 1e-6
    assert model.kappas_[0] == pytest.approx(kappa, rel=1e-6)
    assert model.kappas_[0] == pytest.approx(js.fisher_statistics(draws).kappa_mle, rel=1e-6)


def test_uniform_exposure_leaves_orientation_alone() -> None:
    """Where every orientation is sampled alike, an exposure changes P32 and nothing else."""
    i = np.arange(400) + 0.5
    z, phi = 1 - i / 200, np.pi * (1 + 5**0.5) * i
    across = np.sqrt(1 - z * z)
    lines = np.column_stack([across * np.cos(phi), across * np.sin(phi), z])
    even = js.LineExposure(lines, np.full(400, 0.5), blind_angle_deg=0)
    plain = js.JointSetMixture(3, tol=1e-10).fit(POLES)
    aware = js.JointSetMixture(3, tol=1e-10).fit(POLES, exposure=even)
    order = [int(np.argmin(js.axis_angles_deg(plain.means_, mean))) for mean in aware.means_]
    assert (js.axis_angles_deg(aware.means_, plain.means_[order]) < 0.3).all()
    np.testing.assert_allclose(aware.kappas_, plain.kappas_[order], rtol=0.03)
    np.testing.assert_allclose(
        aware.intensities_ * 100, plain.intensities_[order] * len(POLES), rtol=0.03
    )


def test_flips_and_order_change_nothing(model: js.JointSetMixture) -> None:
    """Rows may be flipped and shuffled; sets and labels are the same."""
    rng = np.random.default_rng(8)
    order = rng.permutation(len(POLES))
    flipped = POLES[order] * rng.choice([-1.0, 1.0], size=(len(POLES), 1))
    again = js.JointSetMixture(random_state=0).fit(flipped, exposure=EXPOSURE)
    np.testing.assert_allclose(again.means_, model.means_, atol=1e-6)
    np.testing.assert_array_equal(again.labels_, model.labels_[order])


def test_rotation_turns_the_answer(model: js.JointSetMixture) -> None:
    """Rock and holes turned together give the same sets, turned."""
    turn = rotation_about([0.3, -1.0, 0.4], 0.9)
    exposure = js.LineExposure(HOLES @ turn.T, EXPOSURE.lengths_m)
    again = js.JointSetMixture(random_state=0).fit(POLES @ turn.T, exposure=exposure)
    assert (js.axis_angles_deg(again.means_, model.means_ @ turn.T) < 1e-4).all()
    np.testing.assert_allclose(again.intensities_, model.intensities_, rtol=1e-5)


def test_weights_are_repeated_rows() -> None:
    """A row of weight two counts as two rows."""
    weights = np.random.default_rng(1).integers(1, 3, len(POLES))
    weighted = js.JointSetMixture(3, tol=1e-9).fit(POLES, sample_weight=weights)
    repeated = js.JointSetMixture(3, tol=1e-9).fit(np.repeat(POLES, weights, axis=0))
    np.testing.assert_allclose(weighted.means_, repeated.means_, atol=1e-4)
    np.testing.assert_allclose(weighted.kappas_, repeated.kappas_, rtol=1e-3)


def test_blind_picks_are_left_out_and_labelled() -> None:
    """A pick that no hole could see does not enter the fit, and still gets a label."""
    hole = js.LineExposure([[0, 0, -1]], [50.0])
    level = vonmises_fisher([0, 0, 1.0], 40).rvs(60, random_state=np.random.default_rng(5))
    upright = np.array([[1.0, 0, 0]])
    with_blind = js.JointSetMixture(random_state=0).fit(np.vstack([level, upright]), exposure=hole)
    without = js.JointSetMixture(random_state=0).fit(level, exposure=hole)
    np.testing.assert_allclose(with_blind.means_, without.means_)
    assert with_blind.labels_[-1] == -1


def test_clone_and_pickle(model: js.JointSetMixture) -> None:
    """A pickled model predicts the same; a clone is unfitted with the same arguments."""
    again = pickle.loads(pickle.dumps(model))
    np.testing.assert_array_equal(again.predict(POLES), model.labels_)
    assert clone(model).get_params() == model.get_params()


def test_probabilities_and_scores(model: js.JointSetMixture) -> None:
    """Memberships sum to one; the density integrates to one over the hemisphere."""
    np.testing.assert_allclose(model.predict_proba(POLES).sum(axis=1), 1.0)
    i = np.arange(40_000) + 0.5
    z, phi = 1 - i / 40_000, np.pi * (1 + 5**0.5) * i
    grid = np.column_stack([np.sqrt(1 - z * z) * np.cos(phi), np.sqrt(1 - z * z) * np.sin(phi), z])
    assert np.exp(model.score_samples(grid)).mean() * 2 * np.pi == pytest.approx(1.0, abs=1e-3)
    assert model.score(POLES) == pytest.approx(model.score_samples(POLES).mean())


def test_the_search_says_what_it_tried(model: js.JointSetMixture) -> None:
    """The trials begin with no set, the accepted one has the smallest criterion."""
    assert model.trials_[0].n_sets == 0
    accepted = [one for one in model.trials_ if one.verdict == "accepted"]
    assert min(one.bic for one in accepted) == pytest.approx(model.bic_)


@pytest.mark.parametrize(
    "poles",
    [
        np.array([[0, 0, 1.0]]),
        np.array([[0, 0, 1.0], [0, 0, -1.0]]),
        np.tile([[0.6, 0, 0.8]], (30, 1)),
        np.column_stack([np.cos(np.arange(40)), np.sin(np.arange(40)), np.zeros(40)]),
        np.zeros((1, 3)),
    ],
    ids=["one", "opposite", "identical", "girdle", "no direction"],
)
def test_degenerate_poles_give_finite_answers(poles: np.ndarray) -> None:
    """One pole, opposite ends, identical poles and a girdle give finite parameters."""
    hole = js.LineExposure(js.lines_from_trend([0, 90], [60, 40]), [50.0, 50.0])
    for exposure in (None, hole):
        model = js.JointSetMixture(random_state=0).fit(poles, exposure=exposure)
        assert np.isfinite(model.means_).all() and np.isfinite(model.kappas_).all()
        assert np.isfinite(model.intensities_).all() and np.isfinite(model.background_)
        assert len(model.labels_) == len(poles)
        for k in range(model.n_sets_):
            assert 0 <= model.certainty_.cone_deg(k) <= 90
            assert np.isfinite(model.certainty_.kappa_interval(k)).all()


@pytest.mark.parametrize(
    ("argument", "value", "rule"),
    [
        ("n_sets", "many", "n_sets of JointSetMixture must be a whole number"),
        ("n_sets", -1, "n_sets of JointSetMixture must be a whole number"),
        ("max_sets", 0, "max_sets of JointSetMixture must be a whole number, 1 or more; got 0"),
        ("candidates", 0, "candidates of JointSetMixture must be"),
        ("max_iter", 1.5, "max_iter of JointSetMixture must be"),
        ("smallest_set", 0, "smallest_set of JointSetMixture must be"),
        ("tol", 0, "tol of JointSetMixture must be a number above 0"),
        ("confidence", 1, "confidence of JointSetMixture must be"),
        ("kappa_bounds", (5, 2), "kappa_bounds of JointSetMixture must be two rising"),
    ],
)
def test_arguments_out_of_range_are_refused(argument: str, value: object, rule: str) -> None:
    """Each argument is refused by name, with the allowed values and the one given."""
    with pytest.raises(InputError, match=rule):
        js.JointSetMixture(**{argument: value}).fit(POLES)


def test_an_exposure_needs_three_columns() -> None:
    """An exposure of lines in space meets rows of space only."""
    with pytest.raises(InputError, match="an exposure needs X of three columns; got 2"):
        js.JointSetMixture().fit(np.eye(2), exposure=EXPOSURE)


def test_held_means_stay_and_others_are_found() -> None:
    """A given mean that is held does not move; the search adds the sets it lacks."""
    given = js.poles_from_dip(60, 140)
    model = js.JointSetMixture(given_means=given, hold_means=True).fit(POLES, exposure=EXPOSURE)
    assert model.n_sets_ == 3
    k = int(np.flatnonzero(model.given_ == 0)[0])
    assert js.axis_angles_deg(model.means_[k], given[0])[0] < 1e-9
    assert sorted(model.given_) == [-1, -1, 0]


def test_given_means_are_a_start(model: js.JointSetMixture) -> None:
    """From given means that may move, the fit goes to the sets that the search finds."""
    again = js.JointSetMixture(3, given_means=MEANS).fit(POLES, exposure=EXPOSURE)
    np.testing.assert_allclose(again.means_, model.means_, atol=1e-4)
    assert sorted(again.given_) == [0, 1, 2]


def test_a_given_set_is_kept_though_the_data_have_none_of_it() -> None:
    """A set that the analyst holds stays, with the little that the data give it."""
    empty = js.poles_from_dip(45, 220)
    model = js.JointSetMixture(given_means=empty, hold_means=[True]).fit(POLES, exposure=EXPOSURE)
    k = int(np.flatnonzero(model.given_ == 0)[0])
    assert model.intensities_[k] < 0.1
    assert model.n_sets_ == 4


def test_only_allowed_rows_join_a_given_set() -> None:
    """A fracture that may not join a given set is never labelled with it."""
    near = js.axis_angles_deg(POLES, MEANS[0]) < 25
    allowed = np.ones((len(POLES), 1), bool)
    shut = np.flatnonzero(near)[::2]
    allowed[shut] = False
    model = js.JointSetMixture(1, given_means=MEANS[:1]).fit(
        POLES, exposure=EXPOSURE, allowed=allowed
    )
    assert (model.labels_[shut] == -1).all()
    assert (model.labels_ == 0).sum() > 20


def test_the_completed_likelihood_asks_for_sets_apart() -> None:
    """Two overlapping halves of one wide cluster are two sets by BIC at most as often as by ICL."""
    rng = np.random.default_rng(7)
    means = js.poles_from_dip([20, 45], [90, 90])
    rows = np.vstack([vonmises_fisher(mean, 25).rvs(150, random_state=rng) for mean in means])
    bic = js.JointSetMixture(criterion="bic").fit(rows)
    icl = js.JointSetMixture(criterion="icl").fit(rows)
    assert icl.n_sets_ <= bic.n_sets_
    last = icl.trials_[-1]
    assert last.criterion >= last.bic


def test_bic_of_the_data_is_that_of_the_fit(model: js.JointSetMixture) -> None:
    """The method gives the attribute on the data of the fit."""
    assert model.bic(POLES, exposure=EXPOSURE) == pytest.approx(model.bic_)


def test_draws_come_from_the_rock(model: js.JointSetMixture) -> None:
    """Labels are drawn in proportion to P32, poles about the means, on the lower hemisphere."""
    poles, labels = model.sample(20_000, random_state=1)
    share = model.intensities_ / (model.intensities_.sum() + model.background_)
    for k in range(3):
        assert (labels == k).mean() == pytest.approx(share[k], abs=0.015)
        found = js.fisher_statistics(poles[labels == k])
        assert js.axis_angles_deg(found.mean, model.means_[k])[0] < 0.5
        assert found.kappa_mle == pytest.approx(model.kappas_[k], rel=0.05)
    assert (poles[:, 2] <= 0).all()
    again, _ = model.sample(20_000, random_state=1)
    np.testing.assert_array_equal(again, poles)


def test_exposure_is_routed_as_metadata() -> None:
    """scikit-learn's metadata routing hands the exposure through a pipeline."""
    from sklearn import config_context
    from sklearn.pipeline import make_pipeline

    with config_context(enable_metadata_routing=True):
        request = js.JointSetMixture(3).set_fit_request(exposure=True)
        pipeline = make_pipeline(request).fit(POLES, exposure=EXPOSURE)
    alone = js.JointSetMixture(3).fit(POLES, exposure=EXPOSURE)
    np.testing.assert_array_equal(pipeline[-1].intensities_, alone.intensities_)


def test_overlapping_sets_vary_against_each_other() -> None:
    """Sets that share fractures have P32 that vary against each other."""
    rng = np.random.default_rng(3)
    means = js.poles_from_dip([20, 48], [90, 90])
    rows = np.vstack([vonmises_fisher(mean, 20).rvs(150, random_state=rng) for mean in means])
    covariance = js.JointSetMixture(2).fit(rows).certainty_.covariance
    deviation = np.sqrt(np.diag(covariance))
    assert covariance[5, 11] / (deviation[5] * deviation[11]) < -0.2


@pytest.mark.parametrize(
    ("arguments", "fit", "rule"),
    [
        ({"criterion": "aic"}, {}, 'criterion of JointSetMixture must be "bic" or "icl"'),
        ({"given_means": [[0, 0, 0]]}, {}, "given_means must be rows of 3 finite numbers"),
        ({}, {"allowed": np.ones((3, 1), bool)}, r"allowed must be booleans of shape \(\d+, 0\)"),
        (
            {"given_means": MEANS[:1], "background": False},
            {"allowed": np.ones((len(POLES), 1), bool)},
            "allowed needs a background",
        ),
    ],
)
def test_what_the_analyst_gives_is_checked(arguments: dict, fit: dict, rule: str) -> None:
    """Given means and allowed rows of a wrong form are refused."""
    with pytest.raises(InputError, match=rule):
        js.JointSetMixture(**arguments).fit(POLES, **fit)


def test_draws_are_refused_where_they_make_no_sense(model: js.JointSetMixture) -> None:
    """Draws need three columns and a whole number."""
    with pytest.raises(InputError, match="n_samples must be a whole number, 1 or more; got 0"):
        model.sample(0)
    flat = js.JointSetMixture(1).fit(np.array([[1.0, 0.1], [1.0, -0.1], [1.0, 0.0]]))
    with pytest.raises(InputError, match="sample draws axes in 3 columns; the model has 2"):
        flat.sample(3)
