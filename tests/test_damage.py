"""A few damaged sites and killed writers; the scripts in benchmarks/ try thousands."""

from __future__ import annotations

import ast
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"


def _script(name: str) -> ModuleType:
    made = importlib.util.spec_from_file_location(name, BENCHMARKS / f"{name}.py")
    assert made is not None and made.loader is not None
    module = importlib.util.module_from_spec(made)
    made.loader.exec_module(module)
    return module


@pytest.mark.parametrize("seed", [5])
def test_damaged_sites_end_right_or_with_a_word(seed: int) -> None:
    """Bytes, cells and structure changed at random: no foreign error, nothing half written."""
    script = _script("mutated_sites")
    tried = script.run(60, seed)
    assert [one for one in tried if isinstance(one.exit, str)] == []
    assert {one.exit for one in tried} == {0, 2}


def test_killed_writers_tear_no_report() -> None:
    """Thirty kills of a writer that writes without end: every report is whole."""
    torn, rests, within = _script("killed_writers").run(30, 2)
    assert (torn, rests) == (0, 0) and within > 5


def test_changes_of_code_are_each_another_module() -> None:
    """Every change of a module is code, differs from what was there, and is like no other."""
    script = _script("mutated_code")
    source = (script.ROOT / "jointstats" / "sphere" / "angles.py").read_text(encoding="utf-8")
    plain = ast.unparse(ast.parse(source))
    changes = script.changes_of("sphere/angles.py")
    assert len(changes) > 20
    assert len({plain, *(one.text for one in changes)}) > len(changes) * 0.9
    for one in changes:
        compile(one.text, "angles.py", "exec")
        assert one.text != plain and one.before != one.after
