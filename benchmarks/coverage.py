"""Coverage of every cone and size of every test of jointstats.sphere, by simulation.

    python benchmarks/coverage.py [repetitions [cones] [tests]] > benchmarks/coverage.md

Every pole is drawn from a known distribution with scipy's von Mises-Fisher or from numpy's
normal numbers, so that what is counted does not rest on the package itself.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.stats import vonmises_fisher

import jointstats as js

Array = NDArray[np.float64]
Draw = Callable[[np.random.Generator, int, float], Array]

SIZES = (5, 10, 30, 100, 500)
KAPPAS = (5.0, 20.0, 200.0)
#: Smallest sine between plane and hole that the weights allow for.
SINE = float(np.sin(np.radians(10.0)))
MEAN = np.array([0.6, 0.0, 0.8])
HOLES = {
    "no weights": (None, 0),
    "one hole, 30° from the mean pole": (np.array([[0.0, 0.0, 1.0]]), 30),
    "one hole, 60° from the mean pole": (np.array([[0.0, 0.0, 1.0]]), 60),
    "one hole, 85° from the mean pole": (np.array([[0.0, 0.0, 1.0]]), 85),
    "three holes, summed exposure": (np.array([[0, 0, 1.0], [0.6, 0, 0.8], [0, 0.6, 0.8]]), 70),
}


def directed(generator: np.random.Generator, n: int, kappa: float) -> Array:
    """Fisher directions about `MEAN`."""
    return vonmises_fisher(MEAN, kappa).rvs(n, random_state=generator)


def biased(
    generator: np.random.Generator, n: int, kappa: float, holes: Array | None, angle_deg: float
) -> tuple[Array, Array, Array]:
    """Poles met by holes, their mean, and their weights."""
    angle = np.radians(angle_deg)
    mean = np.array([np.sin(angle), 0.0, np.cos(angle)])
    law = vonmises_fisher(mean, kappa)
    if holes is None:
        return law.rvs(n, random_state=generator), mean, np.ones(n)
    kept = np.empty((0, 3))
    while len(kept) < n:
        rows = law.rvs(4 * n, random_state=generator)
        rate = np.maximum(np.abs(rows @ holes.T), SINE).mean(axis=1)
        kept = np.vstack([kept, rows[generator.random(len(rows)) < rate]])
    kept = kept[:n]
    return kept, mean, 1.0 / np.maximum(np.abs(kept @ holes.T), SINE).mean(axis=1)


def coverage(
    n: int, kappa: float, holes: Array | None, angle_deg: float, repetitions: int
) -> float:
    """Share of 95% cones that cover the true mean."""
    generator = np.random.default_rng(n * 1000 + int(kappa) + int(angle_deg))
    hits = 0
    for _ in range(repetitions):
        poles, mean, weights = biased(generator, n, kappa, holes, angle_deg)
        found = js.fisher_statistics(poles, None if holes is None else weights)
        hits += float(js.axis_angles_deg(found.mean, mean)[0]) <= found.cone_deg
    return hits / repetitions


def size(
    run: Callable[[np.random.Generator, int, float], float],
    n: int,
    kappa: float,
    repetitions: int,
    name: str,
) -> float:
    """Share of true hypotheses that a test rejects at the 5% level."""
    # Each test has draws of its own, so that chance does not repeat down the page.
    generator = np.random.default_rng([crc32(name.encode()), n, int(kappa)])
    return sum(run(generator, n, kappa) <= 0.05 for _ in range(repetitions)) / repetitions


def uniform(generator: np.random.Generator, n: int) -> Array:
    """Uniform directions."""
    rows = generator.standard_normal((n, 3))
    return rows / np.linalg.norm(rows, axis=1, keepdims=True)


#: name -> (test, repetitions are divided by this)
TESTS: dict[str, tuple[Callable[[np.random.Generator, int, float], float], int]] = {
    "common mean, 2 sets": (
        lambda g, n, k: js.sphere.common_mean_test(directed(g, n, k), directed(g, n, k)).pvalue,
        1,
    ),
    "common mean, 2 sets, sizes 2:1 and kappa 2:1": (
        lambda g, n, k: js.sphere.common_mean_test(directed(g, 2 * n, 2 * k), directed(g, n, k)).pvalue,
        1,
    ),
    "common mean, 3 sets, kappa 1:2:4": (
        lambda g, n, k: (
            js.sphere.common_mean_test(
                directed(g, n, k), directed(g, n, 2 * k), directed(g, n, 4 * k)
            ).pvalue
        ),
        1,
    ),
    "common mean, Watson's F": (
        lambda g, n, k: (
            js.sphere.common_mean_test(directed(g, n, k), directed(g, n, k), method="equal kappa").pvalue
        ),
        1,
    ),
    "common mean, bootstrap": (
        lambda g, n, k: (
            js.sphere.common_mean_test(
                directed(g, n, k), directed(g, n, k), method="bootstrap", draws=99, random_state=g
            ).pvalue
        ),
        10,
    ),
    "common kappa, 2 sets": (
        lambda g, n, k: js.sphere.common_kappa_test(directed(g, n, k), directed(g, n + 5, k)).pvalue,
        1,
    ),
    "common kappa, 3 sets": (
        lambda g, n, k: (
            js.sphere.common_kappa_test(directed(g, n, k), directed(g, n + 5, k), directed(g, n, k)).pvalue
        ),
        1,
    ),
    "mean direction": (
        lambda g, n, k: js.sphere.mean_direction_test(directed(g, n, k), MEAN).pvalue,
        1,
    ),
    "mean in plane": (
        lambda g, n, k: js.sphere.mean_in_plane_test(directed(g, n, k), [0.0, 1.0, 0.0]).pvalue,
        1,
    ),
    "roundness": (lambda g, n, k: js.sphere.roundness_test(directed(g, n, k)).pvalue, 1),
    "outlier": (lambda g, n, k: js.sphere.outlier_test(directed(g, n, k)).pvalue, 4),
    "fit to Fisher": (
        lambda g, n, k: js.sphere.fisher_fit_test(directed(g, n, k), draws=99, random_state=g).pvalue,
        5,
    ),
    "uniformity of axes": (lambda g, n, k: js.sphere.uniformity_test(uniform(g, n)).pvalue, 4),
    "uniformity of directions": (
        lambda g, n, k: js.sphere.uniformity_test(uniform(g, n), axial=False).pvalue,
        4,
    ),
}


def table(title: str, cell: Callable[[int, float], float], kappas: tuple[float, ...]) -> None:
    """Print one table: a row for each kappa, a column for each n."""
    print(f"\n### {title}\n")
    print("| kappa | " + " | ".join(f"n {n}" for n in SIZES) + " |")
    print("|---" * (len(SIZES) + 1) + "|")
    for kappa in kappas:
        values = " | ".join(f"{100 * cell(n, kappa):.1f}" for n in SIZES)
        print(f"| {kappa:g} | {values} |", flush=True)


def cones(repetitions: int) -> None:
    """Print the coverage of cones."""
    print(f"## 95% cones: how often they cover the true mean ({repetitions} repetitions)\n")
    print("Weights are 1 / max(|cos δ|, sin 10°), and poles are met at just that rate.")
    for name, (holes, angle) in HOLES.items():
        table(name, lambda n, k, h=holes, a=angle: coverage(n, k, h, a, repetitions), KAPPAS)


def tests(repetitions: int) -> None:
    """Print the size of tests."""
    print("## Tests at the 5% level: how often they reject a true hypothesis")
    for name, (run, divisor) in TESTS.items():
        few = repetitions // divisor
        kappas = KAPPAS[:1] if name.startswith("uniformity") else (5.0, 200.0)
        title = f"{name} ({few} repetitions)"
        table(title, lambda n, k, r=run, m=few, t=name: size(r, n, k, m, t), kappas)


if __name__ == "__main__":
    asked = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    parts = sys.argv[2:] or ["cones", "tests"]
    print("# Coverage of cones and size of tests\n")
    print("Per cent, by simulation; poles are axes. The standard error of a share of 5% is")
    print("0.5 for 2000 repetitions, 0.7 for 1000, 1.0 for 500 and 3.1 for 50.\n")
    for part in parts:
        {"cones": cones, "tests": tests}[part](asked)
        print()
