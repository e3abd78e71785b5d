"""The house rules that a machine can hold: the flow of imports, sizes, documents."""

from __future__ import annotations

import ast
import io
import re
import subprocess
import sys
import tokenize
from pathlib import Path
from types import ModuleType

import pytest

import jointstats
from jointstats.borehole.fractures import POLE_COLUMNS, Status

PACKAGE = Path(jointstats.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
ORDER = (
    "types",
    "errors",
    "words",
    "lazy",
    "checks",
    "schema",
    "results",
    "intervals",
    "sphere",
    "borehole",
    "faces",
    "tables",
    "pairs",
    "observed",
    "fit",
    "uneven",
    "line",
    "design",
    "recipe",
    "sets",
    "poles",
    "compare",
    "export",
    "plots",
    "report",
    "console",
    "commands",
    "cli",
)
_NO_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENDMARKER,
}
#: Lines of code that the package may have, without docstrings, comments and blank lines.
MOST_CODE = 29_582


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
            flows = ORDER.index(source) <= ORDER.index(room)
            assert flows, f"{room} imports {name}"


def _code(text: str) -> set[int]:
    """Numbers of the lines that hold code: no docstring, no comment, no blank line."""
    documents: set[int] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                documents.update(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    written: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NO_CODE:
            written.update(range(token.start[0], token.end[0] + 1))
    return written - documents


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
    """A module has at most 400 lines; a function at most 40 lines of code and nesting of 3."""
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 400
    code = _code(text)
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body = range(node.body[0].lineno, (node.end_lineno or 0) + 1)
            assert len(code.intersection(body)) <= 40, f"{node.name} is too long"
            assert _depth(node) <= 3, f"{node.name} is nested too deep"


def test_the_house_stays_small() -> None:
    """The package grows by a decision alone; a folder has at most 25 modules."""
    assert sum(len(_code(path.read_text(encoding="utf-8"))) for path in MODULES) <= MOST_CODE
    for room in {path.parent for path in MODULES}:
        assert len(list(room.glob("*.py"))) - 1 <= 25, f"{room.name} has too many modules"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_every_function_is_annotated(path: Path) -> None:
    """Every function says what it takes and what it gives."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            assert node.returns is not None, f"{node.name} has no return annotation"
            for argument in node.args.args + node.args.kwonlyargs:
                if argument.arg not in ("self", "cls"):
                    assert argument.annotation is not None, f"{node.name}({argument.arg})"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_words_of_the_fracture_table_have_one_owner(path: Path) -> None:
    """No module but their owner spells a status of a fracture or a column of its pole."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    words = {one.value for one in nodes if isinstance(one, ast.Constant)}
    named = {one.arg for one in nodes if isinstance(one, ast.keyword)}
    columns, statuses = set(POLE_COLUMNS), {status.value for status in Status}
    if path == PACKAGE / "borehole" / "fractures.py":
        assert columns | statuses <= words
    else:
        assert not (columns | statuses) & words
        assert not columns & named


#: Modules that keep what was logged as it was given; everybody else asks `Sampling`.
LOGS = ("borehole/hole.py", "borehole/sampling.py", "compare/ledger.py")


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_what_was_logged_is_asked_of_the_sampling(path: Path) -> None:
    """No module but its owner reads the logged lengths of a hole, or cuts its path in pieces."""
    if path.relative_to(PACKAGE).as_posix() in LOGS:
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and node.attr in ("logged", "segments"):
            assert ast.unparse(node).endswith("sampling.logged"), ast.unparse(node)


_ROOMS = [name for name in jointstats.__all__ if isinstance(getattr(jointstats, name), ModuleType)]
PUBLIC = [
    (room, name)
    for room in (jointstats, *(getattr(jointstats, room) for room in _ROOMS))
    for name in room.__all__
    if name not in _ROOMS and name != "DENSITY_LEVELS"
]


@pytest.mark.parametrize(("room", "name"), PUBLIC, ids=lambda one: getattr(one, "__name__", one))
def test_public_names_are_documented(room: ModuleType, name: str) -> None:
    """Every public name has a docstring with its parameters and an example that runs."""
    thing = getattr(room, name)
    text = thing.__doc__ or ""
    assert ">>>" in text, f"{name} has no example"
    assert "Parameters" in text or "Attributes" in text, f"{name} has no parameters"


def _reachable(path: Path) -> set[str]:
    """The names of a module that a room publishes, and its classes, which results hold."""
    module = "jointstats." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
    tree = ast.parse(path.read_text(encoding="utf-8"))
    classes = {node.name for node in tree.body if isinstance(node, ast.ClassDef)}
    published = {name for room, name in PUBLIC if getattr(room, name).__module__ == module}
    return published | {name for name in classes if not name.startswith("_")}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_inner_documents_are_short(path: Path) -> None:
    """Inside a room a docstring says shapes and units, with no section for each argument."""
    reachable = _reachable(path)
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef) and node.name not in reachable:
            text = ast.get_docstring(node) or ""
            assert "\n----" not in text, f"{node.name} repeats its signature"


def _links(path: Path, modules: set[str]) -> set[str]:
    """Modules that a module imports at any time, lazily or for its types."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
            found |= names & modules
    return found


def test_no_import_goes_in_a_circle() -> None:
    """No module is reached again from what it imports, lazy and typed imports included."""
    paths = {
        "jointstats." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts): path
        for path in MODULES
        if path.name != "__init__.py"
    }
    links = {name: _links(path, set(paths)) for name, path in paths.items()}
    # What imports nothing that is left goes, until nothing more can: a circle stays.
    while free := {name for name, taken in links.items() if not taken & set(links)}:
        links = {name: taken for name, taken in links.items() if name not in free}
    # What only leads into a circle is not part of it.
    while idle := set(links) - set().union(*links.values()):
        links = {name: taken for name, taken in links.items() if name not in idle}
    assert not links


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


def test_types_hold() -> None:
    """The strict settings of mypy find nothing wrong, and installed types say so."""
    command = [sys.executable, "-m", "mypy", "jointstats"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=PACKAGE.parent)
    assert not done.stderr
    assert not [line for line in done.stdout.splitlines() if ": error: " in line]
    assert (PACKAGE / "py.typed").exists()


_DRAWN = [path for path in MODULES if _room(path) in ("plots", "report")]
#: Calls that reduce data to a figure. Largest and smallest, for the ends of an axis, and Python's
#: own sum, for the totals of a table, are left to drawing and printing.
_REDUCTIONS = set(
    "average bincount corrcoef cov histogram mean median percentile ppf prod quantile std value_counts var"
    " cdf pdf sf betaincinv gammaincinv chdtrc ndtri".split()
)


@pytest.mark.parametrize("path", _DRAWN, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_pictures_and_pages_compute_no_statistic(path: Path) -> None:
    """plots/ and report/ format and draw what earlier rooms hold: no tests, draws or reductions."""
    assert not [
        name
        for name in _imported(path)
        if name.startswith(("scipy.stats", "numpy.random", "scipy.special"))
    ]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            assert node.func.attr not in _REDUCTIONS, f"line {node.lineno}: {node.func.attr}"
