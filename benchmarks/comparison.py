"""Comparing: size and power of the test of one rock, matching of core to image, speed of many.

    python benchmarks/comparison.py [section] [repetitions] >> benchmarks/comparison.md

Sections: size, faults, domains, core, sense, many. Every log is simulated by drawing fractures in the rock
and meeting each by chance; nothing of the fit enters.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

import jointstats as js
from jointstats.compare.groups import groups_of, together
from jointstats.fit.block_fits import fit_blocks
from jointstats.fit.domains import find_domains
from jointstats.fit.grouped import GroupedPoles
from jointstats.fit.hole_agreement import HoleAgreement, Stretch, hole_agreement
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.one_rock import one_rock_test, set_tests
from jointstats.sphere.angles import turn_in_azimuth
from tests.fit.rock_arrays import Arrays, fitted_sets, simulated

#: Trend, plunge and length of the holes of one rock.
LAYOUTS = {
    "90° apart": [(0, 90, 60), (90, 0, 60)],
    "60° apart": [(0, 90, 60), (90, 30, 60)],
    "10° apart": [(0, 90, 60), (0, 80, 60)],
    "three holes": [(45, 60, 60), (225, 45, 60), (130, 5, 60)],
}
ROCK = ((30.0, 100.0, 40.0, 1.2), (80.0, 200.0, 40.0, 0.9))
TURNED = ((55.0, 100.0, 40.0, 1.2), (55.0, 200.0, 40.0, 0.9))
DRAWS = 399
#: Blocks of holes timed on one worker and on two, in turn, and holes in each.
BLOCKS, BLOCK = 6, 30


def share(hits: np.ndarray) -> str:
    """Per cent, with its standard error."""
    rate = float(np.mean(hits))
    error = np.sqrt(max(rate * (1 - rate), 0.25 / len(hits)) / len(hits))
    return f"{100 * rate:.1f} ± {100 * error:.1f}"


def tested(data: GroupedPoles, start: RoundSets, seed: int) -> tuple:
    """The test of one rock, and those of each set."""
    common = fit_blocks(data, np.ones((1, data.n_groups), bool), start)
    generator = np.random.default_rng(seed)
    overall = one_rock_test(data, common, draws=DRAWS, generator=generator)
    return overall, set_tests(data, common, draws=DRAWS, generator=generator)


def size(repetitions: int) -> None:
    """False positives of the test of one rock and of each set, at the 5 % level."""
    print(f"\n## Size: one rock, {repetitions} sites a row, per cent called different at 5 %\n")
    print("P32 of every set and hole is even, or varies by a gamma factor of coefficient .5.\n")
    print("| holes | one rock, even | one rock, .5 | orientation, even | kappa, even |")
    print("|---|---|---|---|---|")
    for name, holes in LAYOUTS.items():
        overall: dict[float, list[bool]] = {0.0: [], 0.5: []}
        parts: dict[str, list[float]] = {"orientation": [], "kappa": []}
        for seed in range(repetitions):
            for uneven in overall:
                arrays = simulated(5000 + seed, (ROCK,) * len(holes), uneven, holes)
                found, sets = tested(arrays.grouped(), fitted_sets(arrays), seed)
                overall[uneven].append(found.pvalue <= 0.05)
                for part, _, _, pvalue, _ in sets if not uneven else ():
                    parts[part].append(pvalue)
        row = [share(np.array(one)) for one in overall.values()]
        row += [share(np.array(one) <= 0.05) for one in parts.values()]
        print(f"| {name} | " + " | ".join(row) + " |", flush=True)


def faults(repetitions: int) -> None:
    """One of four holes misread: whether the hole and the cause are named; and faultless sites."""
    print(f"\n## Faulty holes: four holes of 50 m, three sets, {repetitions} sites a row\n")
    print("| fault | hole named, % | cause named, % | any fault, % | s of processor, median |")
    print("|---|---|---|---|---|")
    for name in ("none, even", "none, .5", "beta_180", "beta_mirrored", "azimuth"):
        rows = []
        for seed in range(repetitions):
            arrays, bad = misread(name, seed)
            start = time.process_time()
            found = agreement(arrays)
            took = time.process_time() - start
            hit = [one for one in found.faults if one.hole == bad]
            right = bool(hit) and hit[0].cause == name
            rows.append((bool(hit), right, bool(found.faults), took))
        table = np.array(rows, float)
        cells = [share(table[:, column]) for column in range(3)]
        print(f"| {name} | " + " | ".join(cells) + f" | {np.median(table[:, 3]):.2f} |", flush=True)


def misread(fault: str, seed: int) -> tuple[Arrays, int]:
    """A site with one hole misread, and which."""
    arrays = simulated(seed, uneven=0.5 if fault.endswith(".5") else 0.0)
    bad = int(np.random.default_rng(seed).integers(4))
    own = arrays.group == bad
    poles, lines, exposures = arrays.poles.copy(), arrays.lines.copy(), list(arrays.exposures)
    if fault == "azimuth":
        matrix = turn_in_azimuth(-20.0)
        poles[own], lines[own] = poles[own] @ matrix.T, lines[own] @ matrix.T
        turned = exposures[bad].directions @ matrix.T
        exposures[bad] = js.LineExposure(turned, exposures[bad].lengths_m)
    elif fault.startswith("beta"):
        along = (poles[own] * lines[own]).sum(axis=1, keepdims=True)
        across = np.cross(lines[own], [0.0, 0.0, 1.0] if bad else [0.0, 1.0, 0.0])
        across /= np.linalg.norm(across, axis=1, keepdims=True)
        aside = (poles[own] * across).sum(axis=1, keepdims=True)
        half, mirror = 2 * along * lines[own] - poles[own], poles[own] - 2 * aside * across
        poles[own] = half if fault == "beta_180" else mirror
    return Arrays(poles, arrays.group, exposures, lines), bad


def agreement(arrays: Arrays) -> HoleAgreement:
    """The whole answer."""
    holes = [Stretch(f"H{g + 1}", 0.0, 50.0, one) for g, one in enumerate(arrays.exposures)]
    sets = fitted_sets(arrays)
    return hole_agreement(arrays.poles, arrays.group, holes, sets, lines=arrays.lines)


def pair(first: tuple, second: tuple, holes: tuple, seed: int, most: int | None = None) -> js.Site:
    """A site of two holes, one in each rock, with at most so many fractures a hole."""
    one = js.simulate_site(first, holes[:1], random_state=2 * seed + 1)
    two = js.simulate_site(second, holes[1:], random_state=2 * seed + 2)
    tables, drilled = [], []
    for name, site in (("A", one), ("B", two)):
        table, hole = site.fractures.assign(hole=name), replace(site.holes[0], name=name)
        if most is not None and len(table) > most:
            end = float(table["depth_m"].iloc[most])
            table = table.iloc[:most]
            hole = replace(hole, logged=(js.borehole.LoggedInterval(0.0, end, "image"),))
        tables.append(table)
        drilled.append(hole)
    whole = pd.concat(tables, ignore_index=True)
    return replace(one, holes=tuple(drilled), fractures=whole)


def domains(repetitions: int) -> None:
    """Two domains whose sets lie 25° apart, 60 fractures a hole."""
    print(f"\n## Domains: means 25° apart, 60 fractures a hole, {repetitions} sites a row\n")
    print("| holes | test, per cent p ≤ 0.05 | two domains chosen, per cent |")
    print("|---|---|---|")
    for name, holes in {
        "parallel": ((0, 70, 90), (0, 70, 90)),
        "50° apart": ((0, 90, 90), (20, 40, 120)),
        "90° apart": ((0, 90, 90), (60, 0, 150)),
    }.items():
        found = []
        for seed in range(repetitions):
            site = pair(ROCK, TURNED, holes, 500 + seed, most=60)
            result = js.analyse(site)
            groups = groups_of(result)
            sets = RoundSets.of(result.rock)
            best = find_domains(together(groups), np.arange(2), sets)[0]
            pvalue = tested(together(groups), sets, seed)[0].pvalue
            found.append((pvalue <= 0.05, len(best.domains) == 2))
        hits = np.array(found)
        print(f"| {name} | {share(hits[:, 0])} | {share(hits[:, 1])} |", flush=True)


def oracle_turns(site: js.Site, runs: pd.DataFrame) -> np.ndarray:
    """Error of each run's turn where the true pairs are given: the least that can be had."""
    table = site.fractures
    oriented = js.orient_fractures(site)
    image = oriented[oriented["method"] == "image"].set_index("true_fracture")
    poles = image[["pole_east", "pole_north", "pole_up"]]
    line = site.holes[0].path.direction(0.0)[0]
    low = np.array([0.0, 0.0, -1.0]) - line[2] * -line
    low /= np.linalg.norm(low)
    errors = []
    for name in runs["run"]:
        core = table[(table["run"] == name) & table["true_fracture"].isin(image.index)]
        there = poles.loc[core["true_fracture"]].to_numpy()
        along = there @ line
        across = -np.sign(along)[:, None] * (there - along[:, None] * line)
        beta = np.arctan2(across @ np.cross(line, low), across @ low)
        weight = np.linalg.norm(across, axis=1) * np.cos(np.radians(core["alpha_deg"]))
        turn = np.angle((weight * np.exp(1j * (beta - np.radians(core["run_beta_deg"])))).sum())
        apart = np.degrees(turn) - core["true_rotation_deg"].iloc[0]
        errors.append((apart + 180) % 360 - 180)
    return np.array(errors)


def core(repetitions: int) -> None:
    """Matching of core to image from a known truth."""
    print(f"\n## Core and image: {repetitions} holes of 60 m a row; 30 % lost, 5 cm, 2 %, runs of")
    print("1.5 m spun, planes read with the error named (root-mean-square angle)\n")
    print(
        "| P32 times, error | pairs right, % | unambiguous right, % | shared pairs found, % | "
        "runs ≥ 3 shared (mean shared) | turn within 5°, % | the same given the true pairs, % | "
        "turn within 2 errors, % | core rate held | image rate held | mirrored told wrongly |"
    )
    print("|---" * 11 + "|")
    for factor, error in ((1.5, 10.0), (1.5, 5.0), (4.0, 10.0)):
        rows = [_one_core(seed, factor, error) for seed in range(repetitions)]
        found = {key: np.concatenate([row[key] for row in rows]) for key in rows[0]}
        cells = [share(found[key]) for key in ("right", "sure", "recall")]
        cells.append(f"{len(found['turn'])} ({found['shared'].mean():.1f})")
        cells += [share(found[key]) for key in ("turn", "oracle", "held")]
        cells += [share(found[key]) for key in ("core", "image", "mirrored")]
        print(f"| {factor:g}, {error:g}° | " + " | ".join(cells) + " |", flush=True)


def _one_core(seed: int, factor: float, error: float) -> dict[str, np.ndarray]:
    site = js.pairs.simulate_core_and_image(
        60.0, p32_factor=factor, core_error_deg=error, random_state=seed
    )
    match = js.match_core_to_image(site, "H1")
    table = site.fractures
    true = table["true_fracture"].to_numpy()
    right = true[match.pairs["core_row"]] == true[match.pairs["image_row"]]
    own = table["method"] == "core"
    both = set(true[own]) & set(true[~own])
    shared = table[own].groupby("run")["true_fracture"].apply(lambda x: len(set(x) & both))
    turn = table[own].groupby("run")["true_rotation_deg"].first()
    runs = match.runs[match.runs["run"].map(shared) >= 3]
    apart = (runs["rotation_deg"] - runs["run"].map(turn) + 180) % 360 - 180
    whole = match.detection.iloc[0]
    return {
        "right": right,
        "sure": right[~match.pairs["ambiguous"].to_numpy()],
        "recall": np.arange(len(both)) < right.sum(),
        "shared": runs["run"].map(shared).to_numpy(),
        "turn": apart.abs().to_numpy() <= 5,
        "oracle": np.abs(oracle_turns(site, runs)) <= 5,
        "held": (apart.abs() <= 2 * runs["rotation_error_deg"]).to_numpy(),
        "core": np.array([whole["core_low"] <= 0.7 <= whole["core_high"]]),
        "image": np.array([whole["image_low"] <= 0.95 <= whole["image_high"]]),
        "mirrored": np.array([match.agreement["mirrored"]]),
    }


def sense(repetitions: int) -> None:
    """Sense of β, and runs that disagree, where runs called oriented were spun."""
    print(f"\n## Sense of β: {repetitions} holes of 60 m a row, runs of 1.5 m, read to 10°\n")
    print(
        "| core | sense right, % | pairs right, % | shared pairs found, % | spun runs named "
        "(> 25°, ≥ 2 pairs), % | other runs named, % |"
    )
    print("|---" * 6 + "|")
    for spun in (0.0, 0.125, 0.25, True):
        for mirrored in (False, True):
            rows = [_one_sense(seed, spun, mirrored) for seed in range(100, 100 + repetitions)]
            found = {key: np.concatenate([row[key] for row in rows]) for key in rows[0]}
            name = "all spun" if spun is True else f"{100 * spun:g} % of the runs spun"
            cells = [share(one) if len(one) else "–" for one in found.values()]
            word = ", mirrored" if mirrored else ""
            print(f"| {name}{word} | " + " | ".join(cells) + " |", flush=True)


def _one_sense(seed: int, spun: float | bool, mirrored: bool) -> dict[str, np.ndarray]:
    site = js.pairs.simulate_core_and_image(60.0, spun=spun, mirrored=mirrored, random_state=seed)
    match, table = js.match_core_to_image(site, "H1"), site.fractures
    true = table["true_fracture"].to_numpy()
    right = true[match.pairs["core_row"]] == true[match.pairs["image_row"]]
    own = table["method"] == "core"
    both = set(true[own]) & set(true[~own])
    turn = table[own].groupby("run")["true_rotation_deg"].first().reindex(match.runs["run"])
    off = np.abs((turn.to_numpy() + 180) % 360 - 180)
    told = match.runs["disagrees"].to_numpy()
    far = (off > 25) & (match.runs["n_pairs"] >= 2).to_numpy() & (spun is not True)
    return {
        "sense": np.array([match.agreement["mirrored"] is mirrored]),
        "right": right,
        "found": np.arange(len(both)) < right.sum(),
        "named": told[far],
        "wrongly": told[off == 0],
    }


def _resident_mb() -> float:
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def many(holes: int) -> None:
    """Speed on two cores against one in blocks of holes, and memory as more go through."""
    print(f"\n## Many: holes of about 200 fractures, blocks of {BLOCK} and a run of {holes}\n")
    print(
        f"Load of the machine at the start: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores.\n"
    )

    def sites(first: int, count: int) -> Iterator[js.Site]:
        for seed in range(first, first + count):
            site = js.simulate_site(holes=[(0, 60, 110)], random_state=seed)
            yield replace(site, name=f"hole {seed}")

    js.analyse_many(list(sites(0, 4)), n_jobs=2)
    print("| block | one worker, s | two workers, s | ratio | same bit for bit |")
    print("|---|---|---|---|---|")
    ratios = []
    for block in range(BLOCKS):
        made = list(sites(block * BLOCK, BLOCK))
        walls, frames = [], []
        for jobs in (1, 2) if block % 2 else (2, 1):
            start = time.perf_counter()
            frames.append(js.analyse_many(made, n_jobs=jobs).to_frame())
            walls.append(time.perf_counter() - start)
        one, two = walls if block % 2 else walls[::-1]
        ratios.append(one / two)
        same = frames[0].equals(frames[1])
        print(f"| {block + 1} | {one:.1f} | {two:.1f} | {one / two:.2f} | {same} |", flush=True)
    print(f"\nMedian of the ratios: {np.median(ratios):.2f}.\n")
    found = []

    def watched() -> Iterator[js.Site]:
        for number, site in enumerate(sites(10_000, holes)):
            if number in (holes // 10, holes // 2, holes - 1):
                found.append(f"{_resident_mb():.0f} MB at {number}")
            yield site

    js.analyse_many(watched(), n_jobs=2)
    print(f"Memory of the caller as holes go through two workers: {', '.join(found)}.")


SECTIONS = {
    "size": size,
    "faults": faults,
    "domains": domains,
    "core": core,
    "sense": sense,
    "many": many,
}
REPETITIONS = {"size": 400, "faults": 200, "domains": 200, "core": 100, "sense": 60, "many": 1000}


def main() -> None:
    """Run the sections asked for."""
    chosen = sys.argv[1:2] or list(SECTIONS)
    for name in chosen:
        SECTIONS[name](int(sys.argv[2]) if len(sys.argv) > 2 else REPETITIONS[name])


if __name__ == "__main__":
    main()
