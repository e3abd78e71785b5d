"""Public names that are loaded on first use, so that importing the package stays cheap."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module

__all__ = ["lazy_names"]


def lazy_names(
    package: str, homes: Mapping[str, str]
) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """The `__getattr__` and `__dir__` of a package whose names live in its modules.

    `homes` gives for each name the module it lives in, below `jointstats`.
    """

    def get(name: str) -> object:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"jointstats.{homes[name]}"), name)

    def names() -> list[str]:
        return sorted(homes)

    return get, names
