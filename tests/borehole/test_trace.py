"""Planes from traces on the wall: one geometry for every reading, errors that hold, and flags."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.wall import fit_wall, normal_and_error
from jointstats.errors import InputError
from tests.references import WALL_TRACE_DIP

HOLES = {
    "vertical": (0, 90, ("north",)),
    "nearly vertical": (200, 84, ("north", "low side", "high side")),
    "inclined": (136, 55, ("low side", "high side")),
    "horizontal": (250, 0, ("low side", "high side")),
    "upward": (40, -65, ("low side", "high side")),
    "straight up": (0, -90, ("north",)),
}
TOWARD = {"low side": [0, 0, -1.0], "high side": [0, 0, 1.0], "north": [0, 1.0, 0]}


def wall_trace(
    pole: np.ndarray, hole: np.ndarray, reference: str, angle_deg: np.ndarray, radius_m: float
) -> np.ndarray:
    """Depths at which a plane through the axis at 20 m meets lines along the wall.

    Each line of the wall is set out in space and cut with the plane: no formula for traces.
    """
    radial = np.array(TOWARD[reference])
    radial = radial - (radial @ hole) * hole
    radial /= np.linalg.norm(radial)
    quarter = np.cross(hole, radial)
    turn = np.radians(angle_deg)[:, None]
    feet = radius_m * (np.cos(turn) * radial + np.sin(turn) * quarter)
    return 20.0 - (feet @ pole) / (hole @ pole)


@pytest.mark.parametrize("name", HOLES)
def test_all_readings_of_one_plane_agree(name: str) -> None:
    """α/β, wall dip and azimuth, and traces of the same planes give the same poles to 1e-9."""
    trend, plunge, references = HOLES[name]
    hole = js.lines_from_trend(trend, plunge)[0]
    rng = np.random.default_rng(11)
    poles = js.poles_from_dip(rng.uniform(0, 90, 40), rng.uniform(0, 360, 40))
    poles = poles[np.abs(poles @ hole) > 0.1]
    angle = np.arange(0, 360, 15.0)
    for reference in references:
        rows, points, planes = [], [], []
        for k, pole in enumerate(poles):
            depth = wall_trace(pole, hole, reference, angle, 0.05)
            plane = js.orient_trace(angle, depth, 100, trend, plunge, reference)
            planes.append(plane.pole)
            alpha, beta = plane.alpha_deg, plane.beta_deg
            rows += [
                {"alpha_deg": alpha, "beta_deg": beta},
                {"image_dip_deg": 90 - alpha, "image_azimuth_deg": beta},
                {"fracture": f"F{k}"},
            ]
            points.append(
                pd.DataFrame(
                    {"hole": "B", "fracture": f"F{k}", "depth_m": depth, "angle_deg": angle}
                )
            )
            core = js.orient_core(alpha, beta, trend, plunge, reference)
            assert np.radians(js.axis_angles_deg(core, pole)[0]) < 1e-9
        assert np.radians(js.axis_angles_deg(planes, poles)).max() < 1e-9
        site = js.Site.from_frames(
            pd.DataFrame(
                {
                    "hole": ["B"],
                    "trend_deg": [trend],
                    "plunge_deg": [plunge],
                    "length_m": [40.0],
                    "diameter_mm": [100.0],
                }
            ),
            pd.DataFrame(rows).assign(hole="B", depth_m=20.0),
            traces=pd.concat(points),
            settings=js.SiteSettings(reference=reference),
        )
        table = js.orient_fractures(site)
        assert set(table["oriented_from"]) == {"alpha and beta", "image dip and azimuth", "trace"}
        found = table[["pole_east", "pole_north", "pole_up"]].to_numpy()
        every = np.repeat(poles, 3, axis=0)
        assert np.radians(js.axis_angles_deg(found, every)).max() < 1e-9


def test_printed_height_and_diameter() -> None:
    """A trace 0.62 ft high in a hole of 3.91 in stands at the printed dip."""
    angle = np.arange(0, 360, 10)
    depth = 0.5 * 0.62 * 0.3048 * np.cos(np.radians(angle - 40))
    plane = js.orient_trace(angle, 5 + depth, 3.91 * 25.4, 0, 90, "north")
    assert plane.dip_deg == pytest.approx(WALL_TRACE_DIP.value, abs=WALL_TRACE_DIP.tolerance)
    assert plane.dip_direction_deg == pytest.approx(40)


@pytest.mark.parametrize(
    ("points", "part_deg", "stated"),
    [(4, 360, 1.0), (7, 360, None), (12, 360, None), (24, 150, None), (24, 360, 1.0)],
)
def test_the_standard_error_is_that_of_simulation(
    points: int, part_deg: float, stated: float | None
) -> None:
    """The stated error equals the root mean square angle found by simulation, within 5 %."""
    rng = np.random.default_rng(points)
    angle = np.arange(points) * part_deg / points
    slope = np.array([1.2, -0.7])
    truth = np.array([-1.2, 0.7, 1.0]) / np.linalg.norm([1.2, 0.7, 1.0])
    turn = np.radians(angle)
    curve = 5 + 0.05 * (slope[0] * np.cos(turn) + slope[1] * np.sin(turn))
    found, told = [], []
    for _ in range(1200):
        depth = curve + rng.normal(0, 0.001, points)
        fit = fit_wall(angle, depth, np.full(points, 50.0), pick_error_mm=stated)
        normal, error = normal_and_error(fit.slope, fit.covariance)
        found.append(np.linalg.norm(np.cross(normal, truth)))
        told.append(error)
    # Twelve hundred draws know the mean square to about 3 %, its root to 1.5 %.
    ratio = np.sqrt(np.mean(np.square(found)) / np.mean(np.square(told)))
    assert ratio == pytest.approx(1.0, abs=0.05)


def test_an_uncertain_diameter_adds_to_the_error() -> None:
    """At 45° to the hole, an error of 2 % of the diameter turns the plane by 0.57°."""
    angle = np.arange(0, 360, 30)
    depth = 10 + 0.05 * np.cos(np.radians(angle))
    plane = js.orient_trace(angle, depth, 100, 0, 90, "north", diameter_error_mm=2.0)
    # d(atan(H/D)) = sin 45° cos 45° dD/D.
    assert plane.angular_error_deg == pytest.approx(np.degrees(0.5 * 0.02), rel=1e-6)


def test_points_that_fit_no_plane_are_found_and_left_out() -> None:
    """Two wild points of twelve are flagged, and the plane is that of the other ten."""
    angle = np.arange(0, 360, 30)
    rng = np.random.default_rng(5)
    depth = 10 + 0.08 * np.cos(np.radians(angle - 70)) + rng.normal(0, 5e-4, 12)
    depth[[3, 4]] += [0.06, 0.05]
    plane = js.orient_trace(angle, depth, 100, 0, 90, "north")
    assert np.flatnonzero(plane.off).tolist() == [3, 4]
    assert plane.flags == ("2 of 12 points fit no plane with the others",)
    assert plane.dip_direction_deg == pytest.approx(70, abs=1)
    clean = js.orient_trace(np.delete(angle, [3, 4]), np.delete(depth, [3, 4]), 100, 0, 90, "north")
    np.testing.assert_allclose(plane.pole, clean.pole, atol=1e-12)


def test_flags_say_what_a_trace_rests_on() -> None:
    """Three points, a part of the wall, and scatter beyond the stated error are told."""
    three = js.orient_trace([0, 120, 240], [10.1, 9.95, 9.95], 100, 0, 90, "north")
    assert three.flags == ("three points only: the error rests on 2 mm a pick",)
    assert three.angular_error_deg > 0
    angle = np.array([0, 30, 60, 90.0, 120])
    part = js.orient_trace(angle, 10 + 0.05 * np.cos(np.radians(angle)), 100, 0, 90, "north")
    assert part.flags == ("240° of the wall without points",)
    whole = np.arange(0, 360, 72.0)
    bent = 10 + 0.05 * np.cos(np.radians(2 * whole))
    no_plane = js.orient_trace(whole, bent, 100, 0, 90, "north", pick_error_mm=1.0)
    assert "the points scatter more than the stated error of picking" in no_plane.flags[0]


def test_a_partial_trace_is_less_certain() -> None:
    """The same number of points on a third of the wall gives a larger error."""
    whole, part = np.arange(12) * 30.0, np.arange(12) * 10.0
    errors = [
        js.orient_trace(
            angle, 10 + 0.05 * np.cos(np.radians(angle)), 100, 0, 90, "north", pick_error_mm=1.0
        ).angular_error_deg
        for angle in (whole, part)
    ]
    assert errors[1] > 3 * errors[0]


def test_a_caliper_gives_each_point_its_own_diameter() -> None:
    """In an elliptical hole the points fit a plane only with the diameters measured there."""
    angle = np.arange(0, 360, 20.0)
    diameter = 100 + 20 * np.cos(np.radians(2 * angle))
    depth = 10 + diameter / 2000 * 1.5 * np.cos(np.radians(angle - 30))
    plane = js.orient_trace(angle, depth, diameter, 0, 90, "north")
    assert plane.residual_mm < 1e-9
    assert plane.alpha_deg == pytest.approx(np.degrees(np.arctan(1 / 1.5)))
    assert js.orient_trace(angle, depth, 100, 0, 90, "north").residual_mm > 1


def test_order_of_points_does_not_matter() -> None:
    """Points may come in any order, and 360° is 0°."""
    angle = np.array([0, 50, 120, 200, 290.0])
    depth = 10 + 0.07 * np.cos(np.radians(angle - 33))
    one = js.orient_trace(angle, depth, 90, 20, 30)
    two = js.orient_trace([290, 200, 360, 50, 120], depth[[4, 3, 0, 1, 2]], 90, 20, 30)
    np.testing.assert_allclose(one.pole, two.pole, atol=1e-12)


def test_a_level_trace_is_a_plane_square_to_the_hole() -> None:
    """Points at one depth give the hole's own direction as pole, with α 90."""
    plane = js.orient_trace([0, 90, 200], [10, 10, 10], 100, 136, 55)
    assert plane.alpha_deg == 90
    assert js.axis_angles_deg(plane.pole, js.lines_from_trend(136, 55))[0] < 1e-9
    assert plane.residual_mm == 0


def test_results_show_what_they_hold() -> None:
    """The repr gives dip, direction and error; the frame has a row."""
    plane = js.orient_trace([0, 90, 180, 270], [10.1, 10, 9.9, 10], 100, 0, 90, "north")
    assert repr(plane).startswith("TracePlane(63.4/000.0 ± ")
    assert plane.to_frame().loc[0, ["points", "points_off"]].tolist() == [4, 0]


def test_refusals() -> None:
    """Too few angles, unequal lengths and impossible diameters are refused with the rule."""
    with pytest.raises(InputError, match=r"three different angles round the wall; got 2 \(3 poin"):
        js.orient_trace([0, 0, 90], [1, 2, 3], 100, 0, 60)
    with pytest.raises(InputError, match="depth_m must have one value an angle"):
        js.orient_trace([0, 90, 180], [1, 2], 100, 0, 60)
    with pytest.raises(InputError, match="diameter_mm must be one value, or one a point"):
        js.orient_trace([0, 90, 180], [1, 2, 3], [100, 100], 0, 60)
    with pytest.raises(InputError, match="diameter_mm must be finite and above 0"):
        js.orient_trace([0, 90, 180], [1, 2, 3], 0, 0, 60)
    with pytest.raises(InputError, match="depth_m must be finite"):
        js.orient_trace([0, 90, 180], [1, 2, np.nan], 100, 0, 60)
    with pytest.raises(InputError, match="depth_m must be numbers"):
        js.orient_trace([0, 90, 180], [1, 2, "a"], 100, 0, 60)
    with pytest.raises(InputError, match="angle_deg must lie between 0 and 360"):
        js.orient_trace([0, 90, 361], [1, 2, 3], 100, 0, 60)
    with pytest.raises(InputError, match="one trace at a time"):
        js.orient_trace([0, 90, 180], [1, 2, 3], 100, [0, 1], [60, 61])
