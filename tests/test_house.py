"""The house rules that a machine can hold: the flow of imports, sizes, documents."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import jointstats

PACKAGE = Path(jointstats.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
ORDER = (
    "errors",
    "lazy",
    "checks",
    "intervals",
    "sphere",
    "borehole",
    "tables",
    "pairs",
    "fit",
    "line",
    "design",
    "sets",
    "compare",
    "plots",
    "report",
    "cli",
)
#: Imports against the flow that are still to be undone: room, module taken.
AGAINST = {
    ("borehole", "tables"),
    ("pairs", "sets"),
    ("plots", "report"),
    ("sphere", "fit"),
}


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path.name}: relative import"
            names.add(node.module)
        elif isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_flow_one_way(path: Path) -> None:
    """A module imports only from its own folder and from folders before it in the line."""
    room = _room(path)
    if room == "__init__":
        return
    for name in _imported(path):
        if name.startswith("jointstats."):
            source = name.split(".")[1]
            flows = ORDER.index(source) <= ORDER.index(room) or (room, source) in AGAINST
            assert flows, f"{room} imports {name}"


def _code_lines(node: ast.AST, source: list[str]) -> int:
    body = node.body  # type: ignore[attr-defined]
    first = body[0]
    if isinstance(first, ast.Expr) and isinstance(getattr(first.value, "value", None), str):
        body = body[1:]
    if not body:
        return 0
    lines = source[body[0].lineno - 1 : body[-1].end_lineno]
    return sum(1 for line in lines if line.strip() and not line.strip().startswith("#"))


def _depth(node: ast.AST, level: int = 0) -> int:
    nested = (ast.For, ast.While, ast.If, ast.With, ast.Try)
    deepest = level
    for child in ast.iter_child_nodes(node):
        if isinstance(child, (ast.FunctionDef, ast.ClassDef)):
            continue
        is_elif = isinstance(node, ast.If) and child in node.orelse and isinstance(child, ast.If)
        step = 1 if isinstance(child, nested) and not is_elif else 0
        deepest = max(deepest, _depth(child, level + step))
    return deepest


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_modules_and_functions_stay_small(path: Path) -> None:
    """A module has at most 500 lines; a function at most 40 lines of code and nesting of 3."""
    text = path.read_text(encoding="utf-8")
    source = text.splitlines()
    assert len(source) <= 500
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            assert _code_lines(node, source) <= 40, f"{node.name} is too long"
            assert _depth(node) <= 3, f"{node.name} is nested too deep"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_every_function_is_annotated(path: Path) -> None:
    """Every function says what it takes and what it gives."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            assert node.returns is not None, f"{node.name} has no return annotation"
            for argument in node.args.args + node.args.kwonlyargs:
                if argument.arg not in ("self", "cls"):
                    assert argument.annotation is not None, f"{node.name}({argument.arg})"


PUBLIC = [
    (room, name)
    for room in (jointstats, *(getattr(jointstats, room) for room in jointstats._ROOMS))
    for name in room.__all__
    if name not in jointstats._ROOMS and name != "DENSITY_LEVELS"
]


@pytest.mark.parametrize(("room", "name"), PUBLIC, ids=lambda one: getattr(one, "__name__", one))
def test_public_names_are_documented(room: ModuleType, name: str) -> None:
    """Every public name has a docstring with its parameters and an example that runs."""
    thing = getattr(room, name)
    text = thing.__doc__ or ""
    assert ">>>" in text, f"{name} has no example"
    assert "Parameters" in text or "Attributes" in text, f"{name} has no parameters"


def test_public_names_are_sorted() -> None:
    """The list of public names is sorted, has no name twice, and is short at the top."""
    assert list(jointstats.__all__) == sorted(set(jointstats.__all__)) == dir(jointstats)
    assert len(jointstats.__all__) <= 60


@pytest.mark.parametrize(
    ("command", "forbidden"),
    [
        (["-c", "import jointstats, sys; print(*sys.modules)"], ("matplotlib", "sklearn", "scipy")),
        (
            [
                "-c",
                "import sys\nfrom jointstats.cli import main\n"
                "try: main(['--help'])\nexcept SystemExit: pass\nprint(*sys.modules)",
            ],
            ("matplotlib", "sklearn"),
        ),
    ],
    ids=["import", "help"],
)
def test_light_start(command: list[str], forbidden: tuple[str, ...]) -> None:
    """Importing the package, or asking for help, loads none of the heavy libraries."""
    done = subprocess.run([sys.executable, *command], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    for name in forbidden:
        assert name not in loaded


def test_conventions_name_tests_that_exist() -> None:
    """Every test that DEVELOPERS.md names is there."""
    root = PACKAGE.parent
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", (root / "DEVELOPERS.md").read_text("utf-8"))
    assert len(named) > 10
    for path, name in named:
        assert f"def {name}(" in (root / path).read_text("utf-8"), f"{path}::{name}"
