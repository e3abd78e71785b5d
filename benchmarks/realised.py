"""Rocks realised as discs and drilled again: P32 and orientations against those they were made of.

    python benchmarks/realised.py               prints the table of realised.md
    python benchmarks/realised.py 50 7          50 realisations a row, seed 7

Each realisation is of a fitted site, and is drilled along one line of random direction. The number
met of each set is held against the frequency of the rock along that line, and the angles between
line and plane against their distribution among what a line meets, by the Kolmogorov distance.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy.stats import kstest, lognorm, pareto

import jointstats as js
from jointstats.design.frequency import frequency_by_set
from jointstats.design.realised import RANDOM, SizeLaw, drill, realise
from jointstats.fit.rock import Rock

LENGTH_M = 30.0
LAWS: dict[str, float | SizeLaw] = {
    "one radius, 1.5 m": 1.5,
    "lognormal, coefficient of variation .53": lognorm(0.5, scale=1.5),
    "power law, exponent 4, from 1 m": pareto(3.0),
}


def angles_met(rock: Rock, way: np.ndarray) -> np.ndarray:
    """Angles between a line and the planes that it meets, drawn of the rock by |n · d|."""
    poles, _ = rock.sample(20_000, np.random.default_rng(0))
    cosine = np.abs(poles @ way)
    return np.arcsin(np.random.default_rng(1).choice(cosine, 20_000, p=cosine / cosine.sum()))


def row(law: float | SizeLaw, n: int, seed: int) -> dict[str, float]:
    """Counts over expected counts with their standard error; share of tests of angles below .05."""
    rng = np.random.default_rng(seed)
    result = js.analyse(js.simulate_site(random_state=seed), 3)
    names = [*(one.name for one in result.sets), RANDOM]
    observed, expected, below = np.zeros(len(names)), np.zeros(len(names)), 0
    for k in range(n):
        way = rng.standard_normal(3)
        way /= np.linalg.norm(way)
        ends = np.array([np.zeros(3), LENGTH_M * way])
        box = [ends.min(axis=0) - 0.01, ends.max(axis=0) + 0.01]
        met = drill(realise(result, box, radius_m=law, random_state=rng), *ends)
        observed += [(met["set"] == name).sum() for name in names]
        rates = [*frequency_by_set(result.rock, way)[:, 0], 0.5 * result.background_per_m]
        expected += LENGTH_M * np.array(rates)
        poles = met[["pole_east", "pole_north", "pole_up"]].to_numpy()
        below += kstest(np.arcsin(np.abs(poles @ way)), angles_met(result.rock, way)).pvalue < 0.05
    ratio = observed / expected
    each = {f"{name} / expected": float(one) for name, one in zip(names, ratio, strict=True)}
    total = observed.sum() / expected.sum()
    return each | {
        "all / expected": float(total),
        "error": float(1.0 / np.sqrt(expected.sum())),
        "angles p < .05": below / n,
    }


def main(n: int = 200, seed: int = 20270401) -> None:
    """Print the table."""
    rows = {name: row(law, n, seed) for name, law in LAWS.items()}
    heads = list(next(iter(rows.values())))
    print(f"{n} realisations a row, each drilled along {LENGTH_M:g} m, seed {seed}\n")
    print(f"| sizes | {' | '.join(heads)} |\n|{'---|' * (len(heads) + 1)}")
    for name, found in rows.items():
        print(f"| {name} | {' | '.join(f'{found[head]:.3f}' for head in heads)} |")


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:3]))
