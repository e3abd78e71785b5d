"""Reading a site: what is accepted, and every fault named by file, row and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import InputError, SiteError
from tests.tables.site_tables import TABLES, in_feet, write_tables

FREE_TEXT = {("fractures.csv", "type"), ("fractures.csv", "remark")}


def faults_of(folder: Path) -> list[str]:
    try:
        js.read_site(folder)
    except SiteError as error:
        return [str(fault) for fault in error.faults]
    return []


def changed(name: str, old: str, new: str) -> str:
    assert old in TABLES[name]
    return TABLES[name].replace(old, new, 1)


def test_a_site_reads_as_it_was_written(tmp_path: Path) -> None:
    """Holes, paths, logged lengths, settings and fractures come out as the tables say."""
    site = js.read_site(write_tables(tmp_path))
    assert repr(site) == "Site('Small site', 3 holes of 150 m in all, 9 fractures)"
    assert [hole.name for hole in site.holes] == ["B1", "B2", "B3"]
    one, two, three = site.holes
    assert one.collar == (100, 200, 50)
    assert one.diameter_mm == 96
    assert one.path == js.HolePath([0, 30, 60], [136, 138, 141], [55, 56, 57.5])
    assert two.path == js.HolePath([0, 20, 40], [20, 21, 23], [-10, -9, -8])
    assert three.path == js.HolePath([0], [0], [90])
    assert [(x.from_m, x.to_m, x.method) for x in one.logged] == [
        (0, 40, "core"),
        (2, 25, "image"),
        (27, 60, "image"),
    ]
    assert site.settings == js.SiteSettings(blind_angle_deg=12.0, reference="low side")
    assert site.fractures["depth_m"].tolist() == [3.5, 12.25, 14, 31, 5, 7.5, 39, 9, 44]
    assert site.fractures["remark"][2] == "clean, planar"
    assert site.hole("B2") is two
    assert site == js.read_site(tmp_path)
    assert site != "site"
    with pytest.raises(InputError, match="no hole 'B9'; its holes are B1, B2, B3"):
        site.hole("B9")
    assert any("taken as straight" in note and "B3" in note for note in site.notes)


def test_fractures_are_oriented_and_none_is_lost(tmp_path: Path) -> None:
    """True dips stay, α/β rows follow the curved hole, rows without orientation are kept."""
    site = js.read_site(write_tables(tmp_path))
    table = js.orient_fractures(site)
    assert len(table) == 9
    assert table["oriented_from"].value_counts().to_dict() == {
        "dip and dip direction": 5,
        "alpha and beta": 3,
        "not oriented": 1,
    }
    np.testing.assert_allclose(table["true_dip_deg"][:2], [45, 62.5])
    direction = site.hole("B1").path.direction(14)
    trend, plunge = js.trend_from_lines(direction)
    pole = js.orient_core(35, 210, trend, plunge)
    np.testing.assert_allclose(
        table.loc[2, ["pole_east", "pole_north", "pole_up"]].to_numpy(float), pole[0], atol=1e-12
    )
    assert table["hole_angle_deg"][2] == pytest.approx(35)
    assert table["hole_angle_deg"].isna().sum() == 1
    assert np.isnan(table["pole_up"][5])


@pytest.mark.parametrize("name", [name for name in TABLES if name.endswith(".csv")])
def test_junk_in_any_one_cell_is_one_clear_line(name: str, tmp_path: Path) -> None:
    """Whichever cell is overwritten, one fault names its file and column, or it was free text."""
    rows = list(csv.reader(io.StringIO(TABLES[name])))
    header = rows[0]
    write_tables(tmp_path)
    for row in range(1, len(rows)):
        for place, column in enumerate(header):
            for junk in ("x?", "-400"):
                if junk == "-400" and column.endswith(("ing_m", "tion_m")):
                    continue  # a coordinate may be negative
                broken = [list(one) for one in rows]
                broken[row][place] = junk
                out = io.StringIO()
                csv.writer(out, lineterminator="\n").writerows(broken)
                (tmp_path / name).write_text(out.getvalue())
                faults = faults_of(tmp_path)
                if (name, column) in FREE_TEXT:
                    assert not faults
                    continue
                assert len(faults) == 1, (row, column, faults)
                assert faults[0].startswith(f"{name}, row {row + 1}, column {column}: '{junk}'")
                assert "\n" not in faults[0]


@pytest.mark.parametrize("name", ["holes.csv", "surveys.csv", "logged.csv"])
def test_no_one_cell_makes_a_cascade(name: str, tmp_path: Path) -> None:
    """A cell that is emptied, or holds a number far too large, is one fault at the most."""
    rows = list(csv.reader(io.StringIO(TABLES[name])))
    write_tables(tmp_path)
    for row in range(1, len(rows)):
        for place in range(len(rows[0])):
            for junk in ("", "9999"):
                broken = [list(one) for one in rows]
                broken[row][place] = junk
                out = io.StringIO()
                csv.writer(out, lineterminator="\n").writerows(broken)
                (tmp_path / name).write_text(out.getvalue())
                assert len(faults_of(tmp_path)) <= 1, (row, rows[0][place], junk)


@pytest.mark.parametrize("name", [name for name in TABLES if name.endswith(".csv")])
def test_junk_in_a_header_is_one_line_or_an_unknown_column(name: str, tmp_path: Path) -> None:
    """A renamed column that was needed is one fault; one that turns nothing is carried along."""
    header, body = TABLES[name].split("\n", 1)
    columns = header.split(",")
    optional = {"type", "aperture_mm", "remark", "easting_m", "northing_m", "elevation_m"}
    optional |= {"length_m", "diameter_mm"}
    write_tables(tmp_path)
    for place, column in enumerate(columns):
        broken = list(columns)
        broken[place] = "x?"
        (tmp_path / name).write_text(",".join(broken) + "\n" + body)
        faults = faults_of(tmp_path)
        assert len(faults) == (0 if column in optional else 1), (column, faults)
        if faults:
            missing = f"{name}, row 1, column {column}: the column is missing"
            by_its_words = "holds the words of method, which could change an orientation"
            assert faults[0].startswith(missing) or by_its_words in faults[0]


@pytest.mark.parametrize("row", range(4))
def test_junk_in_any_setting_is_one_line(row: int, tmp_path: Path) -> None:
    """A wrong key or value in site.toml is one fault with its line."""
    lines = TABLES["site.toml"].splitlines()
    key = lines[row].split(" = ")[0]
    for new in ('xyz = "x?"', f"{key} = x?", f"{key} = [1]"):
        changed_lines = list(lines)
        changed_lines[row] = new
        write_tables(tmp_path, site_toml="\n".join(changed_lines))
        faults = faults_of(tmp_path)
        # Without its own line the reference is missing too: that is a second, true fault.
        expected = 2 if key == "reference" and new.startswith("xyz") else 1
        assert len(faults) == expected, faults
        assert faults[-1].startswith(f"site.toml, row {row + 1}") or expected == 2


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    """Faults in several tables come together, in the order of tables and rows."""
    write_tables(
        tmp_path,
        holes_csv=changed("holes.csv", "B2,120,210,51,40,20,-10", "B2,120,210,51,40,20,-100"),
        logged_csv=changed("logged.csv", "B3,1,50,image", "B3,1,50,photo"),
        fractures_csv=changed("fractures.csv", "B1,3.5,image,45,120", "B1,3.5,image,91,361"),
    )
    assert faults_of(tmp_path) == [
        "holes.csv, row 3, column plunge_deg: '-100': a plunge lies between -90 and 90 degrees",
        "logged.csv, row 6, column method: 'photo': a method is image, core or scanline",
        "fractures.csv, row 2, column dip_deg: '91': a dip lies between 0 and 90 degrees",
        "fractures.csv, row 2, column dip_direction_deg: '361': a dip direction lies between 0 "
        "and 360 degrees",
    ]


CASES = {
    "duplicate hole": (
        "holes.csv",
        "B3,130",
        "B2,130",
        r"holes.csv, row 4, column hole: 'B2': a hole stands here once; .* in row 3 too",
    ),
    "hole renamed where it is listed": (
        "holes.csv",
        "B1,100",
        "BB1,100",
        r"holes.csv, row 2, column hole: 'BB1': no other table has a row of this hole, and 'B1', "
        r"which is not here, stands in surveys.csv \(3 rows, the first: 2\)",
    ),
    "hole unknown in one row": (
        "fractures.csv",
        "B2,7.5",
        "B22,7.5",
        r"fractures.csv, row 7, column hole: 'B22': no such hole in holes.csv; the nearest there "
        r"is 'B2'",
    ),
    "hole empty": ("fractures.csv", "B2,7.5", ",7.5", r"each row needs the name of its hole"),
    "depth beyond the hole": (
        "fractures.csv",
        "B3,44,",
        "B3,54,",
        r"fractures.csv, row 10, column depth_m: '54': hole 'B3' is 50 long, so this lies beyond",
    ),
    "depth not logged": (
        "fractures.csv",
        "B1,31,image",
        "B1,26,image",
        r"row 5, column depth_m: '26': hole 'B1' was not logged by image at this depth",
    ),
    "depth not logged by its method": (
        "fractures.csv",
        "B1,14,core",
        "B1,44,core",
        r"'44': hole 'B1' was not logged by core at this depth",
    ),
    "depth missing": (
        "fractures.csv",
        "B1,14,",
        "B1,,",
        r"depth_m: the cell is empty; a depth is a",
    ),
    "not a number": ("fractures.csv", "45,120", "nan,120", r"dip_deg: 'nan': a dip lies between"),
    "infinite": ("fractures.csv", "45,120", "inf,120", r"dip_deg: 'inf': a dip lies between"),
    "digits with a mark": ("fractures.csv", "45,120", "4_5,120", r"'4_5': a dip lies between"),
    "beta alone": ("fractures.csv", "35,210", ",210", r"alpha_deg: is empty beside beta_deg 210"),
    "too many cells": (
        "fractures.csv",
        '"clean, planar"',
        "clean, planar",
        r"fractures.csv, row 4: the row has 11 cells and the header 10; put a cell that holds a",
    ),
    "too few cells": ("logged.csv", "B3,1,50,core", "B3,1,50", r"logged.csv, row 7: the row has 3"),
    "quote left open": ("fractures.csv", ",wet", ',"wet', r"row 4: a quotation mark is opened"),
    "same column twice": ("holes.csv", "easting_m", "northing_m", r"stands 2 times; give each"),
    "column without a name": ("holes.csv", "easting_m", "", r"cell 2 of the header is empty"),
    "column misspelt": (
        "fractures.csv",
        "depth_m",
        "Depth",
        r"row 1, column depth_m: the column is missing; the nearest there is 'Depth'",
    ),
    "half of a pair misspelt": (
        "fractures.csv",
        "dip_direction_deg",
        "dip_dir",
        r"column dip_direction_deg: the column is missing beside dip_deg; the nearest .*'dip_dir'",
    ),
    "logged upside down": (
        "logged.csv",
        "B1,2,25",
        "B1,25,2",
        r"column to_m: '2': a logged length ends below its start, and from_m is 25",
    ),
    "logged beyond the hole": ("logged.csv", "B2,0,40", "B2,0,41", r"'41': hole 'B2' is 40 long"),
    "logged twice": (
        "logged.csv",
        "B1,27,60",
        "B1,24,60",
        r"logged.csv, row 3, column from_m: '24': the length overlaps that of row 2 \(2 to 25, im",
    ),
    "stations at equal depth": (
        "surveys.csv",
        "B1,60,",
        "B1,30,",
        r"surveys.csv, row 4, column depth_m: '30': depths of a hole rise from station to station",
    ),
    "stations that fall": ("surveys.csv", "B1,60,", "B1,10,", r"in row 3, stands at 30"),
    "stations that point opposite ways": (
        "surveys.csv",
        "B1,30,138,56",
        "B1,30,316,-55",
        r"surveys.csv, row 2: hole 'B1': stations 0 and 1 point opposite ways",
    ),
    "hole without direction": (
        "holes.csv",
        ",0,90,76",
        ",,,76",
        r"row 4, column trend_deg: the hole has no direction; .* or rows in surveys",
    ),
    "hole with half a direction": ("holes.csv", ",20,-10,", ",20,,", r"plunge_deg: the cell is em"),
    "reference that does not exist there": (
        "fractures.csv",
        "B3,9,image,5,300,,",
        "B3,9,image,,,40,20",
        r"row 9, column beta_deg: '20': hole 'B3': a vertical hole has no low side; use \"north\"",
    ),
    "setting unknown": (
        "site.toml",
        "blind_angle_deg",
        "blind_angle",
        r"site.toml, row 4, column blind_angle: '12': this setting is not known; the nearest known",
    ),
    "setting of a wrong kind": ("site.toml", "= 12", '= "12"', r"the blind angle is a number from"),
    "setting out of range": ("site.toml", "= 12", "= 91", r"'91': the blind angle is a number"),
    "setting of a wrong word": ("site.toml", '"true"', '"up"', r'one of "true", "grid", "magnet'),
    "name that is no text": ("site.toml", '"Small site"', "5", r"name is text in quotation marks"),
}


@pytest.mark.parametrize("case", CASES)
def test_each_fault_is_one_line_that_says_what_to_do(case: str, tmp_path: Path) -> None:
    """Each broken rule is told once, with its place, its value and the rule."""
    name, old, new, expected = CASES[case]
    write_tables(tmp_path, **{name.replace(".", "_"): changed(name, old, new)})
    with pytest.raises(SiteError, match=expected) as caught:
        js.read_site(tmp_path)
    assert len(caught.value.faults) == 1, [str(fault) for fault in caught.value.faults]


def test_a_wrong_length_is_one_fault_however_many_rows_lie_deeper(tmp_path: Path) -> None:
    """Where a survey, a log and fractures all lie deeper, the length itself is in doubt."""
    write_tables(tmp_path, holes_csv=changed("holes.csv", "50,60,136", "50,6,136"))
    (fault,) = faults_of(tmp_path)
    assert fault.startswith("holes.csv, row 2, column length_m: '6': hole 'B1' is given as 6 long")
    assert "fractures.csv 3 rows: 3, 4, 5" in fault


def test_a_hole_that_stands_nowhere_is_one_fault(tmp_path: Path) -> None:
    """A name used in several tables and missing from holes.csv is one fault there."""
    kept = TABLES["holes.csv"].replace("B2,120,210,51,40,20,-10,96\n", "")
    write_tables(tmp_path, holes_csv=kept)
    (fault,) = faults_of(tmp_path)
    assert fault.startswith("holes.csv, column hole: 'B2': the hole is missing here, and stands in")


def test_missing_tables_and_folders_are_named(tmp_path: Path) -> None:
    """No folder, a file in its place, or no tables: one line each, with what a site is."""
    assert "does not exist; a site is a directory" in faults_of(tmp_path / "nowhere")[0]
    (tmp_path / "file").write_text("")
    assert "is a file; a site is a directory" in faults_of(tmp_path / "file")[0]
    assert faults_of(tmp_path) == [
        "holes.csv: the table is missing; every site has one",
        "fractures.csv: the table is missing; every site has one",
    ]
    write_tables(tmp_path, fractures_csv="")
    assert faults_of(tmp_path) == ["fractures.csv: the file is empty; it needs a header row"]
    write_tables(tmp_path, fractures_csv="hole,depth_m\n")
    assert faults_of(tmp_path) == ["fractures.csv: the table has a header and no rows"]


def test_orientations_under_other_names_are_not_passed_over(tmp_path: Path) -> None:
    """Where both columns of a pair are misnamed, nothing would be oriented: that is a fault."""
    table = "hole,depth_m,dip,dip_direction,type\nB1,3,45,120,joint\n"
    write_tables(tmp_path, fractures_csv=table)
    told = faults_of(tmp_path)
    assert len(told) == 2
    assert "column dip: 'dip': is not read, and is near to dip_deg, which could" in told[0]
    assert "column dip_direction: 'dip_direction': is not read, and is near to dip_d" in told[1]
    write_tables(tmp_path, fractures_csv="hole,depth_m,type\nB1,3,joint\n")
    assert len(js.read_site(tmp_path).fractures) == 1


def test_a_reference_line_that_is_not_stated_is_asked_for(tmp_path: Path) -> None:
    """Readings round the core without a stated reference line are not oriented by a guess."""
    write_tables(tmp_path, site_toml=None)
    (fault,) = faults_of(tmp_path)
    assert fault.startswith("site.toml, column reference: the setting is missing, and fractures.c")
    assert "3 readings" in fault


@pytest.mark.parametrize(
    "turn",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: "\n\n" + text.replace("\n", "\n\n"),
        lambda text: text.rstrip("\n"),
        lambda text: text + ",,,,,,,,,\n,,,\n",
    ],
    ids=["mark", "windows", "old mac", "blank lines", "no last line end", "empty rows"],
)
def test_what_spreadsheets_do_to_a_file_changes_nothing(
    turn: Callable[[str], str], tmp_path: Path
) -> None:
    """A byte-order mark, other line ends and blank rows read as the plain file does."""
    (tmp_path / "plain").mkdir()
    (tmp_path / "other").mkdir()
    plain = js.read_site(write_tables(tmp_path / "plain"))
    write_tables(tmp_path / "other")
    for name in ("fractures.csv", "holes.csv"):
        text = turn(TABLES[name])
        (tmp_path / "other" / name).write_bytes(text.encode("utf-8"))
    assert js.read_site(tmp_path / "other") == plain


@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("separator", [";", "\t"])
def test_semicolons_and_tabs_are_read(separator: str, decimal: str, tmp_path: Path) -> None:
    """Other separators are seen in the header; decimal commas go with semicolons."""
    if separator == "\t" and decimal == ",":
        pytest.skip("decimal commas are read beside semicolons only")
    plain = js.read_site(write_tables(tmp_path))
    for name in ("fractures.csv", "holes.csv", "surveys.csv"):
        rows = list(csv.reader(io.StringIO(TABLES[name])))
        rows = [
            [c.replace(".", decimal) if c.replace(".", "").isdigit() else c for c in row]
            for row in rows
        ]
        out = io.StringIO()
        csv.writer(out, delimiter=separator, lineterminator="\n").writerows(rows)
        (tmp_path / name).write_text(out.getvalue())
    assert js.read_site(tmp_path) == plain


def test_rows_keep_their_lines_past_blank_lines_and_quoted_breaks(tmp_path: Path) -> None:
    """A fault is placed on the line that an editor shows."""
    text = (
        changed("fractures.csv", '"clean, planar"', '"clean,\nplanar"')
        + "\n\nB3,10,image,95,1,,,j,,\n"
    )
    write_tables(tmp_path, fractures_csv=text)
    assert faults_of(tmp_path)[0].startswith("fractures.csv, row 14, column dip_deg: '95'")


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("hole\nB\xfc1\n".encode("latin-1"), "holes.csv, row 2: this line is not UTF-8 text"),
        (b"hole\nB1\n\x00\n", "holes.csv, row 3: this is not text"),
    ],
)
def test_files_that_are_not_text_are_told_by_line(
    data: bytes, expected: str, tmp_path: Path
) -> None:
    """Another encoding, or bytes that are no text, is a fault with its line."""
    write_tables(tmp_path)
    (tmp_path / "holes.csv").write_bytes(data)
    faults = faults_of(tmp_path)
    assert faults == [f"{expected}; save the table as CSV in UTF-8"]


def test_utf_16_and_umlauts_are_read(tmp_path: Path) -> None:
    """What a spreadsheet saves as Unicode text reads as UTF-8 does."""
    plain = js.read_site(write_tables(tmp_path))
    text = TABLES["fractures.csv"].replace("wet", "naß")
    (tmp_path / "fractures.csv").write_bytes(text.encode("utf-16"))
    assert js.read_site(tmp_path).fractures["remark"][0] == "naß"
    (tmp_path / "site.toml").write_bytes(b"name = '\xff'")
    assert "site.toml: the file is not UTF-8 text" in faults_of(tmp_path)[0]
    assert plain.fractures["remark"][0] == "wet"


def test_column_order_and_unknown_columns_do_not_matter(tmp_path: Path) -> None:
    """Columns may stand in any order; one that is not known is kept as text."""
    plain = js.read_site(write_tables(tmp_path))
    frame = pd.read_csv(tmp_path / "fractures.csv", dtype=str, keep_default_na=False)
    frame["sample"] = [f"00{k}" for k in range(len(frame))]
    frame[frame.columns[::-1]].to_csv(tmp_path / "fractures.csv", index=False)
    site = js.read_site(tmp_path)
    assert site.fractures["sample"].tolist()[:2] == ["000", "001"]
    pd.testing.assert_frame_equal(site.fractures[plain.fractures.columns], plain.fractures)


def test_a_site_without_a_log_is_taken_as_logged_whole_and_says_so(tmp_path: Path) -> None:
    """Without logged.csv each hole counts from collar to end, by the methods of its fractures."""
    site = js.read_site(write_tables(tmp_path, logged_csv=None))
    assert [(x.from_m, x.to_m, x.method) for x in site.hole("B1").logged] == [
        (0, 60, "image"),
        (0, 60, "core"),
    ]
    assert any("no table logged" in note for note in site.notes)
    no_length = TABLES["holes.csv"].replace("length_m", "long")
    write_tables(tmp_path, holes_csv=no_length, logged_csv=None)
    (fault,) = faults_of(tmp_path)
    assert "column length_m: the lengths of the holes are not known; give length_m here" in fault
    one_gone = changed("holes.csv", "50,60,136", "50,,136")
    write_tables(tmp_path, holes_csv=one_gone, logged_csv=None)
    (fault,) = faults_of(tmp_path)
    assert "holes.csv, row 2, column length_m: the length is not known" in fault


def test_the_length_may_come_from_the_log(tmp_path: Path) -> None:
    """Without length_m the deepest logged depth is the length of the hole."""
    holes = "hole,trend_deg,plunge_deg\nB1,1,60\nB2,1,60\nB3,,90\n"
    site = js.read_site(write_tables(tmp_path, holes_csv=holes, surveys_csv=None) / ".")
    assert [hole.length_m for hole in site.holes] == [60, 40, 50]
    assert site.hole("B1").collar is None
    assert site.hole("B1").diameter_mm is None


def test_directions_may_come_from_the_survey_alone(tmp_path: Path) -> None:
    """A table of holes without any direction is fine where every hole was surveyed."""
    holes = "hole,length_m\nB1,60\nB2,40\nB3,50\n"
    write_tables(tmp_path, holes_csv=holes)
    (fault,) = faults_of(tmp_path)
    assert "holes.csv, row 1, column trend_deg: the column is missing; a hole needs" in fault
    write_tables(tmp_path, holes_csv=holes, surveys_csv=TABLES["surveys.csv"] + "B3,0,0,90\n")
    assert js.read_site(tmp_path).hole("B2").path.depth_m.tolist() == [20, 40]


def test_a_hole_without_a_row_in_the_log_was_not_logged(tmp_path: Path) -> None:
    """A log that leaves a hole out means that nothing was seen of it; fractures there are faults."""
    logged = "\n".join(TABLES["logged.csv"].split("\n")[:5]) + "\n"
    write_tables(tmp_path, logged_csv=logged)
    (fault,) = faults_of(tmp_path)
    assert "hole 'B3' has no row in logged" in fault
    kept = "".join(r for r in TABLES["fractures.csv"].splitlines(True) if not r.startswith("B3"))
    site = js.read_site(write_tables(tmp_path, logged_csv=logged, fractures_csv=kept))
    assert site.hole("B3").logged == ()
    assert any("nothing counts as logged: B3" in note for note in site.notes)


def test_feet_become_metres_everywhere(tmp_path: Path) -> None:
    """Columns that end in ft are converted in every table, and it is said."""
    tables = {name: in_feet(text) for name, text in TABLES.items() if name.endswith(".csv")}
    feet = {name.replace(".", "_"): text for name, text in tables.items()}
    site = js.read_site(write_tables(tmp_path, **feet))
    assert site.hole("B1").length_m == pytest.approx(60 * 0.3048)
    assert site.hole("B1").path.depth_m[1] == pytest.approx(30 * 0.3048)
    assert site.hole("B1").logged[0].to_m == pytest.approx(40 * 0.3048)
    assert site.fractures["depth_m"][0] == pytest.approx(3.5 * 0.3048)
    assert any("given in feet" in note for note in site.notes)
    assert site.settings.depth_unit == "ft"
    some = (
        "hole,from_m,to_ft,method\nB1,0,60,core\nB1,0,60,image\nB2,0,40,core\n"
        "B3,0,50,image\nB3,0,50,core\n"
    )
    mixed = js.read_site(write_tables(tmp_path, **(feet | {"logged_csv": some})))
    assert mixed.hole("B1").logged[0].to_m == pytest.approx(60 * 0.3048)


def test_a_unit_is_what_the_heading_says(tmp_path: Path) -> None:
    """Feet under a heading in metres, or both headings at once, stop the reading."""
    toml = TABLES["site.toml"] + 'depth_unit = "ft"\n'
    told = faults_of(write_tables(tmp_path, site_toml=toml))
    assert len(told) == 5  # each depth and length of each table
    assert all(
        "depth_unit is ft, and the name of this column says metres; call it" in one for one in told
    )
    twice = "hole,from_m,from_ft,to_m,method\nB1,0,0,60,core\n"
    told = faults_of(write_tables(tmp_path, logged_csv=twice))
    assert (
        "logged.csv, row 1, column from_ft: 'from_ft': stands beside from_m; give one of the two"
        in told
    )
    inches = changed("holes.csv", "diameter_mm", "diameter_in").replace(",96", ",4")
    site = js.read_site(write_tables(tmp_path, logged_csv=TABLES["logged.csv"], holes_csv=inches))
    assert site.hole("B1").diameter_mm == pytest.approx(101.6)
    assert site.settings.depth_unit == "m"


def test_faults_in_feet_are_told_in_feet(tmp_path: Path) -> None:
    """Headings, values and numbers within the rule stand as in the file."""
    logged = in_feet(changed("logged.csv", "B1,2,25", "B1,25,2"))
    fractures = in_feet(changed("fractures.csv", "B3,44,", "B3,54.5,"))
    holes, surveys = in_feet(TABLES["holes.csv"]), in_feet(TABLES["surveys.csv"])
    write_tables(
        tmp_path, holes_csv=holes, surveys_csv=surveys, logged_csv=logged, fractures_csv=fractures
    )
    assert faults_of(tmp_path) == [
        "logged.csv, row 2, column to_ft: '2': a logged length ends below its start, and from_m is "
        "25 ft",
        "fractures.csv, row 10, column depth_ft: '54.5': hole 'B3' is 50 ft long, so this lies "
        "beyond its end",
    ]


def test_declination_turns_holes_and_planes(tmp_path: Path) -> None:
    """Azimuths from magnetic north are turned by the declination, those of true north are not."""
    toml = TABLES["site.toml"].replace('"true"', '"magnetic"\ndeclination_deg = 5')
    site = js.read_site(write_tables(tmp_path, site_toml=toml))
    plain = js.read_site(write_tables(tmp_path))
    assert site.hole("B1").path == js.HolePath([0, 30, 60], [141, 143, 146], [55, 56, 57.5])
    turned, before = js.orient_fractures(site), js.orient_fractures(plain)
    change = (turned["true_dip_direction_deg"] - before["true_dip_direction_deg"]) % 360
    np.testing.assert_allclose(change.dropna(), 5.0, atol=1e-9)
    np.testing.assert_allclose(
        turned["true_dip_deg"].dropna(), before["true_dip_deg"].dropna(), atol=1e-9
    )


def test_a_north_that_is_not_stated_is_said_to_be_assumed(tmp_path: Path) -> None:
    """Without site.toml, or without a north in it, true north is a note and not a fact."""
    told = "No north is stated in site.toml: azimuths are taken as from true north."
    toml = TABLES["site.toml"]
    assert told not in js.read_site(write_tables(tmp_path, site_toml=toml)).notes
    silent = toml.replace('north = "true"\n', "")
    assert told in js.read_site(write_tables(tmp_path, site_toml=silent)).notes


def test_a_reference_of_a_hole_or_row_comes_before_that_of_the_site(tmp_path: Path) -> None:
    """A vertical hole may have its own reference line in holes.csv, a reading its own in its row."""
    holes = TABLES["holes.csv"].replace("diameter_mm\n", "diameter_mm,reference\n")
    holes = holes.replace("96\n", "96,\n").replace("76\n", "76,north\n")
    fractures = changed("fractures.csv", "B3,9,image,5,300,,", "B3,9,image,,,40,90")
    site = js.read_site(write_tables(tmp_path, holes_csv=holes, fractures_csv=fractures))
    table = js.orient_fractures(site)
    assert table["true_dip_deg"][7] == pytest.approx(50)
    assert table["true_dip_direction_deg"][7] == pytest.approx(90)


def test_orienting_without_a_reference_is_refused() -> None:
    """A site made by hand with α and β and no reference line is not oriented by a guess."""
    hole = js.Hole("B1", js.HolePath([0], [10], [60]), 30.0, None, None, ())
    table = pd.DataFrame({"hole": ["B1"], "depth_m": [3.0], "alpha_deg": [40.0], "beta_deg": [5.0]})
    site = js.Site("by hand", (hole,), table)
    with pytest.raises(InputError, match="not where their reference line lies"):
        js.orient_fractures(site)


def test_core_with_alpha_alone_is_kept_and_counted(tmp_path: Path) -> None:
    """Unoriented core has α and an empty β: kept, not oriented, its angle to the hole known."""
    fractures = changed("fractures.csv", "35,210", "35,")
    site = js.read_site(write_tables(tmp_path, fractures_csv=fractures))
    table = js.orient_fractures(site)
    assert table["oriented_from"][2] == "not oriented"
    assert table["hole_angle_deg"][2] == 35
    assert any("Fractures with alpha and no beta: 1 (row" in note for note in site.notes)


@pytest.mark.parametrize(
    ("left", "what"), [("45,", "a dip and no dip direction"), (",120", "a dip direction and no dip")]
)
def test_half_an_orientation_is_kept_and_told(left: str, what: str, tmp_path: Path) -> None:
    """A dip or a dip direction alone enters the fit by all it leaves open, and its row is named."""
    fractures = changed("fractures.csv", "45,120", left)
    site = js.read_site(write_tables(tmp_path, fractures_csv=fractures))
    assert any(f"Fractures with {what}: 1 (row 2)" in note for note in site.notes)
    assert js.analyse(site, 1, domains="none").fractures["status"][0] == "partly oriented"


def test_alpha_needs_no_column_of_beta(tmp_path: Path) -> None:
    """A table of spun core has no column beta_deg; one that looks like it is still asked about."""
    text = "hole,depth_m,method,alpha_deg\nB2,7.5,core,35\nB2,9.5,core,60\n"
    site = js.read_site(write_tables(tmp_path, fractures_csv=text))
    assert js.orient_fractures(site)["hole_angle_deg"].tolist() == [35.0, 60.0]
    near = text.replace("alpha_deg", "alpha_deg,beta_dg").replace("35", "35,1").replace("60", "60,2")
    with pytest.raises(SiteError, match="beta_deg: the column is missing beside alpha_deg"):
        js.read_site(write_tables(tmp_path, fractures_csv=near))


def test_a_misspelt_optional_column_is_named(tmp_path: Path) -> None:
    """A column that is not read is listed, with the nearest known name; it is kept all the same."""
    fractures = changed("fractures.csv", "aperture_mm,remark", "apertura_mm,weather")
    site = js.read_site(write_tables(tmp_path, fractures_csv=fractures))
    assert site.unread == (
        "fractures.csv, column apertura_mm is not read; the nearest known name is 'aperture_mm'",
        "fractures.csv, column weather is not read",
    )
    assert "apertura_mm" in site.fractures
