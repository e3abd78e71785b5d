"""Damaged sites through every command: each ends right, or with exit 2 and lines that help.

A small site, as a directory, a workbook and an AGS4 file, is changed at random: in its bytes, in
its cells, or in its structure. Each is checked and oriented, some are compared, matched and
reported on, in this process. A foreign error, a command that takes too long, an output without
exit 0, or an input that was changed counts against the package. Run with a number of sites and a
seed:

    python benchmarks/mutated_sites.py 2000 1
"""

from __future__ import annotations

import contextlib
import csv
import io
import shutil
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

import jointstats as js
from jointstats.cli import main

DEMO = Path(__file__).parents[1] / "examples" / "dam_site"
MOST_S = 10.0
CELLS = (
    *("", " ", "0", "-1", "1e308", "-1e308", "1e-320", "nan", "inf", "-inf", "NaN", "None", "x"),
    *("91", "361", "90", "360", "89.9999", "1,5", "1.2.3", "0x10", "1e5", "١٢", "−5", "1_000"),
    *('"', '""', '"a', "a,b", "=1+1", "@x", "\x00", "\ufeff", "Ä" * 300, "1" * 400, "TRUE", "12:30"),
)
MARKS = (b'"', b"\n", b",", b";", b"\r", b"\x00", b"[", b"<", b"=")
AGS = "\n".join(
    [
        '"GROUP","LOCA"',
        '"HEADING","LOCA_ID","LOCA_NATE","LOCA_NATN","LOCA_GL","LOCA_FDEP"',
        '"UNIT","","m","m","m","m"',
        '"TYPE","ID","2DP","2DP","2DP","2DP"',
        *(f'"DATA","B{k}","{k}.00","2.00","3.00","40.00"' for k in (1, 2)),
        '"GROUP","HORN"',
        '"HEADING","LOCA_ID","HORN_TOP","HORN_BASE","HORN_ORNT","HORN_INCL"',
        '"UNIT","","m","m","deg","deg"',
        '"TYPE","ID","2DP","2DP","0DP","0DP"',
        *(f'"DATA","B{k}","0.00","40.00","{k * 90}","60"' for k in (1, 2)),
        '"GROUP","DISC"',
        '"HEADING","LOCA_ID","DISC_TOP","DISC_DIP","DISC_DIR"',
        '"UNIT","","m","deg","deg"',
        '"TYPE","ID","2DP","0DP","0DP"',
        *(f'"DATA","B{1 + k % 2}","{1 + k}.00","{40 + k}","{100 + 2 * k}"' for k in range(30)),
    ]
)


class Tried(NamedTuple):
    """One command on one damaged site."""

    kind: str
    command: str
    exit: int | str
    seconds: float
    told: str


def sites(folder: Path) -> dict[str, Path]:
    """The site in its three forms, with every sixth fracture of the demo."""
    place = folder / "directory"
    shutil.copytree(DEMO, place)
    lines = (DEMO / "fractures.csv").read_text(encoding="utf-8").splitlines()
    (place / "fractures.csv").write_text("\n".join([lines[0], *lines[1::6], ""]), encoding="utf-8")
    book = js.write_site(js.read_site(place), folder / "book.xlsx")
    ags = folder / "file.ags"
    ags.write_text(AGS, encoding="utf-8")
    return {"directory": place, "workbook": book, "AGS4": ags}


def _bytes(data: bytes, rng: np.random.Generator) -> bytes:
    """Some bytes replaced, taken out or repeated, or the end cut off."""
    some = bytearray(data)
    for _ in range(1 + int(rng.geometric(0.6))):
        if not some:
            break
        at, how = int(rng.integers(len(some))), rng.integers(5)
        if how == 0:
            some[at] = int(rng.integers(256))
        elif how == 1:
            del some[at : at + int(rng.integers(1, 40))]
        elif how == 2:
            some[at:at] = some[at : at + int(rng.integers(1, 200))]
        elif how == 3:
            some[at:at] = MARKS[int(rng.integers(len(MARKS)))]
        elif rng.random() < 0.2:
            del some[at:]
    return bytes(some)


def _cells(data: bytes, rng: np.random.Generator) -> bytes:
    """Some cells of a table replaced."""
    rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
    for _ in range(int(rng.geometric(0.6))):
        row = rows[int(rng.integers(len(rows)))]
        if row:
            row[int(rng.integers(len(row)))] = CELLS[int(rng.integers(len(CELLS)))]
    return _written(rows)


def _structure(data: bytes, rng: np.random.Generator) -> bytes:
    """Rows or columns taken out, doubled, moved or emptied."""
    rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
    at, other = (int(k) for k in rng.integers(len(rows), size=2))
    column = int(rng.integers(max(len(rows[0]), 1)))
    changes: list[Callable[[], object]] = [
        lambda: rows.pop(at),
        lambda: rows.insert(at, list(rows[other])),
        lambda: [row.pop(column) for row in rows if len(row) > column],
        lambda: [row.insert(0, row[column]) for row in rows if len(row) > column],
        lambda: rows.sort(key=lambda row: row[-1] if row else ""),
        lambda: rows.__delitem__(slice(1, None)),
        lambda: rows.clear(),
        lambda: rows[at].append("more"),
        lambda: [row.__setitem__(column, "") for row in rows[1:] if len(row) > column],
        lambda: rows[0].__setitem__(column % max(len(rows[0]), 1), rows[0][0]) if rows[0] else None,
    ]
    changes[int(rng.integers(len(changes)))]()
    return _written(rows)


def _written(rows: list[list[str]]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode("utf-8")


def _changed_book(data: bytes, rng: np.random.Generator) -> bytes:
    """One part of the archive changed in its bytes, or taken out."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as book, zipfile.ZipFile(out, "w") as copy:
        names = book.namelist()
        part = names[int(rng.integers(len(names)))]
        for name in names:
            if name != part:
                copy.writestr(name, book.read(name))
            elif rng.random() < 0.9:
                copy.writestr(name, _bytes(book.read(name), rng))
    return out.getvalue()


def damage(kind: str, path: Path, rng: np.random.Generator) -> None:
    """Change a site in place."""
    if kind == "directory":
        files = sorted(path.iterdir())
        file = files[int(rng.integers(len(files)))]
        if rng.random() < 0.03:
            return file.unlink()
        ways = [_bytes] if file.suffix != ".csv" else [_bytes, _cells, _cells, _structure]
    else:
        file = path
        ways = [_bytes, _changed_book] if kind == "workbook" else [_bytes, _cells, _structure]
    way = ways[int(rng.integers(len(ways)))]
    file.write_bytes(way(file.read_bytes(), rng))
    return None


def _command(kind: str, path: Path, out: Path, rng: np.random.Generator) -> list[str]:
    """A command, the quick ones more often."""
    place = str(path)
    hole = "B1" if kind == "AGS4" else "D1"
    commands = [
        (0.45, ["check", place]),
        (0.40, ["orient", place, "--output", str(out / "oriented.csv")]),
        (0.05, ["sets", place, "--sets", "2", "--json"]),
        (0.03, ["match", place, "--hole", hole, "--output", str(out)]),
        (0.02, ["compare", place, "--sets", "1", "--output", str(out)]),
        (0.05, ["report", place, "--sets", "2", "--output", str(out)]),
    ]
    chosen = rng.choice(len(commands), p=[share for share, _ in commands])
    return commands[int(chosen)][1]


def _state(path: Path) -> dict[str, bytes]:
    files = [path] if path.is_file() else sorted(path.rglob("*"))
    return {str(file): file.read_bytes() for file in files if file.is_file()}


def _wrong(exit_: int, told: str, written: bool, changed: bool) -> str:
    """What a command did against the rules; nothing where it kept them."""
    if exit_ not in (0, 2):
        return f"exit {exit_}"
    if exit_ == 2 and not told.strip():
        return "exit 2 without a word"
    if exit_ == 2 and written:
        return "exit 2, and something written"
    return "the input was changed" if changed else ""


def try_one(kind: str, path: Path, rng: np.random.Generator) -> Tried:
    """Run one command on a damaged site, in this process."""
    with tempfile.TemporaryDirectory() as place:
        out = Path(place)
        command, before = _command(kind, path, out, rng), _state(path)
        said, told, start = io.StringIO(), io.StringIO(), time.perf_counter()
        try:
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
                ended: int | str = main(command)
            written = any(out.iterdir())
            ended = _wrong(int(ended), told.getvalue(), written, _state(path) != before) or ended
        except Exception:  # noqa: BLE001  (to count whatever comes is what this is for)
            ended = traceback.format_exc().strip()
        return Tried(kind, command[0], ended, time.perf_counter() - start, told.getvalue())


def run(number: int, seed: int, *, keep: Path | None = None) -> list[Tried]:
    """Try so many damaged sites; those that break a rule are kept in a directory."""
    warnings.simplefilter("error")
    tried = []
    with tempfile.TemporaryDirectory() as place:
        whole = sites(Path(place))
        for k in range(number):
            rng = np.random.default_rng([seed, k])
            kind = str(rng.choice(list(whole), p=[0.6, 0.2, 0.2]))
            copy = Path(place) / "copy" / whole[kind].name
            shutil.rmtree(copy.parent, ignore_errors=True)
            copy.parent.mkdir()
            (shutil.copytree if kind == "directory" else shutil.copy)(whole[kind], copy)
            for _ in range(1 + (rng.random() < 0.2)):
                # What was damaged already may be no table or archive any more.
                with contextlib.suppress(Exception):
                    damage(kind, copy, rng)
            one = try_one(kind, copy, rng)
            tried.append(one)
            if keep is not None and (isinstance(one.exit, str) or one.seconds > MOST_S):
                shutil.copytree(copy.parent, keep / f"{seed}-{k}", dirs_exist_ok=True)
                (keep / f"{seed}-{k}" / "what.txt").write_text(f"{one}", encoding="utf-8")
    return tried


def table(tried: list[Tried]) -> str:
    """What happened, by kind of site and command."""
    lines = ["| site | command | tried | done | exit 2 | broken | longest, s |", "|" + "---|" * 7]
    for key in sorted({(one.kind, one.command) for one in tried}):
        own = [one for one in tried if (one.kind, one.command) == key]
        ends = Counter("broken" if isinstance(one.exit, str) else one.exit for one in own)
        lines.append(
            f"| {key[0]} | {key[1]} | {len(own)} | {ends[0]} | {ends[2]} | {ends['broken']} | "
            f"{max(one.seconds for one in own):.1f} |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    NUMBER, SEED = (int(one) for one in (sys.argv[1:] + ["500", "1"][len(sys.argv) - 1 :]))
    FOUND = run(NUMBER, SEED, keep=Path(tempfile.mkdtemp(prefix="mutated-")))
    print(table(FOUND))
    for text, times in Counter(str(one.exit) for one in FOUND if isinstance(one.exit, str)).items():
        print(f"\n{times} times:\n{text}")
