"""Elliptical sets: the test against round ones, the fit, and the shapes a mixture chooses."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from sklearn.base import clone

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.likelihood import RoundSets, log_likelihood
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.roundness import EllipticalTest
from jointstats.fit.shaped import _gradient, fit_shaped, moved_rock, shaped_value
from jointstats.sphere.axes import frame_about, rotation_about
from jointstats.sphere.set_chart import SetChart
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity

KAPPA, BETA, P32 = 30.0, 11.0, 1.5


def _holes(length: float) -> js.LineExposure:
    return js.LineExposure(
        js.lines_from_trend([0, 130], [90, 60]), [0.6 * length, 0.4 * length], blind_angle_deg=10
    )


def _met(poles: np.ndarray, direction: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    cosine = np.abs(poles @ direction)
    return poles[(rng.random(len(poles)) < cosine) & (cosine >= np.sin(np.radians(10)))]


def _frame(dip: float, direction: float, turn: float = 0.0) -> np.ndarray:
    mean = js.poles_from_dip(dip, direction)[0]
    return frame_about(mean)[[2, 0, 1]] @ rotation_about(mean, turn).T


LONG, ROUND = _frame(60, 90, 0.4), _frame(10, 200)


def _drawn(
    holes: js.LineExposure,
    sets: list[tuple[np.ndarray, float, float, float]],
    background: float,
    seed: int,
) -> np.ndarray:
    """What holes meet of a rock: thinned Poisson draws, written without the package's fit."""
    rng = np.random.default_rng(seed)
    out = []
    for direction, length in zip(holes.directions, holes.lengths_m, strict=True):
        for frame, kappa, beta, p32 in sets:
            density = EllipticalDensity(frame, kappa, beta)
            poles = density.sample(rng.poisson(p32 * length), rng)
            out.append(_met(poles, direction, rng))
        rows = rng.normal(size=(rng.poisson(background * length), 3))
        rows /= np.linalg.norm(rows, axis=1, keepdims=True)
        out.append(_met(rows, direction, rng))
    return np.vstack(out)


HOLES = _holes(120.0)
ROWS = _drawn(HOLES, [(LONG, KAPPA, BETA, P32), (ROUND, 40.0, 0.0, 1.0)], 0.2, 0)
DATA = FitData(ROWS, np.ones(len(ROWS)), HOLES)


@pytest.fixture(scope="module")
def model() -> js.JointSetMixture:
    return js.JointSetMixture(shape="auto", random_state=0).fit(ROWS, exposure=HOLES)


@pytest.mark.parametrize("exposure", [None, HOLES], ids=["even", "holes"])
def test_slopes_are_those_of_the_likelihood(exposure: js.LineExposure | None) -> None:
    """Exact slopes by all coordinates of sets of every shape agree with differences."""
    data = replace(DATA, exposure=exposure)
    densities = (
        EllipticalDensity(LONG, 30.0, 10.0),
        RoundDensity(ROUND, 40.0),
        GirdleDensity(LONG, 20.0, 4.0),
    )
    rock = Rock(tuple(RockSet(one, 1.0) for one in densities), 0.3)
    charts = [SetChart(one, (4.0, 1000.0)) for one in densities]
    x = np.random.default_rng(1).normal(size=19) * 0.1
    place = shaped_value(data, moved_rock(charts, rock, x))
    ours = _gradient(data, place, charts, x)

    def value(at: np.ndarray) -> float:
        return shaped_value(data, moved_rock(charts, rock, at)).value

    plain = np.array([(value(x + h) - value(x - h)) / 2e-4 for h in np.eye(19) * 1e-4])
    free = np.ones(19, bool)
    free[6 + 3 : 6 + 5] = False  # a round set has no ellipticity
    np.testing.assert_allclose(ours[free], plain[free], atol=2e-3)


def test_round_sets_have_the_likelihood_of_the_round_model() -> None:
    """Round sets have the same likelihood, and the same maximum, by either road."""
    model = js.JointSetMixture(2, random_state=0).fit(ROWS, exposure=HOLES)
    expected = log_likelihood(ROWS, DATA.weights, RoundSets.of(model.rock_), HOLES)
    assert shaped_value(DATA, model.rock_).log_likelihood == pytest.approx(expected, abs=1e-5)
    fit = fit_shaped(DATA, model.rock_)
    assert fit.log_likelihood == pytest.approx(model.log_likelihood_, abs=1e-4)


def test_fit_is_a_maximum_and_never_below_the_round_one(model: js.JointSetMixture) -> None:
    """The slope at the fit is nothing, and its likelihood is that of its parameters."""
    charts = [SetChart(one, (4.0, 1000.0)) for one in model.rock_.densities]
    place = shaped_value(DATA, model.rock_)
    slope = _gradient(DATA, place, charts, np.zeros(13))[:-1].reshape(2, 6)
    assert np.abs(slope).max() < 0.2
    assert place.log_likelihood == pytest.approx(model.log_likelihood_, abs=1e-6)
    rounded = js.JointSetMixture(2, random_state=0).fit(ROWS, exposure=HOLES)
    assert model.log_likelihood_ > rounded.log_likelihood_
    assert place.counts.sum() == pytest.approx(len(ROWS), abs=1e-6)


def test_auto_finds_the_long_set_and_leaves_the_round_one(model: js.JointSetMixture) -> None:
    """Two sets, one elliptical; its mean, κ, β, P32 and long axis are near those of the rock."""
    assert model.n_sets_ == 2
    k = int(np.argmin(js.axis_angles_deg(model.means_, LONG[0])))
    assert model.rock_.shapes[k] == "elliptical"
    assert model.rock_.shapes[1 - k] == "round"
    found = model.rock_.densities[k]
    # A 95 % cone: one and a half of it holds all but one in five hundred.
    away = js.axis_angles_deg(model.means_[k], LONG[0])[0]
    assert away < 1.5 * model.certainty_.cone_deg(k)
    assert js.axis_angles_deg(found.frame[1], LONG[1])[0] < 15
    assert model.kappas_[k] == pytest.approx(KAPPA, rel=0.35)
    ratio = np.sqrt((KAPPA + 2 * BETA) / (KAPPA - 2 * BETA))
    assert found.axial_ratio == pytest.approx(ratio, rel=0.35)
    low, high = model.certainty_.intensity_interval(k)
    assert low < P32 < high
    tests = js.fit.elliptical_test(model)
    assert [one.elliptical for one in tests] == [j == k for j in range(2)]


def test_auto_makes_one_set_of_two_round_halves(model: js.JointSetMixture) -> None:
    """Where round sets need two for one long set, "auto" gives it back as one."""
    halves = js.JointSetMixture(random_state=0).fit(ROWS, exposure=HOLES)
    assert halves.n_sets_ == 3
    assert model.n_sets_ == 2
    assert model.bic_ < halves.bic_


def test_elliptical_makes_every_set_elliptical() -> None:
    """With shape "elliptical" no set stays round, and expected counts still add up."""
    model = js.JointSetMixture(2, shape="elliptical", random_state=0).fit(ROWS, exposure=HOLES)
    assert set(model.rock_.shapes) == {"elliptical"}
    met = [p32 * density.mean_exposure(HOLES) for density, p32 in model.rock_.sets]
    total = sum(met) + model.background_ * HOLES.of_uniform()
    assert total == pytest.approx(len(ROWS), rel=1e-3)


def test_predictions_use_the_elliptical_densities(model: js.JointSetMixture) -> None:
    """Memberships, labels, scores, the criterion and draws are those of the elliptical sets."""
    logs = model.rock_.log_rates(ROWS)
    shares = np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, None])
    np.testing.assert_allclose(model.predict_proba(ROWS), shares)
    best = shares.argmax(axis=1)
    np.testing.assert_array_equal(model.predict(ROWS), np.where(best == 2, -1, best))
    np.testing.assert_array_equal(model.labels_, model.predict(ROWS))
    assert model.bic(ROWS, exposure=HOLES) == pytest.approx(model.bic_, abs=1e-6)
    poles, labels = model.sample(4000, random_state=1)
    k = model.rock_.shapes.index("elliptical")
    spread = (poles[labels == k] @ model.rock_.densities[k].frame.T).std(axis=0)
    assert spread[1] > 1.5 * spread[2]
    whole = np.exp(model.score_samples(js.lines_from_trend([0, 90], [90, 10])))
    assert np.isfinite(whole).all()


def test_model_is_pickled_and_cloned(model: js.JointSetMixture) -> None:
    """A pickled model predicts the same; a clone keeps the shape asked for."""
    again = pickle.loads(pickle.dumps(model))
    np.testing.assert_array_equal(again.predict(ROWS), model.predict(ROWS))
    assert clone(model).shape == "auto"


def test_certainty_of_round_sets_is_that_of_the_round_model() -> None:
    """Information by differences of the slopes is the exact one where no set is elliptical."""
    rows = _drawn(HOLES, [(ROUND, 40.0, 0.0, 1.0)], 0.1, 3)
    plain = js.JointSetMixture(1, random_state=0).fit(rows, exposure=HOLES)
    shaped = js.JointSetMixture(1, shape="auto", random_state=0).fit(rows, exposure=HOLES)
    assert shaped.rock_.shapes == ("round",)
    assert shaped.certainty_.cone_deg(0) == pytest.approx(plain.certainty_.cone_deg(0), rel=1e-3)
    expected = plain.certainty_.kappa_interval(0)
    assert shaped.certainty_.kappa_interval(0) == pytest.approx(expected, rel=1e-3)


def test_statistic_is_the_classical_one_for_a_tight_set() -> None:
    """Far from any hole's influence the test is that of sphericity of two variables, to 2%."""
    poles = EllipticalDensity(np.eye(3), 900.0, 150.0).sample(60, 4)
    model = js.JointSetMixture(1, background=False, kappa_bounds=(4, 1900)).fit(poles)
    found = js.fit.elliptical_test(model)[0]
    flat = (poles * np.sign(poles[:, :1]))[:, 1:]
    s = np.linalg.eigvalsh(np.cov(flat.T))
    # P(W < w) = w^((n − 2) / 2) for W = 4 s1 s2 / (s1 + s2)².
    expected = -(len(poles) - 2) * np.log(4 * s[0] * s[1] / (s[0] + s[1]) ** 2)
    assert found.statistic == pytest.approx(expected, rel=0.02)
    assert found.pvalue == pytest.approx(np.exp(-0.5 * found.statistic))


def test_turning_and_flipping_change_nothing() -> None:
    """Rows flipped, reordered or turned with the holes give the same test and a turned frame."""
    rows = ROWS[::2]
    model = js.JointSetMixture(2, shape="elliptical", random_state=0).fit(rows, exposure=HOLES)
    turn = rotation_about([1, -2, 1], 0.7)
    signs = np.random.default_rng(0).choice([-1.0, 1.0], size=(len(rows), 1))
    holes = js.LineExposure(HOLES.directions @ turn.T, HOLES.lengths_m, blind_angle_deg=10)
    moved = js.JointSetMixture(2, shape="elliptical", random_state=0).fit(
        (rows * signs)[::-1] @ turn.T, exposure=holes
    )
    np.testing.assert_allclose(moved.kappas_, model.kappas_, rtol=2e-3)
    ours, theirs = (one.rock_.densities for one in (moved, model))
    np.testing.assert_allclose(
        [one.ellipticity for one in ours], [one.ellipticity for one in theirs], rtol=1e-2
    )
    assert js.axis_angles_deg(ours[0].frame[1] @ turn, theirs[0].frame[1])[0] < 0.5
    pairs = zip(js.fit.elliptical_test(moved), js.fit.elliptical_test(model), strict=True)
    for a, b in pairs:
        assert a.statistic == pytest.approx(b.statistic, abs=0.02)


def test_size_for_sets_seen_at_an_angle() -> None:
    """Round sets steep to a hole are rejected at 5% about as often; without exposure far more."""
    hole = js.LineExposure([[0, 0, -1.0]], [220.0], blind_angle_deg=10)
    frame = _frame(75, 90)
    rejected = {True: 0, False: 0}
    for seed in range(40):
        rows = _drawn(hole, [(frame, 40.0, 0.0, 1.0)], 0.0, 1000 + seed)
        for aware in (True, False):
            model = js.JointSetMixture(1, background=False)
            model.fit(rows, exposure=hole if aware else None)
            found = js.fit.elliptical_test(model)[0]
            rejected[aware] += found.pvalue < 0.05
    # 2 of 40 expected: 7 or more has probability 0.003.
    assert rejected[True] <= 6
    assert rejected[False] >= 10


def test_few_fractures_say_little_and_never_break() -> None:
    """One to four poles, poles all alike and a girdle give a finite test."""
    phi = np.linspace(0, np.pi, 20, endpoint=False)
    girdle = np.column_stack([np.cos(phi), np.sin(phi), np.zeros(20)])
    for poles in (np.eye(3)[:1], np.eye(3)[:2], ROWS[:4], np.tile(ROWS[:1], (9, 1)), girdle):
        model = js.JointSetMixture(1, background=False).fit(poles)
        found = js.fit.elliptical_test(model)[0]
        assert 0 <= found.pvalue <= 1
        assert np.isfinite([found.statistic, found.bic_gain, found.kappa, found.beta]).all()
    few = js.JointSetMixture(1, background=False).fit(ROWS[:4])
    assert not js.fit.elliptical_test(few)[0].elliptical
    assert js.fit.elliptical_test(js.JointSetMixture(0).fit(ROWS)) == ()


def test_sentences_say_what_was_found(model: js.JointSetMixture) -> None:
    """The sentence names the finding, p, the number of fractures and the long axis."""
    by_name = {one.elliptical: one for one in js.fit.elliptical_test(model)}
    assert by_name[True].sentence.startswith("Elliptical: a round set is contradicted (p < 0.001;")
    assert "times as wide along the long axis (trend" in by_name[True].sentence
    assert by_name[False].sentence.startswith("Round: not contradicted at the 1% level (p = ")
    few = EllipticalTest(1.0, 0.6, 9.0, -3.0, 30.0, 1.0, np.eye(3), False)
    assert "few fractures" in few.sentence
    perhaps = EllipticalTest(9.5, 0.0087, 400.0, -2.0, 30.0, 1.0, np.eye(3), False)
    assert perhaps.sentence.startswith("Perhaps elliptical")
    frame = by_name[True].to_frame()
    assert frame["elliptical"].tolist() == [True]
    assert frame["axial_ratio"][0] == pytest.approx(by_name[True].axial_ratio)
    assert by_name[True].spread_deg[0] > by_name[True].spread_deg[1]
    assert "<table" in by_name[True]._repr_html_()
    assert repr(by_name[True]).startswith("EllipticalTest(Elliptical")


def test_given_means_are_held_and_not_merged() -> None:
    """A given mean that is held stays, whatever shape its set takes."""
    given = [LONG[0], ROUND[0]]
    model = js.JointSetMixture(
        2, given_means=given, hold_means=True, shape="elliptical", random_state=0
    ).fit(ROWS, exposure=HOLES)
    for mean in given:
        assert js.axis_angles_deg(model.means_, mean).min() < 1e-6


def test_tests_work_under_the_rules_of_the_fit() -> None:
    """A mean held off its best place makes no other set look elliptical, and stays held in the test."""
    means = [LONG[0] @ rotation_about(LONG[1], 0.0).T, ROUND[0] @ rotation_about([1, 0, 0], 0.05).T]
    rows = _drawn(HOLES, [(LONG, KAPPA, 0.0, P32), (ROUND, 40.0, 0.0, 1.0)], 0.2, 11)
    model = js.JointSetMixture(2, given_means=means, hold_means=[False, True], random_state=0)
    held = js.fit.elliptical_test(model.fit(rows, exposure=HOLES))
    k = int(np.flatnonzero(model.given_ == 0)[0])
    assert held[k].pvalue > 0.01
    other = js.axis_angles_deg(held[1 - k].axes[0], means[1])[0]
    assert other < 1e-6


def test_what_cannot_be_shaped_is_refused() -> None:
    """Other columns than three accept round sets only; unknown shapes are named."""
    rows = np.random.default_rng(0).normal(size=(30, 4))
    with pytest.raises(js.InputError, match="needs X of three columns; got 4"):
        js.JointSetMixture(1, shape="auto").fit(rows)
    with pytest.raises(js.InputError, match="shape of JointSetMixture must be"):
        js.JointSetMixture(1, shape="square").fit(ROWS)
    plain = js.JointSetMixture(1).fit(rows)
    assert plain.rock_ is None
    with pytest.raises(js.InputError, match="tested in three columns; the model has 4"):
        js.fit.elliptical_test(plain)
