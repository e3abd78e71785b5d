"""Whole analyses of rock that is not ideal, against the truth it was drawn from.

    python benchmarks/real_rock.py                         prints the table of real_rock.md
    python benchmarks/real_rock.py 40 7 swarms             40 sites a row, seed 7, rows by a word
    python benchmarks/real_rock.py 40 7 model FILE.csv     a site model read from a table

The rocks are those of `simulated_rock.py`; the columns are defined in `score`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from sklearn.metrics import adjusted_rand_score

import jointstats as js
from benchmarks.simulated_rock import (
    Departure,
    Elliptical,
    Girdle,
    HeavyTailed,
    HoleLine,
    RockSet,
    SimulatedRock,
    means_apart,
    random_holes,
    random_means,
    read_site_model,
    simulated_rock,
    with_number,
)
from jointstats.sphere.axes import frame_about

Array = NDArray[np.float64]
Make = Callable[[np.random.Generator], SimulatedRock]

#: Poles of the hinge of the fold, about which they spread along the girdle and across it.
FOLD_AXIS = (39.0, 3.0)
HOLES_OF_THE_FOLD = (HoleLine(0, 90, 60), HoleLine(120, 40, 60), HoleLine(300, 30, 60))
HOLES_OF_A_MODEL = (HoleLine(0, 90, 100), HoleLine(60, 45, 100), HoleLine(180, 45, 100))
#: Of the fractures, those of no set.
BACKGROUND_SHARE = 0.05


def rock_of(
    densities: Callable[[np.random.Generator], list],
    *,
    number: float = 60.0,
    holes: Sequence[HoleLine] | None = None,
    departure: Departure | None = None,
) -> Make:
    """A maker of rocks with these sets, `number` fractures of each, in random holes."""

    def make(rng: np.random.Generator) -> SimulatedRock:
        lines = random_holes(rng) if holes is None else tuple(holes)
        sets = with_number(densities(rng), lines, number, rng)
        background = BACKGROUND_SHARE * sum(one.p32_per_m for one in sets)
        return simulated_rock(sets, lines, rng, background_per_m=background, departure=departure)

    return make


def round_sets(rng: np.random.Generator) -> list[js.sphere.AxialFisher]:
    """Three round sets of κ 20 to 60."""
    return [
        js.sphere.AxialFisher(mean, kappa)
        for mean, kappa in zip(random_means(3, rng), rng.uniform(20, 60, 3), strict=True)
    ]


def elliptical_sets(ratio: float) -> Callable[[np.random.Generator], list[Elliptical]]:
    """Three sets of this axial ratio."""

    def make(rng: np.random.Generator) -> list[Elliptical]:
        means, kappas = random_means(3, rng, 60.0), rng.uniform(20, 60, 3)
        turns = rng.uniform(0, np.pi, 3)
        return [
            Elliptical.of_ratio(*one, ratio, turn)
            for *one, turn in zip(means, kappas, turns, strict=True)
        ]

    return make


def heavy_sets(rng: np.random.Generator) -> list[HeavyTailed]:
    """Three sets of κ 40, 30 % of each at κ 8."""
    return [HeavyTailed(mean, 40.0) for mean in random_means(3, rng, 60.0)]


def fold(rng: np.random.Generator) -> list[Girdle]:
    """The poles of one fold."""
    axis = js.lines_from_trend(*FOLD_AXIS)[0]
    one, two, _ = frame_about(axis)
    turn = rng.uniform(0, np.pi)
    hinge = np.cos(turn) * one + np.sin(turn) * two
    return [Girdle(np.array([hinge, np.cross(axis, hinge), axis]), 0.8, 20.0)]


def pair(
    angle_deg: float,
) -> Callable[[np.random.Generator], list[js.sphere.AxialFisher]]:
    """Two round sets of κ 40 at this angle."""
    return lambda rng: [js.sphere.AxialFisher(mean, 40.0) for mean in means_apart(angle_deg, rng)]


def model_rock(sets: Sequence[RockSet]) -> Make:
    """A maker of rocks of a site model, in three holes of 100 m."""
    return lambda rng: simulated_rock(sets, HOLES_OF_A_MODEL, rng)


ROWS: dict[str, Make] = {
    "even, round": rock_of(round_sets),
    "axial ratio 2": rock_of(elliptical_sets(2.0)),
    "axial ratio 3": rock_of(elliptical_sets(3.0)),
    "axial ratio 4": rock_of(elliptical_sets(4.0)),
    "a fold in three holes": rock_of(fold, number=120.0, holes=HOLES_OF_THE_FOLD),
    "swarms of 3": rock_of(round_sets, departure=Departure(swarm=3.0)),
    "swarms of 6": rock_of(round_sets, departure=Departure(swarm=6.0)),
    "intensity by hole .25": rock_of(round_sets, departure=Departure(variation=0.25)),
    "intensity by hole .5": rock_of(round_sets, departure=Departure(variation=0.5)),
    "intensity by hole .8": rock_of(round_sets, departure=Departure(variation=0.8)),
    "the same for all sets .5": rock_of(
        round_sets, departure=Departure(variation=0.5, shared=True)
    ),
    "heavy tails": rock_of(heavy_sets),
    "beta turned": rock_of(round_sets, departure=Departure(misread="beta turned")),
    "beta mirrored": rock_of(round_sets, departure=Departure(misread="beta mirrored")),
    "azimuth off by 20°": rock_of(round_sets, departure=Departure(misread="azimuth off")),
    "two sets 20° apart": rock_of(pair(20.0)),
    "two sets 25° apart": rock_of(pair(25.0)),
    "two sets 30° apart": rock_of(pair(30.0)),
}


def found_truth(rock: SimulatedRock, result: js.SiteAnalysis) -> Array:
    """True P32 of each set found, (K,): the sum over the true sets most of whose fractures it has.

    Zero for a set that is home to none, such as the half of a true set that was split.
    """
    names = [one.name for one in result.sets]
    label = result.fractures["set"].to_numpy()
    truth = np.zeros(len(names))
    for k, p32 in enumerate(rock.p32, start=1):
        inside = [int(((rock.truth == k) & (label == name)).sum()) for name in names]
        if names and max(inside):
            truth[int(np.argmax(inside))] += p32
    return truth


def score(rock: SimulatedRock, result: js.SiteAnalysis) -> dict[str, float]:
    """What one analysis got right.

    "number": whether the number of sets is right. "rand", "best": adjusted Rand index of the
    labels, of those of the true densities. "covers": share of the sets found whose 95 % interval
    of P32 has the truth of `found_truth`. "width": mean of log(high / low). "sets": number found.
    "fault", "last": whether a hole is said to be misread, and whether that is the last one, which is
    the one that a departure misreads.
    """
    label = result.fractures["set"].to_numpy()
    truth = found_truth(rock, result)
    limits = np.array([one.p32_interval for one in result.sets]).reshape(-1, 2)
    held = (limits[:, 0] <= truth) & (truth <= limits[:, 1])
    found = result.agreement
    misread = [] if found is None else [found.hole_names[one.hole] for one in found.faults]
    return {
        "number": float(len(result.sets) == len(rock.sets)),
        "sets": float(len(result.sets)),
        "rand": float(adjusted_rand_score(rock.truth, label)),
        "best": float(adjusted_rand_score(rock.truth, rock.best_labels)),
        "covers": float(held.mean()) if len(held) else np.nan,
        "width": float(np.log(limits[:, 1] / limits[:, 0]).mean()) if len(held) else np.nan,
        "fault": float(bool(misread)),
        "last": float(rock.site.holes[-1].name in misread),
    }


def table(
    rows: dict[str, Make], n_sites: int, seed: int, *, number_known: bool = False
) -> list[dict[str, object]]:
    """Mean scores of each row, with the standard error of the coverage over sites.

    `number_known` tells each analysis the true number of sets.
    """
    found = []
    for number, (name, make) in enumerate(rows.items()):
        scores = []
        for site in range(n_sites):
            rock = make(np.random.default_rng([seed, number, site]))
            asked = len(rock.sets) if number_known else "auto"
            scores.append(score(rock, js.analyse(rock.site, asked)))
        means = {key: float(np.nanmean([one[key] for one in scores])) for key in scores[0]}
        covers = np.array([one["covers"] for one in scores])
        error = float(np.nanstd(covers) / np.sqrt(max(np.isfinite(covers).sum(), 1)))
        found.append({"rock": name} | means | {"error": error})
    return found


def printed(rows: list[dict[str, object]]) -> str:
    """Rows as a table in Markdown."""
    head = list(rows[0])
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for row in rows:
        cells = (f"{one:.3f}" if isinstance(one, float) else str(one) for one in row.values())
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def main(n_sites: int = 40, seed: int = 20260301, word: str = "", model: str = "") -> None:
    """Print the table of the rows whose name holds a word."""
    rows = dict(ROWS)
    if model:
        rows["site model"] = model_rock(read_site_model(model))
    rows = {name: make for name, make in rows.items() if word in name}
    print(f"{n_sites} sites a row, seed {seed}\n")
    print(printed(table(rows, n_sites, seed)))


if __name__ == "__main__":
    given = sys.argv[1:]
    main(*(int(one) for one in given[:2]), *given[2:])
