"""Public names that are loaded on first use, so that importing the package stays cheap."""

from __future__ import annotations

import ast
from collections.abc import Callable
from importlib import import_module
from pathlib import Path


def lazy_names(
    package: str, path: str
) -> tuple[Callable[[str], object], Callable[[], list[str]], list[str]]:
    """The `__getattr__`, `__dir__` and `__all__` of a package whose names live in its modules.

    The names are those that the file at `path` imports under TYPE_CHECKING: one list, which a
    type checker reads as it stands and which costs no import when the package is loaded.
    """
    tree = ast.parse(Path(path).read_text(encoding="utf-8"))
    (block,) = (node for node in tree.body if isinstance(node, ast.If))
    homes = {
        alias.name: str(node.module)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }

    def get(name: str) -> object:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        if homes[name] == package:  # a room
            return import_module(f"{package}.{name}")
        return getattr(import_module(homes[name]), name)

    names = sorted(homes)
    return get, names.copy, names
