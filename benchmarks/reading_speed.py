"""Time to read and check a large site, beside pandas' parse of the same files in the same run.

python benchmarks/reading_speed.py [rows]    prints reading_speed.md
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

import jointstats as js

ROUNDS = 20


def large_site(folder: Path, rows: int = 50_000) -> Path:
    """An invented site with many fractures."""
    rng = np.random.default_rng(1)
    names = [f"B{k}" for k in range(20)]
    trend = rng.integers(0, 360, 20)
    pd.DataFrame({"hole": names, "length_m": 100, "trend_deg": trend, "plunge_deg": 60}).to_csv(
        folder / "holes.csv", index=False
    )
    pd.DataFrame({"hole": names, "from_m": 0, "to_m": 100, "method": "image"}).to_csv(
        folder / "logged.csv", index=False
    )
    pd.DataFrame(
        {
            "hole": rng.choice(names, rows),
            "depth_m": rng.uniform(0, 100, rows).round(2),
            "method": "image",
            "dip_deg": rng.uniform(0, 90, rows).round(1),
            "dip_direction_deg": rng.uniform(0, 360, rows).round(1),
            "type": rng.choice(["joint", "vein", "bedding"], rows),
            "aperture_mm": rng.uniform(0, 3, rows).round(1),
            "infilling": rng.choice(["clay", "none", "calcite"], rows),
        }
    ).to_csv(folder / "fractures.csv", index=False)
    return folder


def best_times(calls: list[Callable[[], object]]) -> list[float]:
    """Least processor time of each call, taken in turn so that all meet the same load."""
    best = [np.inf] * len(calls)
    for _ in range(ROUNDS):
        for place, call in enumerate(calls):
            start = time.process_time()
            call()
            best[place] = min(best[place], time.process_time() - start)
    return best


def main() -> None:
    """Print the table."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    with tempfile.TemporaryDirectory() as name:
        folder = large_site(Path(name), rows)
        files = [folder / f"{table}.csv" for table in ("holes", "logged", "fractures")]
        parse, ours = best_times(
            [lambda: [pd.read_csv(file) for file in files], lambda: js.read_site(folder)]
        )
    print("# Time to read and check a site\n")
    print(f"{rows} fractures in 20 holes; the least of {ROUNDS} processor times.\n")
    print("| | ms | of pandas |")
    print("|---|---|---|")
    print(f"| pandas, parse alone | {parse * 1e3:.0f} | 1.00 |")
    print(f"| jointstats, parsed and checked | {ours * 1e3:.0f} | {ours / parse:.2f} |")


if __name__ == "__main__":
    main()
