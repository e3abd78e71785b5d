"""Places for a new set, and the bookkeeping of the search for a number."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.fitting import Fit, first_fit, settle
from jointstats.fit.likelihood import Expectation, RoundSets
from jointstats.fit.search import (
    START_KAPPAS,
    Candidates,
    Start,
    Trial,
    _may_go,
    _Path,
    _with,
    fit_sets,
    grow,
    moved,
    search,
    tried_numbers,
)
from jointstats.sphere.axial_fisher import AxialFisher, sample

HOLES = js.LineExposure(js.lines_from_trend([0, 315], [90, 50]), [60.0, 40.0])
MEANS = js.poles_from_dip([10, 70], [100, 200])
ROWS = np.vstack([sample(one, 60.0, 25, random_state=k) for k, one in enumerate(MEANS)])
WEIGHTS = np.random.default_rng(1).uniform(0.5, 1.5, 50)
DATA = FitData(ROWS, WEIGHTS, HOLES)


@pytest.mark.parametrize("exposure", [None, HOLES], ids=["even", "holes"])
def test_a_place_promises_the_gain_of_its_score(exposure: js.LineExposure | None) -> None:
    """The best place is that of the largest D² / I, its intensity D / I, by a plain double loop."""
    candidates = Candidates(FitData(ROWS, WEIGHTS, exposure), np.random.RandomState(0))
    rate = 0.7 / (2 * np.pi)
    best = (0.0, 0.0, 0.0, 0)
    for kappa in START_KAPPAS:
        for i, place in enumerate(ROWS):
            density = AxialFisher(place, kappa).pdf(ROWS)
            met = 1.0 if exposure is None else exposure.of_set(place, kappa)
            slope = WEIGHTS @ density / rate - met
            information = WEIGHTS @ (density / rate) ** 2
            best = max(best, (slope**2 / information, kappa, slope / information, i))
    logs = np.full((50, 1), np.log(rate))
    found = candidates.best(logs, 2)
    assert found[0].gain == pytest.approx(best[0], rel=1e-4)
    assert found[0].kappa == best[1]
    assert found[0].intensity == pytest.approx(best[2], rel=1e-4)
    np.testing.assert_array_equal(found[0].mean, ROWS[best[3]])
    assert js.axis_angles_deg(found[1].mean, found[0].mean) > 15
    assert found[1].gain <= found[0].gain
    assert len(candidates.best(logs, 1)) == 1
    # Against far too high a rate no place promises anything.
    assert candidates.best(np.full((50, 1), 50.0), 3) == []


def test_candidates_stand_for_all_rows() -> None:
    """Rows of no weight are none; where there are too many the rest carry the whole weight."""
    weights = WEIGHTS.copy()
    weights[:3] = 0.0
    some = Candidates(FitData(ROWS, weights), np.random.RandomState(0))
    np.testing.assert_array_equal(some.rows, ROWS[3:])
    np.testing.assert_allclose(some.weights, weights[3:])
    many = FitData(np.resize(ROWS, (1501, 3)), np.full(1501, 2.0), closed=np.ones((1501, 1), bool))
    part = Candidates(many, np.random.RandomState(0))
    assert len(part.rows) == 1500 and part.closed is not None and len(part.closed) == 1500
    assert part.weights.sum() == pytest.approx(3002.0)


def test_places_lie_fifteen_degrees_apart() -> None:
    """A place 14° from a better one is left out, one 16° away is not."""
    for away, number in ((14.0, 1), (16.0, 2)):
        rows = js.poles_from_dip([0.0, away], [0.0, 0.0])
        candidates = Candidates(FitData(rows, np.array([2.0, 1.0])), np.random.RandomState(0))
        assert len(candidates.best(np.full((2, 1), np.log(1e-3)), 5)) == number


def _fit(counts: list[float], likelihood: float) -> Fit:
    sets = len(counts) - 1
    parameters = RoundSets(np.tile(MEANS[:1], (sets, 1)), np.full(sets, 30.0), np.ones(sets), 0.1)
    found = Expectation(np.array(counts), np.zeros((sets, 3)), 0.0)
    return Fit(parameters, found, likelihood, 1, True)


def test_a_new_set_starts_beside_a_background() -> None:
    """κ within its bounds; an emptied background starts from a twentieth of the fractures."""
    fit, start = _fit([20.0, 30.0], 0.0), Start(MEANS[1], 100.0, 0.5, 3.0)
    sets = _with(FitData(ROWS, WEIGHTS, HOLES, kappa_bounds=(4.0, 60.0)), fit, start)
    np.testing.assert_array_equal(sets.means, MEANS[[0, 1]])
    assert (sets.kappas[1], sets.intensities[1]) == (60.0, 0.5)
    least = 0.05 * WEIGHTS.sum() / HOLES.of_uniform()
    assert least < 0.1 == sets.background
    empty = fit._replace(parameters=fit.parameters._replace(background=0.0))
    assert _with(DATA, empty, start).background == pytest.approx(least)
    even = FitData(ROWS, WEIGHTS)
    assert _with(even, empty, start).background == pytest.approx(0.05 * WEIGHTS.sum())
    assert _with(FitData(ROWS, WEIGHTS, background=False), fit, start).background == 0.0


def test_sets_that_may_go() -> None:
    """Given ones may not, nor the last where there is no background."""
    given = RoundSets(MEANS[:1], np.array([30.0]), np.ones(1), 0.1)
    three = _fit([5.0, 5.0, 5.0, 5.0], 0.0)
    assert _may_go(DATA, three) == [0, 1, 2]
    assert _may_go(FitData(ROWS, WEIGHTS, given=given), three) == [1, 2]
    bare = FitData(ROWS, WEIGHTS, background=False)
    assert _may_go(bare, _fit([5.0, 0.0], 0.0)) == []
    assert _may_go(bare, _fit([5.0, 5.0, 0.0], 0.0)) == [0, 1]


def test_offers_are_taken_for_a_lower_criterion_and_large_sets() -> None:
    """BIC by hand: four parameters a set and one of the background, times log n."""
    data = FitData(ROWS, np.ones(50))
    first = _fit([30.0, 20.0], 100.0)
    path = _Path(data, first, [], {})
    assert path.offer(first)
    assert path.trials[0].bic == pytest.approx(5 * np.log(50) - 200)
    # Four more parameters ask for 2 log 50 = 7.8 of log likelihood.
    assert not path.offer(_fit([15.0, 15.0, 20.0], 107.7))
    assert path.trials[-1].verdict == "refused: the criterion does not gain"
    assert path.behind(_fit([15.0, 15.0, 20.0], 107.7)) == pytest.approx(4 * np.log(50) - 15.4)
    assert not path.offer(_fit([41.0, 4.9, 4.1], 150.0))
    assert path.trials[-1].verdict.startswith("refused: a set of 4.9 fractures")
    assert path.best is first
    assert path.fits[2].log_likelihood == 150.0
    assert path.offer(_fit([25.0, 5.0, 20.0], 107.9))
    assert path.best.log_likelihood == 107.9
    assert path.fits[2].log_likelihood == 150.0
    assert path.trials[-1].shapes == "rr" and path.trials[-1].smallest_count == 5.0
    assert not path.offer(_fit([25.0, 5.0, 20.0], 107.9))


def test_outcomes_of_the_numbers_tried() -> None:
    """The last one taken is chosen, those before were better than fewer, the first is the start."""

    def trial(n: int, bic: float, verdict: str) -> Trial:
        return Trial(n, 0.0, bic, bic, 9.0, verdict)

    trials = [
        trial(0, 50.0, "accepted"),
        trial(1, 20.0, "accepted"),
        trial(2, 22.0, "refused: so"),
        trial(3, 10.0, "accepted"),
        trial(4, 11.5, "refused: so"),
    ]
    found = tried_numbers(trials)
    assert [one.outcome for one in found] == [
        "the start", "better than fewer", "refused: so", "chosen", "refused: so"
    ]  # fmt: skip
    assert [one.bic_above for one in found] == [40.0, 10.0, 12.0, 0.0, 1.5]
    assert tried_numbers([]) == ()


def test_searches_find_the_two_sets_of_the_rows() -> None:
    """Grown one at a time, moved from a wrong place, and by number."""
    data = FitData(ROWS, np.ones(50), HOLES)
    fit, trials, by_number = search(data, 4, np.random.RandomState(0))
    assert len(fit.parameters.kappas) == 2
    assert trials[0].n_sets == 0 and set(by_number) >= {0, 1, 2}
    away = np.abs(fit.parameters.means @ MEANS.T).max(axis=0)
    assert (np.degrees(np.arccos(away)) < 5).all()
    one = fit_sets(data, 1, np.random.RandomState(0))
    assert len(one.parameters.kappas) == 1
    assert len(search(data, 1, np.random.RandomState(0))[0].parameters.kappas) == 1
    bare = FitData(ROWS, np.ones(50), HOLES, background=False)
    assert len(search(bare, 1, np.random.RandomState(0))[0].parameters.kappas) == 1
    candidates = Candidates(data, np.random.RandomState(0))
    # Both sets on one place: the weaker is taken to the other.
    lost = settle(data, RoundSets(MEANS[[0, 0]], np.array([60.0, 200.0]), np.array([0.2, 0.1]), 0.1))
    again = moved(data, lost, candidates)
    assert again.log_likelihood > lost.log_likelihood + 5
    assert again.log_likelihood == pytest.approx(fit.log_likelihood, abs=0.05)
    grown = grow(data, first_fit(data), candidates)
    assert grown is not None and grown.log_likelihood == pytest.approx(one.log_likelihood, abs=0.05)
