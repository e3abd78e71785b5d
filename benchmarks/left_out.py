"""Every hole predicted from the others, by this package and by plainer ways.

    python benchmarks/left_out.py                      simulated rock, prints left_out.md
    python benchmarks/left_out.py 20 7 SITE SITE       20 sites a row, seed 7, and directories of real sites

Scores are mean log probabilities: of the orientation of a fracture of the hole left out, per
fracture; and of the number of fractures of that hole, per hole. Higher is better. Every way that has
a density of the rock is given the exposure of the hole left out; the two that fit what was seen
predict that.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp
from scipy.stats import poisson
from sklearn.mixture import GaussianMixture

import jointstats as js
from benchmarks.real_rock import ROWS, printed
from jointstats.borehole.fractures import Fractures
from jointstats.sphere.axes import hemisphere_grid
from jointstats.sphere.set_shapes import RoundDensity

Array = NDArray[np.float64]

GRID = hemisphere_grid(20_000)
CELL = 2.0 * np.pi / len(GRID)
#: Share of a uniform density that every plainer way is given, lest one stray fracture decide.
UNIFORM_SHARE = 0.05
KERNELS = (8.0, 15.0, 30.0, 60.0)
SIMULATED = ("even, round", "axial ratio 3", "intensity by hole .5", "swarms of 3", "heavy tails")


class Task(NamedTuple):
    """A hole to predict: what the others had, and what it had."""

    rest: js.SiteAnalysis
    poles: Array  # of the others, above the blind angle
    weights: Array  # Terzaghi
    exposure: js.LineExposure  # of the hole
    truth: Array  # its poles above the blind angle


class Scored(NamedTuple):
    """Sums of the log scores of a hole."""

    orientation: float
    count: float


Density = Callable[[Array], Array]


def tasks(site: js.Site) -> Iterator[Task]:
    """Each hole of a site to be predicted from the others."""
    whole = js.analyse(site, domains="none")
    fitted = Fractures(whole.fractures).fitted
    hole = fitted.table["hole"].to_numpy()
    for line in whole.sampling.logged:
        rest = js.analyse(_without(site, line.name), domains="none")
        own = hole == line.name
        along = np.abs(np.sin(np.radians(fitted.table["hole_angle_deg"].to_numpy(float)[~own])))
        least = np.sin(np.radians(whole.sampling.blind_angle_deg))
        weights = 1.0 / np.maximum(along, least)
        yield Task(rest, fitted.poles[~own], weights, line.exposure, fitted.poles[own])


def _without(site: js.Site, name: str) -> js.Site:
    """The site without one of its holes."""
    table = site.fractures
    holes = tuple(one for one in site.holes if one.name != name)
    kept = table[table["hole"] != name].reset_index(drop=True)
    return replace(site, holes=holes, fractures=kept)


def seen(task: Task, density: Density) -> Density:
    """Log density of what the hole meets of a rock."""
    on_grid = np.log(np.maximum(task.exposure.at(GRID), 1e-300)) + density(GRID)
    whole = logsumexp(on_grid) + np.log(CELL)
    return lambda rows: np.log(task.exposure.at(rows)) + density(rows) - whole


def with_uniform(density: Density) -> Density:
    """A log density mixed with a little of a uniform one."""
    rest = np.log(UNIFORM_SHARE / (2.0 * np.pi))
    return lambda rows: np.logaddexp(np.log1p(-UNIFORM_SHARE) + density(rows), rest)


def of_package(task: Task) -> Scored:
    """Sets of the rock, and the distribution of the count in rock as uneven as theirs."""
    rock = task.rest.mixture.read_rock_
    density = seen(task, lambda rows: logsumexp(rock.log_rates(rows), axis=1))
    ahead = js.predict_counts(task.rest, task.exposure)
    return Scored(float(density(task.truth).sum()), ahead.counts.log_score(len(task.truth)))


def of_kernel(task: Task) -> Scored:
    """Terzaghi-weighted kernel, its width by leaving fractures out in turn."""
    along = np.abs(task.poles @ task.poles.T)

    def left_out(kappa: float) -> float:
        logs = _log_fisher(along, kappa) + np.log(task.weights)
        np.fill_diagonal(logs, -np.inf)
        return float((task.weights * logsumexp(logs, axis=1)).sum())

    kappa = max(KERNELS, key=left_out)
    share = np.log(task.weights / task.weights.sum())
    rock = with_uniform(
        lambda rows: logsumexp(_log_fisher(np.abs(rows @ task.poles.T), kappa) + share, axis=1)
    )
    return Scored(float(seen(task, rock)(task.truth).sum()), _by_weights(task, rock))


def of_clusters(task: Task) -> Scored:
    """k-means of axes with Terzaghi weights, as many as the package found; a Fisher set each."""
    sets = max(len(task.rest.sets), 1)
    rng = np.random.default_rng(0)
    best = max((_clustered(task, sets, rng) for _ in range(10)), key=lambda one: one[0])
    share, parts = [], []
    for k in range(sets):
        own = best[1] == k
        statistics = js.fisher_statistics(task.poles[own], task.weights[own])
        parts.append(RoundDensity.about(statistics.mean, min(statistics.kappa_mle, 1000.0)))
        share.append(np.log(task.weights[own].sum() / task.weights.sum()))
    rock = with_uniform(
        lambda rows: logsumexp(
            np.column_stack([one.log_density(rows) for one in parts]) + np.array(share), axis=1
        )
    )
    return Scored(float(seen(task, rock)(task.truth).sum()), _by_weights(task, rock))


def of_gaussians(task: Task) -> Scored:
    """A Gaussian mixture on the equal-area net, of the number that BIC chooses, as seen."""
    points = _equal_area(task.poles)
    fits = [GaussianMixture(k, n_init=3, random_state=0).fit(points) for k in range(1, 9)]
    best = min(fits, key=lambda one: one.bic(points))
    density = with_uniform(lambda rows: best.score_samples(_equal_area(rows)))
    return Scored(float(density(task.truth).sum()), _by_length(task))


def of_mixture_as_seen(task: Task) -> Scored:
    """The same mixture without exposure: density of what was seen."""
    model = js.JointSetMixture(shape="auto", random_state=0).fit(task.poles)
    return Scored(float(model.score_samples(task.truth).sum()), _by_length(task))


WAYS: dict[str, Callable[[Task], Scored]] = {
    "this package": of_package,
    "weighted kernel": of_kernel,
    "weighted k-means": of_clusters,
    "Gaussian mixture": of_gaussians,
    "mixture, no exposure": of_mixture_as_seen,
}


def _log_fisher(along: Array, kappa: float) -> Array:
    """Axial Fisher log density at cosines of 0 to 1."""
    size = np.log(kappa / (2.0 * np.pi)) - np.log(-np.expm1(-2.0 * kappa))
    return kappa * (along - 1.0) + np.log1p(np.exp(-2.0 * kappa * along)) + size


def _equal_area(poles: Array) -> Array:
    """Places on the net of equal area, on which a density per area is one per steradian."""
    lower = poles * np.where(poles[:, 2:] > 0, -1.0, 1.0)
    return lower[:, :2] * np.sqrt(2.0 / (1.0 + np.abs(lower[:, 2:])))


def _clustered(task: Task, sets: int, rng: np.random.Generator) -> tuple[float, NDArray[np.intp]]:
    """Summed squared cosines of one start, and the cluster of each pole."""
    means = task.poles[rng.choice(len(task.poles), sets, replace=False)]
    for _ in range(50):
        label = (np.abs(task.poles @ means.T)).argmax(axis=1)
        for k in range(sets):
            own = label == k
            if own.any():
                rows = task.poles[own] * np.sqrt(task.weights[own])[:, np.newaxis]
                means[k] = np.linalg.eigh(rows.T @ rows)[1][:, -1]
    label = (np.abs(task.poles @ means.T)).argmax(axis=1)
    fit = float((task.weights * (np.abs(task.poles @ means.T).max(axis=1) ** 2)).sum())
    return (fit if len(np.unique(label)) == sets else -np.inf), label


def _by_weights(task: Task, rock: Density) -> float:
    """Poisson score of the count by the P32 that the weights give."""
    p32 = task.weights.sum() / task.rest.exposure.total_m
    met = float((np.exp(rock(GRID)) * task.exposure.at(GRID)).sum() * CELL)
    return float(poisson.logpmf(len(task.truth), p32 * met))


def _by_length(task: Task) -> float:
    """Poisson score of the count by the frequency along the other holes."""
    frequency = len(task.poles) / task.rest.exposure.total_m
    return float(poisson.logpmf(len(task.truth), frequency * task.exposure.total_m))


def scores(sites: Iterator[js.Site]) -> dict[str, tuple[Array, Array]]:
    """For each way: mean log score per fracture and log score of the count, of each hole."""
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in WAYS}
    for site in sites:
        for task in tasks(site):
            for name, way in WAYS.items():
                one = way(task)
                found[name].append((one.orientation / max(len(task.truth), 1), one.count))
    return {name: tuple(np.array(rows).T) for name, rows in found.items()}


def rows_of(name: str, found: dict[str, tuple[Array, Array]]) -> Iterator[dict[str, object]]:
    """A row a way, with the standard errors of its differences from this package, hole by hole."""
    ours = found["this package"]
    for way, each in found.items():
        row: dict[str, object] = {"rock": name, "way": way, "holes": len(each[0])}
        for word, own, base in zip(("orientation", "count"), each, ours, strict=True):
            row[word] = float(np.mean(own))
            row[f"error of {word}"] = float(np.std(own - base) / np.sqrt(len(own)))
        yield row


def main(n_sites: int = 10, seed: int = 20260601, places: tuple[str, ...] = ()) -> None:
    """Print the table."""
    rows: list[dict[str, object]] = []
    for place in places:
        rows += rows_of(js.read_site(place).name, scores(iter([js.read_site(place)])))
    for number, name in enumerate(SIMULATED if n_sites else ()):
        sites = (
            ROWS[name](np.random.default_rng([seed, number, site])).site for site in range(n_sites)
        )
        rows += rows_of(name, scores(sites))
    print(f"# Every hole predicted from the others\n\n{n_sites} sites a row, seed {seed}\n")
    print(printed(rows))


if __name__ == "__main__":
    given = sys.argv[1:]
    main(*(int(one) for one in given[:2]), tuple(given[2:]))
