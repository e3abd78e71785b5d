"""A writer of reports killed at random moments: no report is torn, and nothing stays behind.

A process writes one of two reports over the other, without end, and is killed (SIGKILL) after a
random time; then all files must be of one report. Every tenth time another writer ends in order
first, and then nothing but its files may be in the directory. Run with a number of kills and a
seed:

    python benchmarks/killed_writers.py 500 1
"""

from __future__ import annotations

import os
import signal
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from jointstats.tables.output import write_folder

NAMES = ("index.html", "record.html", "sets.csv", "fractures.csv", "sets.json")


def report(number: int) -> dict[str, str]:
    """Files of a report, each full of its number, and of the size of a real one."""
    return {name: f"{number} " * (200_000 if name == "index.html" else 5000) for name in NAMES}


def of_one_report(folder: Path) -> bool:
    """Whether all files are there, whole, and of one report."""
    texts = {
        name: (folder / name).read_text() if (folder / name).exists() else "" for name in NAMES
    }
    return any(texts == report(number) for number in (1, 2))


def _write_on(folder: Path) -> None:
    while True:
        for number in (1, 2):
            write_folder(folder, report(number))


def run(kills: int, seed: int) -> tuple[int, int, int]:
    """Torn reports, rests after the next writing, and kills that fell within a writing."""
    rng = np.random.default_rng(seed)
    torn = rests = within = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "out"
        write_folder(folder, report(1))
        for k in range(kills):
            child = os.fork()
            if child == 0:
                _write_on(folder)
            time.sleep(rng.uniform(0.002, 0.06))
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            torn += not of_one_report(folder)
            within += len(list(folder.iterdir())) > len(NAMES)
            if k % 10 == 9:
                write_folder(folder, report(1))
                rests += len(list(folder.iterdir())) - len(NAMES)
    return torn, rests, within


if __name__ == "__main__":
    KILLS, SEED = (int(one) for one in (sys.argv[1:] + ["500", "1"][len(sys.argv) - 1 :]))
    TORN, RESTS, WITHIN = run(KILLS, SEED)
    print(f"{KILLS} kills, {WITHIN} of them within a writing: {TORN} reports torn, {RESTS} rests")
