"""Other people's headings, files and words: drafted, confirmed by the user, and told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.errors import InputError, SiteError
from jointstats.sets.record import run_record
from jointstats.tables.suggest import suggest_mapping
from tests.tables.site_tables import TABLES

#: The small site under the files, headings and words of somebody else, with depths in feet.
THEIRS = {
    "Collar.csv": TABLES["holes.csv"].replace(
        "hole,easting_m,northing_m,elevation_m,length_m,trend_deg,plunge_deg,diameter_mm",
        "BH ID,E,N,RL,Total depth (m),Azimuth,Dip,Hole size (in)",
    )
    .replace(",55,96", ",-55,3.75")
    .replace(",-10,96", ",10,3.75")
    .replace(",90,76", ",-90,3"),
    "Deviation.csv": TABLES["surveys.csv"].replace(
        "hole,depth_m,trend_deg,plunge_deg", "Borehole,MD (m),Azi,Plunge"
    ),
    "Intervals.csv": TABLES["logged.csv"]
    .replace("hole,from_m,to_m,method", "BH ID,From,To,Source")
    .replace("image", "OTV")
    .replace("core", "Core"),
    "Structures.csv": TABLES["fractures.csv"]
    .replace(
        "hole,depth_m,method,dip_deg,dip_direction_deg,alpha_deg,beta_deg,type,aperture_mm,remark",
        "Borehole,Depth [m],Source,True dip,Strike,Angle to core axis,Beta angle,Structure,"
        "Aperture (mm),Comments",
    )
    .replace("image", "OTV")
    .replace("45,120", "45,30")
    .replace("62.5,201", "62.5,111")
    .replace("70,10", "70,280")
    .replace("OTV,5,300", "OTV,5,210")
    .replace("88,355", "88,265"),
    "site.toml": TABLES["site.toml"],
}


def folder_of(folder: Path, tables: dict[str, str]) -> Path:
    """The tables as files of a directory."""
    folder.mkdir(exist_ok=True)
    for name, text in tables.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def workbook_of(path: Path) -> Path:
    """Their tables as sheets, without the settings."""
    book = openpyxl.Workbook()
    for name, text in THEIRS.items():
        if name.endswith(".csv"):
            sheet = book.create_sheet(name.removesuffix(".csv"))
            for row in text.replace('"clean, planar"', "clean").splitlines():
                sheet.append([_number(cell) for cell in row.split(",")])
    sheet = book.create_sheet("site")
    for row in (("north", "true"), ("reference", "low side"), ("blind_angle_deg", 12)):
        sheet.append(row)
    book.save(path)
    return path


def _number(cell: str) -> float | str | None:
    try:
        return float(cell)
    except ValueError:
        return cell or None


def confirmed(draft: Path) -> Path:
    """The draft with every row confirmed, as the user would."""
    table = pd.read_csv(draft, dtype=str, keep_default_na=False)
    assert not table["confirmed"].any()
    table.assign(confirmed="yes").to_csv(draft, index=False)
    return draft


@pytest.mark.parametrize("form", ["folder", "workbook"])
def test_other_peoples_tables_are_read_after_one_confirmation(form: str, tmp_path: Path) -> None:
    """Files, headings, units and codes of others: the poles and depths are those of our tables."""
    ours = js.read_site(folder_of(tmp_path / "ours", TABLES))
    theirs = (
        folder_of(tmp_path / "theirs", THEIRS)
        if form == "folder"
        else workbook_of(tmp_path / "theirs.xlsx")
    )
    with pytest.raises(SiteError):
        js.read_site(theirs)
    draft = tmp_path / "draft.csv"
    assert main(["check", str(theirs), "--suggest", str(draft)]) == 0
    assert main(["check", str(theirs), "--mapping", str(draft)]) == 2
    site = js.read_site(theirs, mapping=confirmed(draft))
    own, other = js.orient_fractures(ours), js.orient_fractures(site)
    poles = ["depth_m", "pole_east", "pole_north", "pole_up"]
    np.testing.assert_allclose(other[poles], own[poles], atol=1e-12)
    assert other["method"].tolist() == own["method"].tolist()
    assert [hole.logged for hole in site.holes] == [hole.logged for hole in ours.holes]
    assert site.hole("B1").diameter_mm == 3.75 * 25.4
    for told in (
        "holes is 'Collar" + (".csv'" if form == "folder" else "'"),
        "holes: plunge_deg is 'Dip' times -1",
        "fractures: dip_direction_deg is 'Strike' plus 90",
        "fractures, column method: 'otv' means image",
    ):
        assert told in site.mapped
    assert dict(run_record(js.analyse(site, n_sets=0)))["Mapping of headings and words"] == "; ".join(
        site.mapped
    )
    assert any(name == "draft.csv" for name, _ in site.digests)


def test_a_mapping_among_the_tables_is_read_of_itself(tmp_path: Path) -> None:
    """A directory may hold mapping.csv; written back, the site has our names and no mapping."""
    folder = folder_of(tmp_path / "a", THEIRS)
    draft = suggest_mapping(folder)
    draft.assign(confirmed="yes").to_csv(folder / "mapping.csv", index=False)
    site = js.read_site(folder)
    again = js.read_site(js.write_site(site, tmp_path / "b"))
    assert again == site
    assert again.mapped == ()
    with pytest.raises(SiteError, match="m.csv is mapping too, by the mapping; keep one of them"):
        draft.assign(confirmed="yes").to_csv(tmp_path / "m.csv", index=False)
        js.read_site(folder, mapping=tmp_path / "m.csv")


def rows_of(*rows: dict[str, object]) -> pd.DataFrame:
    """A mapping of some rows, confirmed where they do not say otherwise."""
    return pd.DataFrame([{"confirmed": "yes"} | row for row in rows]).fillna("")


@pytest.mark.parametrize(
    ("row", "rule"),
    [
        ({"table": "fractures", "heading": "D"}, "a row has table and sheet; or table, heading"),
        (
            {"table": "fractures", "heading": "D", "column": "dept"},
            "column column: 'dept': fractures has no such column; the nearest column is 'depth_m'",
        ),
        (
            {"table": "fractures", "heading": "D", "column": "depth_m", "confirmed": ""},
            r"a row of a draft is empty here \(row 2\); put yes if it is right",
        ),
        (
            {"table": "fractures", "heading": "remark", "column": "depth_m"},
            "is mapped to depth_m, which stands beside it; give one of the two",
        ),
        ({"table": "fracture", "sheet": "x"}, "the table that it is of is holes, surveys"),
    ],
)
def test_a_row_that_says_nothing_usable_is_a_fault(
    row: dict[str, object], rule: str, tmp_path: Path
) -> None:
    """Halves, unknown columns, unconfirmed rows and a column given twice are told with their rule."""
    folder = folder_of(tmp_path, TABLES)
    rows_of(row).to_csv(folder / "mapping.csv", index=False)
    with pytest.raises(SiteError, match=rule):
        js.read_site(folder)


def test_words_of_condition_are_drafted_where_a_term_is_near(tmp_path: Path) -> None:
    """Slips and short forms are drafted with their term; what is no number, too; other words stay."""
    cells = "B1,14,30,100,caly,mod,tigth\nB1,15,30,100,sericite,slightly,shut\nB1,16,30,100,clay,fresh,2-3\n"
    heads = "hole,depth_m,dip_deg,dip_direction_deg,infilling,oxidation,aperture_mm\n"
    folder = folder_of(tmp_path, TABLES | {"fractures.csv": heads + cells})
    draft = suggest_mapping(folder)
    found = draft[["column", "word", "means"]].to_numpy().tolist()
    assert found == [
        ["infilling", "caly", "clay"],
        ["oxidation", "mod", "moderate"],
        ["aperture_mm", "tigth", "tight"],
        ["aperture_mm", "shut", ""],
    ]
    draft.loc[3, "means"] = "<0.1"
    draft.assign(confirmed="yes").to_csv(folder / "mapping.csv", index=False)
    site = js.read_site(folder)
    assert site.fractures["infilling"].tolist() == ["clay", "sericite", "clay"]
    assert site.fractures["aperture_high_mm"].tolist() == [0.25, 0.1, 3.0]
    assert "fractures, column infilling: 'caly' means clay" in site.mapped


def test_headings_that_are_not_there_and_rows_that_say_no(tmp_path: Path) -> None:
    """A mapped heading that no table has is listed; a row that says no is left out without a word."""
    folder = folder_of(tmp_path, TABLES)
    rows_of(
        {"table": "fractures", "heading": "Depht", "column": "depth_ft"},
        {"table": "fractures", "heading": "remark", "column": "photo", "confirmed": "no"},
    ).to_csv(folder / "mapping.csv", index=False)
    site = js.read_site(folder)
    assert site.unread == ("mapping.csv, row 2: fractures.csv has no heading 'Depht'; "
                           "the nearest heading is 'depth_m'",)


def test_faults_name_cells_as_their_file_has_them(tmp_path: Path) -> None:
    """A wrong cell of a mapped column is told under its own heading."""
    folder = folder_of(tmp_path, THEIRS)
    suggest_mapping(folder).assign(confirmed="yes").to_csv(folder / "mapping.csv", index=False)
    text = THEIRS["Structures.csv"].replace("B1,14,", "B1,1x4,")
    (folder / "Structures.csv").write_text(text)
    with pytest.raises(SiteError, match=r"Structures.csv, row 4, column Depth \[m\]: '1x4'"):
        js.read_site(folder)


def test_a_mapping_is_a_file_and_not_of_a_standard(tmp_path: Path) -> None:
    """A mapping that is not there, or beside an AGS4 file, is refused."""
    folder = folder_of(tmp_path / "a", TABLES)
    with pytest.raises(InputError, match="the mapping .*none.csv is no file"):
        js.read_site(folder, mapping=tmp_path / "none.csv")
    ags = tmp_path / "a.ags"
    ags.write_text('"GROUP","LOCA"\n')
    with pytest.raises(InputError, match="an AGS4 file has headings of its own standard"):
        js.read_site(ags, mapping=tmp_path / "none.csv")


def test_nothing_is_drafted_where_all_is_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A site under our names needs no mapping, and no file is written."""
    folder = folder_of(tmp_path / "a", TABLES)
    assert main(["check", str(folder), "--suggest", str(tmp_path / "d.csv")]) == 0
    assert "nothing to map" in capsys.readouterr().out
    assert not (tmp_path / "d.csv").exists()


def test_a_draft_stands_beside_an_edited_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A draft is not laid over a mapping that was edited; one with another mapping is refused."""
    folder = folder_of(tmp_path / "a", THEIRS)
    draft = ["check", str(folder), "--suggest", str(tmp_path / "d.csv")]
    assert main(draft) == 0 and main(draft) == 0
    (tmp_path / "d.csv").write_text("edited", encoding="utf-8")
    assert main(draft) == 2 and "perhaps with your edits" in capsys.readouterr().err
    assert main([*draft, "--mapping", str(tmp_path / "d.csv")]) == 2
    assert "leave out --mapping" in capsys.readouterr().err
    assert (tmp_path / "d.csv").read_text("utf-8") == "edited"


def test_columns_without_numbers_are_drafted(tmp_path: Path) -> None:
    """A plunge that stands empty, and a northing called North, are drafted like others."""
    tables = dict(THEIRS)
    name = next(one for one in tables if one.lower().startswith("collar"))
    tables[name] = "BHID,East,North,RL,EOH,Azimuth,Dip\nB1,1,2,3,40,0,\n"
    columns = suggest_mapping(folder_of(tmp_path, tables)).set_index("heading")["column"]
    assert (columns["North"], columns["Dip"]) == ("northing_m", "plunge_deg")
