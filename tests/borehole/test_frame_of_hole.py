"""Roll, depth, ring-shaped pictures, north, errors, core read the wrong way, cones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import InputError, SiteError
from jointstats.sphere.axial_fisher import AxialFisher
from tests.tables.site_tables import TABLES, write_tables

HOLE = pd.DataFrame(
    {
        "hole": ["B"],
        "trend_deg": [136.0],
        "plunge_deg": [55.0],
        "length_m": [100.0],
        "diameter_mm": [96.0],
    }
)
POLES = ["pole_east", "pole_north", "pole_up"]


def site_of(fractures: dict, **more: object) -> js.Site:
    settings = more.pop("settings", js.SiteSettings(reference="low side"))
    table = pd.DataFrame(fractures).assign(hole="B")
    return js.Site.from_frames(HOLE, table, settings=settings, **more)


def test_roll_turns_the_short_way_and_stays_outside() -> None:
    """Between 350° and 10° the camera passes 0°; above and below its roll stays."""
    got = js.borehole.roll_at([0, 15, 20, 99], [10, 20], [350, 370]) % 360
    np.testing.assert_allclose(got, [350, 0, 10, 10])
    with pytest.raises(InputError, match="one value a measured depth, at least one"):
        js.borehole.roll_at([1], [], [])
    with pytest.raises(InputError, match="must be finite"):
        js.borehole.roll_at([1], [1], [np.nan])
    with pytest.raises(InputError, match="known_depth_m must rise"):
        js.borehole.roll_at([1], [2, 1], [0, 1])


def test_roll_is_taken_out_of_wall_readings_and_traces_and_not_of_core() -> None:
    """A camera rolled by 40° reads 40° too little; core does not know of it."""
    angle = np.arange(0, 360, 30.0)
    depth = 50 + 0.05 * np.cos(np.radians(angle - 100))
    rows = {
        "depth_m": [50.0, 50.0, 50.0],
        "image_dip_deg": [30.0, None, None],
        "image_azimuth_deg": [200.0, None, None],
        "alpha_deg": [None, 60.0, None],
        "beta_deg": [None, 200.0, None],
        "fracture": ["", "", "F"],
    }
    points = {"hole": "B", "fracture": "F", "depth_m": depth}
    plain = js.orient_fractures(site_of(rows, traces=pd.DataFrame({**points, "angle_deg": angle})))
    rows["image_azimuth_deg"] = [160.0, None, None]
    rolled = site_of(
        rows,
        traces=pd.DataFrame({**points, "angle_deg": (angle - 40) % 360}),
        rolls=pd.DataFrame({"hole": "B", "depth_m": [0, 100], "roll_deg": [30, 50]}),
    )
    found = js.orient_fractures(rolled)[POLES].to_numpy()
    # The roll changes by 0.2° a metre along the trace, which is 0.1 m long.
    assert js.axis_angles_deg(found, plain[POLES].to_numpy()).max() < 0.02
    np.testing.assert_allclose(found[:2], plain[POLES].to_numpy()[:2], atol=1e-12)


def test_depths_follow_stretch_and_tie_points() -> None:
    """Stretch scales, an offset moves, tie points bend; each inverse is plain arithmetic."""
    np.testing.assert_allclose(js.borehole.stretched_depth([0, 100], stretch_mm_per_m=3), [0, 100.3])
    np.testing.assert_allclose(
        js.borehole.tied_depth([0, 10, 15, 40], [10, 20], [11, 20]), [1, 11, 15.5, 40]
    )
    np.testing.assert_allclose(js.borehole.tied_depth([7.0], [10], [10.25]), [7.25])
    with pytest.raises(InputError, match="must be finite"):
        js.borehole.stretched_depth([np.nan])
    with pytest.raises(InputError, match="a logged and a true depth each"):
        js.borehole.tied_depth([1], [1, 2], [1])
    with pytest.raises(InputError, match="logged_m and true_m must be finite"):
        js.borehole.tied_depth([np.inf], [1], [1])
    with pytest.raises(InputError, match="must rise in both logs"):
        js.borehole.tied_depth([1], [1, 2], [5, 4])


@pytest.mark.parametrize("table", [False, True])
@pytest.mark.parametrize("counted", ["clockwise", "anticlockwise"])
def test_a_trace_on_a_ring_picture_is_the_same_plane(counted: str, table: bool) -> None:
    """Points put on a ring by the picture's own geometry come back as the wall trace."""
    angle = np.arange(0, 360, 20.0)
    depth = 12.05 + 0.02 * np.cos(np.radians(angle - 75))
    known, offset = np.array([100.0, 150, 200]), np.array([0.1, 0.06 if table else 0.05, 0.0])
    radius = np.interp(depth - 12.0, offset[::-1], known[::-1])
    picture = angle if counted == "clockwise" else -angle % 360
    back = js.borehole.ring_points(
        radius,
        picture,
        12.0,
        calibration_radius=known,
        calibration_offset_m=offset,
        counted=counted,
    )
    one = js.orient_trace(*back, 96, 136, 55)
    two = js.orient_trace(angle, depth, 96, 136, 55)
    np.testing.assert_allclose(one.pole, two.pole, atol=1e-9)


def test_ring_refusals() -> None:
    """A calibration that is none, a radius outside it, or an unknown sense are refused."""
    with pytest.raises(InputError, match="two radii or more, rising"):
        js.borehole.ring_points([1], [0], 0, calibration_radius=[1], calibration_offset_m=[0])
    with pytest.raises(InputError, match="within the calibration, 1 to 2; value 1 is 3"):
        js.borehole.ring_points([1, 3], [0, 0], 0, calibration_radius=[1, 2], calibration_offset_m=[0, 1])
    with pytest.raises(InputError, match="counted must be"):
        js.borehole.ring_points(
            [1], [0], 0, calibration_radius=[1, 2], calibration_offset_m=[0, 1], counted="left"
        )


def test_core_read_the_wrong_way_comes_right() -> None:
    """Looking up the hole, or with the core end for end, the stated option gives the true plane."""
    right = js.orient_core(35, 80, 136, 55)
    # Seen from below, clockwise is anticlockwise: 80° becomes 280°.
    np.testing.assert_allclose(js.orient_core(35, 280, 136, 55, looking="up"), right, atol=1e-12)
    # Turned about, the other end of the ellipse is read too: 80° becomes 100°.
    np.testing.assert_allclose(
        js.orient_core(35, 100, 136, 55, end_for_end=True), right, atol=1e-12
    )
    site = site_of(
        {
            "depth_m": [1.0, 2.0, 3.0],
            "alpha_deg": 35.0,
            "beta_deg": [80.0, 280.0, 100.0],
            "looking": ["", "up", "down"],
            "end_for_end": ["no", "", "yes"],
        }
    )
    found = js.orient_fractures(site)[POLES].to_numpy()
    np.testing.assert_allclose(found, np.repeat(right, 3, axis=0), atol=1e-12)
    with pytest.raises(InputError, match='looking must be "down" or "up"'):
        js.orient_core(35, 80, 136, 55, looking="left")


WRONG = {
    "half a turn": lambda beta: (beta + 180) % 360,
    "the other way": lambda beta: -beta % 360,
    "end for end": lambda beta: (180 - beta) % 360,
}


@pytest.mark.parametrize("wrong", WRONG)
@pytest.mark.parametrize("paired", [True, False])
def test_a_wrong_sense_of_beta_is_found_and_named(wrong: str, paired: bool) -> None:
    """Mirrored core readings are named against image logs or true dips; right ones are not."""
    rng = np.random.default_rng(8)
    # Planes along the hole would look the same half a turn on; these stand at 62° and 50° to it.
    sets = [AxialFisher(js.poles_from_dip(*plane)[0], 60.0) for plane in ((60, 300), (60, 0))]
    poles = np.vstack([one.rvs(40, random_state=rng) for one in sets])
    dip, direction = js.dip_from_poles(poles)
    hole = js.lines_from_trend(136, 55)[0]
    alpha = 90 - js.axis_angles_deg(poles, hole)
    low = np.array([0, 0, -1.0]) + hole * hole[2]
    low /= np.linalg.norm(low)
    down = np.where((poles @ hole)[:, None] > 0, poles, -poles)
    beta = np.degrees(np.arctan2(-down @ np.cross(hole, low), -down @ low)) % 360
    back = js.orient_core(alpha, beta, 136, 55)
    assert js.axis_angles_deg(back, poles).max() < 1e-6
    core = np.ones(80, bool) if paired else np.arange(80) % 2 == 0
    true = np.ones(80, bool) if paired else ~core
    for turn, clear in ((lambda b: b, False), (WRONG[wrong], True)):
        site = site_of(
            {
                "depth_m": np.linspace(1, 99, 80),
                "dip_deg": np.where(true, dip, np.nan),
                "dip_direction_deg": np.where(true, direction, np.nan),
                "alpha_deg": np.where(core, alpha, np.nan),
                "beta_deg": np.where(core, turn(beta), np.nan),
            }
        )
        found = js.borehole.check_core_sense(site)
        assert found.clear == clear, found
        assert any("check how it was read" in note for note in site.notes) == clear
        if clear:
            assert wrong.split()[0] in found.best or wrong in found.best
            assert "check how it was read" in found.sentence
        assert len(found.to_frame()) == 4


def test_angular_errors_are_those_of_simulation() -> None:
    """The stated errors of α, β, reference line and survey carry to the pole within 5 %."""
    rng = np.random.default_rng(21)
    n, errors = 20_000, js.borehole.ReadingErrors(alpha_deg=1.5, beta_deg=4.0, survey_deg=1.0, roll_deg=2.0)
    settings = js.SiteSettings(reference="low side", errors=errors)
    site = site_of({"depth_m": [5.0], "alpha_deg": 40.0, "beta_deg": 65.0}, settings=settings)
    told = js.orient_fractures(site)["angular_error_deg"][0]
    alpha, beta = 40 + rng.normal(0, 1.5, n), 65 + rng.normal(0, np.hypot(4, 2), n)
    hole = js.lines_from_trend(136, 55)[0]
    lines = hole + np.radians(rng.normal(0, 1.0, (n, 3)))
    lines -= ((lines - hole) @ hole)[:, None] * hole  # the error is square to the hole
    trend, plunge = js.trend_from_lines(lines)
    drawn = js.orient_core(alpha, beta, trend, plunge)
    truth = js.orient_core(40, 65, 136, 55)
    rms = np.sqrt(np.mean(js.axis_angles_deg(drawn, truth) ** 2))
    assert told == pytest.approx(rms, rel=0.05)


def test_angular_errors_of_true_dips_and_unknown_ones() -> None:
    """A direction error counts by the sine of the dip; what was not stated stays unknown."""
    rows = {"depth_m": [1.0, 2.0], "dip_deg": [0.0, 90.0], "dip_direction_deg": [10.0, 20.0]}
    errors = js.borehole.ReadingErrors(dip_deg=3.0, dip_direction_deg=4.0)
    told = js.orient_fractures(site_of(rows, settings=js.SiteSettings(errors=errors)))
    np.testing.assert_allclose(told["angular_error_deg"], [3.0, 5.0])
    assert js.orient_fractures(site_of(rows))["angular_error_deg"].isna().all()


def test_cones_lie_at_alpha_and_know_their_sets() -> None:
    """Poles on a cone stand at 90° − α from the hole; chances equal a brute-force count."""
    hole = js.lines_from_trend(136, 55)[0]
    cone = js.borehole.poles_on_cone(35, hole, 100)
    np.testing.assert_allclose(js.axis_angles_deg(cone, hole), 55, atol=1e-9)
    sets = [AxialFisher(js.poles_from_dip(60, 120)[0], 30.0), AxialFisher([0, 0, 1], 20.0)]
    rng = np.random.default_rng(3)
    got = js.borehole.chances_on_cone(35, hole, sets, [2.0, 1.0], background=0.5)[0]
    # Draws of each component that fall within 1° of the cone, by intensity.
    uniform = rng.normal(size=(400_000, 3))
    draws = [one.rvs(400_000, random_state=rng) for one in sets]
    draws.append(uniform / np.linalg.norm(uniform, axis=1, keepdims=True))
    near = [np.mean(np.abs(90 - js.axis_angles_deg(d, hole) - 35) < 1) for d in draws]
    expected = np.array(near) * [2.0, 1.0, 0.5]
    np.testing.assert_allclose(got, expected / expected.sum(), atol=0.02)
    with pytest.raises(InputError, match="n must be 1 or more"):
        js.borehole.poles_on_cone(35, hole, 0)
    with pytest.raises(InputError, match="at least one set"):
        js.borehole.chances_on_cone(35, hole, [])
    with pytest.raises(InputError, match="one row, or one a plane"):
        js.borehole.chances_on_cone([35, 40, 45], [hole, hole], sets)
    with pytest.raises(InputError, match="background must not be negative"):
        js.borehole.chances_on_cone(35, hole, sets, background=-1)


def test_tables_may_differ_in_their_north(tmp_path: Path) -> None:
    """Each table is turned by its own north; without the angle to do so, mixing is refused."""
    toml = (
        'reference = "low side"\ndeclination_deg = 4\n[north]\nholes = "true"\n'
        'surveys = "magnetic"\nfractures = "true"\n'
    )
    site = js.read_site(write_tables(tmp_path, site_toml=toml))
    assert site.hole("B1").path == js.HolePath([0, 30, 60], [140, 142, 145], [55, 56, 57.5])
    assert site.hole("B3").path == js.HolePath([0], [0], [90])
    assert js.orient_fractures(site)["true_dip_direction_deg"][0] == pytest.approx(120)
    assert site.settings.north == "mixed"
    write_tables(tmp_path, site_toml=toml.replace("declination_deg = 4\n", ""))
    with pytest.raises(SiteError, match="tables differ in their north, and declination_deg is not"):
        js.read_site(tmp_path)
    write_tables(tmp_path, site_toml=toml.replace('holes = "true"\n', ""))
    with pytest.raises(SiteError, match="holes and fractures each state their north"):
        js.read_site(tmp_path)
    write_tables(tmp_path, site_toml=toml.replace('surveys = "magnetic"', 'surveys = "up"'))
    with pytest.raises(SiteError, match='column surveys: .up.: it is one of "true"'):
        js.read_site(tmp_path)


def test_grid_north_needs_its_own_angle(tmp_path: Path) -> None:
    """Convergence turns azimuths from grid north; a declination does not apply to them."""
    toml = TABLES["site.toml"].replace('"true"', '"grid"\nconvergence_deg = -1.5')
    site = js.read_site(write_tables(tmp_path, site_toml=toml))
    assert js.orient_fractures(site)["true_dip_direction_deg"][0] == pytest.approx(118.5)
    write_tables(tmp_path, site_toml=toml.replace("convergence", "declination"))
    with pytest.raises(SiteError, match="declination is that of magnetic north, and azimuths are"):
        js.read_site(tmp_path)


def test_errors_and_bedding_in_the_settings_are_checked(tmp_path: Path) -> None:
    """Unknown keys, missing halves and values out of range are told by line."""
    cases = {
        "[errors]\nalfa_deg = 2": "column alfa_deg: '2': it is not known; known: alpha_deg",
        "[errors]\nalpha_deg = -2": "column alpha_deg: '-2': a standard error is a number from 0",
        "errors = 2": "errors is a table of standard errors",
        "[bedding]\ndip_deg = 2": "the bedding has dip_deg and dip_direction_deg, and no more",
        "[bedding]\ndip_deg = 99\ndip_direction_deg = 3": "'99': the dip of the bedding is a num",
    }
    for text, expected in cases.items():
        write_tables(tmp_path, site_toml=TABLES["site.toml"] + text)
        with pytest.raises(SiteError) as caught:
            js.read_site(tmp_path)
        assert expected in str(caught.value)
        assert len(caught.value.faults) == 1


def test_planes_relative_to_bedding_come_on_request() -> None:
    """With the bedding of the settings each plane is given in both frames; without, refused."""
    rows = {"depth_m": [1.0, 2.0], "dip_deg": [30.0, None], "dip_direction_deg": [90.0, None]}
    site = site_of(rows, settings=js.SiteSettings(bedding=(30.0, 90.0)))
    table = js.orient_fractures(site, level_bedding=True)
    assert table["level_dip_deg"][0] == pytest.approx(0, abs=1e-9)
    assert np.isnan(table["level_dip_deg"][1])
    with pytest.raises(InputError, match="the site has no bedding; give bedding"):
        js.orient_fractures(site_of(rows), level_bedding=True)


def test_azimuth_and_inclination_are_another_name_for_the_direction(tmp_path: Path) -> None:
    """A hole may be surveyed by azimuth and inclination from vertical; not by both at once."""
    surveys = "hole,depth_m,azimuth_deg,inclination_deg\nB1,0,136,35\nB1,30,138,34\n"
    surveys += "B1,60,141,32.5\nB2,20,21,99\nB2,40,23,98\n"
    plain = js.read_site(write_tables(tmp_path))
    site = js.read_site(write_tables(tmp_path, surveys_csv=surveys))
    assert site.hole("B1").path == plain.hole("B1").path
    assert site.hole("B2").path == plain.hole("B2").path
    again = js.read_site(js.write_site(site, tmp_path / "out"))
    assert again == site
    write_tables(tmp_path, surveys_csv=surveys.replace("99", "199"))
    with pytest.raises(SiteError, match="column inclination_deg: '199': an inclination from vert"):
        js.read_site(tmp_path)
    write_tables(
        tmp_path,
        surveys_csv=TABLES["surveys.csv"]
        .replace("depth_m", "depth_m,azimuth_deg")
        .replace(",0,136", ",0,1,136")
        .replace("30,138", "30,1,138")
        .replace("60,141", "60,1,141")
        .replace("20,21", "20,1,21")
        .replace("40,23", "40,1,23"),
    )
    with pytest.raises(SiteError, match="azimuth_deg: 'azimuth_deg': stands beside trend_deg; giv"):
        js.read_site(tmp_path)


TRACE = "hole,fracture,depth_m,angle_deg\nB1,V,31.1,0\nB1,V,31,90\nB1,V,30.9,180\nB1,V,31,270\n"
FRACTURES = (
    TABLES["fractures.csv"]
    .replace("type,", "fracture,type,")
    .replace(",joint,", ",,joint,")
    .replace("70,10,,,vein", ",,,,V,vein")
    .replace(",fault,", ",,fault,")
    .replace(",bedding,", ",,bedding,")
)

TRACE_CASES = {
    "fracture unknown": (
        TRACE.replace(",V,", ",W,"),
        FRACTURES,
        "column fracture: 'W': no fracture",
    ),
    "two points": (
        "\n".join(TRACE.split("\n")[:3]),
        FRACTURES,
        "its trace has 2 points at 2 angles; a plane needs three",
    ),
    "angle out of range": (
        TRACE.replace("270", "370"),
        FRACTURES,
        "'370': an angle lies between 0",
    ),
    "no fracture column": (
        TRACE,
        TABLES["fractures.csv"],
        "column fracture: the column is missing",
    ),
    "named twice": (
        TRACE,
        FRACTURES.replace("201,,,,joint", "201,,,V,joint"),
        "row 5, column fracture: 'V': hole 'B1' has this name in row 3 too",
    ),
}


@pytest.mark.parametrize("case", TRACE_CASES)
def test_faults_of_traces_are_told(case: str, tmp_path: Path) -> None:
    """A trace without its fracture, with too few points or in a wrong cell is one fault."""
    traces, fractures, expected = TRACE_CASES[case]
    write_tables(tmp_path, fractures_csv=fractures)
    (tmp_path / "traces.csv").write_text(traces)
    with pytest.raises(SiteError) as caught:
        js.read_site(tmp_path)
    assert [expected in str(fault) for fault in caught.value.faults] == [True], str(caught.value)


def test_traces_need_a_diameter(tmp_path: Path) -> None:
    """Without the diameter of its hole, or a caliper at each point, a trace is no angle."""
    holes = TABLES["holes.csv"].replace("136,55,96", "136,55,")
    write_tables(tmp_path, fractures_csv=FRACTURES, holes_csv=holes)
    (tmp_path / "traces.csv").write_text(TRACE)
    with pytest.raises(SiteError, match="column diameter_mm: hole 'B1' has traces in traces.csv"):
        js.read_site(tmp_path)
    lines = TRACE.splitlines()
    caliper = "\n".join([lines[0] + ",diameter_mm", *(line + ",96" for line in lines[1:])])
    (tmp_path / "traces.csv").write_text(caliper)
    table = js.orient_fractures(js.read_site(tmp_path))
    assert table["oriented_from"][3] == "trace"
    assert table["hole_angle_deg"][3] == pytest.approx(np.degrees(np.arctan2(96, 200)))
