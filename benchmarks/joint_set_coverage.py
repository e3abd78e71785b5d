"""Coverage of the intervals of a joint set: mean pole, κ and P32, by simulation.

python benchmarks/joint_set_coverage.py [simulations]    prints joint_set_coverage.md

The first case gets all the simulations, the others a fifth.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from joblib import Parallel, delayed
from joint_sets import Rock, log_holes, met_per_metre, random_holes, random_rock
from numpy.typing import NDArray

import jointstats as js

Array = NDArray[np.float64]

NUMBERS = (25, 50, 200)
KAPPA = 30.0


@dataclass(frozen=True)
class Geometry:
    """Holes as (trend, plunge), and the two sets as (dip, dip direction); the first is judged."""

    holes: tuple[tuple[float, float], ...]
    sets: tuple[tuple[float, float], ...]


#: The edge of the blind zone of a vertical hole is met by poles of planes that dip 80°.
GEOMETRIES = {
    "well seen": Geometry(((0, 90), (120, 60)), ((35, 300), (65, 70))),
    "2° from the blind zone of one hole, seen by another": Geometry(
        ((0, 90), (120, 60)), ((78, 300), (25, 70))
    ),
    "2° from the blind zone of both holes": Geometry(((0, 90), (20, 60)), ((78, 300), (25, 70))),
    "2° from the blind zone of the only hole": Geometry(((0, 90),), ((78, 300), (25, 70))),
}


def rock_of(geometry: Geometry, number: int) -> tuple[Rock, Array, Array]:
    """Rock in which each set is expected to meet the holes `number` times, and the holes."""
    holes = js.lines_from_trend(*zip(*geometry.holes, strict=True))
    means = js.poles_from_dip(*zip(*geometry.sets, strict=True))
    even = Rock(means, np.full(2, KAPPA), np.ones(2), 1.0)
    rng = np.random.default_rng(5)
    share = np.mean([met_per_metre(even, holes, rng) for _ in range(25)], axis=0)[:2].mean(axis=1)
    # The rarer set has P32 1; the holes are as long as that takes.
    p32 = share.min() / share
    lengths = np.full(len(holes), number / share.min() / len(holes))
    return Rock(means, even.kappas, p32, float(p32.sum()) / 9), holes, lengths


def intervals_of(model: js.JointSetMixture, mean: Array) -> Array:
    """Estimates and intervals of the set nearest a mean pole.

    Angle off and cone (degrees), κ, its interval, P32, its interval.
    """
    if not model.n_sets_:
        return np.full(8, np.nan)
    angle = js.axis_angles_deg(model.means_, mean)
    k = int(np.argmin(angle))
    sure = model.certainty_
    return np.array(
        [angle[k], sure.cone_deg(k), model.kappas_[k], *sure.kappa_interval(k)]
        + [model.intensities_[k], *sure.intensity_interval(k)]
    )


def one_fit(case: tuple[Rock, Array, Array], seed: list[int]) -> Array:
    """Estimates and intervals of the first set of a rock, then its κ and P32."""
    rock, holes, lengths = case
    log = log_holes(rock, holes, lengths, np.random.default_rng(seed))
    model = js.JointSetMixture(2, random_state=0).fit(log.poles, exposure=log.exposure())
    return np.append(intervals_of(model, rock.means[0]), [rock.kappas[0], rock.p32[0]])


def one_drawn_fit(n_sets: str, number: int, seed: list[int]) -> Array:
    """The same for one set of a rock and holes drawn at random.

    The set is one of those that are a twentieth of all fractures or more; the holes are as long as
    it takes to meet `number` of it. NaN where the fit has no set nearer to it than to another.
    """
    rng = np.random.default_rng(seed)
    rare = np.ones(1, bool)
    while rare.all():
        rock, holes = random_rock(rng), random_holes(rng)
        met = met_per_metre(rock, holes, rng).sum(axis=1)
        rare = met[:-1] < 0.05 * met.sum()
    k = int(rng.choice(np.flatnonzero(~rare)))
    log = log_holes(rock, holes, np.full(len(holes), number / met[k]), rng)
    sets = len(rock.kappas) if n_sets == "given" else "auto"
    model = js.JointSetMixture(sets, random_state=0).fit(log.poles, exposure=log.exposure())
    if not model.n_sets_:
        return np.full(10, np.nan)
    near = model.means_[np.argmin(js.axis_angles_deg(model.means_, rock.means[k]))]
    if np.argmin(js.axis_angles_deg(rock.means, near)) != k:
        return np.full(10, np.nan)
    return np.append(intervals_of(model, rock.means[k]), [rock.kappas[k], rock.p32[k]])


def _sides(low: Array, high: Array, truth: Array) -> str:
    below, above = float(np.mean(high < truth)), float(np.mean(low > truth))
    return f"{1 - below - above:.1%} ({below:.1%} / {above:.1%})"


def row_of(name: str, number: int, rows: Array) -> str:
    """A row of the table, from the fits of its simulations."""
    lost = len(rows)
    rows = rows[np.isfinite(rows).all(axis=1)]
    lost -= len(rows)
    kappa, p32 = rows[:, 8], rows[:, 9]
    return (
        f"| {name} | {number} | {len(rows)} ({lost}) | {np.mean(rows[:, 0] <= rows[:, 1]):.1%} "
        f"| {_sides(rows[:, 3], rows[:, 4], kappa)} | {_sides(rows[:, 6], rows[:, 7], p32)} "
        f"| {np.median(rows[:, 2] / kappa):.3f} | {np.median(rows[:, 5] / p32):.3f} |"
    )


def rows_of_table(simulations: int) -> Iterator[str]:
    """Coverage of each interval in each case, a row as soon as it is known."""
    yield (
        "| case | fractures a set | simulations (set not found) | mean pole "
        "| κ (too low / too high) | P32 (too low / too high) | median κ / truth "
        "| median P32 / truth |"
    )
    yield "|---|---|---|---|---|---|---|---|"
    workers = Parallel(n_jobs=2)
    for number in NUMBERS:
        for seed, (name, geometry) in enumerate(GEOMETRIES.items()):
            case, runs = rock_of(geometry, number), simulations if seed == 0 else simulations // 5
            found = workers(delayed(one_fit)(case, [seed, number, i]) for i in range(runs))
            yield row_of(name, number, np.array(found))
        for sets in ("given", "auto"):
            one = delayed(one_drawn_fit)
            found = workers(one(sets, number, [9, number, i]) for i in range(simulations // 5))
            yield row_of(f"drawn at random, number of sets {sets}", number, np.array(found))


def main() -> None:
    """Print the table."""
    simulations = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    error = 1.96 * np.sqrt(0.95 * 0.05 / simulations)
    print("# Coverage of 95% intervals of a joint set\n")
    print(f"{simulations} simulations are good to ± {error:.1%}, a fifth to ± {2.24 * error:.1%}.")
    print(f"In the cases of fixed holes κ is {KAPPA:g}, a second set is met as often, the background")
    print("is a tenth of all P32 and the number of sets is given. Rock and holes drawn at random are")
    print("those of joint_sets.py; one set of the rock is judged.\n")
    for row in rows_of_table(simulations):
        print(row, flush=True)


if __name__ == "__main__":
    main()
