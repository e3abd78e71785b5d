"""AGS4 files: the groups that make a site, and faults by line and heading."""

from __future__ import annotations

from pathlib import Path

import pytest

import jointstats as js
from jointstats.errors import SiteError

FILE = """"GROUP","PROJ"
"HEADING","PROJ_ID","PROJ_NAME"
"UNIT","",""
"TYPE","ID","X"
"DATA","P1","An invented
dam"

"GROUP","LOCA"
"HEADING","LOCA_ID","LOCA_NATE","LOCA_NATN","LOCA_GL","LOCA_FDEP"
"UNIT","","m","m","m","m"
"TYPE","ID","2DP","2DP","2DP","2DP"
"DATA","B1","100.00","200.00","50.00","30.00"
"DATA","B2","110.00","200.00","51.00","20.00"

"GROUP","HORN"
"HEADING","LOCA_ID","HORN_TOP","HORN_BASE","HORN_ORNT","HORN_INCL"
"UNIT","","m","m","deg","deg"
"TYPE","ID","2DP","2DP","0DP","0DP"
"DATA","B1","0.00","15.00","136","55"
"DATA","B1","15.00","30.00","138","56"
"DATA","B2","0.00","20.00","0","90"

"GROUP","CORE"
"HEADING","LOCA_ID","CORE_TOP","CORE_BASE","CORE_PREC"
"UNIT","","m","m","%"
"TYPE","ID","2DP","2DP","0DP"
"DATA","B1","0.00","10.00","100"
"DATA","B1","10.00","12.00","0"
"DATA","B1","12.00","30.00","95"
"DATA","B2","0.00","20.00","100"

"GROUP","DISC"
"HEADING","LOCA_ID","DISC_TOP","DISC_NUMB","DISC_TYPE","DISC_DIP","DISC_DIR","DISC_RGH","DISC_APT","DISC_INFM"
"UNIT","","m","","","deg","deg","","mm",""
"TYPE","ID","2DP","X","PA","0DP","X","X","0DP","X"
"DATA","B1","3.20","1","JT","45","120","rough","1","clay"
"DATA","B1","14.10","2","JT","60","301","smooth","",""
"DATA","B2","5.00","3","BP","5","010","","0",""
"DATA","B2","7.00","4","JT","","","","",""
"""


def read(tmp_path: Path, old: str = "", new: str = "") -> js.Site:
    assert old in FILE
    path = tmp_path / "invented.ags"
    path.write_text(FILE.replace(old, new, 1) if old else FILE, encoding="utf-8")
    return js.read_site(path)


def test_groups_become_a_site(tmp_path: Path) -> None:
    """Holes, their directions, recovered core and discontinuities come out with their words."""
    site = read(tmp_path)
    assert repr(site) == "Site('invented', 2 holes of 50 m in all, 4 fractures)"
    assert site.hole("B1").path == js.HolePath([0, 15], [136, 138], [55, 56])
    assert [(x.from_m, x.to_m) for x in site.hole("B1").logged] == [(0, 10), (12, 30)]
    assert site.hole("B2").collar == (110, 200, 51)
    table = js.orient_fractures(site)
    assert table["true_dip_direction_deg"][1] == pytest.approx(301)
    assert table["oriented_from"].tolist()[-1] == "not oriented"
    assert table["infilling"][0] == "clay"
    assert table["disc_numb"].tolist() == ["1", "2", "3", "4"]
    assert any("1 core runs with no recovery" in note for note in site.notes)
    assert any("recovery below 100 %" in note for note in site.notes)


def test_an_ags_site_written_as_csv_is_the_same(tmp_path: Path) -> None:
    """What was read from AGS4 goes to CSV and comes back."""
    site = read(tmp_path)
    again = js.read_site(js.write_site(site, tmp_path / "out"))
    assert again.holes == site.holes
    assert again.fractures.equals(site.fractures)


CASES = {
    "word for a number": ('"45","120"', '"steep","120"', "column DISC_DIP: 'steep': a dip"),
    "text direction": ('"60","301"', '"60","N301"', "column DISC_DIR: 'N301': a dip dire"),
    "hole unknown": ('"B2","7.00"', '"B7","7.00"', "column LOCA_ID: 'B7': no such hole"),
    "beyond the hole": (
        '"B2","7.00"',
        '"B2","27.0"',
        "column DISC_TOP: '27': hole 'B2' is",
    ),
    "where nothing was cored": ('"14.10"', '"11.10"', "DISC_TOP: '11.1': hole 'B1' was not logged"),
    "short row": ('"B2","5.00","3",', '"B2","5.00",', "'DATA': the row has 8 cells after"),
    "unit": ('"m","","","deg","deg"', '"ft","","","deg","deg"', "DISC_TOP: 'ft': the unit of DISC"),
    "mark": (
        '"UNIT","","m","m","%"',
        '"UNITS","","m","m","%"',
        "'UNITS': a row of an AGS4 file be",
    ),
    "group twice": ('"GROUP","CORE"', '"GROUP","LOCA"', "group LOCA stands in the file twice"),
    "heading missing": (
        '"DISC_TOP"',
        '"DISC_TIP"',
        "column DISC_TOP: the column is missin",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_faults_are_told_by_line_and_heading(case: str, tmp_path: Path) -> None:
    """A wrong cell is named by the line an editor shows and by its own heading."""
    old, new, expected = CASES[case]
    with pytest.raises(SiteError) as caught:
        read(tmp_path, old, new)
    lines = [str(fault) for fault in caught.value.faults]
    assert any(expected in line for line in lines), lines
    if case not in ("group twice", "mark"):
        assert len(lines) == 1, lines
        line = FILE.count("\n", 0, FILE.index(old)) + 1
        assert lines[0].startswith(f"invented.ags, row {line}"), (line, lines)


def test_files_without_what_is_needed(tmp_path: Path) -> None:
    """No DISC group, no rows, rows before a group or another encoding: one line each."""
    path = tmp_path / "a.ags"
    path.write_text('"GROUP","LOCA"\n"HEADING","LOCA_ID"\n"DATA","B1"\n')
    with pytest.raises(SiteError, match="a.ags: the file has no group DISC, which holds the fract"):
        js.read_site(path)
    path.write_text('"DATA","B1"\n')
    with pytest.raises(SiteError, match="row 1: 'DATA': a row stands before the first GROUP"):
        js.read_site(path)
    path.write_text('"GROUP","LOCA"\n"DATA","B1"\n"GROUP","DISC"\n')
    with pytest.raises(SiteError, match="group LOCA has no HEADING row before this one"):
        js.read_site(path)
    path.write_text('"GROUP","LOCA"\n"HEADING","LOCA_ID"\n"GROUP","DISC"\n"HEADING","LOCA_ID"\n')
    with pytest.raises(SiteError, match="'LOCA': the group has no DATA"):
        js.read_site(path)
    path.write_bytes(b'"GROUP","\xff"')
    with pytest.raises(SiteError, match="a.ags: the file is not UTF-8 text"):
        js.read_site(path)


def test_core_lost_whole_leaves_nothing_logged(tmp_path: Path) -> None:
    """Where every run was lost, the discontinuities lie where nothing was logged."""
    path = tmp_path / "a.ags"
    path.write_text(FILE.replace('"100"\n', '"0"\n').replace('"95"\n', '"0"\n'))
    with pytest.raises(SiteError, match="has no row in logged, so nothing of it counts"):
        js.read_site(path)
