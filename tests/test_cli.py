"""The command line: what it prints, what it writes, and how it ends."""

from __future__ import annotations

import csv
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from jointstats.cli import main

pytestmark = pytest.mark.shares_analyses

DEMO = Path(__file__).resolve().parents[1] / "examples" / "dam_site"
FREE_TEXT = {"type", "photo", "run", "fracture", "infilling", "oxidation", "remark"}
OPTIONAL = {
    "easting_m",
    "northing_m",
    "elevation_m",
    "diameter_mm",
    "aperture_mm",
    "length_m",
    "method",
}


def test_report_writes_page_and_tables(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """`report` writes the page and the tables beside it, says so, and ends with 0."""
    assert main(["report", str(DEMO), "--output", str(tmp_path / "out")]) == 0
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert [name for name in names if not name.startswith("log-")] == [
        "fractures.csv",
        "index.html",
        "record.html",
        "sets.csv",
        "sets.json",
    ]
    assert len([name for name in names if name.startswith("log-")]) == 4
    said = capsys.readouterr()
    assert said.out.startswith("3 sets from 367 fractures; report in ")
    assert said.err == ""


def test_check_counts_and_notes(capsys: pytest.CaptureFixture) -> None:
    """`check` of a clean site says how much it holds."""
    assert main(["check", str(DEMO)]) == 0
    assert capsys.readouterr().out.startswith("no faults: 4 holes, 367 fractures")


def test_sets_as_text_json_and_csv(capsys: pytest.CaptureFixture) -> None:
    """`sets` prints a table of 80 columns at most, or JSON, or CSV, with the same figures."""
    assert main(["sets", str(DEMO), "--sets", "3"]) == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    assert main(["sets", str(DEMO), "--sets", "3", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert main(["sets", str(DEMO), "--sets", "3", "--csv"]) == 0
    table = capsys.readouterr().out.splitlines()
    assert len(document["sets"]) == len(table) - 1 == 3
    assert "\x1b" not in text


def test_sets_takes_the_number_and_the_blind_angle(capsys: pytest.CaptureFixture) -> None:
    """The number of sets and the blind angle can be given."""
    assert main(["sets", str(DEMO), "--sets", "2", "--blind-angle", "20"]) == 0
    text = capsys.readouterr().out
    assert "J2" in text and "J3 " not in text
    assert "below the blind angle of 20°" in text


def test_orient_writes_every_row(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """`orient` writes one row a fracture, its true orientation filled where it is known."""
    target = tmp_path / "oriented.csv"
    assert main(["orient", str(DEMO), "--output", str(target)]) == 0
    table = pd.read_csv(target)
    assert len(table) == 367
    core = table[table["oriented_from"] == "alpha and beta"]
    assert len(core) > 50 and core["true_dip_deg"].between(0, 90).all()
    assert "of 367 fractures oriented" in capsys.readouterr().out


def test_orient_refuses_a_directory(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """`orient` writes a file, and says so where it is given a directory."""
    assert main(["orient", str(DEMO), "--output", str(tmp_path)]) == 2
    assert "output must be a file" in capsys.readouterr().err


def test_an_output_that_is_a_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """`report` into a file ends with 2 and leaves the file alone."""
    target = tmp_path / "out"
    target.write_text("mine", encoding="utf-8")
    assert main(["report", str(DEMO), "--output", str(target)]) == 2
    assert "output must be a directory" in capsys.readouterr().err
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_place_that_cannot_be_written_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """Where the disk refuses, one line names the place."""
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    assert main(["orient", str(DEMO), "--output", str(blocked / "out.csv")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["report", "x"], "the following arguments are required: --output"),
        (["sets", "x", "--sets", "many"], "'many' is not \"auto\" or a whole number"),
        (["sets", "x", "--sets", "99"], 'is not "auto" or a whole number from 0 to 50'),
        (["sets", "x", "--confidence", "95"], "'95' is not a level between 0 and 1"),
        (["sets", "x", "--blind-angle", "x"], "'x' is not an angle in degrees between"),
        (["nothing"], "invalid choice: 'nothing'"),
    ],
)
def test_wrong_arguments_end_with_two(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture
) -> None:
    """A wrong argument gives one line that says what was given and what is allowed."""
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == 2
    error = capsys.readouterr().err
    assert said in error and len(error.splitlines()) == 1


def _cells(name: str) -> list[tuple[int, int]]:
    rows = list(csv.reader((DEMO / name).read_text(encoding="utf-8").splitlines()))
    step = 1 if len(rows) < 20 else 37
    columns = [j for j, title in enumerate(rows[0]) if title not in FREE_TEXT]
    cells = [(i, j) for i in range(0, len(rows), step) for j in columns]
    # Under a heading that it does not know a column is carried through, not refused, unless the
    # column is one that must be there.
    return [(i, j) for i, j in cells if i > 0 or rows[0][j] not in OPTIONAL]


@pytest.mark.parametrize("name", ["holes.csv", "surveys.csv", "logged.csv", "fractures.csv"])
def test_any_corrupt_cell_gives_one_line_and_leaves_the_report(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """Junk in any one cell gives one line that names the file, exit 2, and nothing is written."""
    site, out = tmp_path / "site", tmp_path / "out"
    shutil.copytree(DEMO, site)
    out.mkdir()
    (out / "index.html").write_text("the earlier report", encoding="utf-8")
    rows = list(csv.reader((DEMO / name).read_text(encoding="utf-8").splitlines()))
    for i, j in _cells(name):
        corrupt = [list(row) for row in rows]
        corrupt[i][j] = "x?"
        with (site / name).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(corrupt)
        assert main(["report", str(site), "--output", str(out)]) == 2, (name, i, rows[0][j])
        error = capsys.readouterr().err.splitlines()
        assert len(error) == 1, error
        assert name in error[0] or rows[i][j] in error[0]
    assert [path.name for path in out.iterdir()] == ["index.html"]
    assert (out / "index.html").read_text(encoding="utf-8") == "the earlier report"


def test_the_installed_command_runs() -> None:
    """`python -m jointstats.cli --version` prints the version and ends with 0."""
    done = subprocess.run(
        [sys.executable, "-m", "jointstats.cli", "--version"], capture_output=True, text=True
    )
    assert (done.returncode, done.stdout) == (0, "jointstats 0.1.0\n")


@pytest.mark.parametrize(
    "arguments",
    [
        ["report", "SITE", "--output", "SITE"],
        ["report", "SITE", "--output", "SITE/../SITE/."],
        ["compare", "SITE", "--output", "SITE"],
        ["compare", "SITE", "OTHER", "--output", "OTHER"],
        ["match", "SITE", "--hole", "D1", "--output", "SITE"],
        ["orient", "SITE", "--output", "SITE/fractures.csv"],
        ["orient", "SITE", "--output", "SITE/site.toml"],
        ["orient", "SITE", "--output", "OTHER/holes.csv"],
        ["report", "SITE", "--output", "OTHER"],
        ["match", "SITE", "--hole", "D1", "--output", "OTHER"],
    ],
    ids=" ".join,
)
def test_no_command_overwrites_an_input(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """An output that is an input, or the tables of another site, gives exit 2; all stays."""
    for name in ("SITE", "OTHER"):
        shutil.copytree(DEMO, tmp_path / name)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    given = [
        str(tmp_path / one) if one.startswith(("SITE", "OTHER")) else one for one in arguments
    ]
    assert main(given) == 2
    error = capsys.readouterr().err
    assert re.search("must not be the input itself|must not be among|belongs to the input", error), error
    assert len(error.splitlines()) == 1
    assert before == {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}


def test_a_directory_in_the_place_of_the_page_stays(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """A directory called index.html, with files of the user, is told and left alone."""
    (tmp_path / "index.html").mkdir()
    (tmp_path / "index.html" / "mine.txt").write_text("keep", encoding="utf-8")
    assert main(["report", str(DEMO), "--output", str(tmp_path)]) == 2
    assert "index.html is a directory" in capsys.readouterr().err
    assert [path.name for path in tmp_path.rglob("*")] == ["index.html", "mine.txt"]


def test_files_given_beside_the_site_are_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A mapping, decisions and pairs that were given stay as they are, whatever is written."""
    site = shutil.copytree(DEMO, tmp_path / "site")
    mapping = shutil.copy(site / "mapping.csv", tmp_path / "fractures.csv")
    bare = shutil.copytree(site, tmp_path / "bare", ignore=shutil.ignore_patterns("mapping.csv"))
    decisions = tmp_path / "sets.json"
    decisions.write_text("n_sets = 1\n", encoding="utf-8")
    files = {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()}
    into = ["--output", str(tmp_path)]
    for command in (
        ["orient", str(bare), "--mapping", str(mapping), "--output", str(mapping)],
        ["report", str(bare), "--sets", "1", "--mapping", str(mapping), *into],
        ["report", str(site), "--domains", "none", "--analysis", str(decisions), *into],
    ):
        assert main(command) == 2
        assert "belongs to the input, which is never overwritten" in capsys.readouterr().err
    assert {file: file.read_bytes() for file in tmp_path.rglob("*") if file.is_file()} == files


@pytest.mark.parametrize("option", ["domains", "analysis", "pairs", "mapping", "include"])
def test_options_of_a_site_are_refused_for_poles(
    option: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What has no meaning for a table of poles is said, and not passed over."""
    poles = tmp_path / "poles.csv"
    poles.write_text("dip,dip direction\n30,90\n", encoding="utf-8")
    assert main(["sets", str(poles), f"--{option}", "none"]) == 2
    assert f"--{option} is for a site, and poles.csv is a table of poles" in capsys.readouterr().err
