"""P32 from logs that miss fractures or orientations: core and image, spun core, orientations lost.

    python benchmarks/observed.py [sites [seed [word]]]

Three sets (those of `simulate_site`, P32 1.2, 0.8 and 0.6) in three holes; a minute takes about five
sites a row. Each row has random numbers of its own. A row counts sets, each by the set found nearest to
it. Columns: bias and rms of P32 over the truth less one; share of 95 % intervals of P32 that hold it.
"rms of one" is that of the image alone, corrected by the true detection; "cone" the mean ratio of the
confidence cones to those of the whole log.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

import jointstats as js
from jointstats.borehole.simulate import SETS
from jointstats.borehole.site import Site
from jointstats.sets.joint_set import JointSet
from jointstats.sets.result import SiteAnalysis

LINES = ((315.0, 60.0), (200.0, 55.0), (80.0, 70.0))
IMAGE, CORE = 0.8, 0.9
_DIP = ["dip_deg", "dip_direction_deg"]


class Trial(NamedTuple):
    """A site as it was observed, one to hold it against, and the P32 that its lengths have."""

    observed: Site
    other: Site
    scale: float  # of the true P32
    other_seen: float  # share that the other site has of the fractures


def core_and_image(rng: np.random.Generator) -> Trial:
    """Two logs of 50 m a hole; the other is the image alone."""
    holes, tables = [], []
    for number, (trend, plunge) in enumerate(LINES):
        one = js.pairs.simulate_core_and_image(
            50.0,
            trend_deg=trend,
            plunge_deg=plunge,
            core_rate=CORE,
            image_rate=IMAGE,
            spun=False,
            p32_factor=1.0,
            random_state=rng,
        )
        holes.append(replace(one.holes[0], name=f"H{number}"))
        tables.append(one.fractures.assign(hole=f"H{number}"))
    table = pd.concat(tables, ignore_index=True)
    site = replace(one, holes=tuple(holes), fractures=table)
    image = table[table["method"] == "image"].reset_index(drop=True)
    alone = tuple(
        replace(hole, logged=tuple(a for a in hole.logged if a.method == "image")) for hole in holes
    )
    # The simulated logs go on beyond the rock, for depths on the core that are too large.
    return Trial(site, replace(site, holes=alone, fractures=image), 50.0 / holes[0].length_m, IMAGE)


def alpha_alone(rng: np.random.Generator) -> Trial:
    """Half of the fractures by α alone; the other is the whole log."""
    site = js.simulate_site(random_state=rng)
    table, lost = site.fractures.copy(), rng.random(len(site.fractures)) < 0.5
    alpha = js.orient_fractures(site)["hole_angle_deg"]
    table["alpha_deg"] = np.where(lost, alpha, np.nan)
    table.loc[lost, _DIP] = np.nan
    return Trial(replace(site, fractures=table), site, 1.0, 1.0)


def lost(rng: np.random.Generator, times: float) -> Trial:
    """40 in 100 without an orientation, of one set so many times as often as of the rest."""
    site = js.simulate_site(random_state=rng)
    own = (site.fractures["true_set"] == rng.integers(1, 4)).to_numpy()
    chance = 0.4 / (times * own.mean() + 1.0 - own.mean())
    gone = rng.random(len(own)) < np.where(own, times * chance, chance)
    table = site.fractures.copy()
    table.loc[gone, _DIP] = np.nan
    return Trial(replace(site, fractures=table), site, 1.0, 1.0)


KINDS: dict[str, Callable[[np.random.Generator], Trial]] = {
    "core and image": core_and_image,
    "half by alpha alone": alpha_alone,
    "40 % lost by chance": lambda rng: lost(rng, 1.0),
    "40 % lost, one set 3 times as often": lambda rng: lost(rng, 3.0),
}


def nearest(result: SiteAnalysis) -> Iterator[tuple[JointSet, float]]:
    """The set found nearest to each of the truth, and its true P32."""
    found = [one for one in result.sets if one.mean is not None]
    for dip, way, _, p32 in SETS if found else ():
        pole = js.poles_from_dip(dip, way)[0]
        yield max(found, key=lambda one: abs(float(np.dot(one.mean, pole)))), p32


def row(kind: str, sites: int, seed: int) -> str:
    """One row of the table."""
    ratios, others, holds, cones = [], [], [], []
    for number in range(sites):
        trial = KINDS[kind](np.random.default_rng([seed, *kind.encode(), number]))
        pair = [js.analyse(site, domains="none") for site in (trial.observed, trial.other)]
        for (one, p32), (other, _) in zip(*map(nearest, pair), strict=False):
            true = p32 * trial.scale
            ratios.append(one.p32_per_m / true)
            others.append(other.p32_per_m / true / trial.other_seen)
            holds.append(one.p32_interval[0] <= true <= one.p32_interval[1])
            cones.append(one.cone_deg / other.cone_deg)
    ratio, rms = (
        np.array(ratios),
        [np.sqrt(np.mean((np.array(a) - 1) ** 2)) for a in (ratios, others)],
    )
    error = ratio.std() / np.sqrt(len(ratio))
    return (
        f"| {kind} | {len(ratio)} | {ratio.mean() - 1:+.3f} | {error:.3f} | {rms[0]:.3f} | "
        f"{rms[1]:.3f} | {np.mean(holds):.3f} | {np.mean(cones):.2f} |"
    )


def main(sites: int = 40, seed: int = 1, word: str = "") -> None:
    """Print the table."""
    print("| logs | sets | bias | error | rms | rms of one | covers | cone |")
    print("|---|---|---|---|---|---|---|---|")
    for kind in KINDS:
        if word in kind:
            print(row(kind, sites, seed), flush=True)


if __name__ == "__main__":
    given = sys.argv[1:]
    main(*map(int, given[:2]), *given[2:3])
