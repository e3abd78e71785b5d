"""Decisions that are kept, edited and replayed."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import jointstats as js
from jointstats.cli import main
from jointstats.recipe.recipe import Recipe, Step, read_recipe, recipe_toml
from jointstats.report.fit import decisions
from jointstats.report.page import report_pages
from jointstats.sets.record import sets_json

SITE = js.simulate_site(random_state=1)
DEMO = Path(__file__).resolve().parents[2] / "examples" / "dam_site"
FULL = Recipe(
    n_sets=4,
    shape="round",
    given=[
        js.GivenSet(20, 135, name='bed"ding', hold=True, only={"type": ["bedding", "joint"]}),
        js.GivenSet(70.5, 10),
    ],
    blind_angle_deg=15.0,
    include=("joint", "bedding"),
    random_state=3,
    steps=[Step("split", ("J1",)), Step("merge", ("J1", "J2"))],
)


def test_a_recipe_is_read_as_it_was_written(tmp_path: Path) -> None:
    """The text of a recipe gives it back, whatever is in it, and defaults stand in no line."""
    for recipe in (FULL, Recipe()):
        (tmp_path / "analysis.toml").write_text(recipe_toml(recipe), encoding="utf-8")
        found = read_recipe(tmp_path)
        assert recipe_toml(found) == recipe_toml(recipe)
        assert found.decisions == recipe.decisions
    assert len(recipe_toml(Recipe()).splitlines()) == 1


@pytest.mark.usefixtures("words_only")
def test_a_replay_gives_the_same_bytes(tmp_path: Path) -> None:
    """What merging, splitting and taking out gave is given again by the recipe, page and JSON."""
    beds = js.GivenSet(12, 300, name="beds", hold=True)
    plain = js.analyse(SITE, given=[beds], shape="round", domains="none")
    result = js.refit_without(js.merge_sets(js.split_set(plain, "J1"), "J1", "J2"), "J2")
    (tmp_path / "analysis.toml").write_text(recipe_toml(result.recipe()), encoding="utf-8")
    again = js.analyse(SITE, read_recipe(tmp_path))
    assert sets_json(again) == sets_json(result)
    page = report_pages(result)["index.html"]
    assert report_pages(again)["index.html"] == page
    for told in ("Decisions of the analyst", "given beds at 12/300, held", "merge J1 and J2", "gone"):
        assert told in page
    assert decisions(replace(plain, decided=Recipe())) is None


@pytest.mark.usefixtures("words_only")
def test_the_command_line_takes_decisions_from_beside_the_site(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """analysis.toml of the site is heeded; a file named goes before it, and an option before both."""
    shutil.copytree(DEMO, tmp_path / "site")
    (tmp_path / "site" / "Analysis.TOML").write_text('n_sets = 2\ndomains = "none"\n')
    (tmp_path / "other.toml").write_text('domains = "none"\n[[steps]]\nremove = "J2"\n')
    sets = {}
    for name, options in [
        ("beside", []),
        ("named", ["--analysis", str(tmp_path / "other.toml"), "--sets", "4"]),
        ("option", ["--sets", "1"]),
    ]:
        assert main(["sets", str(tmp_path / "site"), "--csv", *options]) == 0
        sets[name] = len(capsys.readouterr().out.strip().splitlines()) - 1
    assert sets == {"beside": 2, "named": 3, "option": 1}
    assert main(["check", str(tmp_path / "site")]) == 0
    assert "analysis.toml" not in capsys.readouterr().out
    assert main(["compare", str(tmp_path / "site")]) == 0
    assert "J3" not in capsys.readouterr().out
    assert main(["compare", str(tmp_path / "site"), str(DEMO), "--sets", "1"]) == 0
    assert "analysis.toml is not heeded where several sites are compared" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("n_set = 3", "'n_set' is not known; the nearest is n_sets"),
        ("[steps]\nmerge = 3", r"must be written as \[\[steps\]\]"),
        ('[[steps]]\nmerge = ["J1"]', "merge takes 2 of the sets; got J1"),
        ('[[steps]]\nmerge = ["J1", "J2"]\nsplit = "J3"', "each of .* is one of remove, merge, split"),
        ("[[given]]\ndip_deg = 3", "needs dip_deg and dip_direction_deg"),
        ("n_sets = ", "can't be read"),
        ("n_sets = " + "[" * 9000, "nested too deep"),
        ("#" * 1_100_000, "it has 1.1 MB, and at most 1 MB"),
    ],
)
def test_a_file_that_is_wrong_is_refused_by_name(tmp_path: Path, text: str, told: str) -> None:
    """A key, a step or a set that makes no sense is named with its file."""
    (tmp_path / "mine.toml").write_text(text)
    with pytest.raises(js.InputError, match=told) as caught:
        read_recipe(tmp_path / "mine.toml")
    assert "mine.toml" in str(caught.value)


def test_a_recipe_stands_alone() -> None:
    """A further argument beside a recipe is refused, and a kind of step that is none."""
    with pytest.raises(js.InputError, match="give it alone"):
        js.analyse(SITE, Recipe(), confidence=0.9)
    with pytest.raises(js.InputError, match="a step must be one of remove, merge, split"):
        replace(FULL, steps=[Step("turn", ("J1",))])
