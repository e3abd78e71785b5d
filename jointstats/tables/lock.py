"""A lock on a directory: of all that would write into it, one at a time."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import ModuleType

from jointstats.errors import InputError

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # there is none on Windows
    fcntl = None

#: How long to wait for another that writes; writing takes a fraction of a second.
PATIENCE_S = 10.0
_PAUSE_S = 0.02
_LOCK_FILE = ".jointstats-lock"


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the lock on a directory; it ends with the process, however that ends.

    Where the system keeps no locks on directories, a file in it stands for the lock; one that a
    killed process left is named in the error, for the user to delete.
    """
    if fcntl is not None:
        handle = _Handle(folder)
        try:
            if handle.lock():
                yield
                return
        finally:
            handle.close()
    file = _lock_file(folder)
    try:
        yield
    finally:
        file.unlink(missing_ok=True)


class _Handle:
    """A directory held open; it is let go with the object, so that no interrupt can leave it."""

    _number: int | None = None

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._number = os.open(folder, os.O_RDONLY)

    def lock(self) -> bool:
        """Wait for the lock; False where the file system has none."""
        assert fcntl is not None and self._number is not None
        end = time.monotonic() + PATIENCE_S
        while True:
            try:
                fcntl.flock(self._number, fcntl.LOCK_EX | fcntl.LOCK_NB)
                return True
            except BlockingIOError:
                _wait(end, self._folder, "")
            except OSError:
                return False

    def close(self) -> None:
        """Let go of the directory; the lock first, so that a stop within leaves none."""
        if self._number is None:
            return
        if fcntl is not None:
            with suppress(OSError):
                fcntl.flock(self._number, fcntl.LOCK_UN)
        number, self._number = self._number, None
        os.close(number)

    __del__ = close


def _lock_file(folder: Path) -> Path:
    file = folder / _LOCK_FILE
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            return file
        except FileExistsError:
            _wait(end, folder, f" (where no other run is at work, delete {file})")


def _wait(end: float, folder: Path, hint: str) -> None:
    if time.monotonic() > end:
        raise InputError(
            f"another run is writing into {folder}; wait until it has ended{hint}, or choose "
            "another output"
        )
    time.sleep(_PAUSE_S)
