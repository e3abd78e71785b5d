"""Intervals of P32 and predictions from counts alone, in rock of known unevenness.

    python benchmarks/uneven_counts.py [tables [seed [word]]] > benchmarks/uneven_counts.md

Counts are drawn by cells of a metre, so that a thousand tables a row take a minute.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from scipy.stats import poisson

from jointstats.uneven.prediction import leave_out_lines
from jointstats.uneven.uneven_rock import unevenness


class CountTable(NamedTuple):
    """Counts (K, B) in cells of a metre, and the truth."""

    counts: np.ndarray
    exposure: np.ndarray
    line: np.ndarray
    lengths_m: np.ndarray
    p32: np.ndarray  # (K,)


def count_table(
    rng: np.random.Generator,
    *,
    n_sets: int = 3,
    n_lines: int = 4,
    number: float = 60.0,
    length_m: int = 75,
    variation: float = 0.0,
    shared_variation: float = 0.0,
    zone_m: int = 0,
    swarm: float = 0.0,
    swarm_law: str = "poisson",
    effect_law: str = "gamma",
) -> CountTable:
    """Draw a table: `number` fractures of each set expected, on all lines together.

    Lines differ by effects ("gamma" or "lognormal") of coefficient of variation `variation`, each
    set its own, times those of `shared_variation`, one for all sets. Along a line, zones of
    `zone_m` differ by gamma effects of .6. Swarms: parents are Poisson, each with a number of
    fractures of mean `swarm` ("poisson", "fixed" or "geometric") within a metre of it.
    """
    cosine = rng.uniform(0.35, 1.0, (n_sets, n_lines))
    p32 = number / (cosine.sum(axis=1) * length_m)
    effects = _effects(variation, effect_law, (n_sets, n_lines), rng)
    effects = effects * _effects(shared_variation, effect_law, (1, n_lines), rng)
    rates = (p32[:, np.newaxis] * cosine * effects).ravel()
    if zone_m:
        zones = _effects(0.6, "gamma", (len(rates), length_m // zone_m + 1), rng)
        counts = rng.poisson(rates[:, np.newaxis] * np.repeat(zones, zone_m, 1)[:, :length_m])
    else:
        edges = np.arange(length_m + 1)
        depths = (_depths(rate, length_m, swarm, swarm_law, rng) for rate in rates)
        counts = np.array([np.histogram(one, edges)[0] for one in depths])
    return CountTable(
        counts.reshape(n_sets, -1).astype(float),
        np.repeat(cosine, length_m, axis=1),
        np.repeat(np.arange(n_lines), length_m),
        np.ones(n_lines * length_m),
        p32,
    )


def _effects(
    variation: float, law: str, size: tuple[int, int], rng: np.random.Generator
) -> np.ndarray:
    if variation == 0:
        return np.ones(size)
    if law == "gamma":
        return rng.gamma(variation**-2, variation**2, size)
    spread = np.log1p(variation**2)
    return np.exp(rng.normal(-0.5 * spread, np.sqrt(spread), size))


def _depths(
    rate: float, length_m: float, swarm: float, law: str, rng: np.random.Generator
) -> np.ndarray:
    if not swarm:
        return rng.uniform(0.0, length_m, rng.poisson(rate * length_m))
    parents = rng.uniform(-1.0, length_m + 1.0, rng.poisson(rate * (length_m + 2.0) / swarm))
    sizes = {
        "poisson": lambda n: rng.poisson(swarm, n),
        "fixed": lambda n: np.full(n, int(swarm)),
        "geometric": lambda n: rng.geometric(1.0 / swarm, n),
    }[law](len(parents))
    children = np.repeat(parents, sizes)
    return children + rng.uniform(-1.0, 1.0, len(children))


def _rows() -> dict[str, dict[str, object]]:
    """Rocks of the table: name and settings of `count_table`."""
    rows: dict[str, dict[str, object]] = {
        f"even, {k} sets, {h} lines": {"n_sets": k, "n_lines": h}
        for k, h in ((1, 3), (3, 3), (3, 4), (6, 3), (6, 5), (3, 8))
    }
    for swarm in (3, 6):
        for law in ("poisson", "fixed"):
            rows[f"swarms of {swarm}, {law}"] = {"swarm": swarm, "swarm_law": law}
        rows[f"swarms of {swarm}, 1 set, 3 lines"] = {
            "swarm": swarm,
            "n_sets": 1,
            "n_lines": 3,
        }
        rows[f"swarms of {swarm}, 30 a set"] = {"swarm": swarm, "number": 30}
    rows["swarms of 3, geometric"] = {"swarm": 3, "swarm_law": "geometric"}
    for lines in (3, 4, 6):
        for c in (0.25, 0.5, 0.8):
            rows[f"variation {c}, {lines} lines, own"] = {"variation": c, "n_lines": lines}
            rows[f"variation {c}, {lines} lines, shared"] = {
                "shared_variation": c,
                "n_lines": lines,
            }
    rows["variation 0.35 own and 0.35 shared"] = {"variation": 0.35, "shared_variation": 0.35}
    rows["zones of 5 m"] = {"zone_m": 5}
    rows["zones of 20 m"] = {"zone_m": 20}
    rows["variation 0.5, 4 lines, lognormal"] = {
        "variation": 0.5,
        "effect_law": "lognormal",
    }
    rows["variation 0.5, 4 lines, 1 set"] = {"variation": 0.5, "n_sets": 1}
    rows["variation 0.5, 4 lines, 6 sets"] = {"variation": 0.5, "n_sets": 6}
    rows["variation 0.5 and swarms of 3"] = {"variation": 0.5, "swarm": 3}
    return rows


ROWS = _rows()


def table(n_tables: int, seed: int, word: str = "") -> Iterator[dict[str, object]]:
    """Coverage and width of the 95 % intervals of P32, and of those that take the rock as even.

    "longer": median of the ratio of their lengths in log P32. "cv", "companions": mean posterior
    medians. "holds": share of 90 % predictions of a line left out that hold, from a tenth of the
    tables; "gain": log score over that of a Poisson number of pooled P32.
    """
    for number, (name, settings) in enumerate(ROWS.items()):
        if word not in name:
            continue
        rng = np.random.default_rng([seed, number])
        scores = [_score(count_table(rng, **settings)) for _ in range(n_tables)]
        covers = np.array([one["covers"] for one in scores])
        row = {
            "rock": name,
            "covers": covers.mean(),
            "error": covers.std() / np.sqrt(n_tables),
        }
        row |= {key: np.mean([one[key] for one in scores]) for key in scores[0] if key not in row}
        row["longer"] = np.median([one["longer"] for one in scores])
        ahead = [_left_out(count_table(rng, **settings)) for _ in range(n_tables // 10)]
        yield row | dict(zip(("holds", "gain"), np.mean(ahead, axis=0), strict=True))


def _score(one: CountTable) -> dict[str, float]:
    rock = unevenness(*one[:4])
    sets = range(len(one.p32))
    limits = np.array([rock.p32_interval(k) for k in sets])
    plain = np.array([rock.even_interval(k) for k in sets])
    return {
        "covers": float(((limits[:, 0] <= one.p32) & (one.p32 <= limits[:, 1])).mean()),
        "too high": float((one.p32 < limits[:, 0]).mean()),
        "even covers": float(((plain[:, 0] <= one.p32) & (one.p32 <= plain[:, 1])).mean()),
        "longer": float(
            (np.log(limits[:, 1] / limits[:, 0]) / np.log(plain[:, 1] / plain[:, 0])).mean()
        ),
        "p even": float(rock.p_even.mean()),
        "cv": float(np.mean([rock.variation_interval(k)[0] for k in sets])),
        "companions": float(np.mean([rock.companions_interval(k)[0] for k in sets])),
        "p shared": rock.between.p_shared,
    }


def _left_out(one: CountTable) -> tuple[float, float]:
    """Share of predictions of lines left out that hold, and gain in log score over Poisson."""
    held, gain = [], []
    for out in leave_out_lines(*one[:4], n_draws=1000):
        rest, own = one.line != out.line, one.line == out.line
        number = one.counts[:, rest].sum(axis=1) + 0.5
        mean = number / one.exposure[:, rest].sum(axis=1) * one.exposure[:, own].sum(axis=1)
        for k, m in enumerate(mean):
            held.append(out.holds(k))
            gain.append(out.log_score(k) - poisson.logpmf(out.observed[k], m))
    return float(np.mean(held)), float(np.mean(gain))


def main(n_tables: int = 1000, seed: int = 20260401, word: str = "") -> None:
    """Print the table."""
    print(f"{n_tables} tables a row, seed {seed}\n")
    for number, row in enumerate(table(n_tables, seed, word)):
        if number == 0:
            print("| " + " | ".join(row) + " |\n|" + "---|" * len(row))
        cells = [one if isinstance(one, str) else f"{one:.3f}" for one in row.values()]
        print("| " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:3]), *sys.argv[3:])
