"""What the words of a report are worth: grades, warnings and memberships against the truth.

    python benchmarks/grades.py                    prints the tables of grades.md
    python benchmarks/grades.py 20 7 swarms        20 sites a row, seed 7, rows by a word

The rocks are those of `real_rock.py`. A figure is right where P32 is within `FACTOR` of the truth
(of a set that is home to several, of their sum) and the mean pole within `ANGLE_DEG` (of a girdle,
its axis). A set is well sampled with `WELL_FRACTURES` in the fit, two holes at 30° or more to it
and four fifths of it observable.
"""

from __future__ import annotations

import sys
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

import jointstats as js
from benchmarks.real_rock import ROWS, found_truth, printed
from benchmarks.simulated_rock import Girdle, SimulatedRock
from jointstats.sets.reliability import evenness_word, good_holes

Array = NDArray[np.float64]

FACTOR, ANGLE_DEG = 1.5, 10.0
WELL_FRACTURES, WELL_SHARE = 40, 0.8
BINS = (0.5, 0.8, 0.9, 0.95, 0.98, 1.0001)


class Judged(NamedTuple):
    """One set found, held against the truth."""

    high: bool
    right: bool
    well: bool


class Memberships(NamedTuple):
    """What was said of each fracture in a set, and whether it was so."""

    said: Array
    right: NDArray[np.bool_]


def homes(rock: SimulatedRock, result: js.SiteAnalysis) -> list[int]:
    """For each set found, the true set most of whose fractures among its own are."""
    label = result.fractures["set"].to_numpy()
    numbers = range(1, len(rock.sets) + 1)
    return [
        int(np.argmax([((rock.truth == k) & (label == one.name)).sum() for k in numbers]))
        for one in result.sets
    ]


def judged(rock: SimulatedRock, result: js.SiteAnalysis) -> list[Judged]:
    """Each set of an analysis: whether it is called high, whether that is right, how it is sampled."""
    found = []
    truth = found_truth(rock, result)
    for one, p32, home in zip(result.sets, truth, homes(rock, result), strict=True):
        density = rock.sets[home].density
        axis = density.axis if isinstance(density, Girdle) else density.mean
        angle = float(js.axis_angles_deg(one.density.frame[0], axis)[0])
        near = p32 > 0 and max(one.p32_per_m / p32, p32 / one.p32_per_m) <= FACTOR
        well = one.n >= WELL_FRACTURES and one.seen_share >= WELL_SHARE
        high = result.confidence_in(one.name) == "high"
        found.append(Judged(high, near and angle <= ANGLE_DEG, well and good_holes(one).sum() > 1))
    return found


def warned(result: js.SiteAnalysis) -> bool:
    """Whether unevenness, an elongated set, or holes that differ are told."""
    uneven = any(evenness_word(one) == "uneven" for one in result.sets)
    shaped = any(not one.density.round_about_mean for one in result.sets)
    return uneven or shaped or not (result.agreement is None or result.agreement.one_rock)


def memberships(rock: SimulatedRock, result: js.SiteAnalysis) -> Memberships:
    """Memberships of the fractures in sets, and whether each is of the true set of its home."""
    home = {one.name: k + 1 for one, k in zip(result.sets, homes(rock, result), strict=True)}
    label = result.fractures["set"].to_numpy()
    own = np.array([one in home for one in label])
    true = np.array([home[one] for one in label[own]])
    return Memberships(result.fractures["membership"].to_numpy(float)[own], true == rock.truth[own])


def table(n_sites: int, seed: int, word: str = "") -> tuple[list[dict[str, object]], Memberships]:
    """A row a rock, and all memberships."""
    rows, said = [], []
    for number, (name, make) in enumerate(ROWS.items()):
        if word not in name:
            continue
        sets: list[Judged] = []
        told, tails = 0, 0
        for site in range(n_sites):
            rock = make(np.random.default_rng([seed, number, site]))
            result = js.analyse(rock.site)
            sets += judged(rock, result)
            told += warned(result)
            tails += result.rock.has_tails
            said.append(memberships(rock, result))
        high = [one for one in sets if one.high]
        well = [one for one in sets if one.well]
        rows.append(
            {
                "rock": name,
                "sets": len(sets),
                "high": len(high),
                "right of high": _share([one.right for one in high]),
                "well sampled": len(well),
                "high of them": _share([one.high for one in well]),
                "warned": told / n_sites,
                "tails": tails / n_sites,
            }
        )
    return rows, Memberships(*(np.concatenate(one) for one in zip(*said, strict=True)))


def _share(hits: list[bool]) -> float:
    return float(np.mean(hits)) if hits else float("nan")


def calibration(found: Memberships) -> list[dict[str, object]]:
    """Memberships in bins: what was said on the mean, and how often it was so."""
    rows = []
    for low, high in zip(BINS[:-1], BINS[1:], strict=True):
        own = (found.said >= low) & (found.said < high)
        rows.append(
            {
                "membership": f"{low:g} to {min(high, 1.0):g}",
                "n": int(own.sum()),
                "said": float(found.said[own].mean()) if own.any() else float("nan"),
                "right": _share(found.right[own].tolist()),
            }
        )
    return rows


def main(n_sites: int = 40, seed: int = 20260501, word: str = "") -> None:
    """Print both tables."""
    rows, said = table(n_sites, seed, word)
    print(f"# Grades, warnings and memberships\n\n{n_sites} sites a row, seed {seed}\n")
    print(printed(rows))
    print(f"\n{printed(calibration(said))}")


if __name__ == "__main__":
    given = sys.argv[1:]
    main(*(int(one) for one in given[:2]), *given[2:])
