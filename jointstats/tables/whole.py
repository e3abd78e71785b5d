"""Files that appear together and whole, or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

__all__ = ["write_whole"]


def write_whole(target: Path, contents: Mapping[str, str | bytes]) -> None:
    """Write files, given by name, beside the target directory, then move them in.

    On a fault the old ones are put back. Text is written as UTF-8.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent) as beside:
        fresh, old = Path(beside) / "new", Path(beside) / "old"
        fresh.mkdir()
        old.mkdir()
        for name, text in contents.items():
            (fresh / name).write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
        if not target.exists():
            fresh.rename(target)
            return
        moved: list[str] = []
        try:
            for name in contents:
                moved.append(name)
                _swap(target / name, fresh / name, old / name)
        except BaseException:
            for name in moved:
                _swap_back(target / name, old / name, fresh / name)
            raise


def _swap(target: Path, fresh: Path, old: Path) -> None:
    if target.exists():
        os.replace(target, old)
    os.replace(fresh, target)


def _swap_back(target: Path, old: Path, fresh: Path) -> None:
    if old.exists():
        os.replace(old, target)
    elif not fresh.exists():
        target.unlink(missing_ok=True)
