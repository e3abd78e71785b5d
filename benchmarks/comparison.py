"""Comparing: size and power of the test of one rock, matching of core to image, speed of many.

    python benchmarks/comparison.py [section] [repetitions] >> benchmarks/comparison.md

Sections: size, warp, power, domains, core, many. Every log is simulated by drawing fractures in the rock
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
from joblib import Parallel, delayed

import jointstats as js
from jointstats.compare.differences import count_table, part_table
from jointstats.compare.groups import SampledGroup, groups_of, pooled_exposure, together
from jointstats.compare.ratio import RatioTest, ratio_test
from jointstats.fit.domains import find_domains
from jointstats.fit.likelihood import RoundSets

#: Trend, plunge and length of the holes of one rock.
LAYOUTS = {
    "90° apart": [(0, 90, 60), (90, 0, 60)],
    "60° apart": [(0, 90, 60), (90, 30, 60)],
    "10° apart": [(0, 90, 60), (0, 80, 60)],
    "three holes": [(45, 60, 60), (225, 45, 60), (130, 5, 60)],
}
ROCK = ((30.0, 100.0, 40.0, 1.2), (80.0, 200.0, 40.0, 0.9))
TURNED = ((55.0, 100.0, 40.0, 1.2), (55.0, 200.0, 40.0, 0.9))
DRAWS = 99
WARP_DRAWS = 9
#: Blocks of holes timed on one worker and on two, in turn, and holes in each.
BLOCKS, BLOCK = 6, 30


def share(hits: np.ndarray) -> str:
    """Per cent, with its standard error."""
    rate = float(np.mean(hits))
    error = np.sqrt(max(rate * (1 - rate), 0.25 / len(hits)) / len(hits))
    return f"{100 * rate:.1f} ± {100 * error:.1f}"


def tested(site: js.Site, seed: int) -> tuple[js.SiteAnalysis, RatioTest]:
    """The test of one rock on a site."""
    result = js.analyse(site)
    start = RoundSets.of(result.rock)
    return result, ratio_test(groups_of(result), start, draws=DRAWS, random_state=seed)


def size(repetitions: int) -> None:
    """False positives of the overall test and of each part, at the 5% level."""
    print(f"\n## Size: one rock, {repetitions} sites a row, per cent called different at 5 %\n")
    print("| holes | overall | orientation | kappa | P32 | spacing |")
    print("|---|---|---|---|---|---|")
    for name, holes in LAYOUTS.items():
        overall, parts = [], []
        for seed in range(repetitions):
            result, ratio = tested(js.simulate_site(holes=holes, random_state=5000 + seed), seed)
            groups = groups_of(result)
            _, *counted = count_table(groups, ratio.common)
            table = part_table(
                result, groups, ratio, tuple(counted), draws=DRAWS, random_state=seed
            )
            overall.append(ratio.pvalue <= 0.05)
            parts.append(table.groupby("part")["pvalue"].apply(list))
        row = [share(np.array(overall))]
        for part in ("orientation", "kappa", "P32", "spacing"):
            values = np.concatenate([one.get(part, []) for one in parts])
            row.append(share(values <= 0.05))
        print(f"| {name} | " + " | ".join(row) + " |", flush=True)


def bare_groups(site: js.Site) -> list[SampledGroup]:
    """Poles and exposure of each hole, without the rest of an analysis."""
    groups = []
    for hole in site.holes:
        exposure = js.LineExposure(hole.path.direction(0.0), [hole.length_m])
        own = site.fractures[site.fractures["hole"] == hole.name]
        poles = js.poles_from_dip(own["dip_deg"], own["dip_direction_deg"])
        poles = poles[exposure.at(poles) > 0]
        index = np.arange(len(poles))
        groups.append(SampledGroup(hole.name, hole.name, (), exposure, index, poles))
    return groups


def warp(repetitions: int) -> None:
    """Size of the overall test from a few simulated logs a site, taken together over the sites.

    The warp-speed bootstrap of Giacomini, Politis & White (2013), Econometric Theory 29 (from
    memory): the statistics of the sites are set against the pooled statistics of their bootstraps.
    """
    print(f"\n## Size again, by the warp-speed bootstrap, {repetitions} sites a row\n")
    print("| holes | overall, per cent called different at 5 % | at 1 % |")
    print("|---|---|---|")
    for name, holes in LAYOUTS.items():
        found = Parallel(n_jobs=2)(delayed(_one_warp)(holes, seed) for seed in range(repetitions))
        observed = np.array([one for one, _ in found])
        simulated = np.concatenate([rest for _, rest in found])
        cells = []
        for level in (0.05, 0.01):
            rate = float(np.mean(observed > np.quantile(simulated, 1 - level)))
            error = np.sqrt((1 + 1 / WARP_DRAWS) * level * (1 - level) / repetitions)
            cells.append(f"{100 * rate:.1f} ± {100 * error:.1f}")
        print(f"| {name} | " + " | ".join(cells) + " |", flush=True)


def _one_warp(holes: list, seed: int) -> tuple[float, np.ndarray]:
    groups = bare_groups(js.simulate_site(holes=holes, random_state=9000 + seed))
    model = js.JointSetMixture(random_state=0)
    model.fit(np.vstack([one.poles for one in groups]), exposure=pooled_exposure(groups))
    start = RoundSets.of(model.rock_)
    test = ratio_test(groups, start, draws=WARP_DRAWS, random_state=seed)
    return test.statistic, test.simulated


def ignoring_exposure(site: js.Site, seed: int) -> float:
    """The same test where every hole is taken to see all orientations alike."""
    result = js.analyse(site)
    groups = tuple(replace(one, exposure=_even(one.exposure)) for one in groups_of(result))
    start = RoundSets.of(result.rock)
    return ratio_test(groups, start, draws=DRAWS, random_state=seed).pvalue


class _even(js.LineExposure):
    """An exposure of half a metre a metre, whatever the orientation."""

    def __init__(self, exposure: js.LineExposure) -> None:
        spread = np.random.default_rng(0).normal(size=(200, 3))
        lengths = np.full(200, exposure.total_m / 200)
        super().__init__(spread, lengths, blind_angle_deg=0.0)


def power(repetitions: int) -> None:
    """Power for parallel holes, where ignoring exposure is valid, with and without it."""
    print(f"\n## Power: parallel holes, {repetitions} site pairs a row, per cent told apart\n")
    print("| second rock | with exposure | ignoring exposure |")
    print("|---|---|---|")
    changes = {
        "P32 of the first set times 1.6": ((30.0, 100.0, 40.0, 1.92), ROCK[1]),
        "first set turned by 10°": ((40.0, 100.0, 40.0, 1.2), ROCK[1]),
    }
    for name, other in changes.items():
        found = []
        for seed in range(repetitions):
            site = pair(ROCK, other, ((0, 70, 45), (0, 70, 45)), seed)
            found.append((tested(site, seed)[1].pvalue, ignoring_exposure(site, seed)))
        hits = np.array(found) <= 0.05
        print(f"| {name} | {share(hits[:, 0])} | {share(hits[:, 1])} |", flush=True)


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
            hole = replace(hole, logged=(js.LoggedInterval(0.0, end, "image"),))
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
            result, ratio = tested(site, seed)
            sets = RoundSets.of(result.rock)
            best = find_domains(together(groups_of(result)), np.arange(2), sets)[0]
            found.append((ratio.pvalue <= 0.05, len(best.domains) == 2))
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


def _resident_mb() -> float:
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def many(holes: int) -> None:
    """Speed on two cores against one in blocks of holes, and memory as more go through."""
    print(f"\n## Many: holes of about 200 fractures, blocks of {BLOCK} and a run of {holes}\n")
    print(f"Load of the machine at the start: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores.\n")

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
    "warp": warp,
    "power": power,
    "domains": domains,
    "core": core,
    "many": many,
}
REPETITIONS = {"size": 400, "warp": 1000, "power": 200, "domains": 200, "core": 100, "many": 1000}


def main() -> None:
    """Run the sections asked for."""
    chosen = sys.argv[1:2] or list(SECTIONS)
    for name in chosen:
        SECTIONS[name](int(sys.argv[2]) if len(sys.argv) > 2 else REPETITIONS[name])


if __name__ == "__main__":
    main()
