"""Figures of a result with their intervals."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import NamedRock

RESULT = js.analyse(js.simulate_site(random_state=1), domains="none")
ROCKS = RESULT.draws(60, 1)
LINES = js.lines_from_trend([0, 90], [0, 40])
FIGURES = {
    "frequency_along": (js.design.frequency_along, (LINES,)),
    "spacing_along": (js.design.spacing_along, (LINES,)),
    "rqd_along": (js.design.rqd_along, (LINES,)),
    "trace_intensity_on_face": (js.design.trace_intensity_on_face, (LINES,)),
    "intensity": (js.design.intensity, ()),
}


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_of_a_result_is_that_of_its_rocks(name: str) -> None:
    """The estimate is the figure of the rock as estimated, the interval that of the drawn rocks."""
    figure, arguments = FIGURES[name]
    found = figure(ROCKS, *arguments)
    np.testing.assert_allclose(found.estimate, figure(RESULT.rock, *arguments))
    each = np.array([figure(rock, *arguments) for rock in ROCKS])
    np.testing.assert_array_equal(found.draws, each)
    np.testing.assert_allclose(found.interval, np.quantile(each, [0.025, 0.975], axis=0))
    assert (found.low < found.estimate).all() and (found.estimate < found.high).all()


def test_a_result_is_asked_through_four_hundred_rocks() -> None:
    """A result itself may be given; the interval of its P32 agrees with that of the set."""
    found = js.design.intensity(RESULT, of="J2")
    assert found.draws.shape == (400,) and found.defined_share == 1.0
    np.testing.assert_allclose(found.interval, RESULT.sets[1].p32_interval, rtol=0.2)
    assert repr(found).startswith("Estimate(") and len(found.to_frame()) == 1


def test_spacing_is_the_reciprocal_of_frequency_set_by_set() -> None:
    """For one set or all, spacing times frequency is one; sets and random fractures add up."""
    rock = ROCKS.centre
    whole = js.design.frequency_along(rock, LINES)
    parts = [js.design.frequency_along(rock, LINES, of=name) for name in rock.names]
    np.testing.assert_allclose(whole, np.sum(parts, axis=0) + 0.5 * rock.background_per_m)
    np.testing.assert_allclose(js.design.spacing_along(rock, LINES, of="J1") * parts[0], 1.0)


def test_extremes_and_blocks_of_a_result_have_intervals() -> None:
    """Frequency extremes, mean blocks and volumes at random points lie within their intervals."""
    found = js.design.frequency_extremes(ROCKS, n_grid=200)
    low, high = found.largest_interval
    assert low < found.largest_per_m < high
    assert found.to_frame()["frequency_low_per_m"].notna().all()
    mean = js.design.mean_block_volume(ROCKS, n_triples=300)
    assert mean.low < mean.estimate < mean.high
    blocks = js.design.simulate_blocks(RESULT.draws(20, 1), 40, random_state=2)
    table = blocks.to_frame()
    assert (table["volume_low_m3_by_volume"] < table["volume_high_m3_by_volume"]).all()


def test_rocks_that_lack_a_set_are_left_out() -> None:
    """A set that some rocks lack has its figure of the others, and says how many there are."""
    lone = Rock.of_round([[0, 0, -1]], [40.0], [2.0]).sets
    drawn = [NamedRock(lone, 0.0, ("J1" if k < 30 else "other 1",)) for k in range(40)]
    rocks = js.fit.Rocks(tuple(drawn), drawn[0], 0.9)
    found = js.design.intensity(rocks, of="J1")
    assert found.defined_share == 0.75 and found.low == found.high == 2.0
    with pytest.raises(js.InputError, match="only 0 of 40 rocks have this figure"):
        js.design.intensity(rocks, of="J9")


def test_what_is_no_rock_is_refused() -> None:
    """A table, too few rocks, and a set by name in a rock without names are named errors."""
    with pytest.raises(js.InputError, match="takes a rock, a result of analyse"):
        js.design.frequency_along(RESULT.to_frame(), LINES)
    with pytest.raises(js.InputError, match="needs 20 rocks or more; got 10"):
        js.design.intensity(RESULT.draws(10))
    with pytest.raises(js.InputError, match="no names"):
        js.design.intensity(RESULT.rock, of="J1")
