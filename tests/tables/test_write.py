"""A site written and read again is the same site, as CSV and as a workbook."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import InputError, SiteError
from tests.tables.site_tables import TABLES, in_feet, write_tables

FULL = {
    "site_toml": """name = 'The "small" site, Ä'
north = "magnetic"
declination_deg = 2.25
depth_unit = "ft"
reference = "low side"
blind_angle_deg = 12
[bedding]
dip_deg = 20
dip_direction_deg = 75.5
[errors]
alpha_deg = 2
beta_deg = 5
survey_deg = 0.5
""",
    "holes_csv": in_feet(TABLES["holes.csv"]),
    "surveys_csv": in_feet(TABLES["surveys.csv"]),
    "logged_csv": in_feet(TABLES["logged.csv"]),
    "fractures_csv": in_feet(TABLES["fractures.csv"])
    .replace("type,", "type,sample,fracture,")
    .replace("joint,", "joint,007,,")
    .replace("vein,", "vein,nan,V1,")
    .replace("fault,", 'fault," a ""quoted"" = word",,')
    .replace("bedding,", "bedding,=1+1,,"),
}
TRACES = "hole,fracture,depth_ft,angle_deg\n" + "".join(
    f"B1,V1,{31 + 0.1 * np.cos(np.radians(angle)):.4f},{angle}\n" for angle in range(0, 360, 60)
)


def full_site(folder: Path) -> js.Site:
    folder.mkdir()
    write_tables(folder, **FULL)
    (folder / "traces.csv").write_text(TRACES)
    (folder / "rolls.csv").write_text("hole,depth_ft,roll_deg\nB1,0,350\nB1,60,12.5\n")
    return js.read_site(folder)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_read_twice_and_written_twice_a_site_is_unchanged(kind: str, tmp_path: Path) -> None:
    """Every table, unknown column, setting and digit survives; so do feet."""
    site = full_site(tmp_path / "given")
    once, twice = tmp_path / f"once.{kind}", tmp_path / f"twice.{kind}"
    again = js.read_site(js.write_site(site, once))
    assert again == site
    assert again.notes == site.notes
    last = js.read_site(js.write_site(again, twice))
    assert last == site
    pd.testing.assert_frame_equal(last.fractures, site.fractures)
    if kind == "csv":
        for file in sorted(once.iterdir()):
            assert file.read_bytes() == (twice / file.name).read_bytes()
        depths = pd.read_csv(once / "fractures.csv")["depth_ft"]
        assert depths.tolist() == [3.5, 12.25, 14, 31, 5, 7.5, 39, 9, 44]  # feet, as given


def test_random_digits_survive(tmp_path: Path) -> None:
    """Seventeen digits go through CSV and workbook without loss, in metres and in feet."""
    rng = np.random.default_rng(3)
    for unit in ("m", "ft"):
        site = js.Site.from_frames(
            pd.DataFrame(
                {"hole": ["B"], "trend_deg": [10.1], "plunge_deg": [60.3], f"length_{unit}": 99}
            ),
            pd.DataFrame(
                {
                    "hole": "B",
                    f"depth_{unit}": rng.uniform(0, 90, 500),
                    "dip_deg": 0.0,
                    "dip_direction_deg": rng.uniform(0, 360, 500),
                }
            ),
            settings=js.SiteSettings(depth_unit=unit),
        )
        first = js.read_site(js.write_site(site, tmp_path / unit))
        assert np.array_equal(first.fractures["depth_m"], site.fractures["depth_m"])
        book = js.read_site(js.write_site(first, tmp_path / f"{unit}.xlsx"))
        assert book == first


def test_a_site_made_by_hand_can_be_written(tmp_path: Path) -> None:
    """Holes, curved or straight, logged lengths and fractures of a simulated site come back."""
    site = js.simulate_site(random_state=2)
    again = js.read_site(js.write_site(site, tmp_path))
    assert [h.logged for h in again.holes] == [h.logged for h in site.holes]
    for one, two in zip(again.holes, site.holes, strict=True):
        np.testing.assert_allclose(one.path.directions, two.path.directions, atol=1e-12)
    assert again.fractures["dip_deg"].tolist() == site.fractures["dip_deg"].tolist()
    curved = js.Hole(
        "C",
        js.HolePath([0, 20], [10, 14], [60, 58]),
        30.0,
        96.0,
        (1.0, 2.0, 3.0),
        (js.borehole.LoggedInterval(0.0, 30.0, "core"),),
        reference="high side",
    )
    table = pd.DataFrame({"hole": ["C"], "depth_m": [4.0]})
    settings = js.SiteSettings(north="magnetic", declination_deg=3)
    made = js.Site("c", (curved,), table, settings)
    back = js.read_site(js.write_site(made, tmp_path / "c")).holes[0]
    np.testing.assert_allclose(back.path.directions, curved.path.directions, atol=1e-12)
    assert (back.collar, back.diameter_mm, back.reference) == ((1, 2, 3), 96, "high side")


def test_tables_that_the_site_has_not_are_not_left_behind(tmp_path: Path) -> None:
    """Writing over an older site leaves none of its tables to be read with the new ones."""
    write_tables(tmp_path)
    site = js.simulate_site(random_state=1)
    with pytest.raises(InputError, match="a site stands in .* already; write to another place"):
        js.write_site(site, tmp_path)
    assert (tmp_path / "surveys.csv").exists()
    js.write_site(site, tmp_path, replace=True)
    assert not (tmp_path / "surveys.csv").exists()
    assert js.read_site(tmp_path).name == "simulated site"


def test_the_class_makes_a_site_from_frames_before_anything_is_read() -> None:
    """In a fresh process the first name that is used may be Site, with its constructor."""
    code = "import jointstats as js; print(js.Site.from_frames.__name__)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "site_from_frames\n"


def test_a_frame_of_no_input_table_is_refused() -> None:
    """A frame under another name than those of the tables is not passed over."""
    frame = pd.DataFrame({"hole": ["B"]})
    with pytest.raises(InputError, match="there is no input table 'survey'; the tables are holes"):
        js.Site.from_frames(frame, frame, survey=frame)


def test_frames_are_checked_as_files_are() -> None:
    """A wrong cell of a frame is named by table, row (from 0) and column."""
    holes = pd.DataFrame({"hole": ["B"], "trend_deg": [10], "plunge_deg": [60], "length_m": [30]})
    wrong = pd.DataFrame(
        {
            "hole": ["B", "B"],
            "depth_m": [1, "deep"],
            "dip_deg": [95, None],
            "dip_direction_deg": [10, None],
        }
    )
    with pytest.raises(SiteError) as caught:
        js.Site.from_frames(holes, wrong)
    assert [str(fault) for fault in caught.value.faults] == [
        "fractures, row 0, column dip_deg: '95': a dip lies between 0 and 90 degrees",
        "fractures, row 1, column depth_m: 'deep': a depth is a number, 0 or more",
    ]
    with pytest.raises(SiteError, match="holes: the table has no rows"):
        js.Site.from_frames(holes.head(0), wrong)
    twice = pd.DataFrame([[1, 2]], columns=["hole", "hole"])
    with pytest.raises(SiteError, match="stands 2 times"):
        js.Site.from_frames(holes, twice)


def test_faults_of_a_workbook_name_sheet_and_row(tmp_path: Path) -> None:
    """A word among numbers, a missing sheet and a broken file are told like those of CSV."""
    site = js.read_site(write_tables(tmp_path))
    path = js.write_site(site, tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(path)
    book["fractures"]["D3"] = "steep"
    book["site"]["B3"] = 91
    book.save(path)
    with pytest.raises(SiteError) as caught:
        js.read_site(path)
    assert [str(fault) for fault in caught.value.faults] == [
        "fractures, row 3, column dip_deg: 'steep': a dip lies between 0 and 90 degrees",
        "a.xlsx [site], column blind_angle_deg: '91': the blind angle is a number from 0 to 89 "
        "degrees",
    ]
    del book["fractures"]
    book["site"]["B3"] = 12
    book.save(path)
    with pytest.raises(SiteError, match=r"fractures: the workbook a.xlsx has no such sheet"):
        js.read_site(path)
    (tmp_path / "b.xlsx").write_text("no workbook")
    with pytest.raises(SiteError, match="b.xlsx: the file is not a readable .xlsx workbook"):
        js.read_site(tmp_path / "b.xlsx")


def test_odd_sheets_are_told(tmp_path: Path) -> None:
    """An empty sheet, a header alone and cells beyond the header are faults."""
    book = openpyxl.Workbook()
    book.active.title = "Holes"
    fractures = book.create_sheet("fractures")
    fractures.append(["hole", "depth_m"])
    path = tmp_path / "a.xlsx"
    book.save(path)
    with pytest.raises(SiteError) as caught:
        js.read_site(path)
    assert [str(fault) for fault in caught.value.faults] == [
        "holes: the sheet is empty",
        "fractures: the sheet has a header and no rows",
    ]
    fractures.append(["B", 1, "more"])
    book.save(path)
    with pytest.raises(SiteError, match="fractures, row 2: the row has more cells than the 2"):
        js.read_site(path)


def test_without_openpyxl_the_extra_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A workbook without the library it needs says what to install."""
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(InputError, match=r"needs openpyxl; install it with: pip install joint"):
        js.write_site(js.simulate_site(random_state=1), tmp_path / "a.xlsx")


def test_what_a_site_was_read_from_is_never_replaced(tmp_path: Path) -> None:
    """Neither a directory nor a workbook that was read is written over, even where asked."""
    (tmp_path / "site").mkdir()
    site = js.read_site(write_tables(tmp_path / "site"))
    before = {one.name: one.read_bytes() for one in (tmp_path / "site").iterdir()}
    for place in (tmp_path / "site", tmp_path / "site" / ".." / "site"):
        with pytest.raises(InputError, match="output must not be the input itself"):
            js.write_site(site, place, replace=True)
    assert before == {one.name: one.read_bytes() for one in (tmp_path / "site").iterdir()}
    book = js.write_site(site, tmp_path / "a.xlsx")
    with pytest.raises(InputError, match="belongs to the input, which is never overwritten"):
        js.write_site(js.read_site(book), book, replace=True)
    with pytest.raises(InputError, match="a site stands in .*a.xlsx already"):
        js.write_site(site, book)
    assert js.write_site(site, book, replace=True) == book
