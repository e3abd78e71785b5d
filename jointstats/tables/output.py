"""Files that appear whole and together, or not at all, and that take no input away."""

from __future__ import annotations

import errno
import os
import re
import secrets
import shutil
import time
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from types import ModuleType

from jointstats.errors import InputError

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # there is none on Windows
    fcntl = None

Content = str | bytes

#: Directories in which files are made ready begin with this; what a killed run left goes with the
#: next one.
_STAGE = ".jointstats-part-"
#: A directory with this table in it is a site.
_HOLES = "holes.csv"
#: How long to wait for another that writes; writing takes a fraction of a second.
PATIENCE_S = 10.0
_PAUSE_S = 0.02
_LOCK_FILE = ".jointstats-lock"


def output_folder(
    output: str | os.PathLike[str],
    names: Iterable[str],
    inputs: Iterable[str | os.PathLike[str]] = (),
    *,
    over_site: bool = False,
) -> Path:
    """A directory that files may be written into, checked before anything is done.

    `names`: names of the files; `inputs`: files and directories that were read, and must stay as
    they are.
    """
    target, names = _path(output), list(names)
    if target.exists() and not target.is_dir():
        raise InputError(f"output must be a directory; {target} is a file")
    given = [Path(one) for one in inputs]
    if any(_same(target, one) for one in given):
        raise InputError(f"output must not be the input itself: {target}; choose another directory")
    if not over_site and _is_site(target):
        raise InputError(
            f"output must not be among the tables of a site; {target} holds {_HOLES}: choose "
            "another directory"
        )
    for name in names:
        _check_place(target / name, given)
    return target


def output_file(
    output: str | os.PathLike[str], inputs: Iterable[str | os.PathLike[str]] = ()
) -> Path:
    """A file that may be written, checked before anything is done.

    `inputs`: files and directories that were read, and must stay as they are.
    """
    path = _path(output)
    if path.is_dir():
        raise InputError(f"output must be a file; {path} is a directory")
    _check_place(_end_of_link(path), [Path(one) for one in inputs])
    return path


def check_unedited(file: Path, draft: str, use: str) -> None:
    """Refuse to write a draft over another file of its name, which the user may have edited.

    `use`: what else may be done with that file.
    """
    if file.is_file() and file.read_bytes() != _bytes(draft):
        raise InputError(
            f"{file} is there already, perhaps with your edits, and is not overwritten by a draft: "
            f"{use}, move it, or choose another output"
        )


def plain_names(names: Iterable[str], taken: Collection[str] = ()) -> dict[str, str]:
    """A name fit for a file on any system, for each of some names; a number keeps them apart.

    `taken`: names that others have. Some systems take two names that differ in case for one, and
    some keep a few for devices.
    """
    made: dict[str, str] = {}
    kept = {"con", "prn", "aux", "nul", *(f"{one}{k}" for one in ("com", "lpt") for k in range(10))}
    kept.update(one.lower() for one in taken)
    for place, name in enumerate(names, start=1):
        plain = re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")[:80]
        own = plain or str(place)
        while own.lower() in kept:
            own = f"{plain}-{place}"
            plain += "-"
        kept.add(own.lower())
        made[name] = own
    return made


def _path(output: str | os.PathLike[str]) -> Path:
    if not isinstance(output, (str, os.PathLike)):
        raise InputError(f"output must be a path; got {output!r:.200}")
    return Path(output)


def _check_place(place: Path, inputs: list[Path]) -> None:
    if place.is_dir():
        raise InputError(
            f"{place} is a directory, and a file of this name is to be written; move it, or "
            "choose another output"
        )
    if place.is_symlink() and not os.readlink(place).startswith(_STAGE):
        raise InputError(
            f"{place} is a link to another file, which would be replaced; remove the link, or "
            "choose another output"
        )
    within = [one / place.name for one in inputs if _same(one, place.parent)]
    tables = _table_names() if _is_site(place.parent) else set()
    if any(_same(place, one) for one in [*inputs, *within]) or place.name.lower() in tables:
        raise InputError(
            f"{place} belongs to the input, which is never overwritten; choose another output"
        )


def _table_names() -> set[str]:
    from jointstats.schema import TABLES

    return {"site.toml", *(f"{key}.csv" for key in TABLES)}


def _is_site(folder: Path) -> bool:
    return folder.is_dir() and any(file.name.lower() == _HOLES for file in folder.iterdir())


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there
        return False


def _end_of_link(path: Path) -> Path:
    return path.resolve() if path.is_symlink() else path


def write_file(path: Path, content: Content) -> None:
    """Write one file, whole or not at all; a device or a pipe is written to as it stands.

    `content`: text is written as UTF-8.
    """
    with _named(path):
        if path.exists() and not path.is_file():
            with path.open("wb") as stream:
                stream.write(_bytes(content))
            return
    place = _end_of_link(path)
    write_folder(place.parent, {place.name: content})


def write_folder(
    folder: Path, contents: Mapping[str, Content], *, without: Collection[str] = ()
) -> None:
    """Write files into a directory, all under one switch; other files in it stay.

    The files are made in a directory of their own within it. Then each name becomes a link to
    the earlier file, one rename turns all links to the new files, and these take the places of
    the links. Whenever it is stopped, the names show all of the earlier files or all of the new,
    and what is left over goes with the next writing.

    `folder`: made if it is not there; `contents`: by name of the file; `without`: names that go
    with the switch.
    """
    shown = folder / next(iter(contents)) if len(contents) == 1 else folder
    with _named(shown):
        made = not folder.exists()
        if made:
            folder.mkdir(parents=True, exist_ok=True)
        try:
            with locked(folder):
                _sweep(folder)
                _write(folder, contents, without)
        finally:
            if made and not any(folder.iterdir()):
                folder.rmdir()


@contextmanager
def _named(path: Path) -> Iterator[None]:
    """Whatever the system refuses, say it of this path and not of one the user never gave."""
    try:
        yield
    except OSError as error:
        raise OSError(error.errno, error.strerror or str(error), str(path)) from error


def _bytes(content: Content) -> bytes:
    if isinstance(content, bytes):
        return content
    return content.encode("utf-8", errors="replace")  # names of files may hold what is no text


def _sweep(folder: Path) -> None:
    """Take away what a killed run left; its files are as they were, or all new."""
    for stage in folder.glob(f"{_STAGE}*"):
        with suppress(OSError):  # of another user
            _settle(folder, stage)


def _write(folder: Path, contents: Mapping[str, Content], without: Collection[str]) -> None:
    stage = folder / f"{_STAGE}{secrets.token_hex(6)}"
    names = [*contents, *(name for name in without if (folder / name).exists())]
    try:
        for part in (stage, stage / "old", stage / "new"):
            part.mkdir()
        for name, content in contents.items():
            _put(stage / "new" / name, _bytes(content))
        if len(names) > 1 and _link("old", stage / "now"):
            _switch(folder, stage, names)
        else:
            _move(folder, stage, names)
    finally:
        _settle_surely(folder, stage)


def _put(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        with suppress(OSError):  # a file system without it
            os.fsync(file.fileno())


def _link(to: str, path: Path) -> bool:
    """Make a symbolic link; False where the system or the file system has none."""
    try:
        os.symlink(to, path)
    except (OSError, NotImplementedError) as error:
        if getattr(error, "errno", None) == errno.ENOSPC:
            raise
        return False
    return True


def _switch(folder: Path, stage: Path, names: list[str]) -> None:
    for name in names:
        _keep(folder / name, stage / "old" / name)
        os.symlink(f"{stage.name}/now/{name}", stage / "link")
        os.replace(stage / "link", folder / name)
    os.symlink("new", stage / "then")
    os.replace(stage / "then", stage / "now")


def _keep(path: Path, kept: Path) -> None:
    """Give a file a second name; a copy where the file system has no second names."""
    if not path.exists():
        return
    try:
        os.link(path, kept)
    except OSError:
        shutil.copy2(path, kept)


def _settle(folder: Path, stage: Path) -> None:
    """Put files in the places of the links to them, old or new, and remove the stage."""
    for place in folder.iterdir():
        if not place.is_symlink() or not os.readlink(place).startswith(f"{stage.name}/"):
            continue
        file = stage / "now" / place.name
        if file.exists():
            os.replace(file, place)
        else:
            place.unlink()
    shutil.rmtree(stage, ignore_errors=True)


def _settle_surely(folder: Path, stage: Path) -> None:
    """Settle, and once more where that was stopped or refused on the way."""
    try:
        _settle(folder, stage)
    except OSError:
        _settle(folder, stage)
    except BaseException:
        _settle(folder, stage)
        raise


def _move(folder: Path, stage: Path, names: list[str]) -> None:
    """Without links: one file after the other, and all of them back when one fails."""
    done: list[str] = []
    try:
        for name in names:
            _keep(folder / name, stage / "old" / name)
            done.append(name)
            if (stage / "new" / name).exists():
                os.replace(stage / "new" / name, folder / name)
            else:
                (folder / name).unlink()
    except BaseException:
        for name in done:
            if (stage / "old" / name).exists():
                os.replace(stage / "old" / name, folder / name)
            else:
                (folder / name).unlink(missing_ok=True)
        raise


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
