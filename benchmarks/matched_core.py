"""How well core and image are matched: sense of beta, pairs, turned runs, P32 of the merged log.

    python benchmarks/matched_core.py [first seed] [number of seeds]

Each row is a kind of core over many simulated holes of 60 m, read to 10° on core and 2° on the image,
depths to 5 cm, 2 % stretch, 70 % of the fractures on core and 95 % on the image: one run in eight or
in four spun unknown to the reader, beta mirrored throughout, none of it, or every run spun.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
import pandas as pd

import jointstats as js
from jointstats.borehole.hole import LoggedInterval
from jointstats.borehole.simulate import SETS

KINDS: dict[str, dict[str, float | bool]] = {
    "control": {"spun": False},
    "1 run in 8": {"spun": 0.125},
    "1 run in 4": {"spun": 0.25},
    "mirrored": {"spun": False, "mirrored": True},
    "mirrored, 1 in 8": {"spun": 0.125, "mirrored": True},
    "every run": {"spun": True},
}
LENGTH_M, FACTOR = 60.0, 1.5
#: A run is turned right when it is within this of the truth, degrees.
NEAR_DEG = 30.0


def one_hole(kind: str, seed: int, p32: bool = True) -> dict[str, float]:
    """Figures of one simulated hole."""
    site = js.pairs.simulate_core_and_image(
        LENGTH_M, p32_factor=FACTOR, random_state=seed, **KINDS[kind]
    )
    found = js.pairs.match_site(site)
    match = found.matches[0]
    true = site.fractures["true_fracture"].to_numpy()
    pairs = match.pairs
    right = true[pairs["core_row"]] == true[pairs["image_row"]]
    by_method = [
        set(true[(site.fractures["method"] == one).to_numpy()]) - {-1} for one in ("core", "image")
    ]
    shared = len(by_method[0] & by_method[1])
    told = {
        "sense": bool(match.agreement["mirrored"]) == bool(KINDS[kind].get("mirrored", False)),
        "alarm": bool(match.agreement["mirrored"]) and not KINDS[kind].get("mirrored", False),
        "pairs": len(pairs),
        "right": int(right.sum()),
        "shared": shared,
    }
    told |= _runs(site, match)
    return told | (_merged(found, seed) if p32 else {})


def _runs(site: js.Site, match: js.pairs.CoreMatch) -> dict[str, float]:
    """Runs that are turned and have three pairs or more, and how many of them are set right."""
    table = site.fractures[site.fractures["method"] == "core"]
    turn = table.groupby("run")["true_rotation_deg"].first()
    runs = match.runs.set_index("run")
    enough = runs[(runs["n_pairs"] >= 3) & (turn.reindex(runs.index).abs() > NEAR_DEG)]
    apart = (enough["rotation_deg"] - turn.reindex(enough.index) + 180) % 360 - 180
    return {"turned": len(enough), "turned_right": int((apart.abs() < NEAR_DEG).sum())}


def _merged(found: js.pairs.SiteMatch, seed: int) -> dict[str, float]:
    """Whether the interval of P32 of each set of the merged log holds the truth."""
    merged = found.merged.assign(method="image")
    hole = found.site.holes[0]
    whole = replace(hole, length_m=LENGTH_M, logged=(LoggedInterval(0.0, LENGTH_M, "image"),))
    inside = merged["depth_m"].between(0, LENGTH_M)
    site = replace(found.site, holes=(whole,), fractures=merged[inside].reset_index(drop=True))
    known = [js.GivenSet(dip, way, name=f"T{k}") for k, (dip, way, _, _) in enumerate(SETS)]
    result = js.analyse(site, n_sets=len(SETS), given=known, domains="none", random_state=seed)
    held = total = 0
    ratio = []
    for one in result.sets:
        p32 = FACTOR * SETS[int(one.name[1:])][3]
        total += 1
        held += one.p32_interval[0] <= p32 <= one.p32_interval[1]
        ratio.append(one.p32_per_m / p32)
    return {"p32": total, "p32_held": held, "p32_ratio": float(np.mean(ratio))}


def table_of(first: int, number: int) -> pd.DataFrame:
    """A row a kind, over the seeds."""
    rows = []
    for kind in KINDS:
        each = pd.DataFrame([one_hole(kind, seed) for seed in range(first, first + number)])
        total = each.sum()
        rows.append(
            {
                "core": kind,
                "holes": number,
                "sense right, %": 100 * each["sense"].mean(),
                "false alarms, %": 100 * each["alarm"].mean(),
                "pairs right, %": 100 * total["right"] / total["pairs"],
                "shared found, %": 100 * total["right"] / total["shared"],
                "turned runs set right, %": 100 * total["turned_right"] / max(total["turned"], 1),
                "P32 in its interval, %": 100 * total["p32_held"] / total["p32"],
                "P32 over truth": each["p32_ratio"].mean(),
            }
        )
        print(rows[-1], flush=True)
    return pd.DataFrame(rows)


if __name__ == "__main__":
    given = [int(one) for one in sys.argv[1:]]
    print(table_of(*(given + [101, 30][len(given) :])).round(1).to_string(index=False))
