"""Changes of a description: what each makes of a rock, by hand; and the bookkeeping of trials."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.descriptions import (
    Descriptions,
    _girdles,
    _may_be_round,
    _merged,
    _of_moments,
    _split,
    _tails,
    as_elliptical,
    as_heavy_tailed,
    changes,
    describe,
    key_of,
)
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.shaped import ShapedFit
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity

FRAME = np.eye(3)[[2, 0, 1]]
LONG = EllipticalDensity(FRAME, 40.0, 16.0)  # ratio √(72 / 8) = 3
GIRDLE = GirdleDensity(FRAME, 25.0, 4.0)
DATA = FitData(np.repeat(np.eye(3), 10, axis=0), np.ones(30))


def _at(angle_deg: float) -> np.ndarray:
    angle = np.radians(angle_deg)
    return np.array([np.cos(angle), np.sin(angle), 0.0])


def _round(*angles_deg: float, p32: float = 1.0) -> Rock:
    sets = [RockSet(RoundDensity.about(_at(one), 30.0), p32) for one in angles_deg]
    return Rock(tuple(sets), 0.1)


def _fit(rock: Rock, counts: list[float], likelihood: float = 0.0) -> ShapedFit:
    return ShapedFit(rock, likelihood, np.array(counts), 1, True)


def test_starts_of_other_shapes() -> None:
    """Tails and ellipticity start at shares of the concentration; more of it is kept."""
    assert as_elliptical(RoundDensity(FRAME, 40.0)).ellipticity == pytest.approx(6.0)
    assert as_elliptical(LONG).ellipticity == 16.0
    assert as_elliptical(as_heavy_tailed(LONG)).ellipticity == pytest.approx(6.0)
    assert as_heavy_tailed(LONG).ellipticity == pytest.approx(8.0)
    assert key_of(_round(0, 90).joined(LONG, 1.0)) == "err"
    assert key_of(_round()) == "-"


def test_moments_give_an_elliptical_set_of_their_variances() -> None:
    """Variances 1/(κ − 2e) along and 1/(κ + 2e) across, each axis in its place."""
    second = FRAME.T @ np.diag([1 - 1 / 20 - 1 / 50, 1 / 20, 1 / 50]) @ FRAME
    found = _of_moments(second, (4.0, 1000.0))
    assert found.concentration == pytest.approx(35.0)
    assert found.ellipticity == pytest.approx(7.5)
    np.testing.assert_allclose(np.abs(found.frame), np.abs(FRAME), atol=1e-9)
    assert np.linalg.det(found.frame) == pytest.approx(1.0)
    # κ within its bounds, and e short of the limit κ / 2.
    assert _of_moments(second, (4.0, 30.0)).concentration == 30.0
    far = FRAME.T @ np.diag([0.5, 0.499, 0.001]) @ FRAME
    found = _of_moments(far, (4.0, 1000.0))
    assert found.concentration == pytest.approx(0.5 * (1000 + 1 / 0.499))
    assert found.ellipticity == pytest.approx(min(0.25 * (1000 - 1 / 0.499), 0.45 * found.concentration))


def test_a_long_set_is_split_along_its_axis() -> None:
    """Two round halves one standard deviation off either way, as tight as the set is across."""
    (two,) = _split(Rock((RockSet(LONG, 2.0), *_round(0).sets), 0.1), 0)
    away = 1 / np.sqrt(40 - 32)
    ends = [np.cos(away) * FRAME[0] + s * np.sin(away) * FRAME[1] for s in (1, -1)]
    assert len(two.sets) == 3
    np.testing.assert_allclose([two.densities[k].frame[0] @ ends[k - 1] for k in (1, 2)], 1.0)
    np.testing.assert_allclose(two.intensities, [1.0, 1.0, 1.0])
    np.testing.assert_allclose(two.kappas[1:], 72.0)
    wide = EllipticalDensity(FRAME, 10.0, 4.9)
    (two,) = _split(Rock((RockSet(wide, 1.0),), 0.1), 0)
    assert two.densities[0].frame[0] @ FRAME[0] == pytest.approx(np.cos(0.6))
    np.testing.assert_allclose(two.kappas, 19.8)
    assert not list(_split(Rock((RockSet(EllipticalDensity(FRAME, 40.0, 7.0), 1.0),), 0.1), 0))
    assert not list(_split(_round(0), 0))
    (long,) = _split(Rock((RockSet(GIRDLE, 2.0),), 0.1), 0)
    assert (long.densities[0].concentration, long.densities[0].ellipticity) == (12.0, 4.0)
    # The middle of the belt is the mean, the belt its long axis, the fold axis its short one.
    np.testing.assert_allclose(np.abs(long.densities[0].frame @ FRAME[[1, 2, 0]].T), np.eye(3), atol=1e-9)


def test_sets_along_a_great_circle_are_one_girdle() -> None:
    """Three on one circle, and no fewer unless one is long; the axis square to them."""
    (one,) = _girdles(_round(0, 50, 100), range(3))
    assert one.shapes == ("girdle",) and one.intensities.tolist() == [3.0]
    np.testing.assert_allclose(np.abs(one.densities[0].frame[0]), [0, 0, 1], atol=1e-9)
    assert (one.densities[0].concentration, one.densities[0].ellipticity) == (25.0, 4.0)
    assert not list(_girdles(_round(0, 50), range(2)))
    assert not list(_girdles(_round(0, 50, 100), range(1, 3)))  # the first was given
    # The heaviest of the sets, brought square to the axis, is the middle of the belt.
    up = np.array([np.cos(0.2) * _at(50)[0], np.cos(0.2) * _at(50)[1], np.sin(0.2)])
    heavy = _round(0, 50, 100).replaced(1, RoundDensity.about(up, 30.0), 5.0)
    belt = next(r for r in _girdles(heavy, range(3)) if len(r.sets) == 1).densities[0].frame
    np.testing.assert_allclose(belt @ belt.T, np.eye(3), atol=1e-9)
    assert abs(belt[1] @ up) > 0.97
    # The long set runs from up to east: another set 19° off that circle is of it, one 21° off is not.
    for off, number in ((19.0, 1), (21.0, 2)):
        beside = RoundDensity.about(_at(off), 30.0)
        found = list(_girdles(Rock((RockSet(LONG, 2.0), RockSet(beside, 1.0)), 0.1), range(2)))
        assert len(found) == number and len(found[0].sets) == number
    alone = Rock((RockSet(LONG, 2.0),), 0.1)
    (one,) = _girdles(alone, range(1))
    np.testing.assert_allclose(np.abs(one.densities[0].frame @ FRAME[[2, 0, 1]].T), np.eye(3), atol=1e-9)
    assert not list(_girdles(Rock((RockSet(EllipticalDensity(FRAME, 40.0, 11.9), 2.0),), 0.1), range(1)))


def test_neighbours_are_merged_nearest_first() -> None:
    """One set of both, with the moments of their fractures; not of sets 50° apart and more."""
    rows = np.vstack([np.repeat([_at(0)], 6, axis=0), np.repeat([_at(40)], 3, axis=0), [_at(85)] * 3])
    data = FitData(rows, np.ones(12))
    rock = _round(0, 40, 85)
    found = list(_merged(data, _fit(rock, [6, 3, 3, 0]), range(3)))
    assert [len(one.sets) for one in found] == [2, 2]
    one = found[0]
    np.testing.assert_allclose(one.intensities, [1.0, 2.0])
    np.testing.assert_allclose(one.densities[0].frame[0], rock.densities[2].frame[0])
    # Of six and three the mean lies a third of the way, about.
    toward = np.degrees(np.arctan2(one.densities[1].frame[0] @ _at(90), one.densities[1].frame[0] @ _at(0)))
    assert toward % 180 == pytest.approx(13.0, abs=1.5)
    assert len(list(_merged(data, _fit(_round(0, 51), [6, 6, 0]), range(2)))) == 0
    assert len(list(_merged(data, _fit(_round(0, 49), [6, 6, 0]), range(2)))) == 1


def test_tails_are_given_and_taken() -> None:
    """To round sets, to all, and back; all with one weight."""
    rock = Rock((RockSet(RoundDensity(FRAME, 40.0), 1.0), RockSet(LONG, 1.0)), 0.1)
    assert [one.shapes for one in _tails(rock)] == [
        ("heavy-tailed", "elliptical"), ("heavy-tailed", "heavy-tailed")
    ]  # fmt: skip
    heavy = Rock((RockSet(as_heavy_tailed(LONG), 1.0), RockSet(LONG, 1.0)), 0.1)
    assert [one.shapes for one in _tails(heavy)] == [
        ("heavy-tailed", "heavy-tailed"), ("round", "elliptical")
    ]  # fmt: skip


def test_a_set_is_held_round_by_its_likelihood_ratio() -> None:
    """2 n log ½(r + 1/r) against 12, two more parameters and a little."""
    for density in (LONG, EllipticalDensity(FRAME, 40.0, 5.0)):
        ratio = density.axial_ratio
        assert ratio is not None
        for n in np.arange(1.0, 400.0, 7.0):
            gain = 2 * n * np.log((ratio + 1 / ratio) / 2)
            assert _may_be_round(density, n) == (gain < 18 + 2 * np.log(n + 1))


def test_small_sets_may_be_dropped() -> None:
    """Of fewer than thirty fractures, found and not given, and not the last without a background."""

    def dropped(data: FitData, counts: list[float]) -> int:
        rock = _round(0, 90)
        return sum(len(one.sets) == 1 for one in changes(data, _fit(rock, counts)))

    assert dropped(DATA, [29.9, 30.0, 1.0]) == 1
    assert dropped(DATA, [5.0, 6.0, 1.0]) == 2
    given = RoundSets(_at(0)[np.newaxis], np.array([30.0]), np.ones(1), 0.1)
    assert dropped(FitData(DATA.rows, DATA.weights, given=given), [5.0, 6.0, 1.0]) == 1
    bare, alone = FitData(DATA.rows, DATA.weights, background=False), _fit(_round(0), [9.0, 0.0])
    assert not any(len(one.sets) == 0 for one in changes(bare, alone))
    assert any(len(one.sets) == 0 for one in changes(DATA, alone))


def test_values_and_offers() -> None:
    """BIC, and none where a set is too small; the better of two fits of one kind is kept."""
    found = Descriptions(DATA)
    assert found.value(_fit(_round(0), [5.0, 0.0], 9.0)) == pytest.approx(5 * np.log(30) - 18)
    assert found.value(_fit(_round(0), [4.9, 0.0], 9.0)) == np.inf
    assert found.least_background == pytest.approx(0.05 * 30)
    assert Descriptions(FitData(DATA.rows, DATA.weights, background=False)).least_background == 0.0
    for likelihood, kept in ((1.0, 1.0), (3.0, 3.0), (2.0, 3.0)):
        found.offer(_fit(_round(0), [9.0, 0.0], likelihood))
        assert found.fits["r"].log_likelihood == kept
    found.offer(_fit(_round(0, 90), [9.0, 9.0, 0.0], 90.0))
    assert found.best.log_likelihood == 90.0
    long = Descriptions(DATA, shape="elliptical")
    long.offer(_fit(_round(0), [9.0, 0.0]))
    long.offer(_fit(_round(0).joined(LONG, 1.0), [9.0, 9.0, 0.0]))
    assert not long.fits
    long.offer(_fit(_round(), [30.0]))
    long.offer(_fit(Rock((RockSet(LONG, 1.0),), 0.1), [9.0, 0.0]))
    assert set(long.fits) == {"-", "e"}


def test_a_single_set_asked_to_be_elliptical_is_so() -> None:
    """One round set among evenly sampled poles, described by elliptical sets alone."""
    rows = RoundDensity(FRAME, 40.0).sample(40, 0)
    model = js.JointSetMixture(shape="elliptical", max_sets=2, random_state=0).fit(rows)
    assert model.rock_.shapes == ("elliptical",)
    assert {shape for one in model.others_ for shape in one.rock.shapes} == {"elliptical"}


def test_fewer_sets_than_asked_for_are_elliptical_too() -> None:
    """Poles that are all the same have one set of whatever shape, as they have of round ones."""
    rows = np.repeat([[0.0, 0.0, -1.0]], 9, axis=0)
    for number in (2, 3):
        model = js.JointSetMixture(number, shape="elliptical", random_state=0).fit(rows)
        assert model.rock_.shapes == ("elliptical",)


def test_trials_end_where_they_must() -> None:
    """Other numbers than the one asked for are not tried; a hopeless look is left, and told."""
    number = Descriptions(DATA, n_sets=2)
    assert number.tried(_round(0)) is None and not number.trials
    found = Descriptions(DATA)
    three = Rock.of_round(np.eye(3), [100.0] * 3, [10.0] * 3, 0.1)
    best = found.tried(three)
    assert best is not None and found.trials[-1].verdict == "fitted"
    look = found.trials[-1]
    assert look.bic == pytest.approx(13 * np.log(30) - 2 * look.log_likelihood)
    assert found.tried(three.take([0])) is None
    assert found.trials[-1].verdict == "refused after a first look"
    assert found.trials[-1].smallest_count == pytest.approx(10.0, abs=0.5)
    assert found.tried(three.take([0]), to_the_end=True) is not None
    assert set(found.fits) == {"rrr", "r"}
    describe(found, [found.fits["r"]])  # too far behind the best to be followed
    assert len(found.trials) == 3
    found.trials *= 20
    assert found.spent and found.tried(three) is None
