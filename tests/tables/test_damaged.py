"""Damaged, huge and odd files: no row is lost in silence, and each ends in faults that help."""

from __future__ import annotations

import io
import os
import re
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.errors import SiteError
from tests.tables.site_tables import write_tables


def _book(folder: Path, n: int = 330) -> Path:
    rng = np.random.default_rng(4)
    site = js.Site.from_frames(
        pd.DataFrame({"hole": ["B"], "trend_deg": [10.0], "plunge_deg": [60.0], "length_m": 99}),
        pd.DataFrame(
            {
                "hole": "B",
                "depth_m": rng.uniform(0, 90, n).round(2),
                "dip_deg": rng.uniform(0, 90, n).round(),
                "dip_direction_deg": rng.uniform(0, 360, n).round(),
            }
        ),
    )
    return js.write_site(site, folder / "a.xlsx")


def _changed(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    """A copy of a workbook with one part of the archive changed."""
    target = path.with_name("changed.xlsx")
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(target, "w") as copy:
        for name in source.namelist():
            data = source.read(name)
            copy.writestr(name, change(data) if name == part else data)
    return target


def _rows_by_zip(path: Path) -> int:
    """Rows of the sheet of fractures, counted in its XML: the second route."""
    with zipfile.ZipFile(path) as book:
        return len(re.findall(rb"<row\b", book.read("xl/worksheets/sheet2.xml")))


SHEET = "xl/worksheets/sheet2.xml"


@pytest.mark.parametrize("tag", [b"A1:Z100", b"A1", b"A1:A1", b"C5:D9", b"A1:XFD1048576"])
def test_the_stored_size_of_a_sheet_loses_no_row(tag: bytes, tmp_path: Path) -> None:
    """Whatever size the sheet is said to have, every row of it is read."""
    path = _book(tmp_path)
    wrong = _changed(
        path, SHEET, lambda data: re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="' + tag + b'"', data)
    )
    assert tag in zipfile.ZipFile(wrong).read(SHEET)
    read = js.read_site(wrong).fractures
    assert len(read) == _rows_by_zip(wrong) - 1 == 330
    pd.testing.assert_frame_equal(read, js.read_site(path).fractures)


def _swap_rows(data: bytes) -> bytes:
    """Rows 5 and 300 in each other's place."""
    one, two = (re.search(rb'<row r="%d".*?</row>' % k, data, re.DOTALL) for k in (5, 300))
    assert one and two
    return data.replace(one[0], b"@").replace(two[0], one[0]).replace(b"@", two[0])


@pytest.mark.parametrize(
    "change",
    [
        _swap_rows,
        lambda data: data.replace(b'<row r="6"', b'<row r="5"'),
        lambda data: data.replace(b'r="A6"', b'r="A5"'),
        lambda data: data.replace(b'<row r="6"', b'<row r="4000000000"'),
        lambda data: data.replace(b'<row r="6"', b'<row r="1e308"'),
        lambda data: data[: len(data) // 2],
        lambda data: data.replace(b'ref="A1', b'ref="?'),
        lambda data: data.replace(b"</row>", b"", 1),
        lambda _: b"",
        lambda _: b"\x00" * 1000,
    ],
    ids="swapped twice cell far power cut size unclosed empty zeros".split(),
)
def test_a_damaged_sheet_is_told(change: Callable[[bytes], bytes], tmp_path: Path) -> None:
    """Rows out of order, given twice or cut off: one fault that names the workbook."""
    wrong = _changed(_book(tmp_path), SHEET, change)
    with pytest.raises(SiteError, match="changed.xlsx: the workbook is damaged: .*save it again"):
        js.read_site(wrong)


def test_any_damage_to_a_workbook_gives_faults_or_the_same_rows(tmp_path: Path) -> None:
    """Bytes changed at random, in the archive and in its parts: no foreign error, no row less."""
    rng = np.random.default_rng(11)
    path = _book(tmp_path, 40)
    data = path.read_bytes()
    names = zipfile.ZipFile(path).namelist()
    damaged = tmp_path / "damaged.xlsx"
    for k in range(120):
        if k % 2:
            part = names[int(rng.integers(len(names)))]
            damaged = _changed(path, part, lambda text: _noise(text, rng))
        else:
            damaged.write_bytes(_noise(data, rng))
        try:
            read = js.read_site(damaged)
        except SiteError as error:
            assert len(str(error)) < 20_000
        else:
            assert len(read.fractures) == 40


def _noise(data: bytes, rng: np.random.Generator) -> bytes:
    some = bytearray(data)
    for _ in range(int(rng.integers(1, 6))):
        some[int(rng.integers(len(some)))] = int(rng.integers(256))
    return bytes(some)


def test_a_workbook_that_unpacks_to_too_much_is_refused(tmp_path: Path) -> None:
    """A small archive of a huge sheet is refused before it is unpacked; the limit can be set."""
    path = _changed(_book(tmp_path), SHEET, lambda data: data + b" " * 30_000_000)
    small = path.with_name("small.xlsx")
    with zipfile.ZipFile(path) as source:
        with zipfile.ZipFile(small, "w", zipfile.ZIP_DEFLATED) as copy:
            for name in source.namelist():
                copy.writestr(name, source.read(name))
    del source, copy
    assert small.stat().st_size < 1_000_000
    tracemalloc.start()
    with pytest.raises(SiteError, match=r"small.xlsx: it has 30\.\d+ MB unpacked, and at most 20 MB"):
        js.read_site(small, max_mb=20)
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()
    with pytest.raises(SiteError, match=r"a.xlsx: it has .* MB unpacked, and at most 0.02 MB"):
        js.read_site(tmp_path / "a.xlsx", max_mb=0.02)


def test_a_file_above_the_limit_is_refused(tmp_path: Path) -> None:
    """A table of too many megabytes is refused unread; a higher limit lets it in."""
    write_tables(tmp_path)
    with pytest.raises(SiteError, match=r"holes.csv: it has 0.0\d+ MB, and at most 0.0001 MB"):
        js.read_site(tmp_path, max_mb=0.0001)
    with pytest.raises(js.InputError, match="max_mb must be finite and above 0"):
        js.read_site(tmp_path, max_mb=0)
    assert len(js.read_site(tmp_path, max_mb=5).fractures) == 9


@pytest.mark.parametrize("kind", ["pipe", "device", "directory", "dangling"])
def test_what_is_no_file_is_not_read(kind: str, tmp_path: Path) -> None:
    """A pipe, a device, a directory or a link to nothing in the place of a table is told."""
    write_tables(tmp_path)
    place = tmp_path / "fractures.csv"
    place.unlink()
    make = {
        "pipe": lambda: os.mkfifo(place),
        "device": lambda: place.symlink_to("/dev/zero"),
        "directory": place.mkdir,
        "dangling": lambda: place.symlink_to("nowhere.csv"),
    }
    make[kind]()
    with pytest.raises(SiteError, match="fractures.csv: this is no file"):
        js.read_site(tmp_path)


def test_a_site_that_is_no_file_is_not_read(tmp_path: Path) -> None:
    """A pipe or a device as a site is told at once."""
    os.mkfifo(tmp_path / "a.xlsx")
    for path in (tmp_path / "a.xlsx", Path("/dev/zero")):
        with pytest.raises(SiteError, match="is a file|is no file"):
            js.read_site(path)


def test_tables_whose_names_differ_in_case_are_told(tmp_path: Path) -> None:
    """Of two files that are one table by their names, neither is chosen in silence."""
    write_tables(tmp_path)
    (tmp_path / "Fractures.CSV").write_text("hole,depth_m\nB1,1\n", encoding="utf-8")
    rule = "Fractures.CSV and fractures.csv are one table by their names; keep one of them"
    with pytest.raises(SiteError, match=rule):
        js.read_site(tmp_path)
    (tmp_path / "fractures.csv").unlink()
    assert len(js.read_site(tmp_path).fractures) == 1


def test_too_many_columns_are_told_at_once(tmp_path: Path) -> None:
    """A header of 100,000 columns is one fault, in files and frames."""
    header = ",".join(["hole", "depth_m", *(f"c{k}" for k in range(100_000))])
    write_tables(tmp_path, fractures_csv=header + "\n" + "B1,1" + ",0" * 100_000 + "\n")
    with pytest.raises(SiteError, match="the header has 100002 columns, and at most 1000") as caught:
        js.read_site(tmp_path)
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 5000 + "]" * 5000,
        "a = " + "{b=" * 3000 + "1" + "}" * 3000,
        ".".join("a" * 3000) + " = 1",
        "blind_angle_deg = " + "9" * 6000,
        "name = " + '"' + "x" * 2_000_000 + '"',
        "\x00",
        "a = 2024-13-45",
        "[errors]\nalpha_deg = 1\n[errors.alpha_deg]\nx = 1",
        "[[errors]]\nalpha_deg = 1",
        "north = {holes = [1], fractures = {}}",
    ],
    ids=lambda text: text[:12],
)
def test_settings_of_any_depth_and_size_give_faults(text: str, tmp_path: Path) -> None:
    """Nested, long, huge or odd settings end in one short fault about site.toml."""
    write_tables(tmp_path, site_toml=text)
    with pytest.raises(SiteError) as caught:
        js.read_site(tmp_path)
    assert all(fault.file == "site.toml" for fault in caught.value.faults)
    assert len(str(caught.value)) < 2000


AGS = """"GROUP","LOCA"
"HEADING","LOCA_ID","LOCA_FDEP"
"UNIT","","m"
"TYPE","ID","2DP"
"DATA","B1","30.00"

"GROUP","HORN"
"HEADING","LOCA_ID","HORN_TOP","HORN_BASE","HORN_ORNT","HORN_INCL"
"UNIT","","m","m","deg","deg"
"TYPE","ID","2DP","2DP","0DP","0DP"
"DATA","B1","0.00","30.00","45","60"

"GROUP","DISC"
"HEADING","LOCA_ID","DISC_TOP","DISC_DIP","DISC_DIR"
"UNIT","","m","deg","deg"
"TYPE","ID","2DP","0DP","0DP"
"DATA","B1","5.00","45","120"
"DATA","B1","7.00","50","125"
"""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"DATA","B1","7.00"', '"HEADING","LOCA_ID"\n"DATA","B1","7.00"', "second HEADING"),
        ('"DISC_DIP","DISC_DIR"', '"DISC_DIP","DISC_DIP"', "DISC_DIP stands twice"),
        ('"7.00"', '"' + "7" * 200_000 + '"', "not readable as CSV"),
        ('"125"\n', '"125\n', "not readable as CSV|cells after its first"),
        ('"UNIT","","m","deg","deg"\n"TYPE","ID","2DP","0DP","0DP"\n', "", None),
    ],
    ids=["heading", "twice", "long", "quote", "no units"],
)
def test_damage_in_an_ags_file_is_told(old: str, new: str, said: str | None, tmp_path: Path) -> None:
    """A second HEADING, a heading given twice, a cell without end: faults by line."""
    assert old in AGS
    path = tmp_path / "a.ags"
    path.write_text(AGS.replace(old, new), encoding="utf-8")
    if said is None:
        assert len(js.read_site(path).fractures) == 2
        return
    with pytest.raises(SiteError, match=said):
        js.read_site(path)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("quoted", [False, True])
def test_every_row_of_a_table_is_read(
    end: str, encoding: str, quoted: bool, tmp_path: Path
) -> None:
    """Rows counted by the csv module, and by their own numbers, in all the ways a table is kept."""
    rng = np.random.default_rng(5)
    depth = rng.uniform(0, 40, 200).round(2)
    note = '"a ""b"", c\nd"' if quoted else "a"
    rows = [f"B1,{one},{k},{note}" for k, one in enumerate(depth)]
    text = end.join(["hole,depth_m,sample,remark", *rows, "", "", ""])
    write_tables(tmp_path, fractures_csv=None, logged_csv=None, surveys_csv=None)
    holes = "hole,trend_deg,plunge_deg,length_m\nB1,10,60,50\n"
    (tmp_path / "holes.csv").write_text(holes, encoding="utf-8")
    (tmp_path / "fractures.csv").write_bytes(text.encode(encoding))
    read = js.read_site(tmp_path).fractures
    assert read["sample"].astype(int).tolist() == list(range(200))
    assert np.array_equal(read["depth_m"], depth)


def test_text_in_half_of_utf16_is_told(tmp_path: Path) -> None:
    """UTF-16 that breaks off is a fault, not a table with other characters in it."""
    data = (tmp_path / "x").name.encode("utf-16")
    write_tables(tmp_path)
    (tmp_path / "holes.csv").write_bytes(data + b"\x00\xd8\x41")
    with pytest.raises(SiteError, match="holes.csv.*not UTF-"):
        js.read_site(tmp_path)
    assert io.BytesIO(data).read(2) in (b"\xff\xfe", b"\xfe\xff")


@pytest.mark.parametrize("separator", [",", ";"])
@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        ('B1,5,45,120,joint,a"b', None),  # a mark for inches, left as it is, opens nothing …
        ('B1,5,45,120,joint,5" and 6"', "none"),
        ('B1,5,45,120,jo"int,a\nB1,6,45,12,vein,b"', "row 3"),
        ('B1,5,45,120,jo"int,"a\nB1,6,45,12,vein,b', "row 3"),
        ('B1,5,45,120,joint,a"b\nc"d', "row 3"),
    ],
)
def test_quotation_marks_inside_cells_are_told(
    tmp_path: Path, row: str, wrong: str | None, separator: str
) -> None:
    """Where a line break or separator lies between them, it isn't clear which cells are meant."""
    text = "hole,depth_m,dip_deg,dip_direction_deg,type,remark\nB1,4,40,110,joint,a\n" + row + "\n"
    write_tables(tmp_path, fractures_csv=text.replace(",", separator))
    if wrong == "none":
        assert js.read_site(tmp_path).fractures["remark"].tolist() == ["a", '5" and 6"']
        return
    with pytest.raises(SiteError) as caught:
        js.read_site(tmp_path)
    said = "a quotation mark is opened" if wrong is None else f"fractures.csv, {wrong}: not readable"
    assert any(said in str(fault) for fault in caught.value.faults)


def test_a_header_that_is_no_csv_ends_in_missing_columns(tmp_path: Path) -> None:
    """A line break between stray quotation marks in the header, and in a file that isn't read."""
    header = 'hole,depth_m,dip_deg,dip_direction_deg,re"mark\n"x'
    write_tables(tmp_path, fractures_csv=header.replace("depth_m", 'dep"th_m\n"') + "\nB1,4,4,1,a\n")
    (tmp_path / "notes.csv").write_bytes(b'my"na\rme",b\rB1,2\r')
    with pytest.raises(SiteError, match="fractures.csv"):
        js.read_site(tmp_path)
    write_tables(tmp_path)
    assert any("notes.csv" in told for told in js.read_site(tmp_path).unread)


def test_a_cell_longer_than_csv_readers_take_is_told(tmp_path: Path) -> None:
    """In a row that needs a closer look, and not where the table is read as it stands."""
    long = "y" * 140_000
    text = f"hole,depth_m,dip_deg,dip_direction_deg,remark\nB1,4,40,110,{long},\nB1,5,4,11,a\n"
    write_tables(tmp_path, fractures_csv=text)
    with pytest.raises(SiteError, match="row 2: not readable as CSV.*at most 131,072 characters"):
        js.read_site(tmp_path)


@pytest.mark.parametrize(
    "names",
    [("007", "08"), ("1.1", "1.10"), ("TRUE", "true"), ("1e3", "1000"), ("9" * 30, "9" * 31)],
)
def test_names_that_look_like_numbers_keep_their_letters(
    names: tuple[str, str], tmp_path: Path
) -> None:
    """Holes called 1.1 and 1.10 are two, and 007 is not 7, in every table and in what is written."""
    tables = {
        "holes": "hole,trend_deg,plunge_deg,length_m\n{},0,90,20\n{},0,60,20\n",
        "fractures": "hole,depth_m,dip_deg,dip_direction_deg\n{},3,30,90\n{},4,30,90\n",
    }
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text.format(*names), encoding="utf-8")
    site = js.read_site(tmp_path)
    assert tuple(hole.name for hole in site.holes) == names
    assert tuple(js.orient_fractures(site)["hole"]) == names
    again = js.read_site(js.write_site(site, tmp_path / "again"))
    assert tuple(hole.name for hole in again.holes) == names


@pytest.mark.parametrize("value", ["1e308", "-1e308", "inf", "2e12"])
def test_a_number_too_large_to_be_squared_is_told(value: str, tmp_path: Path) -> None:
    """It is named with its cell before anything is worked out from it."""
    holes = f"hole,trend_deg,plunge_deg,diameter_mm\nB1,0,90,{value}\n"
    write_tables(tmp_path, holes_csv=holes)
    with pytest.raises(SiteError, match="row 2, column diameter_mm: .*; none is as large as this"):
        js.read_site(tmp_path)
