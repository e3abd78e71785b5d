"""What a site says twice, or in two ways that can't both be true, is named with what explains it."""

from __future__ import annotations

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
    assert "turns by 17° between its stations at 10 and 14 m" in notes_of(
        {"depth_m": [5.0]}, surveys=surveys
    )
    slow = surveys.assign(depth_m=[0.0, 10, 29])
    assert "turns by" not in notes_of({"depth_m": [5.0]}, surveys=slow)
