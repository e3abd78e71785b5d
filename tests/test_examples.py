"""The README and the examples: every command and every script runs as printed."""

from __future__ import annotations

import json
import re
import runpy
import shutil
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.schema import TABLES

pytestmark = pytest.mark.shares_analyses

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


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
def test_readme_scripts_run(
    number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each script printed in the README runs, from the root of the project."""
    script = re.findall(r"```python\n(.*?)```", README, flags=re.S)[number]
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    monkeypatch.chdir(tmp_path)
    exec(compile(script, "README.md", "exec"), {"__name__": "__main__"})


@pytest.mark.parametrize("name", sorted(path.name for path in (ROOT / "examples").glob("*.py")))
def test_example_scripts_run(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Each example script runs from any folder and prints something, or writes its tables."""
    if name in ("make_dam_site.py", "make_adit_site.py"):
        pytest.skip("held by test_the_demo_is_what_its_script_makes")
    if name == "make_gallery.py":
        pytest.skip("held by test_the_gallery_has_every_picture")
    if name == "make_theory_figures.py":
        pytest.skip("held by test_the_figures_of_the_theory_are_what_their_script_makes")
    monkeypatch.chdir(tmp_path)
    # As when it is run by its path: what lies beside it can be imported.
    monkeypatch.syspath_prepend(str(ROOT / "examples"))
    monkeypatch.setattr(sys, "argv", [name])
    runpy.run_path(str(ROOT / "examples" / name), run_name="__main__")
    assert capsys.readouterr().out


@pytest.mark.parametrize("site", ["dam_site", "adit_site"])
def test_the_demo_is_what_its_script_makes(site: str, tmp_path: Path) -> None:
    """The script and its seed give the tables of each demo again."""
    target = tmp_path / f"make_{site}.py"
    target.write_text((ROOT / "examples" / target.name).read_text("utf-8"), "utf-8")
    runpy.run_path(str(target), run_name="__main__")
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
def statics(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """The functions of the example of limit equilibrium."""
    monkeypatch.syspath_prepend(str(ROOT / "examples"))
    return runpy.run_path(str(ROOT / "examples" / "limit_equilibrium.py"))


def test_a_planar_block_is_as_safe_as_the_published_one(statics: dict[str, object]) -> None:
    """Wyllie & Mah 2004, Rock Slope Engineering, example problem 6.1 (values from memory).

    A face of 12 m at 60°, a plane at 35°, a crack of 4.35 m 4 m behind the crest: 1.25 with 3 m of
    water, 1.07 full, 1.54 drained, 1.08 drained without cohesion.
    """
    crack = {"crack_m": 4.35, "behind_m": 4.0}
    strong = {"cohesion_kpa": 25.0, "friction_deg": 37.0}
    for water, strength, published in [
        (3.0, strong, 1.25),
        (4.35, strong, 1.07),
        (0.0, strong, 1.54),
        (0.0, strong | {"cohesion_kpa": 0.0}, 1.08),
    ]:
        found = statics["planar_safety"](35.0, 60.0, 12.0, **crack, water_m=water, **strength)
        assert round(float(found), 2) == published


def test_a_wedge_is_as_safe_as_the_published_one(statics: dict[str, object]) -> None:
    """Hoek & Bray, Rock Slope Engineering, example of the friction charts (from memory).

    Planes 40/165 and 70/285: A 1.5 and B 0.7 as read from a chart.
    """
    sides = -js.poles_from_dip([40, 70], [165, 285])  # up, into the wedge
    way, safety = statics["block_safety"](sides, 45.0)
    forces = np.linalg.lstsq(np.column_stack([sides.T, -way]), [0, 0, 1.0], rcond=None)[0][:2]
    np.testing.assert_allclose(forces / np.linalg.norm(way), [1.5, 0.7], atol=0.03)
    assert safety == pytest.approx(float(forces.sum() / np.linalg.norm(way)))
    # A wedge of one dip either side, 45° off: F = sin β / sin(ξ / 2) tan φ / tan ψ, ξ between the planes.
    pair = js.poles_from_dip([60, 60], [135, 225])
    trend, plunge = js.trend_from_lines(js.design.intersections_of_planes(*pair))
    half = 0.5 * np.degrees(np.arccos(-(pair[0] @ pair[1])))
    expected = np.tan(np.radians(30)) / np.tan(np.radians(plunge[0])) / np.sin(np.radians(half))
    assert statics["wedge_safety"](*pair, (80.0, 180.0), 30.0) == pytest.approx(expected)
    assert statics["wedge_safety"](*pair, (80.0, 0.0), 30.0) == np.inf


def test_roof_blocks_move_as_block_theory_has_it(statics: dict[str, object]) -> None:
    """The mode of Goodman & Shi 1985, worked out case by case, gives the same factor of safety."""
    rng = np.random.default_rng(0)
    friction, down, modes = np.tan(np.radians(30.0)), np.array([0, 0, -1.0]), set()
    for _ in range(300):
        poles = js.sphere.axial_fisher.sample([0, 0, -1.0], 0.0, 3, rng)
        edges = np.array([np.cross(poles[j], poles[k]) for j, k in ((1, 2), (2, 0), (0, 1))])
        edges *= -np.sign(edges[:, 2:])
        sides = poles * np.sign((poles * edges).sum(axis=1))[:, np.newaxis]
        safety = []
        if (sides @ down >= 0).all():
            safety.append(("falls", 0.0))
        for i in range(3):
            others = np.delete(np.arange(3), i)
            way = down - (down @ sides[i]) * sides[i]
            if sides[i] @ down < 0 and (sides[others] @ way >= 0).all():
                safety.append(("one", friction * -(sides[i] @ down) / np.linalg.norm(way)))
            way = edges[i] / np.linalg.norm(edges[i])
            force = np.linalg.solve(np.column_stack([sides[others].T, -way]), -down)
            if (force[:2] > 0).all() and sides[i] @ way >= 0:
                safety.append(("two", friction * force[:2].sum() / force[2]))
        assert len(safety) == 1
        modes.add(safety[0][0])
        assert statics["roof_safety"](poles, 30.0) == pytest.approx(safety[0][1])
    assert modes == {"falls", "one", "two"}


def test_a_dam_on_level_rock_by_hand(statics: dict[str, object]) -> None:
    """Weight 8640, uplift 3531.6 and thrust 4414.5 kN a metre; toppling at 90 − dip below face less friction."""
    found = statics["dam_safety"](np.zeros(1), height_m=30, base_m=24, cohesion_kpa=10, friction_deg=45)
    assert found[0] == pytest.approx((8640 - 3531.6 + 240) / 4414.5)
    steeper = statics["dam_safety"](np.array([-10.0, 10]), height_m=30, base_m=24, cohesion_kpa=0, friction_deg=45)
    assert steeper[0] > (8640 - 3531.6) / 4414.5 > steeper[1]
    assert statics["topples"](np.array([54.0, 56]), 65.0, 30.0).tolist() == [False, True]


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


def test_the_gallery_has_every_picture(examples: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The script draws all public functions that give a picture on one sheet, and says what it is."""
    (examples / "gallery.png").unlink(missing_ok=True)
    names = runpy.run_path(str(examples / "make_gallery.py"), run_name="__main__")
    assert "invented data" in capsys.readouterr().out
    pictures = {
        name
        for name in js.plots.__all__
        if getattr(getattr(js.plots, name), "__annotations__", {}).get("return") == "Axes"
    }
    of_others = {"estimate_forest", "group_net", "match_log", "pair_matrix"}
    assert set(names["DRAW"]) == pictures - {"net_axes"} - of_others
    assert (examples / "gallery.png").stat().st_size < 500_000
