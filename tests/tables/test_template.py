"""A new site to fill in, and the list of columns: both from the schema."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.errors import InputError, SiteError
from jointstats.schema import SETTINGS, TABLES, WORKED_HOLES
from jointstats.tables.template import columns_text, write_template

README = Path(__file__).resolve().parents[2] / "README.md"


@pytest.mark.parametrize("units", ["m", "ft"])
@pytest.mark.parametrize("name", ["site", "site.xlsx"])
def test_a_new_site_is_clean_and_uses_every_table(name: str, units: str, tmp_path: Path) -> None:
    """The worked rows pass the check, two or more a table, whatever the form and the unit."""
    path = tmp_path / name
    assert main(["new", str(path), "--units", units]) == 0
    site = js.read_site(path)
    assert site.unread == ()
    assert {hole.name for hole in site.holes} == set(WORKED_HOLES)
    assert set(site.tables) | {"fractures", "mapping"} == set(TABLES)
    assert site.mapped == ("fractures, column method: 'camera' means image",)
    assert all(len(table) >= 2 for table in (*site.tables.values(), site.fractures))
    assert site.hole(WORKED_HOLES[0]).length_m == pytest.approx(41, abs=0.005)
    assert np.isfinite(js.orient_fractures(site)["true_dip_deg"]).all()


def test_what_is_there_is_never_written_over(tmp_path: Path) -> None:
    """A file, or a directory with anything in it, is refused; so is an unknown unit."""
    (tmp_path / "a.xlsx").write_text("mine")
    for name in ("a.xlsx", "."):
        with pytest.raises(InputError, match="is there already; give a name that is free"):
            write_template(tmp_path / name)
    assert (tmp_path / "a.xlsx").read_text() == "mine"
    with pytest.raises(InputError, match='units must be "m" or "ft"; got \'yd\''):
        write_template(tmp_path / "b", "yd")


def test_headings_of_a_workbook_carry_notes_and_cells_carry_lists(tmp_path: Path) -> None:
    """A heading says what its column holds; a cell with set words offers them."""
    book = openpyxl.load_workbook(write_template(tmp_path / "a.xlsx"))
    for key in TABLES:
        assert all(cell.comment and cell.comment.text for cell in book[key][1])
    lists = [one.formula1 for one in book["fractures"].data_validations.dataValidation]
    assert '"low side,high side,north"' in lists
    told = {row[0].value: row[2].value for row in book["site"].iter_rows(min_row=2)}
    assert set(told) == {column.name for column in SETTINGS}
    assert "bearing of magnetic north from true north" in told["declination_deg"]


def test_every_setting_of_the_template_is_read(tmp_path: Path) -> None:
    """With each commented line of site.toml given a value in its place, the file is read."""
    folder = write_template(tmp_path / "a")
    values = {
        "depths_follow": '"core"',
        "depth_unit": '"m"',
        "figures_in": '"m and ft"',
        "reference": '"north"',
        "ignore": "[]",
        "[bedding]": "",
        "[errors]": "",
        "[title]": "",
        **dict.fromkeys(
            "project client number prepared checked revision coordinate_system".split(), '"x"'
        ),
    }
    lines = []
    for line in (folder / "site.toml").read_text().splitlines():
        plain = line.removeprefix("# ")
        key = plain.split(" ")[0]
        lines.append(plain.replace("=   #", f"= {values.get(key, '2')}   #"))
    (folder / "site.toml").write_text("\n".join(lines))
    settings = js.read_site(folder).settings
    assert settings.bedding == (2, 2)
    assert settings.errors.roll_deg == 2
    assert dict(settings.title)["coordinate_system"] == "x"


def test_worked_rows_left_among_own_rows_are_a_fault(tmp_path: Path) -> None:
    """A template filled in below its worked rows is not taken for a site of three holes."""
    folder = write_template(tmp_path / "a")
    holes = pd.read_csv(folder / "holes.csv")
    holes.loc[2] = holes.loc[1]
    holes.loc[2, "hole"] = "D1"
    holes.to_csv(folder / "holes.csv", index=False)
    with pytest.raises(SiteError, match="row 2, column hole: .* is a worked row of the template"):
        js.read_site(folder)


def test_tables_without_rows_count_as_not_there(tmp_path: Path) -> None:
    """Where the worked rows of a table that is not needed are deleted, the table may stay."""
    folder = write_template(tmp_path / "a")
    for key in ("rolls", "surveys"):
        header = (folder / f"{key}.csv").read_text().splitlines()[0]
        (folder / f"{key}.csv").write_text(header + "\n")
    site = js.read_site(folder)
    assert "rolls" not in site.tables
    assert "rolls.csv has no rows, and counts as not there" in site.unread


def test_columns_are_listed_with_unit_limits_and_default(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`columns` prints every table and setting, or one; no line is longer than 80."""
    assert main(["columns"]) == 0
    text = capsys.readouterr().out
    for form in TABLES.values():
        assert all(f"\n  {name} " in text for name in form.names)
    assert all(f"\n  {column.name} " in text for column in SETTINGS)
    assert max(map(len, text.splitlines())) <= 80
    assert re.search(r"dip_deg +degrees, 0 to 90 +default: empty", columns_text("fractures"))
    assert main(["columns", "roll"]) == 2
    assert "there is no table 'roll'; the tables are holes" in capsys.readouterr().err


def test_the_readme_names_only_columns_that_exist() -> None:
    """Each name in the README's list of tables is a column or a setting of the schema."""
    rows = re.findall(r"^\| `(\w+)(?:\.toml)?` \| (.*) \|$", README.read_text("utf-8"), re.M)
    assert len(rows) >= 5
    known = {key: form.names for key, form in TABLES.items()}
    known["site"] = tuple(part for column in SETTINGS for part in column.name.split("."))
    for key, text in rows:
        names = set(re.findall(r"`(\w+)`", text))
        # The columns of terms and mapping are told by the sentence beside them.
        assert names or key in ("terms", "mapping")
        assert names <= {*known[key], *TABLES}
