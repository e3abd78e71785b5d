"""Joint sets recovered from simulated investigations whose truth is known.

Fractures are candidates along each hole, met with probability |n · d| and left out below the blind
angle: thinning, which knows nothing of the exposure that the fit inverts. Directions are drawn by
scipy's von Mises-Fisher.

    python benchmarks/joint_sets.py [investigations]    prints the tables of joint_sets.md
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from joblib import Parallel, delayed
from numpy.typing import NDArray
from scipy.stats import vonmises_fisher
from sklearn.cluster import HDBSCAN, KMeans
from sklearn.metrics import adjusted_rand_score
from sklearn.mixture import GaussianMixture

import jointstats as js

Array = NDArray[np.float64]
Labels = NDArray[np.intp]

BLIND_DEG = 10.0
SMALLEST_COSINE = float(np.sin(np.radians(BLIND_DEG)))
#: Expected number of fractures in an investigation.
FRACTURES = 300
APART_DEG = 38.0
#: Fewest observed fractures of a set that must be found.
MUST_FIND = 15


@dataclass(frozen=True)
class Rock:
    """Mean poles (K, 3), κ and P32 (1/m) of the sets, and P32 of the background."""

    means: Array
    kappas: Array
    p32: Array
    background: float

    def rates(self) -> Array:
        """P32 of every component, the background last."""
        return np.append(self.p32, self.background)

    def draw(self, component: int, n: int, rng: np.random.Generator) -> Array:
        """Poles of one component as they are in the rock, either end."""
        if n == 0:
            return np.empty((0, 3))
        if component == len(self.kappas):
            return unit(rng.normal(size=(n, 3)))
        law = vonmises_fisher(self.means[component], self.kappas[component])
        return law.rvs(n, random_state=rng).reshape(n, 3) * rng.choice([-1.0, 1.0], (n, 1))

    def log_densities(self, poles: Array) -> Array:
        """log(P32 · density) of each component, shape (n, K + 1), the background last."""
        along = np.abs(poles @ self.means.T)
        sets = np.logaddexp(self.kappas * (along - 1), -self.kappas * (along + 1))
        sets += np.log(self.p32 * self.kappas / (-2 * np.pi * np.expm1(-2 * self.kappas)))
        rest = np.full((len(poles), 1), np.log(self.background / (2 * np.pi)))
        return np.hstack([sets, rest])


@dataclass(frozen=True)
class Log:
    """Fractures met: poles, number of the hole, and true set (−1 for the background)."""

    poles: Array
    hole: NDArray[np.intp]
    truth: Labels
    directions: Array
    lengths_m: Array

    def exposure(self) -> js.LineExposure:
        """What the analysis is told of the holes."""
        return js.LineExposure(self.directions, self.lengths_m, blind_angle_deg=BLIND_DEG)

    def counts(self, sets: int) -> NDArray[np.intp]:
        """Observed fractures of each true set."""
        return np.bincount(self.truth[self.truth >= 0], minlength=sets)


def unit(rows: Array) -> Array:
    """Rows of unit length."""
    return rows / np.linalg.norm(rows, axis=-1, keepdims=True)


def random_rock(rng: np.random.Generator) -> Rock:
    """Two to five sets; the background is a tenth of all P32."""
    sets = int(rng.integers(2, 6))
    means = unit(rng.normal(size=(1, 3)))
    while len(means) < sets:
        one = unit(rng.normal(size=3))
        if np.abs(means @ one).max() <= np.cos(np.radians(APART_DEG)):
            means = np.vstack([means, one])
    kappas = np.exp(rng.uniform(np.log(15), np.log(90), sets))
    p32 = rng.uniform(0.4, 1.6, sets)
    return Rock(means, kappas, p32, float(p32.sum()) / 9)


def random_holes(rng: np.random.Generator) -> Array:
    """A vertical hole and none, one or two inclined ones."""
    inclined = int(rng.integers(0, 3))
    trend = np.append(0.0, rng.uniform(0, 360, inclined))
    plunge = np.append(90.0, rng.uniform(40, 75, inclined))
    return js.lines_from_trend(trend, plunge)


def met_per_metre(rock: Rock, directions: Array, rng: np.random.Generator) -> Array:
    """Fractures of each component (rows) met by a metre of each hole (columns), by counting."""
    rows = []
    for component, rate in enumerate(rock.rates()):
        cosine = np.abs(rock.draw(component, 4000, rng) @ directions.T)
        rows.append(rate * np.where(cosine >= SMALLEST_COSINE, cosine, 0.0).mean(axis=0))
    return np.array(rows)


def log_holes(rock: Rock, directions: Array, lengths_m: Array, rng: np.random.Generator) -> Log:
    """Meet fractures by thinning candidates along each hole."""
    poles, holes, truth = [], [], []
    for hole, (direction, length) in enumerate(zip(directions, lengths_m, strict=True)):
        for component, rate in enumerate(rock.rates()):
            rows = rock.draw(component, int(rng.poisson(rate * length)), rng)
            cosine = np.abs(rows @ direction)
            rows = rows[(rng.random(len(rows)) < cosine) & (cosine >= SMALLEST_COSINE)]
            poles.append(rows)
            holes += [hole] * len(rows)
            truth += [component if component < len(rock.kappas) else -1] * len(rows)
    order = rng.permutation(len(truth))
    met = np.vstack(poles)[order]
    return Log(met, np.array(holes)[order], np.array(truth)[order], directions, lengths_m)


def investigation(seed: int) -> tuple[Rock, Log]:
    """Rock and log of one seed; equal hole lengths that are expected to meet `FRACTURES`."""
    rng = np.random.default_rng(seed)
    rock, directions = random_rock(rng), random_holes(rng)
    per_metre = met_per_metre(rock, directions, rng).sum()
    lengths = np.full(len(directions), FRACTURES / per_metre)
    return rock, log_holes(rock, directions, lengths, rng)


def best_labels(rock: Rock, poles: Array) -> Labels:
    """Labels from the true densities: no rule does better on average."""
    best = rock.log_densities(poles).argmax(axis=1)
    return np.where(best == len(rock.kappas), -1, best)


def dyads(poles: Array) -> Array:
    """Upper triangle of n nᵀ, scaled so that distances are those of the matrices."""
    i, j = np.triu_indices(3)
    return poles[:, i] * poles[:, j] * np.where(i == j, 1.0, np.sqrt(2.0))


def _gaussian(rows: Array, sets: int) -> GaussianMixture:
    return GaussianMixture(sets, n_init=5, random_state=0).fit(rows)


def _gaussian_by_bic(rows: Array) -> Labels:
    models = [_gaussian(rows, sets) for sets in range(1, 9)]
    return min(models, key=lambda model: model.bic(rows)).predict(rows)


RIVALS: dict[str, Callable[[Array, int], Labels]] = {
    "KMeans, told the number": lambda rows, sets: KMeans(
        sets, n_init=10, random_state=0
    ).fit_predict(rows),
    "GaussianMixture, told the number": lambda rows, sets: _gaussian(rows, sets).predict(rows),
    "GaussianMixture, number by BIC": lambda rows, sets: _gaussian_by_bic(rows),
    "HDBSCAN, at least 15 a cluster": lambda rows, sets: HDBSCAN(
        min_cluster_size=15, copy=True
    ).fit_predict(rows),
}


@dataclass(frozen=True)
class Recovery:
    """One investigation: its size, the sets found, and the adjusted Rand index of each way."""

    fractures: int
    true_sets: int
    must_find: int
    found: int
    rand: dict[str, tuple[float, float]]  # of all fractures; of those that belong to a set


def recover(seed: int, rivals: bool = True) -> Recovery:
    """Fit one investigation in every way."""
    rock, log = investigation(seed)
    sets = len(rock.kappas)
    model = js.JointSetMixture(random_state=0).fit(log.poles, exposure=log.exposure())
    labels = {
        "true densities (optimum)": best_labels(rock, log.poles),
        "JointSetMixture, number unknown": model.labels_,
    }
    if rivals:
        rows = dyads(log.poles)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # rivals that have not converged say so
            labels |= {name: way(rows, sets) for name, way in RIVALS.items()}
    inside = log.truth >= 0
    rand = {
        name: (
            float(adjusted_rand_score(log.truth, one)),
            float(adjusted_rand_score(log.truth[inside], one[inside])),
        )
        for name, one in labels.items()
    }
    must = int((log.counts(sets) >= MUST_FIND).sum())
    return Recovery(len(log.truth), sets, must, model.n_sets_, rand)


def recovery_table(results: list[Recovery]) -> str:
    """Mean adjusted Rand indices, and how often the number of sets is right."""
    names = list(results[0].rand)
    means = {name: np.mean([one.rand[name] for one in results], axis=0) for name in names}
    optimum = means[names[0]]
    lines = ["| way | all fractures | of optimum | those of a set | of optimum |"]
    lines.append("|---|---|---|---|---|")
    for name in names:
        (whole, inside), (share, part) = means[name], means[name] / optimum
        lines.append(f"| {name} | {whole:.4f} | {share:.4f} | {inside:.4f} | {part:.4f} |")
    right = np.mean([one.must_find <= one.found <= one.true_sets for one in results])
    few = np.mean([one.found < one.must_find for one in results])
    many = np.mean([one.found > one.true_sets for one in results])
    size = np.median([one.fractures for one in results])
    lines.append("")
    lines.append(
        f"{len(results)} investigations, median {size:.0f} fractures. Number of sets between "
        f"those with {MUST_FIND} or more fractures and the true number: {right:.1%} "
        f"(too few {few:.1%}, too many {many:.1%})."
    )
    return "\n".join(lines)


#: P32 of the steep set, 1/m, and the lengths of its two holes, m.
STEEP_P32 = 1.2
STEEP_LENGTHS = (80.0, 70.0)


def steep_investigation(
    seed: int, turn_deg: float | None = None, others: bool = True
) -> tuple[Rock, Log]:
    """A steep set of κ 40 in a vertical hole and one that plunges 60°.

    `turn_deg` is the angle in plan between the hole and the pole of the set: 0 where the hole is
    drilled across the set, 90 where it runs along it; any where None. With `others`, one more set
    and the background are present.
    """
    rng = np.random.default_rng([seed, 1])
    dip, toward = 90 - rng.uniform(0, 5), rng.uniform(0, 360)
    turn = rng.uniform(0, 360) if turn_deg is None else turn_deg
    holes = js.lines_from_trend([0, (toward + 180 + turn) % 360], [90, 60])
    means = js.poles_from_dip([dip], [toward])
    if others:
        one = means[0]
        while abs(means[0] @ one) > np.cos(np.radians(APART_DEG)):
            one = unit(rng.normal(size=3))
        means = np.vstack([means, one])
    p32 = np.array([STEEP_P32, 0.8])[: len(means)]
    rock = Rock(means, np.array([40.0, 40.0])[: len(means)], p32, float(p32.sum()) / 9)
    return rock, log_holes(rock, holes, np.array(STEEP_LENGTHS), rng)


def steep_estimates(
    seed: int, turn_deg: float | None, others: bool, known: bool
) -> tuple[float, float, float, float]:
    """P32 and error of the mean pole (degrees): of the fit, then of Terzaghi weights.

    The weights are given the true set of every fracture, which favours them.
    """
    rock, log = steep_investigation(seed, turn_deg, others)
    number = len(rock.kappas) if known else "auto"
    model = js.JointSetMixture(number, random_state=0).fit(log.poles, exposure=log.exposure())
    p32, error = 0.0, 90.0
    if model.n_sets_:
        angle = js.axis_angles_deg(model.means_, rock.means[0])
        k = int(np.argmin(angle))
        if angle[k] < APART_DEG / 2:
            p32, error = float(model.intensities_[k]), float(angle[k])
    mine = log.truth == 0
    if not mine.any():
        return p32, error, 0.0, 90.0
    weights = js.terzaghi_weights(
        log.poles[mine], log.directions[log.hole[mine]], blind_angle_deg=BLIND_DEG
    )
    mean = js.fisher_statistics(log.poles[mine], weights).mean
    off = float(js.axis_angles_deg(mean, rock.means[0])[0])
    return p32, error, float(weights.sum() / log.lengths_m.sum()), off


def steep_table(repetitions: int) -> str:
    """Bias and error of P32 and mean pole of the steep set."""
    lines = [
        "| second hole | P32: fit | bias | rms | Terzaghi | bias | rms | rms ratio | pole: fit "
        + "| Terzaghi |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    cases = {
        "any trend, the set alone": (None, False, True),
        "any trend, two sets, number known": (None, True, True),
        "any trend, two sets, number unknown": (None, True, False),
        "across the set": (0.0, False, True),
        "45° in plan": (45.0, False, True),
        "along the set": (90.0, False, True),
    }
    for name, case in cases.items():
        rows = np.array(
            Parallel(n_jobs=2)(delayed(steep_estimates)(s, *case) for s in range(repetitions))
        )
        mean = rows.mean(axis=0)
        rms = np.sqrt(((rows - [STEEP_P32, 0, STEEP_P32, 0]) ** 2).mean(axis=0))
        lines.append(
            f"| {name} | {mean[0]:.3f} | {mean[0] / STEEP_P32 - 1:+.1%} | {rms[0]:.3f} "
            f"| {mean[2]:.3f} | {mean[2] / STEEP_P32 - 1:+.1%} | {rms[2]:.3f} "
            f"| {rms[0] / rms[2]:.2f} | {rms[1]:.1f}° | {rms[3]:.1f}° |"
        )
    return "\n".join(lines)


def main() -> None:
    """Print the tables."""
    investigations = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    results = Parallel(n_jobs=2)(delayed(recover)(seed) for seed in range(investigations))
    print("# Joint sets against the truth\n")
    print("## Which fracture belongs to which set\n")
    print(recovery_table(results))
    print(f"\n## A steep set of P32 {STEEP_P32} /m ({2 * investigations} repetitions a row)\n")
    print(steep_table(2 * investigations))


if __name__ == "__main__":
    main()
