"""The README and the examples: every command and every script runs as printed."""

from __future__ import annotations

import json
import re
import runpy
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.schema import TABLES

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def _run(script: str, folder: Path) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-W", "error::UserWarning:jointstats", "-c", script],
        cwd=folder,
        capture_output=True,
        text=True,
    )


def _commands() -> list[list[str]]:
    """Every command of ours in the README, the install step before it left off."""
    lines = [line.strip() for line in README.splitlines() if line.startswith("    ")]
    tails = [line.split(" && ")[-1] for line in lines]
    return [tail.split()[1:] for tail in tails if tail.startswith("jointstats ")]


@pytest.mark.parametrize("command", _commands(), ids=" ".join)
def test_readme_commands_run(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each command printed in the README ends with 0, run from the root of the project."""
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    monkeypatch.chdir(tmp_path)
    assert main(command) == 0


def test_readme_has_the_two_commands() -> None:
    """One command installs and runs the main job; one installs and runs the tests."""
    assert "    python -m pip install . && jointstats report examples/dam_site" in README
    assert '    python -m pip install ".[test]" && python -m pytest -n auto\n' in README


@pytest.mark.parametrize("number", range(len(re.findall(r"```python\n", README))))
def test_readme_scripts_run(number: int, tmp_path: Path) -> None:
    """Each script printed in the README runs, from the root of the project."""
    script = re.findall(r"```python\n(.*?)```", README, flags=re.S)[number]
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    done = _run(script, tmp_path)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", sorted(path.name for path in (ROOT / "examples").glob("*.py")))
def test_example_scripts_run(name: str, tmp_path: Path) -> None:
    """Each example script runs from any folder and prints something, or writes its tables."""
    if name in ("make_dam_site.py", "make_adit_site.py"):
        pytest.skip("held by test_the_demo_is_what_its_script_makes")
    if name == "make_theory_figures.py":
        pytest.skip("held by test_the_figures_of_the_theory_are_what_their_script_makes")
    done = subprocess.run(
        [sys.executable, str(ROOT / "examples" / name)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


@pytest.mark.parametrize("site", ["dam_site", "adit_site"])
def test_the_demo_is_what_its_script_makes(site: str, tmp_path: Path) -> None:
    """The script and its seed give the tables of each demo again."""
    target = tmp_path / f"make_{site}.py"
    target.write_text((ROOT / "examples" / target.name).read_text("utf-8"), "utf-8")
    done = subprocess.run([sys.executable, str(target)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    names = sorted(file.name for file in (ROOT / "examples" / site).glob("*.csv"))
    assert names == sorted(file.name for file in (tmp_path / site).glob("*.csv"))
    for name in names:
        made = pd.read_csv(tmp_path / site / name)
        kept = pd.read_csv(ROOT / "examples" / site / name)
        # The last printed digit may turn with the platform's arithmetic.
        pd.testing.assert_frame_equal(made, kept, atol=0.11, rtol=0)


def test_the_demos_use_every_table() -> None:
    """Each input table stands in one of the two invented sites."""
    used = {file.stem for file in (ROOT / "examples").glob("*_site/*.csv")}
    assert used == set(TABLES)


def test_the_wedge_check_keeps_the_textbook_conditions() -> None:
    """Planes and lines slide if steeper than friction, less steep than the face and facing out."""
    check = runpy.run_path(str(ROOT / "examples" / "wedge_check.py"))
    slope = {"face": (60.0, 10.0), "friction_deg": 30.0}
    for dip, direction, share in [
        (45, 10, 1),
        (45, 29, 1),
        (45, 351, 1),  # within 20 degrees of the face's dip direction
        (45, 31, 0),
        (45, 349, 0),
        (45, 190, 0),
        (29, 10, 0),
        (61, 10, 0),  # flatter than friction; steeper than the face
    ]:
        poles = js.poles_from_dip(dip, direction)
        assert check["planar_share"](poles, **slope) == share, (dip, direction)
        assert check["planar_share"](-poles, **slope) == share
    # Two planes that dip 50 degrees, 45 either side: tan plunge = tan 50 cos 45, 40.1 degrees.
    a, b = js.poles_from_dip(50, 325), js.poles_from_dip(50, 55)
    assert check["wedge_share"](a, b, **slope) == 1
    assert check["wedge_share"](a, b, face=(60.0, 10.0), friction_deg=41.0) == 0
    assert check["wedge_share"](a, b, face=(40.0, 10.0), friction_deg=30.0) == 0
    assert check["wedge_share"](a, b, face=(60.0, 190.0), friction_deg=30.0) == 0
    # Along a section 60 degrees off its dip the face is as steep as atan(tan 60 cos 60) = 40.9.
    section = check["apparent_dip_deg"](60.0, 10.0, np.array([70.0]))
    assert section == pytest.approx(40.893, abs=1e-3)


@pytest.fixture
def examples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to write in, with the examples and the demo in their places."""
    target = tmp_path / "examples"
    skip = shutil.ignore_patterns("__pycache__", "*.png")
    shutil.copytree(ROOT / "examples", target, ignore=skip)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    return target


def test_the_tutorial_runs(examples: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The blocks of the tutorial run in order in one namespace; each says something, all agree."""
    text = (examples / "tutorial.md").read_text("utf-8")
    blocks = re.findall(r"```python\n(.*?)```", text, flags=re.S)
    assert len(blocks) == 11
    names: dict = {}
    for block in blocks:
        exec(compile(block, "tutorial.md", "exec"), names)
        assert capsys.readouterr().out.strip(), block
    assert names["result"].counts.total == len(names["site"].fractures)
    expected = 1 / names["last"].p32_per_m
    assert names["plain"]["spacing_m"].mean() == pytest.approx(expected, rel=4 / 5000**0.5)


def test_the_notebook_runs(examples: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The code cells of the notebook run in order; less friction never holds more planes."""
    notebook = json.loads((examples / "stability.ipynb").read_text("utf-8"))
    assert notebook["nbformat"] == 4
    assert len({cell["id"] for cell in notebook["cells"]}) == len(notebook["cells"])
    monkeypatch.chdir(examples)
    monkeypatch.syspath_prepend(str(examples))
    names: dict = {}
    try:
        for cell in notebook["cells"]:
            if cell["cell_type"] == "code":
                assert cell["outputs"] == []
                exec(compile("".join(cell["source"]), "stability.ipynb", "exec"), names)
    finally:
        sys.modules.pop("wedge_check", None)
    shares = np.array([found["estimate"] for found in names["planar"].values()])
    assert (np.diff(shares, axis=1) <= 0).all()
    assert shares[:, 0].max() > 0.5  # J1 dips out of the face
    assert all((found["low"] <= found["high"]).all() for found in names["planar"].values())
    assert all(found["low"] >= 0 for found in names["wedge"].values())
    assert len(names["lines"]) == 3


def test_the_figures_of_the_theory_are_what_their_script_makes(
    examples: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The script gives the kept figures again, small, and the finding that the page tells."""
    runpy.run_path(str(examples / "make_theory_figures.py"), run_name="__main__")
    printed = capsys.readouterr().out
    text = (examples / "theory.md").read_text("utf-8")
    for name in ("theory_exposure.svg", "theory_p32.svg"):
        made, kept = (folder / name for folder in (examples, ROOT / "examples"))
        assert f"({name})" in text
        assert made.stat().st_size < 200_000
        # Coordinates may turn in the last digit with the platform, words and colours may not.
        numbers = re.compile(r"-?\d+\.?\d*(e-?\d+)?")
        assert numbers.sub("", made.read_text("utf-8")) == numbers.sub("", kept.read_text("utf-8"))
    medians = dict(line.split(" {") for line in printed.splitlines() if "{" in line)
    at_83 = {key: float(re.search(r"83\.0: ([\d.]+)", row)[1]) for key, row in medians.items()}
    # Simulated with P32 1.2 per m.
    assert at_83["combined exposure"] < at_83["weights"] < 0.9
    assert at_83["likelihood"] == pytest.approx(1.2, abs=0.2)
