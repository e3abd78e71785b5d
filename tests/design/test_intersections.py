"""Lines in which planes and sets meet: printed values, brute force, and turning."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.rocks import NamedRock
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity, RoundDensity
from tests.references import PLANE_INTERSECTIONS

PAIRS = [((36, 266), (59, 146)), ((50, 130), (30, 250))]  # dip, dip direction, as printed


class Set(NamedTuple):
    """A set with a name."""

    name: str
    density: SetDensity


def _set(name: str, dip: float, direction: float, kappa: float = 40.0) -> Set:
    return Set(name, RoundDensity.about(js.poles_from_dip(dip, direction)[0], kappa))


def _lines(a: Set, b: Set, **draws: int) -> js.design.IntersectionLines:
    rock = NamedRock((RockSet(a.density, 1.0), RockSet(b.density, 1.0)), 0.0, (a.name, b.name))
    return js.design.intersection_lines(rock, a.name, b.name, **draws)


@pytest.mark.parametrize(("pair", "printed"), list(zip(PAIRS, PLANE_INTERSECTIONS, strict=True)))
def test_printed_intersections(pair: tuple, printed: object) -> None:
    """Two planes, and two tight sets of those means, meet in the line printed in the textbook."""
    a, b = _set("A", *pair[0], kappa=1e8), _set("B", *pair[1], kappa=1e8)
    found = _lines(a, b, n=50, random_state=0)
    assert abs(found.trend_deg - printed.value[0]) <= printed.tolerance
    assert abs(found.plunge_deg - printed.value[1]) <= printed.tolerance
    assert abs(found.principal_trend_deg - printed.value[0]) <= printed.tolerance
    assert found.half_angle_95_deg < 0.1


def test_lines_lie_in_both_planes() -> None:
    """Every line is square to both poles, whichever end of a pole is given."""
    rng = np.random.default_rng(0)
    a, b = rng.normal(size=(2, 100, 3))
    lines = js.design.intersections_of_planes(a, b)
    assert np.abs((lines * a).sum(axis=1)).max() < 1e-12
    assert np.abs((lines * b).sum(axis=1)).max() < 1e-12
    np.testing.assert_allclose(js.design.intersections_of_planes(-a, b), lines)
    assert (lines[:, 2] <= 0).all()


def test_scatter_agrees_with_brute_force() -> None:
    """The cones hold the shares they claim of lines drawn and crossed one by one."""
    a, b = _set("A", 62, 135), _set("B", 78, 20, 25.0)
    found = _lines(a, b, n=4000, random_state=1)
    first = js.sphere.AxialFisher(a.density.mean, a.density.kappa).rvs(4000, 2)
    second = js.sphere.AxialFisher(b.density.mean, b.density.kappa).rvs(4000, 3)
    lines = np.array([np.cross(m, n) for m, n in zip(first, second, strict=True)])
    mean = js.lines_from_trend(found.trend_deg, found.plunge_deg)
    angles = js.axis_angles_deg(lines, mean)
    assert np.mean(angles < found.half_angle_50_deg) == pytest.approx(0.5, abs=0.035)
    assert np.mean(angles < found.half_angle_95_deg) == pytest.approx(0.95, abs=0.016)


def test_an_elliptical_set_scatters_the_line_by_its_long_axis() -> None:
    """Poles that scatter toward the line of the planes tilt it; scatter about the line does not."""
    level, north = _set("A", 0, 0, 1e6), np.array([0.0, 1.0, 0.0])
    wall = np.array([1.0, 0.0, 0.0])  # a wall that strikes north meets the level plane along north
    shares = {}
    for name, q in (("along", north), ("across", np.array([0.0, 0.0, 1.0]))):
        frame = np.array([wall, q, np.cross(wall, q)])
        one = Set(name, EllipticalDensity(frame, 60.0, 25.0))
        found = _lines(level, one, n=4000, random_state=1)
        poles = one.density.sample(20000, 4)
        # Level planes meet any other along its strike: square to its pole's east and north parts.
        turned = np.degrees(np.arctan2(np.abs(poles[:, 1]), np.abs(poles[:, 0])))
        assert np.mean(turned < found.half_angle_50_deg) == pytest.approx(0.5, abs=0.035)
        assert np.mean(turned < found.half_angle_95_deg) == pytest.approx(0.95, abs=0.016)
        shares[name] = found.half_angle_95_deg
    assert shares["along"] > 2 * shares["across"]


def test_a_girdle_has_no_mean_plane() -> None:
    """A girdle is refused by name, first or second, for it has no mean plane."""
    one = _set("J1", 62, 135)
    fold = Set("J2", GirdleDensity(np.eye(3), 30.0, 5.0))
    for pair in ((fold, one), (one, fold)):
        with pytest.raises(InputError, match="J2 is a girdle: it has no mean plane"):
            _lines(*pair)


def test_small_angles_between_planes_scatter_the_line() -> None:
    """Planes that lie nearer each other have a line that scatters more along a great circle."""
    cross = _lines(_set("A", 90, 0), _set("B", 90, 90), n=2000, random_state=0)
    near = _lines(_set("A", 60, 0), _set("B", 60, 25), n=2000, random_state=0)
    assert near.planes_angle_deg < 25
    assert cross.planes_angle_deg == pytest.approx(90.0)
    assert near.half_angle_95_deg > 1.5 * cross.half_angle_95_deg
    assert near.eigenvalues[1] > 2 * near.eigenvalues[2]


def test_the_lines_of_a_result_say_how_far_they_move() -> None:
    """The cone of the line holds the lines of the mean planes of nine tenths of other drawn rocks."""
    result = js.analyse(js.simulate_site(random_state=1), domains="none")
    found = js.design.intersection_lines(result, "J1", "J2", n=500, random_state=0)
    line = js.lines_from_trend(found.trend_deg, found.plunge_deg)
    means = [[one.find(name).density.mean for name in ("J1", "J2")] for one in result.draws(400, 9)]
    lines = np.array([np.cross(a, b) for a, b in means])
    inside = js.axis_angles_deg(lines, line[0]) < found.line_cone_deg
    assert inside.mean() == pytest.approx(0.95, abs=0.04)
    low, high = found.half_angle_95_interval
    assert low < found.half_angle_95_deg < high
    plain = js.design.intersection_lines(result.rock, 0, 1, n=500, random_state=0)
    assert plain.line_cone_deg is None and plain.trend_deg == pytest.approx(found.trend_deg)


def test_turning_the_sets_turns_the_line() -> None:
    """Turned about the vertical, or with poles flipped, the line turns with the sets."""
    a, b = _set("A", 62, 135), _set("B", 78, 20)
    plain = _lines(a, b, n=500, random_state=0)
    turn = rotation_about([0, 0, 1.0], np.radians(-30.0))  # clockwise from above
    turned = [
        Set(one.name, RoundDensity.about(-turn @ one.density.mean, 40.0))
        for one in (a, b)
    ]
    found = _lines(*turned, n=500, random_state=0)
    assert found.trend_deg == pytest.approx((plain.trend_deg + 30) % 360)
    assert found.plunge_deg == pytest.approx(plain.plunge_deg)
    # The draws themselves differ, so their scatter agrees only within its sampling error.
    assert found.half_angle_50_deg == pytest.approx(plain.half_angle_50_deg, rel=0.15)


def test_the_result_has_a_frame_and_a_repr() -> None:
    """One row of figures under plain names; the repr says the line and its scatter; seeded."""
    a, b = _set("J1", 62, 135), _set("J2", 78, 20)
    found = _lines(a, b, n=100, random_state=0)
    row = found.to_frame().iloc[0]
    assert (row["set_a"], row["set_b"], row["n"]) == ("J1", "J2", 100)
    assert row["trend_deg"] == found.trend_deg
    assert repr(found).startswith("IntersectionLines(J1 x J2: trend ")
    np.testing.assert_array_equal(
        found.lines, _lines(a, b, n=100, random_state=0).lines
    )


def test_lines_that_do_not_exist_are_refused() -> None:
    """Parallel planes, a set against itself, uneven rows, and no draws are named errors."""
    a, b = _set("J1", 62, 135), _set("J2", 78, 20)
    first, second = a.density.mean, b.density.mean
    with pytest.raises(InputError, match="mean planes of J1 and J1 are parallel"):
        _lines(a, a)
    with pytest.raises(InputError, match="row 1 are parallel"):
        js.design.intersections_of_planes([first, second], [second, -second])
    with pytest.raises(InputError, match="got 2 and 3"):
        js.design.intersections_of_planes(np.eye(3)[:2], np.eye(3))
    with pytest.raises(InputError, match="n must be 1 or more; got 0"):
        _lines(a, b, n=0)
    with pytest.raises(InputError, match="no set 2; the sets are set 0, set 1"):
        js.design.intersection_lines(Rock.of_round(np.eye(3)[:2], [9, 9], [1, 1]), 0, 2)
