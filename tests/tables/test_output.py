"""Files appear together or not at all, whatever happens, and no input is ever taken away."""

from __future__ import annotations

import errno
import os
import re
import signal
import stat
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import pytest

from jointstats.errors import InputError
from jointstats.tables import output
from jointstats.tables.output import (
    check_unedited,
    output_file,
    output_folder,
    plain_names,
    write_file,
    write_folder,
)

OLD = {"index.html": "old page", "sets.csv": "old sets", "gone.csv": "old, and not in the new"}
NEW = {"index.html": "new page", "sets.csv": "new sets", "first.csv": "new, and not in the old"}
CODE = (output.__file__,)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hundreds of files are written here; they need not reach the disk at once."""
    monkeypatch.setattr(output.os, "fsync", lambda _: None)


def _texts(folder: Path) -> dict[str, str]:
    return {
        path.name: path.read_text(encoding="utf-8")
        for path in folder.iterdir()
        if path.exists() and not path.name.startswith(".")
    }


def _rewrite(folder: Path) -> None:
    write_folder(folder, NEW, without=["gone.csv"])


def _stop_at(step: int, stop: Callable[[], None]) -> Callable[..., object]:
    """A trace that calls `stop` at the given line of the code under test."""
    left = [step]

    def trace(frame: FrameType, event: str, _: object) -> object:
        if frame.f_code.co_filename not in CODE:
            return None
        if event == "line":
            left[0] -= 1
            if left[0] == 0:
                stop()
        return trace

    return trace


def _killed_at(step: int, write: Callable[[], None]) -> bool:
    """Run in a process that kills itself at a line of the code; False where it ended before."""
    child = os.fork()
    if child == 0:
        sys.settrace(_stop_at(step, lambda: os.kill(os.getpid(), signal.SIGKILL)))
        write()
        sys.settrace(None)
        os._exit(0)
    return os.waitpid(child, 0)[1] != 0


@pytest.mark.parametrize("links", [True, False], ids=["links", "no links"])
def test_a_kill_at_any_line_leaves_all_of_the_old_or_all_of_the_new(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed at each line in turn, the names show one whole; the next writing leaves no rest.

    Where the file system has no links this holds for one file only.
    """
    old, new, gone = (OLD, NEW, ["gone.csv"]) if links else ({"a": "old"}, {"a": "new"}, [])
    if not links:
        monkeypatch.setattr(output.os, "symlink", _refuse)
    seen, step = [], 1
    while True:
        place = tmp_path / f"{step}"
        write_folder(place, old)
        (place / "mine.txt").write_text("keep", encoding="utf-8")
        killed = _killed_at(step, lambda one=place: write_folder(one, new, without=gone))
        found = _texts(place)
        assert found.pop("mine.txt") == "keep"
        assert found in (old, new), step
        seen.append(found == new)
        write_folder(place, new, without=gone)
        assert sorted(one.name for one in place.iterdir()) == sorted([*new, "mine.txt"])
        assert not any(one.is_symlink() for one in place.iterdir())
        if not killed:
            break
        step += 1
    assert step > 50 and seen == sorted(seen)  # old before the switch, new from it on
    assert seen.count(False) > 10 and seen.count(True) > 3


# A stop between opening a file and the block that closes it leaves closing to Python.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_stop_at_any_line_leaves_one_whole_and_no_rest(tmp_path: Path) -> None:
    """An interrupt from the keyboard at each line in turn: one whole, and next to never a rest."""

    def stop() -> None:
        raise KeyboardInterrupt

    step, ended, rests = 1, False, 0
    before = sys.gettrace()
    while not ended:
        place = tmp_path / f"{step}"
        write_folder(place, OLD)
        try:
            sys.settrace(_stop_at(step, stop))
            _rewrite(place)
            ended = True
        except KeyboardInterrupt:
            pass
        finally:
            sys.settrace(before)
        assert _texts(place) in (OLD, NEW), step
        rests += any(one.name.startswith(".") for one in place.iterdir())
        _rewrite(place)
        assert sorted(one.name for one in place.iterdir()) == sorted(NEW)
        step += 1
    # A rest is left where the stop falls on the line that begins the tidying, or ends it.
    assert step > 50 and rests <= 3


def _refuse(*_: object, **__: object) -> None:
    raise OSError(errno.EPERM, "Operation not permitted")


@pytest.mark.parametrize("without", ["symlink", "link", "fsync"])
def test_a_file_system_that_lacks_something_is_written_too(
    without: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Symbolic links, second names or flushing may be missing; the files are the same."""
    monkeypatch.setattr(output.os, without, _refuse)
    write_folder(tmp_path / "out", OLD)
    _rewrite(tmp_path / "out")
    assert _texts(tmp_path / "out") == NEW
    assert len(list((tmp_path / "out").iterdir())) == len(NEW)


@pytest.mark.parametrize("call", ["symlink", "replace", "mkdir", "link"])
def test_a_full_disk_leaves_the_old_files_and_is_told_of_the_output(
    call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk refuses at any call, the old files stay, and the error names the output."""
    place = tmp_path / "out"
    write_folder(place, OLD)
    whole = getattr(os, call)
    for fails_at in range(1, 12):
        calls: list[object] = []

        def failing(*args: object, counted: list[object] = calls, at: int = fails_at) -> object:
            counted.append(args)
            if len(counted) == at:
                raise OSError(errno.ENOSPC, "No space left on device")
            return whole(*args)

        monkeypatch.setattr(output.os, call, failing)
        try:
            _rewrite(place)
        except OSError as error:
            assert (error.filename, error.errno) == (str(place), errno.ENOSPC)
        monkeypatch.setattr(output.os, call, whole)
        assert _texts(place) in (OLD, NEW)
        write_folder(place, OLD, without=["first.csv"])
    assert _texts(place) == OLD


def test_a_device_that_is_full_is_named() -> None:
    """Writing to a device that takes nothing names the device."""
    with pytest.raises(OSError, match="No space left") as caught:
        write_file(Path("/dev/full"), "x" * 100_000)
    assert caught.value.filename == "/dev/full"
    write_file(Path("/dev/null"), "x")
    assert not Path("/dev/null").is_file()


def test_nothing_is_made_where_nothing_could_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A directory that was made for the files does not stay when they could not be written."""
    monkeypatch.setattr(output, "_put", _refuse)
    with pytest.raises(PermissionError, match="not permitted"):
        write_folder(tmp_path / "out", NEW)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("mask", [0o022, 0o077, 0o002])
def test_permissions_follow_the_mask(mask: int, tmp_path: Path) -> None:
    """Directory and files get what the user's mask leaves, the first time and again."""
    before = os.umask(mask)
    try:
        for _ in range(2):
            write_folder(tmp_path / "out", NEW)
            assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o777 & ~mask
            for name in NEW:
                assert stat.S_IMODE((tmp_path / "out" / name).stat().st_mode) == 0o666 & ~mask
    finally:
        os.umask(before)


def test_nothing_is_written_beside_the_directory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All happens within the directory, so its parent need not be writable, nor on the same disk."""
    write_folder(tmp_path / "out", OLD)
    touched: set[Path] = set()
    for call in ("mkdir", "symlink", "replace", "link"):
        whole = getattr(os, call)

        def watched(*args: str | int, real: Callable[..., object] = whole) -> object:
            paths = [Path(one) for one in args if not isinstance(one, int)]
            touched.update(one.parent for one in paths if one.is_absolute())
            return real(*args)

        monkeypatch.setattr(output.os, call, watched)
    _rewrite(tmp_path / "out")
    assert len(touched) > 2
    assert all(one.is_relative_to(tmp_path / "out") for one in touched)


def test_writers_at_one_time_never_mix(tmp_path: Path) -> None:
    """Many writers into one directory: at any look, and at the end, the files are of one of them."""
    place = tmp_path / "out"
    wholes = [{name: f"{k} {name}" for name in "abcdef"} for k in range(4)]
    write_folder(place, wholes[0])

    def writer(whole: dict[str, str]) -> None:
        for _ in range(15):
            write_folder(place, whole)

    threads = [threading.Thread(target=writer, args=(one,)) for one in wholes]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert _texts(place) in wholes
    assert len(list(place.iterdir())) == 6


@pytest.mark.parametrize("kind", ["system", "refused", "none"])
def test_a_second_writer_is_told_to_wait(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While one writes, another gets a clear word, with locks of the system and without."""
    monkeypatch.setattr(output, "PATIENCE_S", 0.05)
    if kind == "none":
        monkeypatch.setattr(output, "fcntl", None)
    if kind == "refused":
        monkeypatch.setattr(output.fcntl, "flock", _refuse)
    write_folder(tmp_path, OLD)
    with output.locked(tmp_path):
        with pytest.raises(InputError, match="another run is writing into .*; wait until it has"):
            _rewrite(tmp_path)
    assert _texts(tmp_path) == OLD
    _rewrite(tmp_path)
    assert _texts(tmp_path) == NEW
    assert len(list(tmp_path.iterdir())) == len(NEW)


def test_what_is_no_file_stays(tmp_path: Path) -> None:
    """A directory or a link of the user's in the place of a file is left alone, and told."""
    (tmp_path / "index.html").mkdir()
    (tmp_path / "index.html" / "mine.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(InputError, match="index.html is a directory, and a file of this name"):
        output_folder(tmp_path, ["index.html"])
    (tmp_path / "sets.csv").symlink_to("elsewhere.csv")
    with pytest.raises(InputError, match="sets.csv is a link to another file"):
        output_folder(tmp_path, ["sets.csv"])
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="output must be a directory; .*file is a file"):
        output_folder(tmp_path / "file", ["sets.csv"])
    with pytest.raises(InputError, match="output must be a file; .*index.html is a directory"):
        output_file(tmp_path / "index.html")


def test_an_input_is_never_an_output(tmp_path: Path) -> None:
    """A site's directory, its tables, and any file that was read are refused, by whatever name."""
    site = tmp_path / "site"
    site.mkdir()
    for name in ("Holes.CSV", "fractures.csv", "site.toml"):
        (site / name).write_text("", encoding="utf-8")
    other = tmp_path / "other"
    other.symlink_to(site)
    for place in (site, other, site / ".." / "site"):
        with pytest.raises(InputError, match="output must not be the input itself"):
            output_folder(place, ["index.html"], [site])
    for name in ("fractures.csv", "site.toml", "Holes.CSV", "FRACTURES.csv"):
        with pytest.raises(InputError, match="belongs to the input, which is never overwritten"):
            output_file(site / name, [site])
    with pytest.raises(InputError, match="must not be among the tables of a site; .* holes.csv"):
        output_folder(site, ["index.html"])  # a site that was not read
    book = tmp_path / "site.xlsx"
    book.write_text("", encoding="utf-8")
    os.link(book, tmp_path / "second.csv")
    with pytest.raises(InputError, match="belongs to the input"):
        output_file(tmp_path / "second.csv", [book])
    assert output_file(site / "oriented.csv", [site]) == site / "oriented.csv"
    assert output_folder(site / "report", ["fractures.csv"], [site]) == site / "report"


def test_a_link_to_a_file_is_followed(tmp_path: Path) -> None:
    """One file is written where its link leads; the link stays."""
    (tmp_path / "far").mkdir()
    (tmp_path / "far" / "real.csv").write_text("old", encoding="utf-8")
    (tmp_path / "near.csv").symlink_to("far/real.csv")
    write_file(output_file(tmp_path / "near.csv"), "new")
    assert (tmp_path / "near.csv").is_symlink()
    assert (tmp_path / "far" / "real.csv").read_text(encoding="utf-8") == "new"


def test_names_that_are_no_text_are_written(tmp_path: Path) -> None:
    """Bytes of a file name that are no UTF-8 become a question mark."""
    write_file(tmp_path / "a.txt", "site \udce4")
    assert (tmp_path / "a.txt").read_bytes() == b"site ?"


def test_writing_needs_no_library(tmp_path: Path) -> None:
    """The module that writes starts without numpy, so that it can be used anywhere."""
    code = "import sys; import jointstats.tables.output; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_names_of_holes_make_names_of_files() -> None:
    """Odd letters, names that differ in case or odd letters only, and names of devices part."""
    made = plain_names(["a", "A", "a-2", "../x", "??", "CON", "site", "é" * 3, "b" * 200], taken=["Site"])
    assert made["a"] == "a" and made["../x"] == "x"
    assert len({one.lower() for one in made.values()}) == len(made)
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{1,90}", one) for one in made.values())
    assert made["CON"].lower() != "con" and made["site"].lower() != "site"


def test_a_draft_is_not_laid_over_an_edited_one(tmp_path: Path) -> None:
    """The same draft is written again; over another file of its name it is not."""
    file = tmp_path / "pairs.csv"
    check_unedited(file, "a\n", "give it")
    file.write_text("a\n", encoding="utf-8")
    check_unedited(file, "a\n", "give it")
    with pytest.raises(InputError, match="perhaps with your edits, .* give it, move it"):
        check_unedited(file, "b\n", "give it")
