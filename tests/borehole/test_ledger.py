"""The ledger: every row can be recomputed by hand from what it says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.settings import ReadingErrors
from jointstats.cli import main
from jointstats.errors import InputError

DECLINATION = 7.5


@pytest.fixture(scope="module")
def site() -> js.Site:
    """Two hundred and forty readings of all kinds, with every correction there is."""
    rng = np.random.default_rng(11)
    holes = pd.DataFrame(
        {
            "hole": ["A", "B"],
            "trend_deg": [20.0, 0],
            "plunge_deg": [60.0, 88],
            "length_m": 101.0,
            "diameter_mm": 96,
            "reference": ["high side", "north"],
        }
    )
    surveys = pd.DataFrame(
        {
            "hole": ["A", "A", "B", "B"],
            "depth_m": [0.0, 101, 0, 101],
            "trend_deg": [20.0, 31, 0, 40],
            "plunge_deg": [60.0, 52, 88, 86],
        }
    )
    n = 240
    core = np.arange(n) % 3 == 0
    image = np.arange(n) % 3 == 1
    fractures = pd.DataFrame(
        {
            "hole": rng.choice(["A", "B"], n),
            "depth_m": rng.uniform(2, 98, n),
            "method": np.where(core, "core", "image"),
            "alpha_deg": np.where(core, rng.uniform(5, 90, n), np.nan),
            "beta_deg": np.where(core, rng.uniform(0, 360, n), np.nan),
            "image_dip_deg": np.where(image, rng.uniform(0, 85, n), np.nan),
            "image_azimuth_deg": np.where(image, rng.uniform(0, 360, n), np.nan),
            "dip_deg": np.where(core | image, np.nan, rng.uniform(0, 90, n)),
            "dip_direction_deg": np.where(core | image, np.nan, rng.uniform(0, 360, n)),
            "looking": rng.choice(["up", "down", ""], n),
            "end_for_end": rng.choice(["yes", "no", ""], n),
        }
    )
    tables = {
        "rolls": pd.DataFrame(
            {"hole": ["A", "A", "B"], "depth_m": [0.0, 100, 50], "roll_deg": [350.0, 25, 60]}
        ),
        "runs": pd.DataFrame(
            {
                "hole": ["A", "B"],
                "run": "R",
                "from_m": [10.0, 0],
                "to_m": [90.0, 40],
                "beta_offset_deg": [-25.0, 14],
            }
        ),
        "ties": pd.DataFrame(
            {"hole": ["A", "A"], "core_depth_m": [10.0, 80], "image_depth_m": [10.2, 80.9]}
        ),
    }
    errors = ReadingErrors(2, 4, 1.5, 2.5, 3, 5, None, None, 0.7, 3)
    settings = js.SiteSettings(
        north="magnetic",
        declination_deg=DECLINATION,
        depths_follow="core",
        errors=errors,
        bedding=(22.0, 140.0),
    )
    return js.Site.from_frames(holes, fractures, surveys=surveys, settings=settings, **tables)


def by_hand(row: dict) -> np.ndarray:
    """The pole of one row of the ledger, from the conventions alone."""

    def line(trend: float, plunge: float) -> np.ndarray:
        t, p = np.radians([trend, plunge])
        return np.array([np.cos(p) * np.sin(t), np.cos(p) * np.cos(t), -np.sin(p)])

    if row["oriented_from"] == "dip and dip direction":
        dip, way = row["dip_deg"], row["dip_direction_deg"] + row["north_deg"]
        return line(way + 180, 90 - dip)
    if row["oriented_from"] == "alpha and beta":
        alpha, beta = row["alpha_deg"], row["beta_deg"]
        beta = 180 - beta if row["end_for_end"] == "yes" else beta
        beta = -beta if row["looking"] == "up" else beta
        beta += row["beta_offset_deg"]
    else:
        alpha, beta = 90 - row["image_dip_deg"], row["image_azimuth_deg"] + row["roll_deg"]
    axis = line(row["hole_trend_deg"], row["hole_plunge_deg"])
    toward = line(row["north_deg"], 0)
    toward = np.array([0, 0, 1.0]) if row["reference"] == "high side" else toward
    mark = toward - (toward @ axis) * axis
    mark /= np.linalg.norm(mark)
    b, a = np.radians([beta, alpha])
    lowest = np.cos(b) * mark + np.sin(b) * np.cross(axis, mark)
    return np.sin(a) * axis - np.cos(a) * lowest


def test_every_row_can_be_recomputed_by_hand(site: js.Site) -> None:
    """Two hundred and forty poles from the columns of the ledger agree to 1e-9 with its planes."""
    table = js.borehole.ledger_of(site)
    assert len(table) == 240
    poles = js.poles_from_dip(table["true_dip_deg"], table["true_dip_direction_deg"])
    own = np.array([by_hand(row) for row in table.to_dict("records")])
    # The angle between two poles by their cross product: exact where they nearly agree.
    assert np.linalg.norm(np.cross(poles, own), axis=1).max() < 1e-9
    assert set(table["oriented_from"]) == {
        "alpha and beta",
        "dip and dip direction",
        "image dip and azimuth",
    }


def test_depths_and_rolls_come_from_their_tables(site: js.Site) -> None:
    """The tie and the rotation in a row are what linear interpolation in the tables gives."""
    table = js.borehole.ledger_of(site)
    tied = (table["hole"] == "A") & (table["oriented_from"] != "alpha and beta")
    logged = table["logged_depth_m"].to_numpy()
    depth = logged + np.where(tied, np.interp(logged, [10.2, 80.9], [-0.2, -0.9]), 0.0)
    np.testing.assert_allclose(table["depth_m"], depth, atol=1e-9)
    roll = np.where(table["hole"] == "A", np.interp(logged, [0, 100], [-10, 25]), 60.0)
    np.testing.assert_allclose((table["roll_deg"] - roll + 180) % 360 - 180, 0, atol=1e-9)


def test_what_a_correction_turned_is_the_angle_to_the_pole_without_it(site: js.Site) -> None:
    """By hand again, with the roll, the sense or the line of the run left out of a row."""
    table = js.borehole.ledger_of(site)
    changed = {
        "roll": {"roll_deg": 0.0},
        "sense": {"looking": "", "end_for_end": ""},
        "run": {"beta_offset_deg": 0.0},
    }
    for name, values in changed.items():
        for row in table.to_dict("records"):
            apart = np.linalg.norm(np.cross(by_hand(row), by_hand(row | values)))
            dot = abs(by_hand(row) @ by_hand(row | values))
            expected = np.degrees(np.arctan2(apart, dot))
            assert row[f"{name}_turned_deg"] == pytest.approx(expected, abs=1e-6)
    # North turns every pole about the vertical: a steep plane by the whole declination.
    assert table["north_turned_deg"].max() <= DECLINATION + 1e-9
    steep = table["true_dip_deg"] > 85
    assert (table.loc[steep, "north_turned_deg"] > 0.99 * DECLINATION).all()


def test_the_parts_of_the_error_add_up_in_squares(site: js.Site) -> None:
    """For core α 2°, β 4° and the line 3°: error² = 2² + cos²α (4² + 3²) + survey²."""
    table = js.borehole.ledger_of(site)
    core = table[table["oriented_from"] == "alpha and beta"]
    cosine = np.cos(np.radians(core["alpha_deg"]))
    np.testing.assert_allclose(core["error_line_deg"], 3 * cosine, atol=1e-9)
    total = 4 + cosine**2 * (16 + 9) + core["error_survey_deg"] ** 2
    np.testing.assert_allclose(core["angular_error_deg"] ** 2, total, rtol=1e-9)


def test_one_fracture_is_told_in_sentences(site: js.Site) -> None:
    """Each correction that turned it, and no other, with the orientation it ended in."""
    table = js.borehole.ledger_of(site)
    row = int(np.flatnonzero((table["roll_turned_deg"] > 1) & (table["ties_turned_deg"] > 0))[0])
    text = js.borehole.explain_fracture(site, row)
    assert f"Row {row}, hole A" in text
    assert f"The rotation of the tool, {table['roll_deg'][row]:.1f}°, was added; turned" in text
    assert "Ties moved its depth to" in text
    assert "Azimuths were turned by 7.50° to true north" in text
    assert "Beta was turned" not in text
    with pytest.raises(InputError, match="row must lie between 0 and 239; got 240"):
        js.borehole.explain_fracture(site, 240)


def test_the_command_writes_the_ledger_with_rows_of_the_file(
    site: js.Site, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`orient --ledger` writes one row a fracture, and says what was applied to how many."""
    folder = js.write_site(site, tmp_path / "site")
    out, book = tmp_path / "out.csv", tmp_path / "ledger.csv"
    assert main(["orient", str(folder), "--output", str(out), "--ledger", str(book)]) == 0
    said = capsys.readouterr().out
    table = pd.read_csv(book)
    assert table["row"].tolist() == list(range(2, 242))
    assert "tool rotations of −" in said
    assert " to 60° applied to 80 picks on the wall, turning their poles by" in said
    assert f"ledger in {book}" in said
    np.testing.assert_allclose(table["true_dip_deg"], pd.read_csv(out)["true_dip_deg"])


def test_the_summary_says_what_was_applied_to_how_many(site: js.Site) -> None:
    """Numbers, range and turn of each correction are those of the rows of the ledger."""
    table = js.borehole.ledger_of(site)
    found = js.borehole.corrections_of(site).set_index("correction")
    assert found.index.tolist() == ["ties", "roll", "sense", "run", "north"]
    image = table["oriented_from"] == "image dip and azimuth"
    assert found["n"]["roll"] == image.sum()
    assert found["turned_high_deg"]["roll"] == pytest.approx(table["roll_turned_deg"][image].max())
    assert found["n"]["run"] == (
        (table["oriented_from"] == "alpha and beta") & (table["beta_offset_deg"] != 0)
    ).sum()
    assert found["low"]["run"] == -25
    assert found["high"]["run"] == 14
    assert found["n"]["ties"] == (table["depth_m"] != table["logged_depth_m"]).sum()
    assert found["low"]["ties"] == pytest.approx(-0.9)
    assert set(found.loc["north", ["low", "high"]]) == {DECLINATION}


def test_a_station_is_checked_by_its_neighbours() -> None:
    """A tie or rotation off the line between its neighbours shows by how far; ends show nothing."""
    holes = pd.DataFrame({"hole": ["A"], "trend_deg": 20.0, "plunge_deg": 60.0, "length_m": 40.0})
    fractures = pd.DataFrame({"hole": ["A"], "depth_m": 5.0, "method": "core"})
    site = js.Site.from_frames(
        holes,
        fractures,
        rolls=pd.DataFrame({"hole": "A", "depth_m": [0.0, 10, 30], "roll_deg": [350.0, 4, 20]}),
        ties=pd.DataFrame(
            {"hole": "A", "core_depth_m": [5.0, 10, 20], "image_depth_m": [5.1, 10.5, 20.4]}
        ),
        settings=js.SiteSettings(depths_follow="image"),
    )
    found = js.borehole.station_residuals(site)
    rest = found["residual"].tolist()
    # Ties: 0.1, 0.5, 0.4 m at 5, 10, 20: the line between the ends gives 0.2 at 10.
    # Rolls: −10, 4, 20° at 0, 10, 30: the line gives 0 at 10.
    assert np.isnan([rest[0], rest[2], rest[3], rest[5]]).all()
    assert [rest[1], rest[4]] == pytest.approx([0.3, 4.0])


def test_a_fracture_explains_itself(site: js.Site) -> None:
    """`fracture.explain()` says what `explain_fracture` says."""
    assert js.borehole.Fracture(site, 7).explain() == js.borehole.explain_fracture(site, 7)
