"""The record of a result follows its schema both ways, and gives a design what the result gives."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.export.json_rules import KNOWN, broken_rules
from jointstats.export.load import schema
from jointstats.fit.rocks import NamedRock, Rocks
from jointstats.sets.record import plain, sets_json
from jointstats.sets.result import SiteAnalysis
from jointstats.sphere.set_shapes import (
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
)


@pytest.fixture(scope="module")
def record(result: SiteAnalysis, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("record") / "sets.json"
    file.write_text(sets_json(result), encoding="utf-8")
    return file


def test_a_design_gets_the_same_from_the_record(result: SiteAnalysis, record: Path) -> None:
    """Frequencies, intersections and blocks of the record are those of the result, intervals too."""
    loaded = js.load_result(record)
    lines = js.lines_from_trend([0, 120, 200], [90, 10, 45])
    for figure in (
        lambda one: js.design.frequency_along(one, lines),
        lambda one: js.design.intensity(one),
        lambda one: js.design.rqd_along(one, lines),
    ):
        ours, theirs = figure(loaded), figure(result)
        assert np.allclose(ours.estimate, theirs.estimate, rtol=1e-6)
        assert np.allclose(ours.interval, theirs.interval, rtol=1e-6)
    names = [one.name for one in result.sets]
    assert [one.name for one in loaded.sets] == names
    assert [one.p32_per_m for one in loaded.sets] == pytest.approx(
        [one.p32_per_m for one in result.sets], rel=1e-7
    )
    assert [one.text for one in loaded.cautions] == [one.text for one in result.cautions]
    assert loaded.notice == result.notice
    poles = js.poles_from_dip([10, 60, 85], [0, 120, 250])
    assert np.allclose(loaded.exposure.at(poles), result.exposure.at(poles), rtol=1e-6)
    assert len(loaded.draws(50)) == 50
    assert len(loaded.draws(5000)) == 400
    assert loaded.draws(50, 1)[0] is not loaded.draws(50, 2)[0]
    assert list(loaded.to_frame()["set"]) == names


@pytest.mark.parametrize("name", ["result", "vertical", "scant", "empty"])
def test_every_record_is_read_back(
    name: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """Rich, blind, scant and empty results are written by the schema and read by it."""
    one = request.getfixturevalue(name)
    file = tmp_path / "sets.json"
    file.write_text(sets_json(one), encoding="utf-8")
    assert len(js.load_result(tmp_path).sets) == len(one.sets)


def test_our_reader_of_schemas_agrees_with_a_library(record: Path) -> None:
    """The published rules are all understood, and a library finds the same values at fault."""
    library = pytest.importorskip("jsonschema")
    rules, whole = schema(), json.loads(record.read_text(encoding="utf-8"))
    judge = library.Draft202012Validator(rules)
    changes = [
        ("site", 3),
        ("counts", {}),
        ("logged_m", True),
        ("blind_share", 1.5),
        ("version", "4.0"),
        ("readings", []),
        ("cautions", [{"about": "J1"}]),
        ("background_p32_interval_per_m", [1.0]),
        ("format", "another"),
        ("exposure", {"directions": [[1, 2]]}),
        ("rocks", {**whole["rocks"], "drawn": []}),
    ]
    for key, value in [("site", "x"), *changes]:
        changed = {**whole, key: value}
        assert bool(broken_rules(changed, rules, "it")) is not judge.is_valid(changed), key


def _rules(rule: object) -> set[str]:
    """Every key of a schema that is a rule, not a name of a property."""
    found: set[str] = set()
    if isinstance(rule, dict):
        found |= set(rule)
        parts = [*rule.get("properties", {}).values(), *rule.get("oneOf", []), rule.get("items")]
        for part in parts:
            found |= _rules(part)
    return found


def test_no_rule_of_the_schema_is_passed_over() -> None:
    """Every rule that the schema uses is one that the reader checks."""
    assert _rules(schema()) <= KNOWN


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"format": "other"}, "is not the sets.json of a report"),
        ({"version": "4.0"}, "a later jointstats wrote"),
        ({"version": "3.1"}, "holds less than version"),
        ({"version": None}, "does not say the version"),
        ({"notice": None}, "does not follow its schema: sets.json.notice must be string"),
        ({"rocks": None}, "sets.json.rocks must be object"),
    ],
)
def test_a_record_that_is_not_ours_is_refused(
    change: dict, said: str, record: Path, tmp_path: Path
) -> None:
    """A foreign, newer, older or broken file is an InputError that says which of them it is."""
    whole = json.loads(record.read_text(encoding="utf-8")) | change
    file = tmp_path / "sets.json"
    file.write_text(json.dumps(whole), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        js.load_result(file)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"columns": ["set"]}, "columns of rocks must be"),
        ({"drawn_background_per_m": [0.1]}, "must have one background"),
        ({"centre": [["J1", "cube", *[0.0] * 9]]}, "a set of a rock has"),
        ({"centre": []}, "has no rock for set J1"),
    ],
)
def test_rocks_that_are_not_whole_are_refused(
    change: dict, said: str, record: Path, tmp_path: Path
) -> None:
    """Columns, backgrounds and shapes that the schema can't hold together are checked too."""
    whole = json.loads(record.read_text(encoding="utf-8"))
    whole["rocks"] |= change
    (tmp_path / "sets.json").write_text(json.dumps(whole), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        js.load_result(tmp_path)


def test_every_shape_of_set_comes_back() -> None:
    """Elliptical, girdle and heavy-tailed sets have the same density after a record of eight digits."""
    turn = np.linalg.qr(np.random.default_rng(3).normal(size=(3, 3)))[0]
    kinds = (
        EllipticalDensity(turn, 30.0, 9.0),
        GirdleDensity(turn, 12.0, 2.0),
        HeavyTailedDensity(turn, 40.0, 12.0),
    )
    rock = NamedRock(tuple(js.fit.RockSet(one, 1.0) for one in kinds), 0.2, ("A", "B", "C"))
    rocks = Rocks((rock, rock), rock, 0.9)
    back = Rocks.of_record(json.loads(json.dumps(plain(rocks.to_record()))), 0.9)
    poles = js.poles_from_dip([0, 30, 60, 90], [10, 100, 200, 300])
    assert np.allclose(back[1].log_rates(poles), rock.log_rates(poles), rtol=1e-5)
    assert back.centre.shapes == rock.shapes
