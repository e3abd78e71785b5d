"""What a site says twice, or in two ways that can't both be true, is named with what explains it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.settings import ReadingErrors

HOLES = pd.DataFrame({"hole": ["B"], "trend_deg": 140.0, "plunge_deg": 55.0, "length_m": 30.0})


def notes_of(
    table: dict, holes: pd.DataFrame = HOLES, surveys: object = None, **settings: object
) -> str:
    """The notes of a site in one text."""
    site = js.Site.from_frames(
        holes,
        pd.DataFrame({"hole": "B"} | table),
        surveys=surveys,
        settings=js.SiteSettings(reference="low side", **settings),
    )
    return "\n".join(site.notes)


def plane_of(alpha: float, beta: float) -> tuple[float, float]:
    """Dip and dip direction of a core reading in the hole."""
    dip, direction = js.dip_from_poles(js.orient_core(alpha, beta, 140, 55, "low side"))
    return float(dip[0]), float(direction[0])


@pytest.mark.parametrize(("beta", "told"), [(100.0, False), (142.0, True)])
def test_two_orientations_in_a_row_must_agree(beta: float, told: bool) -> None:
    """A dip beside an α and β that give another plane is named with its row and the angle."""
    dip, direction = plane_of(40, 100)
    table = {
        "depth_m": [5.0, 9.0],
        "dip_deg": dip,
        "dip_direction_deg": direction,
        "alpha_deg": 40.0,
        "beta_deg": [100.0, beta],
    }
    apart = js.axis_angles_deg(
        js.orient_core(40, 100, 140, 55, "low side"), js.orient_core(40, beta, 140, 55, "low side")
    )[0]
    text = notes_of(table)
    expected = (
        f"dip and dip direction and alpha and beta give planes up to {apart:.0f}° apart in row 1"
    )
    assert (expected in text) == told


def test_stated_errors_set_how_far_readings_may_part() -> None:
    """With errors of 1° each, 11° apart is too far; without stated errors it is let pass."""
    dip, direction = plane_of(40, 115)
    table = {
        "depth_m": [5.0],
        "dip_deg": dip,
        "dip_direction_deg": direction,
        "alpha_deg": 40.0,
        "beta_deg": 100.0,
    }
    assert "apart" not in notes_of(table)
    errors = ReadingErrors(alpha_deg=1, beta_deg=1, dip_deg=1, dip_direction_deg=1)
    assert "give planes up to 11° apart" in notes_of(table, errors=errors)


def test_rows_written_twice_are_asked_about() -> None:
    """The same row three times, and one nearly the same, are told; all rows stay."""
    table = {
        "depth_m": [5.0, 9.0, 9.0, 9.0, 12.0, 12.005, 12.3],
        "dip_deg": [10, 20, 20, 20, 30, 30.5, 30.0],
        "dip_direction_deg": 40.0,
        "remark": ["a", "b", "c", "d", "", "", ""],
    }
    text = notes_of(table)
    assert "2 fractures repeat another row cell by cell (2 rows: 2, 3): each counts" in text
    assert "1 fractures lie within 10 mm and 1° of another of their hole and method (row 5)" in text


@pytest.mark.parametrize(
    ("plunge", "why"),
    [
        (35.0, "looks like an inclination from vertical"),
        (-55.0, "looks like one with the other sign"),
        (80.0, "25° apart."),
        (52.0, None),
    ],
)
def test_a_collar_that_contradicts_its_survey_is_told(plunge: float, why: str | None) -> None:
    """An inclination for a plunge, a sign for the other, or any direction 10° off or more."""
    surveys = pd.DataFrame({"hole": "B", "depth_m": [0.0], "trend_deg": 140, "plunge_deg": 55})
    text = notes_of({"depth_m": [5.0]}, HOLES.assign(plunge_deg=plunge), surveys)
    assert (why in text) if why else ("by its first survey station" not in text)


def test_a_hole_that_turns_faster_than_a_drill_can_is_told() -> None:
    """A station in feet among metres, or a slip in a bearing, bends the hole too sharply."""
    surveys = pd.DataFrame(
        {"hole": "B", "depth_m": [0.0, 10, 14], "trend_deg": [140, 141, 171], "plunge_deg": 55}
    )
    row = {"depth_m": [5.0]}
    assert "turns by 17° between its stations at 10 m and 14 m" in notes_of(row, surveys=surveys)
    feet = {"depth_m": "depth_ft", "length_m": "length_ft"}
    tables = (one.rename(columns=feet) for one in (HOLES, pd.DataFrame({"hole": "B"} | row), surveys))
    holes, fractures, stations = tables
    settings = js.SiteSettings(depth_unit="ft")
    told = js.Site.from_frames(holes, fractures, surveys=stations, settings=settings).notes
    assert "turns by 17° between its stations at 10 ft and 14 ft" in "\n".join(told)
    slow = surveys.assign(depth_m=[0.0, 10, 29])
    assert "turns by" not in notes_of({"depth_m": [5.0]}, surveys=slow)


@pytest.mark.parametrize("apart_m", [0.3, 30.0])
def test_a_hole_logged_under_two_names_is_asked_about(apart_m: float) -> None:
    """Two holes of one place with the same fractures are named; with collars apart they are not."""
    rng = np.random.default_rng(3)
    depth = np.sort(rng.uniform(1, 29, 40))
    dip, direction = rng.uniform(20, 70, 40), rng.uniform(0, 360, 40)
    holes = pd.concat([HOLES, HOLES.assign(hole="C")]).assign(
        easting_m=[0.0, apart_m], northing_m=0.0, elevation_m=10.0
    )
    first = pd.DataFrame(
        {"hole": "B", "depth_m": depth, "dip_deg": dip, "dip_direction_deg": direction}
    )
    noise = {"depth_m": depth + rng.normal(0, 0.03, 40), "dip_deg": dip + rng.normal(0, 2, 40)}
    second = first.assign(hole="C", **noise).iloc[:30]
    site = js.Site.from_frames(holes, pd.concat([first, second]))
    asked = [note for note in site.notes if "logged twice" in note]
    assert len(asked) == (1 if apart_m < 1 else 0)
    if asked:
        assert "Holes B and C" in asked[0]
        assert "of 30 fractures" in asked[0]


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("holes", "length_m", 6e6),
        ("holes", "diameter_mm", 7.6e9),
        ("holes", "easting_m", 1e300),
        ("fractures", "persistence_m", 6e6),
    ],
)
def test_what_is_beyond_the_likely_is_asked_about(table: str, column: str, value: float) -> None:
    """A figure that nothing forbids but nothing explains is asked about with its place and rule."""
    fractures = pd.DataFrame({"hole": "B", "depth_m": [3.0, 9.0], "dip_deg": 40.0,
                              "dip_direction_deg": 120.0, "persistence_m": 2.0})
    holes = HOLES.assign(easting_m=1000.0, northing_m=0.0, elevation_m=10.0, diameter_mm=76.0)
    plain = js.Site.from_frames(holes, fractures)
    assert not [note for note in plain.notes if "is that meant" in note]
    if table == "holes":
        holes[column] = value
    else:
        fractures.loc[1, column] = value
    asked = [note for note in js.Site.from_frames(holes, fractures).notes if "is that meant" in note]
    assert len(asked) == 1
    assert column in asked[0]
    assert ("of B" if table == "holes" else "in row 1") in asked[0]


def test_what_lies_beyond_the_last_station_is_told() -> None:
    """Fractures below the last survey and outside the rotations of the tool are counted."""
    surveys = pd.DataFrame(
        {"hole": "B", "depth_m": [0.0, 20], "trend_deg": 140.0, "plunge_deg": [55.0, 56]}
    )
    rolls = pd.DataFrame({"hole": "B", "depth_m": [4.0, 30], "roll_deg": 10.0})
    fractures = pd.DataFrame(
        {"hole": "B", "depth_m": [1.0, 12, 22.5], "image_dip_deg": 30.0, "image_azimuth_deg": 50.0}
    )
    site = js.Site.from_frames(
        HOLES, fractures, surveys=surveys, rolls=rolls, settings=js.SiteSettings(reference="low side")
    )
    text = "\n".join(site.notes)
    assert (
        "Beyond the last survey station the hole is taken as straight: fractures 1 of B by up to 2.5 m."
        in text
    )
    assert (
        "Beyond the last station of tool rotation the rotation is kept: fractures 1 of B by up to 3 m."
        in text
    )
