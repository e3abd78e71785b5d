"""Estimates against rock whose truth is counted in the rock itself.

Discs fill a cube that repeats in all directions. Their area per volume is summed over the discs,
and the distance between neighbours along a set's mean normal is read from many lines through the
cube, so neither rests on the formulas being tested. Holes are then laid through the cube at random
places, meet discs by intersection, and the package estimates.

    python benchmarks/rock_truth.py                prints the tables of rock_truth.md (7 minutes)
    python benchmarks/rock_truth.py 50 spacing     fewer rocks; only headings that hold the word
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

import jointstats as js

Array = NDArray[np.float64]

#: Longer than any hole, so that none meets the same rock twice.
SIDE = 100.0


@dataclass(frozen=True)
class Rock:
    """Discs in a cube of side `side` that repeats; `kind` is the set of each, −1 for none."""

    side: float
    centres: Array
    normals: Array
    radii: Array
    kind: NDArray[np.intp]

    def p32(self, kind: int) -> float:
        """Disc area of a set per volume, by adding the discs up."""
        return float((np.pi * self.radii[self.kind == kind] ** 2).sum() / self.side**3)


def make_rock(
    sets: list[tuple[Array, float, float]],
    background_per_m: float,
    side: float,
    rng: np.random.Generator,
) -> Rock:
    """Discs of lognormal radius (about 2 m) with random centres; sets are (mean, κ, P32)."""
    normals, radii, kind = [], [], []
    laws = [(js.sphere.AxialFisher(mean, kappa), p32) for mean, kappa, p32 in sets]
    laws.append((js.sphere.AxialFisher([0, 0, 1], 0.0), background_per_m))
    for k, (law, p32) in enumerate(laws):
        # E[π r²] for log r normal about log 2 with deviation 0.3.
        area = np.pi * 4.0 * np.exp(2 * 0.3**2)
        number = rng.poisson(p32 * side**3 / area)
        normals.append(law.rvs(number, rng))
        radii.append(rng.lognormal(np.log(2.0), 0.3, number))
        kind.append(np.full(number, k if k < len(sets) else -1))
    total = sum(len(one) for one in radii)
    return Rock(
        side,
        rng.uniform(0, side, (total, 3)),
        np.vstack(normals),
        np.concatenate(radii),
        np.concatenate(kind),
    )


def meet(
    rock: Rock, start: Array, direction: Array, length: float
) -> tuple[Array, NDArray[np.intp]]:
    """Depths at which a straight line meets discs, and which, in order of depth.

    A line longer than the cube goes on in the next repeat of it.
    """
    depths, which = [], []
    reach = float(rock.radii.max())
    # The centre of a disc that is met lies within its radius of the line: of all repeats of each
    # disc, look at those near the line, piece by piece.
    step = 0.25 * rock.side
    for low in np.arange(0.0, length, step):
        middle = start + (low + 0.5 * step) * direction
        offset = rock.centres - middle
        offset -= rock.side * np.round(offset / rock.side)
        near = np.flatnonzero((offset**2).sum(axis=1) < (0.5 * step + reach) ** 2)
        across = rock.normals[near] @ direction
        with np.errstate(divide="ignore"):
            along = (rock.normals[near] * offset[near]).sum(axis=1) / across
        miss = along[:, np.newaxis] * direction - offset[near]
        hit = (np.abs(along) <= 0.5 * step) & ((miss**2).sum(axis=1) < rock.radii[near] ** 2)
        at = low + 0.5 * step + along[hit]
        inside = (at <= length) & (along[hit] < 0.5 * step)
        depths.append(at[inside])
        which.append(near[hit][inside])
    depth, index = np.concatenate(depths), np.concatenate(which)
    order = np.argsort(depth, kind="stable")
    return depth[order], index[order]


def true_spacing(rock: Rock, kind: int, mean: Array, rng: np.random.Generator) -> float:
    """Mean distance between neighbours of a set along its mean normal, from lines in the rock."""
    number = 0
    for _ in range(30):
        _, index = meet(rock, rng.uniform(0, rock.side, 3), mean, 4 * rock.side)
        number += int((rock.kind[index] == kind).sum())
    return 30 * 4 * rock.side / number


@dataclass(frozen=True)
class Case:
    """A set under test: plane, κ, P32, and the holes (trend, plunge, length) laid through it."""

    name: str
    sets: tuple[tuple[float, float, float, float], ...]  # dip, dip direction, κ, P32
    holes: tuple[tuple[float, float, float], ...]
    background_per_m: float = 0.1


CASES = (
    Case("well seen", ((35, 120, 40, 1.0),), ((0, 90, 60), (300, 50, 50))),
    Case("vertical hole at 30° to the planes", ((60, 90, 30, 1.2),), ((0, 90, 80),)),
    Case(
        "inside the blind zone, one more hole", ((86, 90, 40, 1.2),), ((0, 90, 80), (270, 60, 60))
    ),
    Case("inside the blind zone of every hole", ((86, 90, 40, 1.2),), ((0, 90, 95),)),
    Case(
        "three sets",
        ((62, 135, 40, 1.2), (78, 20, 30, 0.8), (12, 300, 50, 0.6)),
        ((0, 90, 80), (315, 55, 70), (200, 50, 70)),
        0.2,
    ),
)


def holes_through(case: Case, rock: Rock, rng: np.random.Generator) -> dict[str, Array]:
    """Lay the holes of a case at random places: poles, directions, depths, hole and true set."""
    found: dict[str, list[Array]] = {"pole": [], "line": [], "depth": [], "hole": [], "kind": []}
    for number, (trend, plunge, length) in enumerate(case.holes):
        line = js.lines_from_trend(trend, plunge)[0]
        depth, index = meet(rock, rng.uniform(0, rock.side, 3), line, length)
        found["pole"].append(rock.normals[index])
        found["line"].append(np.repeat(line[np.newaxis], len(index), axis=0))
        found["depth"].append(depth)
        found["hole"].append(np.full(len(index), number))
        found["kind"].append(rock.kind[index])
    return {key: np.concatenate(value) for key, value in found.items()}


def p32_table(case: Case, n_rocks: int, rng: np.random.Generator) -> list[dict[str, object]]:
    """Bias and coverage of each P32 estimator for the sets of a case, sets known by their truth."""
    exposure = js.LineExposure(
        js.lines_from_trend([h[0] for h in case.holes], [h[1] for h in case.holes]),
        [h[2] for h in case.holes],
    )
    sets = [(js.poles_from_dip(dip, to)[0], kappa, p32) for dip, to, kappa, p32 in case.sets]
    ratios: dict[tuple[int, str], list[float]] = {}
    hits: dict[tuple[int, str], list[bool]] = {}

    def note(k: int, name: str, truth: float, value: float, interval: tuple[float, float]) -> None:
        ratios.setdefault((k, name), []).append(value / truth)
        hits.setdefault((k, name), []).append(interval[0] <= truth <= interval[1])

    for _ in range(n_rocks):
        rock = make_rock(sets, case.background_per_m, SIDE, rng)
        log = holes_through(case, rock, rng)
        angle = np.abs((log["pole"] * log["line"]).sum(axis=1))
        seen = angle >= np.sin(np.radians(10.0))
        model = js.JointSetMixture(len(sets), random_state=0).fit(
            log["pole"][seen], exposure=exposure
        )
        for k, (mean, _, _) in enumerate(sets):
            own = log["kind"] == k
            if (own & seen).sum() >= 3:
                table = js.sets.p32_estimates(log["pole"][own], log["line"][own], exposure)
                for one in table.estimates:
                    note(k, one.estimator, rock.p32(k), one.p32_per_m, one.interval)
            near = int(js.axis_angles_deg(model.means_, mean).argmin())
            value = float(model.intensities_[near])
            note(k, "mixture", rock.p32(k), value, model.certainty_.intensity_interval(near))
    return [
        {
            "set": f"{case.sets[k][0]:g}/{case.sets[k][1]:g}",
            "estimator": name,
            "bias": float(np.mean(values) - 1),
            "error": float(np.std(values) / np.sqrt(len(values))),
            "median": float(np.median(values) - 1),
            "cover": float(np.mean(hits[k, name])),
            "n": len(values),
        }
        for (k, name), values in sorted(ratios.items())
    ]


def spacing_table(n_rocks: int, rng: np.random.Generator) -> list[dict[str, object]]:
    """Mean spacing in holes five spacings long: bias and coverage against lines in the rock."""
    mean = js.poles_from_dip(30, 60)[0]
    rows = []
    for number in (1, 10):
        plain, censored, covered = [], [], []
        for _ in range(n_rocks):
            rock = make_rock([(mean, 200.0, 1.0)], 0.0, 30.0, rng)
            truth = true_spacing(rock, 0, mean, rng)
            logs = []
            for _ in range(number):
                # A direction within 25° of the normal, and the length that crosses five spacings.
                line = js.sphere.AxialFisher(mean, 20.0).rvs(1, rng)[0]
                length = 5.0 * truth / abs(line @ mean)
                depth, _ = meet(rock, rng.uniform(0, 30.0, 3), line, length)
                logs.append(js.line.set_spacing(depth, line, mean, logged=[(0, length)]))
            pooled = js.line.pool_spacings(logs)
            if pooled.n:
                plain.append(pooled.mean_complete_m / truth)
            censored.append(pooled.mean_m / truth)
            low, high = pooled.mean_interval_m
            covered.append(low <= truth and (high is None or truth <= high))
        for name, values in (("plain mean", plain), ("cut pieces counted", censored)):
            rows.append(
                {
                    "holes": number,
                    "estimator": name,
                    "bias": float(np.mean(values) - 1),
                    "error": float(np.std(values) / np.sqrt(len(values))),
                    "cover": float(np.mean(covered)) if name != "plain mean" else None,
                    "n": len(values),
                }
            )
    return rows


def boundary_table(n_logs: int, rng: np.random.Generator) -> list[dict[str, object]]:
    """A frequency that doubles half way down, 100 fractures: is the boundary found within 1 m?

    "known frequencies" is the maximum of the likelihood with both frequencies given: no method
    that has to estimate them can be expected to come nearer.
    """
    rows = []
    for length in (3.0, 5.0, 10.0, 20.0, 50.0):
        rate, middle = 100 / (1.5 * length), 0.5 * length
        count = {"found": 0, "found within 1 m": 0, "two zones asked, within 1 m": 0}
        count |= {"known frequencies, within 1 m": 0, "interval covers": 0}
        for _ in range(n_logs):
            depth = np.concatenate(
                [
                    rng.uniform(0, middle, rng.poisson(rate * middle)),
                    rng.uniform(middle, length, rng.poisson(2 * rate * middle)),
                ]
            )
            free = js.line.frequency_zones(depth, [(0, length)])
            if free.boundaries:
                best = min(free.boundaries, key=lambda one: abs(one.depth_m - middle))
                count["found"] += 1
                count["found within 1 m"] += abs(best.depth_m - middle) <= 1
            two = js.line.frequency_zones(depth, [(0, length)], n_zones=2).boundaries[0]
            count["two zones asked, within 1 m"] += abs(two.depth_m - middle) <= 1
            count["interval covers"] += two.low_m <= middle <= two.high_m
            grid = np.linspace(0, length, 2001)
            above = np.searchsorted(np.sort(depth), grid)
            likelihood = (len(depth) - above) * np.log(2) + rate * grid
            near = abs(grid[likelihood.argmax()] - middle) <= 1
            count["known frequencies, within 1 m"] += near
        rows.append({"length_m": length} | {k: v / n_logs for k, v in count.items()})
    return rows


def printed(rows: list[dict[str, object]]) -> str:
    """Rows as a table in Markdown."""

    def cell(value: object) -> str:
        return f"{value:.3f}" if isinstance(value, float) else "" if value is None else str(value)

    head = list(rows[0])
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(cell(row[key]) for key in head) + " |" for row in rows]
    return "\n".join(lines)


SEED = 20260101


def parts(n_rocks: int) -> list[tuple[str, Callable[[], list[dict[str, object]]]]]:
    """Every table under its heading; each has its own random numbers, so that each repeats alone."""

    def p32(number: int) -> Callable[[], list[dict[str, object]]]:
        return lambda: p32_table(CASES[number], n_rocks, np.random.default_rng([SEED, number]))

    tables = [(f"P32: {case.name}", p32(number)) for number, case in enumerate(CASES)]
    tables.append(
        (
            "Mean spacing in holes five spacings long",
            lambda: spacing_table(2 * n_rocks, np.random.default_rng([SEED, 100])),
        )
    )
    tables.append(
        (
            "Boundary of a doubled frequency, 100 fractures",
            lambda: boundary_table(n_rocks, np.random.default_rng([SEED, 101])),
        )
    )
    return tables


def main(n_rocks: int = 200, only: str = "") -> None:
    """Print all tables, or those whose heading holds a word."""
    start = time.process_time()
    for heading, table in parts(n_rocks):
        if only in heading:
            print(f"## {heading}\n\n{printed(table())}\n", flush=True)
    print(f"{n_rocks} rocks a case, {time.process_time() - start:.0f} s of processor time.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2] if len(sys.argv) > 2 else "")
