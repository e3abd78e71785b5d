"""Damaged sites through every command: each ends right, or with exit 2 and lines that help.

Inputs of every kind are changed at random: in their bytes, in their cells, or in their structure.
They are a directory with every table, a mapping and the decisions of an analysis; a workbook; an
AGS4 file; a table of poles; core and image with edited pairs; and tables with other people's
headings and the mapping that was drafted of them. Each is checked and oriented, some are compared,
matched, drafted and reported on, in this process. A foreign error, a command that takes too long (of the processor),
an output without exit 0, or an input that was changed counts against the package. Asked to end, it
prints what it has. Run with a number of sites and a seed:

    python benchmarks/mutated_sites.py 2000 1
"""

from __future__ import annotations

import contextlib
import csv
import io
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple, NoReturn
from xml.sax.saxutils import escape

import numpy as np

import jointstats as js
from jointstats.cli import main

DEMO = Path(__file__).parents[1] / "examples" / "dam_site"
MOST_S, GIVE_UP_S = 10.0, 60
DECISIONS = """n_sets = 3
shape = "round"
blind_angle_deg = 12.5
include = ["joint", "bedding"]
[[given]]
dip_deg = 20
dip_direction_deg = 135
name = "beds"
hold = true
only = {type = ["joint"]}
[[steps]]
remove = "J1"
"""
#: How often each kind is tried.
KINDS = {
    "directory": 0.4,
    "workbook": 0.2,
    "AGS4": 0.1,
    "poles": 0.1,
    "core and image": 0.1,
    "mapped": 0.1,
}
CELLS = (
    *("", " ", "0", "-1", "1e308", "-1e308", "1e-320", "nan", "inf", "-inf", "NaN", "None", "x"),
    *("91", "361", "90", "360", "89.9999", "1,5", "1.2.3", "0x10", "1e5", "١٢", "−5", "1_000"),
    *(
        '"',
        '""',
        '"a',
        "a,b",
        "=1+1",
        "@x",
        "\x00",
        "\ufeff",
        "Ä" * 300,
        "1" * 400,
        "TRUE",
        "12:30",
    ),
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
    """The input in its forms, with every sixth fracture of the demo and those that have names."""
    place = folder / "directory"
    shutil.copytree(DEMO, place)
    rows = _rows((DEMO / "fractures.csv").read_bytes())
    name = rows[0].index("fracture")
    few = [row for k, row in enumerate(rows) if k % 6 == 0 or row[name]]
    (place / "fractures.csv").write_bytes(_written(few))
    book = js.write_site(js.read_site(place), folder / "book.xlsx")
    (place / "analysis.toml").write_text(DECISIONS, encoding="utf-8")
    ags = folder / "file.ags"
    ags.write_text(AGS, encoding="utf-8")
    made = {"directory": place, "workbook": book, "AGS4": ags, "poles": _poles(folder)}
    return {**made, "core and image": _core_and_image(folder), "mapped": _mapped(folder)}


def _poles(folder: Path) -> Path:
    rng = np.random.default_rng(0)
    dips, strikes = rng.normal(40, 8, 60), rng.normal(120, 10, 60)
    rows = [[f"{a:.1f}", f"{b:.1f}", "2"] for a, b in zip(dips, strikes, strict=True)]
    path = folder / "poles.csv"
    path.write_bytes(_written([["Dip (°)", "Strike", "weight"], *rows]))
    return path


def _core_and_image(folder: Path) -> Path:
    """A short hole seen by both, with the pairs of its match beside it."""
    place = folder / "core_and_image"
    site = js.pairs.simulate_core_and_image(25.0, random_state=3)
    read = [name for name in site.fractures if not name.startswith("true_")]
    js.write_site(replace(site, fractures=site.fractures[read]), place / "site")
    with contextlib.redirect_stdout(io.StringIO()):
        main(["match", str(place / "site"), "--output", str(place / "match")])
    shutil.move(place / "match" / "site" / "pairs.csv", place / "pairs.csv")
    shutil.rmtree(place / "match")
    return place


def _mapped(folder: Path) -> Path:
    """Tables with other people's headings, and the mapping that was drafted of them."""
    place = folder / "mapped"
    (place / "site").mkdir(parents=True)
    rows = _rows((DEMO / "fractures.csv").read_bytes())
    few = [[*row[:2], *row[3:5]] for row in rows[:40]]
    few[0] = ["BHID", "Depth MD (ft)", "True Dip", "Dip Dirn"]
    (place / "site" / "structures.csv").write_bytes(_written(few))
    holes = [["Hole ID", "East", "North", "RL", "EOH (m)", "Azimuth", "Dip"]]
    holes += [[f"D{k}", "1", "2", "3", "80", f"{40 * k}", "-60"] for k in (1, 2, 3, 4)]
    (place / "site" / "collars.csv").write_bytes(_written(holes))
    draft = str(place / "mapping.csv")
    with contextlib.redirect_stdout(io.StringIO()):
        main(["check", str(place / "site"), "--suggest", draft])
    drafted = _rows((place / "mapping.csv").read_bytes())
    at = drafted[0].index("confirmed")
    confirmed = [[*row[:at], "yes", *row[at + 1 :]] for row in drafted[1:]]
    (place / "mapping.csv").write_bytes(_written([drafted[0], *confirmed]))
    return place


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
    rows = _rows(data)
    for _ in range(int(rng.geometric(0.6))):
        row = rows[int(rng.integers(len(rows)))]
        if row:
            row[int(rng.integers(len(row)))] = CELLS[int(rng.integers(len(CELLS)))]
    return _written(rows)


def _structure(data: bytes, rng: np.random.Generator) -> bytes:
    """Rows or columns taken out, doubled, moved or emptied."""
    rows = _rows(data)
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


def _rows(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))


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


def _cells_of_book(data: bytes, rng: np.random.Generator) -> bytes:
    """Values or attributes of one sheet replaced, the archive and the marks whole."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as book, zipfile.ZipFile(out, "w") as copy:
        names = book.namelist()
        sheets = [name for name in names if name.startswith("xl/") and name.endswith(".xml")]
        part = sheets[int(rng.integers(len(sheets)))]
        for name in names:
            text = book.read(name)
            values = list(re.finditer(rb"(?<=>)[^<>]+(?=<)|(?<=\")[^\"<>]+(?=\")", text))
            if name == part and values:
                one = values[int(rng.integers(len(values)))]
                cell = escape(CELLS[int(rng.integers(len(CELLS)))]).encode()
                text = text[: one.start()] + cell.replace(b"\x00", b"") + text[one.end() :]
            copy.writestr(name, text)
    return out.getvalue()


def damage(kind: str, path: Path, rng: np.random.Generator) -> None:
    """Change an input in place."""
    files = [path] if path.is_file() else sorted(one for one in path.rglob("*") if one.is_file())
    file = files[int(rng.integers(len(files)))]
    if path.is_dir() and rng.random() < 0.03:
        return file.unlink()
    ways: list[Callable[[bytes, np.random.Generator], bytes]] = [_bytes]
    if file.suffix in (".csv", ".ags"):
        ways += [_cells, _cells, _structure]
    if kind == "workbook":
        ways += [_changed_book, _changed_book, _cells_of_book, _cells_of_book]
    way = ways[int(rng.integers(len(ways)))]
    file.write_bytes(way(file.read_bytes(), rng))
    return None


def _command(kind: str, path: Path, out: Path, rng: np.random.Generator) -> list[str]:
    """A command, the quick ones more often."""
    if kind == "poles":
        commands = [
            (0.7, ["sets", str(path), "--sets", "1", "--csv"]),
            (0.2, ["sets", str(path), "--weights", "weight", "--json"]),
            (0.1, ["report", str(path), "--sets", "1", "--output", str(out)]),
        ]
    elif kind == "mapped":
        commands = _mapped_commands(path, out)
    elif kind == "core and image":
        commands = _pairs_commands(path, out)
    else:
        commands = _site_commands(str(path), "B1" if kind == "AGS4" else "D1", out)
    shares = np.array([share for share, _ in commands])
    return commands[int(rng.choice(len(commands), p=shares / shares.sum()))][1]


def _mapped_commands(path: Path, out: Path) -> list[tuple[float, list[str]]]:
    place, mapping = str(path / "site"), str(path / "mapping.csv")
    return [
        (0.4, ["check", place, "--suggest", str(out / "draft.csv")]),
        (0.3, ["check", place, "--mapping", mapping]),
        (0.3, ["orient", place, "--mapping", mapping, "--output", str(out / "oriented.csv")]),
    ]


def _pairs_commands(path: Path, out: Path) -> list[tuple[float, list[str]]]:
    place, pairs = str(path / "site"), str(path / "pairs.csv")
    fit = ["--sets", "2", "--domains", "none"]
    return [
        (0.5, ["match", place, "--pairs", pairs, "--output", str(out)]),
        (0.1, ["match", place, "--output", str(out)]),
        (0.2, ["sets", place, "--pairs", pairs, *fit]),
        (0.1, ["report", place, "--pairs", pairs, *fit, "--output", str(out)]),
    ]


def _site_commands(place: str, hole: str, out: Path) -> list[tuple[float, list[str]]]:
    ledger = ["--ledger", str(out / "ledger.csv")]
    return [
        (0.40, ["check", place]),
        (0.36, ["orient", place, "--output", str(out / "oriented.csv"), *ledger]),
        (0.05, ["sets", place, "--sets", "2", "--json"]),
        (0.05, ["sets", place, "--csv", "--domains", "none"]),
        (0.03, ["match", place, "--hole", hole, "--output", str(out)]),
        (0.02, ["compare", place, "--sets", "1", "--output", str(out)]),
        (0.03, ["log", place, "--sets", "2", "--hole", hole, "--output", str(out)]),
        (0.03, ["report", place, "--sets", "2", "--output", str(out)]),
    ]


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


class TookTooLong(Exception):
    """A command that had to be given up."""


def _give_up(*_: object) -> NoReturn:
    raise TookTooLong(f"more than {GIVE_UP_S} s")


def try_one(kind: str, path: Path, rng: np.random.Generator) -> Tried:
    """Run one command on a damaged input, in this process."""
    with tempfile.TemporaryDirectory() as place:
        out = Path(place)
        command, before = _command(kind, path, out, rng), _state(path)
        said, told, start = io.StringIO(), io.StringIO(), time.process_time()
        signal.alarm(GIVE_UP_S)
        try:
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
                ended: int | str = main(command)
            if ended == 130:
                raise KeyboardInterrupt
            written = any(out.iterdir())
            ended = _wrong(int(ended), told.getvalue(), written, _state(path) != before) or ended
        except Exception:  # noqa: BLE001  (to count whatever comes is what this is for)
            ended = traceback.format_exc().strip()
        finally:
            signal.alarm(0)
        return Tried(kind, command[0], ended, time.process_time() - start, told.getvalue())


def _stop(*_: object) -> NoReturn:
    raise KeyboardInterrupt


def run(number: int, seed: int, *, keep: Path | None = None) -> list[Tried]:
    """Try so many damaged inputs; those that break a rule are kept in a directory."""
    warnings.simplefilter("error")
    taken = [(one, signal.signal(one, how)) for one, how in _SIGNALS.items()]
    tried: list[Tried] = []
    try:
        with tempfile.TemporaryDirectory() as place:
            _try_all(number, seed, Path(place), tried, keep)
    except KeyboardInterrupt:
        print(f"stopped after {len(tried)}", file=sys.stderr)
    finally:
        for one, how in taken:
            signal.signal(one, how)
    return tried


_SIGNALS = {signal.SIGTERM: _stop, signal.SIGHUP: _stop, signal.SIGALRM: _give_up}


def _try_all(number: int, seed: int, place: Path, tried: list[Tried], keep: Path | None) -> None:
    whole = sites(place)
    for k in range(number):
        rng = np.random.default_rng([seed, k])
        kind = str(rng.choice(list(KINDS), p=list(KINDS.values())))
        copy = place / "copy" / whole[kind].name
        shutil.rmtree(copy.parent, ignore_errors=True)
        copy.parent.mkdir()
        (shutil.copy if whole[kind].is_file() else shutil.copytree)(whole[kind], copy)
        for _ in range(1 + (rng.random() < 0.2)):
            # What was damaged already may be no table or archive any more.
            with contextlib.suppress(Exception):
                damage(kind, copy, rng)
        one = try_one(kind, copy, rng)
        tried.append(one)
        if keep is not None and (isinstance(one.exit, str) or one.seconds > MOST_S):
            shutil.copytree(copy.parent, keep / f"{seed}-{k}", dirs_exist_ok=True)
            (keep / f"{seed}-{k}" / "what.txt").write_text(f"{one}", encoding="utf-8")


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
    KEPT = Path(tempfile.mkdtemp(prefix="mutated-"))
    FOUND = run(NUMBER, SEED, keep=KEPT)
    print(table(FOUND))
    print(f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most")
    for text, times in Counter(str(one.exit) for one in FOUND if isinstance(one.exit, str)).items():
        print(f"\n{times} times:\n{text}")
    print(f"kept in {KEPT}" if any(KEPT.iterdir()) else "none to keep")
