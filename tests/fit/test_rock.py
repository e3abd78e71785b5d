"""The rock: what the criterion takes, rates, draws and the record of drawn rocks."""

from __future__ import annotations

import json

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.rock import ReadAlike, Rock, RockSet
from jointstats.fit.rocks import NamedRock, Rocks
from jointstats.sphere.axes import frame_about
from jointstats.sphere.set_shapes import (
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
    RoundDensity,
)

FRAME = frame_about(js.poles_from_dip(40, 120)[0])[[2, 0, 1]]
SETS = (
    RockSet(RoundDensity(FRAME, 40.0), 2.0),
    RockSet(EllipticalDensity(FRAME[[1, 2, 0]], 30.0, 8.0), 1.0),
    RockSet(GirdleDensity(FRAME, 20.0, 3.0), 0.5),
)
ROCK = Rock(SETS, 0.1)
ROWS = np.random.default_rng(0).normal(size=(9, 3))
ROWS /= np.linalg.norm(ROWS, axis=1, keepdims=True)


def test_parameters_are_counted() -> None:
    """Four of a round set, six of an elliptical one or a girdle, one of a background."""
    log = np.log(50.0)
    assert ROCK.penalty(50) == pytest.approx((4 + 6 + 6 + 1) * log)
    assert Rock(SETS[:1], 0.0).penalty(50) == pytest.approx(4 * log)
    heavy = RockSet(HeavyTailedDensity(FRAME, 40.0, 8.0), 1.0)
    assert Rock((heavy,), 0.0).penalty(50) == pytest.approx(4 * log + 3.5)
    assert ROCK.penalty(0.5) == 0.0
    assert (ROCK.has_tails, Rock((heavy,), 0.0).has_tails) == (False, True)
    assert (ROCK.all_round, ROCK.take([0]).all_round) == (False, True)


def test_rates_are_densities_times_intensities() -> None:
    """log λ f; −inf where a row is shut out; as read, the density spread by the error."""
    plain = ROCK.log_rates(ROWS)
    for k, (density, p32) in enumerate(SETS):
        np.testing.assert_allclose(plain[:, k], density.log_density(ROWS) + np.log(p32))
    np.testing.assert_allclose(plain[:, -1], np.log(0.1 / (2 * np.pi)))
    closed = np.zeros((9, 2), bool)
    closed[3, 1] = True
    shut = ROCK.log_rates(ROWS, closed)
    assert np.isneginf(shut[3, 1]) and np.isfinite(shut).sum() == 35
    read = (ReadAlike(np.arange(4), 0.0), ReadAlike(np.arange(4, 9), 0.02))
    spread = ROCK.log_rates(ROWS, None, read)
    np.testing.assert_allclose(spread[:4], plain[:4])
    wider = SETS[0].density.read_with(0.02)
    np.testing.assert_allclose(spread[4:, 0], wider.log_density(ROWS[4:]) + np.log(2.0))
    assert np.abs(spread[4:, :3] - plain[4:, :3]).min() > 1e-6
    assert ROCK.read_with(np.full(3, 0.02)).densities[0].concentration == wider.concentration


def test_changes_of_a_rock() -> None:
    """One set replaced, joined or taken; intensities stay unless another is given."""
    other = RoundDensity(FRAME, 9.0)
    assert ROCK.replaced(1, other).intensities.tolist() == [2.0, 1.0, 0.5]
    assert ROCK.replaced(1, other, 7.0).intensities.tolist() == [2.0, 7.0, 0.5]
    assert ROCK.take([2, 0]).shapes == ("girdle", "round")
    assert ROCK.joined(other, 3.0).intensities.tolist() == [2.0, 1.0, 0.5, 3.0]
    assert ROCK.with_background(0.05).background_per_m == 0.1
    assert ROCK.with_background(0.3).background_per_m == 0.3
    assert np.isnan(ROCK.means[2]).all() and np.isnan(ROCK.kappas[2])
    np.testing.assert_allclose(ROCK.kappas[:2], [40.0, 30.0])
    for bad in (-0.1, np.inf, np.nan):
        with pytest.raises(js.InputError, match="finite and not negative"):
            Rock(SETS, bad)


def test_draws_are_shared_out_by_intensity() -> None:
    """Each component by its share, its poles of its own density, on the lower hemisphere."""
    poles, labels = ROCK.sample(4000, np.random.default_rng(1))
    found = np.bincount(labels + 1, minlength=4) / 4000
    np.testing.assert_allclose(found, np.array([0.1, 2.0, 1.0, 0.5]) / 3.6, atol=0.025)
    assert (poles[:, 2] <= 0).all()
    np.testing.assert_allclose(np.linalg.norm(poles, axis=1), 1.0)
    along = np.abs(poles[labels == 0] @ FRAME[0])
    assert along.mean() == pytest.approx(1 / np.tanh(40) - 1 / 40, abs=2e-3)
    assert np.abs(poles[labels == -1] @ FRAME[0]).mean() == pytest.approx(0.5, abs=0.1)


def test_rocks_come_back_from_their_record() -> None:
    """Plain types to JSON and back; what does not fit is refused."""
    centre = NamedRock(SETS, 0.1, ("J1", "J2", "other 1"))
    drawn = NamedRock(SETS[:2], 0.2, ("J2", "J1"))
    rocks = Rocks((drawn, centre), centre, 0.9)
    record = json.loads(json.dumps(rocks.to_record()))
    again = Rocks.of_record(record, 0.9)
    assert (len(again), again.confidence, again.centre.names) == (2, 0.9, centre.names)
    for one, other in zip((again.centre, *again), (centre, drawn, centre), strict=True):
        assert one.background_per_m == other.background_per_m
        assert one.shapes == other.shapes
        np.testing.assert_array_equal(one.intensities, other.intensities)
        for a, b in zip(one.densities, other.densities, strict=True):
            np.testing.assert_allclose(a.frame, b.frame, atol=1e-12)
            assert a.numbers == b.numbers
    rough = json.loads(json.dumps(record))
    rough["centre"][0][5] += 1e-3
    frame = Rocks.of_record(rough, 0.9).centre.densities[0].frame
    assert abs(frame[0] @ frame[1]) < 1e-5
    assert centre.find("J2") is SETS[1] and centre.find("J3") is None
    assert repr(rocks) == "Rocks(2 drawn, sets J1, J2, other 1)"
    assert rocks[1] is centre and rocks[:1] == (drawn,)
    for key, value, match in (
        ("columns", ["set"], "columns of rocks"),
        ("drawn_background_per_m", [0.1], "one background"),
        ("centre", [["J1", "square", *range(9)]], "a set of a rock has"),
        ("centre", [["J1", "round"]], "a set of a rock has"),
    ):
        with pytest.raises(js.InputError, match=match):
            Rocks.of_record({**record, key: value}, 0.9)


def test_a_rock_is_judged_by_the_fractures_of_its_data() -> None:
    """Weights count as fractures."""
    assert FitData(ROWS, np.full(9, 2.0)).total == 18.0
