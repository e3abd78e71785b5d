"""What is not read is listed, and nothing that could turn a pole or move a depth is passed over."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import openpyxl
import pytest

import jointstats as js
from jointstats.errors import SiteError
from jointstats.schema import TABLES as FORMS
from tests.tables.site_tables import TABLES, write_tables

ROLLS = "hole,depth_m,roll_deg\nB1,0,30\nB1,60,70\n"
#: A site in which each of these tables and columns turns a pole.
FULL = TABLES | {
    "rolls.csv": ROLLS,
    "runs.csv": "hole,run,from_m,to_m,beta_offset_deg,line\nB1,R1,0,20,25,marked\n"
    "B2,R1,0,10,-15,marked\nB2,R2,30,40,0,none\n",
    "ties.csv": "hole,core_depth_m,image_depth_m,method,stretch_mm_per_m,offset_m\n"
    "B1,10,10.3,,,\nB1,30,31,,,\nB2,,,core,-4,-0.4\n",
    "mirrors.csv": "mirror,radius,offset_m,counted\nM1,100,0.05,anticlockwise\nM1,300,-0.05,\n",
    "rings.csv": "hole,fracture,mirror,depth_m,radius,angle_deg\n"
    + "".join(f"B1,T2,M1,50,{r},{a}\n" for r, a in ((150, 0), (210, 110), (240, 235))),
    "fractures.csv": """hole,depth_m,method,image_dip_deg,image_azimuth_deg,alpha_deg,beta_deg,\
reference,looking,end_for_end,dip_deg,dip_direction_deg,fracture,run
B1,3.5,image,45,120,,,high side,,,,,,
B1,12.25,image,62.5,201,,,,,,,,,
B1,14,core,,,35,210,high side,up,no,,,,
B2,5,core,,,50,15,,down,yes,,,,R1
B2,30,core,,,25,300,,,,,,,R2
B2,25,core,,,25,300,,,,,,,
B3,9,image,,,,,,,,5,300,,
B1,45,image,,,,,,,,,,T1,
B1,50,image,,,,,,,,,,T2,
""",
    "site.toml": TABLES["site.toml"] + 'depths_follow = "image"\n',
    "traces.csv": "hole,fracture,depth_m,angle_deg\n"
    + "".join(f"B1,T1,{45 + d},{a}\n" for d, a in ((0.02, 0), (0.05, 120), (-0.03, 240))),
}
#: How others may write a name.
WRITTEN = {
    "rolls": ["tool rotation", "Rotation", "camera_roll", "toolface"],
    "surveys": ["deviation", "hole survey", "trajectory", "Survey (gyro)"],
    "traces": ["trace picks", "Traces1"],
    "logged": ["logged lengths", "log"],
    "roll_deg": ["Roll (°)", "tool rotation"],
    "reference": ["Reference line", "ref", "Ref. line", "orientation line", "line"],
    "looking": ["looked", "direction of view"],
    "trend_deg": ["Trend", "bearing", "azimuth", "Hole direction"],
    "plunge_deg": ["inclination", "Plunge angle", "incl"],
    "method": ["seen by", "source"],
}


def site_folder(folder: Path, tables: dict[str, str] | None = None) -> Path:
    """The full site as a directory."""
    folder.mkdir(exist_ok=True)
    for name, text in (FULL if tables is None else tables).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def slips(name: str, rng: np.random.Generator) -> list[str]:
    """A name with a slip of the pen of each kind, and in other spellings."""
    at = int(rng.integers(1, len(name) - 1))
    swapped = name[: at - 1] + name[at] + name[at - 1] + name[at + 1 :]
    stem = name.removesuffix("_deg").removesuffix("_m")
    return [
        *(swapped, name[:at] + name[at + 1 :], name[:at] + name[at] + name[at:]),
        *(name.title(), name.upper(), name.replace("_", " "), stem, f"{name}_new", f"my_{name}"),
        *([name.removesuffix("s"), f"{name}2"] if "_" not in name else [f"{stem} (°)"]),
    ]


def renamings(rng: np.random.Generator) -> list[tuple[str, str, str]]:
    """File, column (empty: the file itself) and new name: each turns a pole in the full site."""
    turning = {
        "holes.csv": ["trend_deg", "plunge_deg"],
        "surveys.csv": ["depth_m", "trend_deg", "plunge_deg"],
        "rolls.csv": ["depth_m", "roll_deg"],
        "traces.csv": ["fracture", "angle_deg"],
        "fractures.csv": TURNING,
        "runs.csv": ["run", "from_m", "to_m", "beta_offset_deg", "line"],
        "ties.csv": ["core_depth_m", "image_depth_m", "method", "stretch_mm_per_m", "offset_m"],
        "mirrors.csv": ["mirror", "radius", "offset_m", "counted"],
        "rings.csv": ["fracture", "mirror", "depth_m", "radius", "angle_deg"],
    }
    found = []
    for file, columns in turning.items():
        for name in ["", *columns]:
            plain = name or file.removesuffix(".csv")
            others = dict.fromkeys(slips(plain, rng) + WRITTEN.get(plain, []))
            found += [(file, name, new) for new in others if new != plain]
    return found


TURNING = [
    *("depth_m", "image_dip_deg", "image_azimuth_deg", "alpha_deg", "beta_deg", "reference"),
    *("looking", "end_for_end", "dip_deg", "dip_direction_deg", "fracture", "run"),
]


def poles_of(folder: Path) -> np.ndarray | None:
    """Depths and poles of a site; None where a fault stopped the reading."""
    try:
        table = js.orient_fractures(js.read_site(folder))
    except SiteError:
        return None
    return table[["depth_m", "pole_east", "pole_north", "pole_up"]].to_numpy(float)


def test_no_renamed_file_or_column_turns_a_pole_in_silence(tmp_path: Path) -> None:
    """Slips and other people's words for names: each stops the reading or changes naught.

    A third of some 490 by chance; with seeds 1 to 3 all of them were tried.
    """
    rng = np.random.default_rng(5)
    base = poles_of(site_folder(tmp_path / "base"))
    assert base is not None
    tried = renamings(rng)
    assert len(tried) > 480
    silent = []
    chosen = sorted(rng.choice(len(tried), 160, replace=False).tolist())
    for number, (file, column, new) in enumerate(tried[one] for one in chosen):
        tables = dict(FULL)
        text = tables.pop(file)
        if column:
            header, body = text.split("\n", 1)
            names = [new if one == column else one for one in header.split(",")]
            tables[file] = ",".join(names) + "\n" + body
        else:
            tables[f"{new}.csv"] = text
        found = poles_of(site_folder(tmp_path / str(number), tables))
        if found is not None and not np.allclose(found, base, atol=1e-12, equal_nan=True):
            silent.append((file, column, new))
    assert not silent


def test_a_sheet_under_another_name_stops_the_reading(tmp_path: Path) -> None:
    """A sheet `roll`, or a sheet of any name with the columns of one, is a fault; notes are not."""
    write_tables(tmp_path)
    path = js.write_site(js.read_site(tmp_path), tmp_path / "a.xlsx")
    for title, header, rule in (
        ("roll", ("x",), "roll: is not read, and its name is near to rolls; rename it"),
        ("Sheet7", ("hole", "depth_m", "Roll (deg)"), "it has the column roll_deg, as rolls has"),
        ("Sheet8", ("what", "who"), None),
    ):
        book = openpyxl.load_workbook(path)
        book.create_sheet(title).append(header)
        book.save(tmp_path / "b.xlsx")
        if rule is None:
            assert js.read_site(tmp_path / "b.xlsx").unread == ("Sheet8 is not read",)
            continue
        with pytest.raises(SiteError, match=rule.replace("(", r"\(")):
            js.read_site(tmp_path / "b.xlsx")


def test_a_column_of_another_table_is_a_fault(tmp_path: Path) -> None:
    """Roll written into the survey, where it is not read, stops the reading."""
    surveys = TABLES["surveys.csv"].replace("plunge_deg", "plunge_deg,roll_deg")
    surveys = (
        surveys.replace("55\n", "55,10\n").replace("6\n", "6,20\n").replace("7.5\n", "7.5,9\n")
    )
    surveys = surveys.replace("-9\n", "-9,\n").replace("-8\n", "-8,\n")
    write_tables(tmp_path, surveys_csv=surveys)
    with pytest.raises(SiteError, match="column roll_deg: .* is near to roll_deg of rolls"):
        js.read_site(tmp_path)


def test_what_is_named_in_ignore_is_passed_over(tmp_path: Path) -> None:
    """The analyst may say that a file or a column is not meant; then it is not listed either."""
    toml = TABLES["site.toml"] + 'ignore = ["survey_old.csv", "fractures.dip_class"]\n'
    fractures = TABLES["fractures.csv"].replace("remark", "dip_class")
    write_tables(tmp_path, fractures_csv=fractures)
    (tmp_path / "survey_old.csv").write_text("hole,depth_m,trend_deg\n")
    with pytest.raises(SiteError) as caught:
        js.read_site(tmp_path)
    assert len(caught.value.faults) == 2
    (tmp_path / "site.toml").write_text(toml)
    site = js.read_site(tmp_path)
    assert site.unread == ()
    assert js.read_site(js.write_site(site, tmp_path / "out")).settings.ignore == (
        "survey_old.csv",
        "fractures.dip_class",
    )


def test_files_that_hold_no_table_are_listed_in_one_line(tmp_path: Path) -> None:
    """Plans and pictures beside the tables are named, not judged."""
    write_tables(tmp_path)
    for name in ("survey plan.pdf", "box 1.jpg", ".hidden"):
        (tmp_path / name).write_text("")
    assert js.read_site(tmp_path).unread == ("not read, as no table: box 1.jpg, survey plan.pdf",)


def test_the_schema_says_what_turns() -> None:
    """Every angle and depth of the schema, and the words that steer them, count as turning."""
    for form in FORMS.values():
        for column in form.columns:
            if column.name.endswith("_deg") or column.name in ("depth_m", "reference", "looking"):
                assert column.turns, column.name
