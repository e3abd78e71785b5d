"""Coverage of the intervals of a joint set: mean pole, κ and P32, by simulation.

python benchmarks/joint_set_coverage.py [simulations]    prints joint_set_coverage.md
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from joblib import Parallel, delayed
from joint_sets import Rock, log_holes, met_per_metre
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


def one_fit(case: tuple[Rock, Array, Array], seed: list[int]) -> Array:
    """Estimates and intervals of the first set.

    Angle off and cone (degrees), κ, its interval, P32, its interval.
    """
    rock, holes, lengths = case
    log = log_holes(rock, holes, lengths, np.random.default_rng(seed))
    model = js.JointSetMixture(2, random_state=0).fit(log.poles, exposure=log.exposure())
    if not model.n_sets_:
        return np.full(8, np.nan)
    angle = js.axis_angles_deg(model.means_, rock.means[0])
    k = int(np.argmin(angle))
    sure = model.certainty_
    return np.array(
        [angle[k], sure.cone_deg(k), model.kappas_[k], *sure.kappa_interval(k)]
        + [model.intensities_[k], *sure.intensity_interval(k)]
    )


def simulate(geometry: Geometry, number: int, simulations: int, seed: int) -> tuple[Rock, Array]:
    """Fits of many logs of one rock."""
    case = rock_of(geometry, number)
    rows = Parallel(n_jobs=2)(delayed(one_fit)(case, [seed, i]) for i in range(simulations))
    return case[0], np.array(rows)


def _sides(low: Array, high: Array, truth: float) -> str:
    below, above = float(np.mean(high < truth)), float(np.mean(low > truth))
    return f"{1 - below - above:.1%} ({below:.1%} / {above:.1%})"


def rows_of_table(simulations: int) -> Iterator[str]:
    """Coverage of each interval in each case, a row as soon as it is known."""
    yield from (
        "| case | fractures a set | mean pole | κ (too low / too high) "
        + "| P32 (too low / too high) | median κ | median P32 / truth |",
        "|---|---|---|---|---|---|---|",
    )
    for seed, (name, geometry) in enumerate(GEOMETRIES.items()):
        for number in NUMBERS:
            rock, rows = simulate(geometry, number, simulations, seed * 1000 + number)
            rows = rows[np.isfinite(rows).all(axis=1)]
            truth = float(rock.p32[0])
            yield (
                f"| {name} | {number} | {np.mean(rows[:, 0] <= rows[:, 1]):.1%} "
                f"| {_sides(rows[:, 3], rows[:, 4], KAPPA)} "
                f"| {_sides(rows[:, 6], rows[:, 7], truth)} "
                f"| {np.median(rows[:, 2]):.1f} | {np.median(rows[:, 5]) / truth:.3f} |"
            )


def main() -> None:
    """Print the table."""
    simulations = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    error = 1.96 * np.sqrt(0.95 * 0.05 / simulations)
    print("# Coverage of 95% intervals of a joint set\n")
    print(f"{simulations} simulations a row, so ± {error:.1%}; κ {KAPPA:g}, a second set of as")
    print("many fractures and a background of a tenth of all P32; number of sets given.\n")
    for row in rows_of_table(simulations):
        print(row, flush=True)


if __name__ == "__main__":
    main()
