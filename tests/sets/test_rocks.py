"""Rocks from the posterior: what they hold, and whether intervals made of them are right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.borehole.settings import ReadingErrors
from jointstats.fit.odds import Reading
from jointstats.fit.rocks import NamedRock

SITE1 = js.analyse(js.simulate_site(random_state=1), domains="none")


def test_drawn_p32_and_means_fill_their_intervals() -> None:
    """Quantiles of P32 and of the means over drawn rocks are near the intervals of the sets."""
    rocks = SITE1.draws(4000, 3)
    for one in SITE1.sets:
        p32 = np.array([rock.find(one.name).p32_per_m for rock in rocks])
        # The interval is never narrower than that of even rock.
        np.testing.assert_allclose(np.quantile(p32, [0.025, 0.975]), one.p32_interval, rtol=0.06)
        axes = np.array([rock.find(one.name).density.mean for rock in rocks])
        away = js.axis_angles_deg(axes, one.mean)
        assert np.mean(away < one.cone_deg) == pytest.approx(0.95, abs=0.02)
    random = np.quantile([rock.background_per_m for rock in rocks], [0.025, 0.975])
    np.testing.assert_allclose(random, SITE1.background_interval, rtol=0.1)


def test_rocks_are_repeatable_and_a_sequence() -> None:
    """The same seed gives the same rocks, in slices too; what is out of range is refused."""
    first, again = SITE1.draws(5, 2), SITE1.draws(5, 2)
    assert [one.background_per_m for one in first] == [one.background_per_m for one in again]
    assert first[0] is first.drawn[0] and first[1:3] == first.drawn[1:3]
    assert isinstance(first.centre, NamedRock) and first.centre.names == ("J1", "J2", "J3")
    np.testing.assert_allclose(first.centre.intensities, SITE1.rock.intensities)
    with pytest.raises(js.InputError, match="n_rocks"):
        SITE1.draws(0)


def test_a_large_set_moves_by_its_covariance() -> None:
    """A set of many fractures, which has no posterior, has draws that fill its plain intervals."""
    holes = [(0.0, 90.0, 700.0), (90.0, 50.0, 700.0)]
    result = js.analyse(
        js.simulate_site([(50.0, 120.0, 30.0, 1.5)], holes, random_state=5), domains="none"
    )
    one = result.sets[0]
    assert one.posterior is None
    drawn = [rock.find("J1") for rock in result.draws(3000, 1)]
    away = js.axis_angles_deg(np.array([s.density.mean for s in drawn]), one.mean)
    assert np.mean(away < one.cone_deg) == pytest.approx(0.95, abs=0.02)
    kappas = np.quantile([s.density.kappa for s in drawn], [0.025, 0.975])
    np.testing.assert_allclose(kappas, one.kappa_interval, rtol=0.02)


def test_readings_are_drawn_as_often_as_they_are_probable() -> None:
    """A second reading has its share of the rocks, with the names of the sets that it shares."""
    fewer = next(fit for fit in SITE1.mixture.others_ if fit.rock.shapes == ("round", "round"))
    readings = (
        Reading(SITE1.rock, 0.7, 0.0),
        Reading(fewer.rock.plain(), 0.3, 0.0),
    )
    rocks = replace(SITE1, readings=readings).draws(1000, 1)
    two = [rock for rock in rocks if len(rock.sets) == 2]
    assert len(two) / 1000 == pytest.approx(0.3, abs=0.05)
    assert {"J1", "J2", "J3"} > set(two[0].names) - {"other 1", "other 2"}
    lacking = next(name for name in ("J1", "J2", "J3") if name not in two[0].names)
    assert two[0].find(lacking) is None


def test_kappa_is_that_of_the_rock() -> None:
    """Read with stated errors, sets have the κ of the rock in drawn rocks, not that of readings."""
    site = js.simulate_site(
        [(60.0, 135.0, 60.0, 1.5), (70.0, 20.0, 60.0, 1.5)],
        [(0.0, 90.0, 200.0), (90.0, 50.0, 200.0)],
        random_state=3,
    )
    rng, table = np.random.default_rng(7), site.fractures
    read = table.assign(
        dip_deg=np.clip(table["dip_deg"] + rng.normal(0, 5.0, len(table)), 0.0, 90.0),
        dip_direction_deg=(table["dip_direction_deg"] + rng.normal(0, 6.0, len(table))) % 360.0,
    )
    errors = ReadingErrors(dip_deg=5.0, dip_direction_deg=6.0)
    settings = replace(site.settings, errors=errors)
    result = js.analyse(
        replace(site, fractures=read, settings=settings), 2, shape="round", domains="none"
    )
    for one in result.sets:
        drawn = [rock.find(one.name) for rock in result.draws(300, 1)]
        low, high = np.quantile([s.density.kappa for s in drawn], [0.005, 0.995])
        assert one.kappa < low < 60.0 < high


def test_given_sets_keep_to_one_reading() -> None:
    """With a given set every rock has the sets of the first reading."""
    result = js.analyse(
        js.simulate_site(random_state=1), given=[js.GivenSet(62, 135, name="bedding", hold=True)],
        domains="none",
    )
    rocks = result.draws(50)
    assert {rock.names for rock in rocks} == {tuple(one.name for one in result.sets)}
    held = np.array([rock.find("bedding").density.mean for rock in rocks])
    assert js.axis_angles_deg(held, js.poles_from_dip(62, 135)[0]).max() < 1e-6


def test_intervals_of_a_sliding_share_hold_the_truth() -> None:
    """Of 16 investigations, 90 % intervals of the share of one set that can slide hold the true share
    in 12 or more."""
    sets = [(45.0, 150.0, 25.0, 1.2), (75.0, 260.0, 30.0, 0.9)]
    mean = js.poles_from_dip(45.0, 150.0)[0]
    truth = _slides(js.sphere.RoundDensity.about(mean, 25.0))
    held = 0
    for seed in range(16):
        site = js.simulate_site(sets, [(0, 90, 40), (90, 50, 40)], random_state=500 + seed)
        result = js.analyse(site, 2, shape="round", domains="none")
        near = min(result.sets, key=lambda one: js.axis_angles_deg(one.mean, mean)[0])

        def share(rock: NamedRock, name: str = near.name) -> float | None:
            found = rock.find(name)
            return None if found is None else _slides(found.density)

        found = js.design.estimate(share, result, n_rocks=60, confidence=0.9)
        held += bool(found.low <= truth <= found.high)
    # 14.4 expected; 11 or fewer has probability 0.02.
    assert held >= 12


def _slides(density: js.sphere.SetDensity) -> float:
    """Share of planes steeper than 40° that dip within 20° of 150."""
    dip, direction = js.dip_from_poles(density.sample(1000, 1))
    return float(np.mean((dip > 40) & (np.abs(direction - 150) < 20)))
