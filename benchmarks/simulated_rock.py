"""Investigations of rock that is not ideal, drawn from a known truth.

A set has a density of poles, a P32, and a way of lying in the rock: even, in swarms, or more of it
at one hole than at another. Candidates lie along each hole at P32 a metre whatever their
orientation, and are met with probability |n · d|; no exposure of the package enters. Holes may be
read wrongly afterwards.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

import jointstats as js
from jointstats.sphere.axes import frame_about, rotation_about
from jointstats.sphere.set_shapes import EllipticalDensity

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: Metres of a fracture within which the others of its swarm lie.
SWARM_REACH_M = 1.0
#: Poles drawn to find the mean |n · d| of a set.
MANY = 4000


class Density(Protocol):
    """Density of the poles of a set."""

    mean: Array

    def rvs(self, size: int, random_state: np.random.Generator) -> Array:
        """Draw poles (size, 3)."""

    def logpdf(self, poles: Array) -> Array:
        """Log density at poles, per steradian of the hemisphere."""


@dataclass(frozen=True)
class Elliptical:
    """Axial Kent density; `frame` has the mean, the long axis and the short axis as rows."""

    frame: Array
    kappa: float
    beta: float

    @classmethod
    def of_ratio(cls, mean: Array, kappa: float, ratio: float, turn_rad: float) -> Elliptical:
        """The one whose scatters along and across have this ratio; `turn_rad` turns its long axis."""
        one, two, _ = frame_about(mean)
        long = np.cos(turn_rad) * one + np.sin(turn_rad) * two
        # Variances are 1 / (κ ∓ 2β) where the set is narrow.
        beta = 0.5 * kappa * (ratio**2 - 1.0) / (ratio**2 + 1.0)
        return cls(np.array([mean, long, np.cross(mean, long)]), kappa, beta)

    @property
    def mean(self) -> Array:
        """Mean pole."""
        return self.frame[0]

    def rvs(self, size: int, random_state: np.random.Generator) -> Array:
        """Draw poles (size, 3)."""
        return EllipticalDensity(self.frame, self.kappa, self.beta).sample(size, random_state)

    def logpdf(self, poles: Array) -> Array:
        """Log density at poles."""
        return EllipticalDensity(self.frame, self.kappa, self.beta).log_density(poles)


@dataclass(frozen=True)
class Girdle:
    """Poles along a great circle, those of a fold: axial Bingham exp(b (x² − y²) − c t²).

    `frame` has the densest pole (x), the direction along the girdle (y) and the fold axis (t) as
    rows; b of zero is a complete girdle.
    """

    frame: Array
    b: float
    c: float

    @property
    def mean(self) -> Array:
        """Densest pole; of no meaning where b is zero."""
        return self.frame[0]

    @property
    def axis(self) -> Array:
        """Fold axis."""
        return self.frame[2]

    def rvs(self, size: int, random_state: np.random.Generator) -> Array:
        """Draw poles (size, 3), by rejection from a truncated normal of t and a von Mises angle."""
        found = np.empty((0, 3))
        spread = 1.0 / np.sqrt(2.0 * (self.c - self.b))
        while len(found) < size:
            t = random_state.normal(0.0, spread, 2 * size + 16)
            angle = 0.5 * random_state.vonmises(0.0, self.b, len(t))
            angle += np.pi * random_state.integers(0, 2, len(t))
            kept = np.log(random_state.random(len(t))) < -self.b * t**2 * (1 + np.cos(2 * angle))
            kept &= np.abs(t) < 1.0
            t, angle = t[kept], angle[kept]
            round_ = np.sqrt(1.0 - t**2)
            local = np.column_stack([round_ * np.cos(angle), round_ * np.sin(angle), t])
            found = np.vstack([found, local @ self.frame])
        return found[:size]

    def logpdf(self, poles: Array) -> Array:
        """Log density at poles."""
        x, y, t = self.frame @ poles.T
        # The integral over the hemisphere, by a fine sum over t and a Bessel function of the angle.
        nodes = (np.arange(20000) + 0.5) / 20000
        ring = np.pi * np.i0(self.b * (1.0 - nodes**2)) * np.exp(-self.c * nodes**2)
        return self.b * (x - y) * (x + y) - self.c * t**2 - np.log(2.0 * ring.mean())


@dataclass(frozen=True)
class HeavyTailed:
    """A round set, a share of which scatters more widely about the same mean."""

    mean: Array
    kappa: float
    share: float = 0.3
    wide_kappa: float = 8.0

    @property
    def _parts(self) -> tuple[js.sphere.AxialFisher, js.sphere.AxialFisher]:
        return (
            js.sphere.AxialFisher(self.mean, self.kappa),
            js.sphere.AxialFisher(self.mean, self.wide_kappa),
        )

    def rvs(self, size: int, random_state: np.random.Generator) -> Array:
        """Draw poles (size, 3)."""
        wide = random_state.random(size) < self.share
        near, far = (one.rvs(size, random_state) for one in self._parts)
        return np.where(wide[:, np.newaxis], far, near)

    def logpdf(self, poles: Array) -> Array:
        """Log density at poles."""
        near, far = (one.logpdf(poles) for one in self._parts)
        return np.logaddexp(np.log1p(-self.share) + near, np.log(self.share) + far)


class RockSet(NamedTuple):
    """A set of the rock."""

    density: Density
    p32_per_m: float


class HoleLine(NamedTuple):
    """A straight hole, logged whole."""

    trend_deg: float
    plunge_deg: float
    length_m: float

    @property
    def direction(self) -> Array:
        """Unit vector along the hole."""
        return js.lines_from_trend(self.trend_deg, self.plunge_deg)[0]


@dataclass(frozen=True)
class Departure:
    """How the rock and its reading depart from even sets in holes read rightly.

    `variation` is the coefficient of variation of gamma effects between holes, `shared` whether
    one effect goes for all sets of a hole; `swarm` the mean number met of a swarm (Poisson; 0 is
    none). `misread` is "", "beta turned", "beta mirrored" or "azimuth off", of the last hole.
    """

    variation: float = 0.0
    shared: bool = False
    swarm: float = 0.0
    misread: str = ""
    azimuth_error_deg: float = 20.0


@dataclass(frozen=True)
class SimulatedRock:
    """A site and its truth.

    `truth` is the set of each row of `site.fractures` (1, 2, …; 0 for the background), `effects`
    (K + 1, H) what P32 was multiplied by at each hole, the background first; `poles` (n, 3) are
    those of the rock, before any hole was misread.
    """

    site: js.Site
    sets: tuple[RockSet, ...]
    background_per_m: float
    holes: tuple[HoleLine, ...]
    truth: Index
    effects: Array = field(repr=False)
    poles: Array = field(repr=False)

    @property
    def p32(self) -> Array:
        """P32 of the sets of the rock of the site, (K,)."""
        return np.array([one.p32_per_m for one in self.sets])

    @property
    def best_labels(self) -> Index:
        """Labels of the fractures by the true densities and P32: no analysis can do better."""
        table = self.site.fractures
        poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
        rate = [np.full(len(poles), np.log(max(self.background_per_m, 1e-12) / (2 * np.pi)))]
        rate += [np.log(one.p32_per_m) + one.density.logpdf(poles) for one in self.sets]
        return np.argmax(rate, axis=0)


class Uniform:
    """Poles of any orientation."""

    mean = np.array([0.0, 0.0, -1.0])

    def rvs(self, size: int, random_state: np.random.Generator) -> Array:
        """Draw poles (size, 3)."""
        rows = random_state.normal(size=(size, 3))
        return rows / np.linalg.norm(rows, axis=1, keepdims=True)

    def logpdf(self, poles: Array) -> Array:
        """Log density at poles."""
        return np.full(len(poles), -np.log(2 * np.pi))


def simulated_rock(
    sets: Sequence[RockSet],
    holes: Sequence[HoleLine],
    rng: np.random.Generator,
    *,
    background_per_m: float = 0.0,
    departure: Departure | None = None,
) -> SimulatedRock:
    """Drill holes through rock of known sets."""
    how = departure or Departure()
    laws = [RockSet(Uniform(), background_per_m), *sets]
    effects = _effects(len(laws), len(holes), how, rng)
    tables, true_poles = [], []
    for h, hole in enumerate(holes):
        poles, depth, kind = _drilled(laws, hole, effects[:, h], how.swarm, rng)
        true_poles.append(poles)
        read = _misread(poles, hole, how) if h == len(holes) - 1 else poles
        dip, direction = js.dip_from_poles(read)
        columns = {"hole": f"H{h + 1}", "depth_m": depth, "dip_deg": dip}
        tables.append(pd.DataFrame(columns | {"dip_direction_deg": direction, "kind": kind}))
    fractures = pd.concat(tables, ignore_index=True)
    site = js.Site.from_frames(_holes_frame(holes, how), fractures.drop(columns="kind"))
    truth = fractures["kind"].to_numpy()
    poles = np.vstack(true_poles)
    return SimulatedRock(site, tuple(sets), background_per_m, tuple(holes), truth, effects, poles)


def _drilled(
    laws: Sequence[RockSet],
    hole: HoleLine,
    effects: Array,
    swarm: float,
    rng: np.random.Generator,
) -> tuple[Array, Array, Index]:
    """Poles, depths and sets of the fractures that a hole meets, by depth."""
    found = [_met(one, hole, effects[k], swarm if k else 0.0, rng) for k, one in enumerate(laws)]
    depth = np.concatenate([one[1] for one in found])
    kind = np.repeat(np.arange(len(laws)), [len(one[1]) for one in found])
    order = np.argsort(depth, kind="stable")
    return np.vstack([one[0] for one in found])[order], depth[order], kind[order]


def _effects(n_sets: int, n_holes: int, how: Departure, rng: np.random.Generator) -> Array:
    """Gamma effects (K + 1, H) of mean one; the background is even."""
    effects = np.ones((n_sets, n_holes))
    if how.variation:
        shape = 1.0 / how.variation**2
        effects[1:] *= rng.gamma(shape, 1 / shape, (1 if how.shared else n_sets - 1, n_holes))
    return effects


def _met(
    one: RockSet, hole: HoleLine, effect: float, swarm: float, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Poles and depths of the fractures of a set that a hole meets."""
    rate, length, line = one.p32_per_m * effect, hole.length_m, hole.direction
    if swarm:
        # A swarm has as many candidates as leave `swarm` of them met, on average.
        size = swarm / np.abs(one.density.rvs(MANY, rng) @ line).mean()
        whole = length + 2 * SWARM_REACH_M
        parents = rng.uniform(
            -SWARM_REACH_M, length + SWARM_REACH_M, rng.poisson(rate * whole / size)
        )
        depth = np.repeat(parents, rng.poisson(size, len(parents)))
        depth = depth + rng.uniform(-SWARM_REACH_M, SWARM_REACH_M, len(depth))
        depth = depth[(depth > 0) & (depth < length)]
    else:
        depth = rng.uniform(0.0, length, rng.poisson(rate * length))
    poles = one.density.rvs(len(depth), rng).reshape(-1, 3)
    met = rng.random(len(depth)) < np.abs(poles @ line)
    return poles[met], depth[met]


def _misread(poles: Array, hole: HoleLine, how: Departure) -> Array:
    """Poles as the misread hole gives them."""
    if how.misread == "beta turned":
        return poles @ rotation_about(hole.direction, np.pi).T
    if how.misread == "beta mirrored":
        # β becomes −β: mirrored in the vertical plane through the hole.
        across = np.cross(hole.direction, [0.0, 0.0, 1.0])
        across /= np.linalg.norm(across)
        return poles - 2.0 * (poles @ across)[:, np.newaxis] * across
    if how.misread == "azimuth off":
        # Azimuths run clockwise seen from above.
        turn = rotation_about([0.0, 0.0, 1.0], -np.radians(how.azimuth_error_deg))
        return poles @ turn.T
    return poles


def _holes_frame(holes: Sequence[HoleLine], how: Departure) -> pd.DataFrame:
    table = pd.DataFrame(holes).assign(hole=[f"H{h + 1}" for h in range(len(holes))])
    table["trend_deg"] = table["trend_deg"].astype(float)
    if how.misread == "azimuth off":
        last = table.index[-1]
        table.loc[last, "trend_deg"] = (holes[-1].trend_deg + how.azimuth_error_deg) % 360
    return table


def random_holes(rng: np.random.Generator, least: int = 3, most: int = 6) -> tuple[HoleLine, ...]:
    """Holes of 40 to 80 m along random directions, two of them at least 30° apart."""
    number = int(rng.integers(least, most + 1))
    while True:
        plunge = np.degrees(np.arcsin(rng.uniform(0.1, 1.0, number)))
        trend = rng.uniform(0.0, 360.0, number)
        length = rng.uniform(40.0, 80.0, number)
        holes = tuple(HoleLine(*map(float, one)) for one in zip(trend, plunge, length, strict=True))
        lines = np.array([one.direction for one in holes])
        if np.abs(lines @ lines.T).min() < np.cos(np.radians(30.0)):
            return holes


def random_means(n: int, rng: np.random.Generator, apart_deg: float = 45.0) -> Array:
    """Mean poles (n, 3) at least so far apart."""
    while True:
        means = Uniform().rvs(n, rng)
        angle = np.abs(means @ means.T - np.eye(n))
        if angle.max() < np.cos(np.radians(apart_deg)):
            return means


def means_apart(angle_deg: float, rng: np.random.Generator) -> Array:
    """Two mean poles (2, 3) at this angle."""
    first = Uniform().rvs(1, rng)[0]
    one, two, _ = frame_about(first)
    around, turn = rng.uniform(0.0, 2 * np.pi), np.radians(angle_deg)
    side = np.cos(around) * one + np.sin(around) * two
    return np.array([first, np.cos(turn) * first + np.sin(turn) * side])


def with_number(
    densities: Sequence[Density],
    holes: Sequence[HoleLine],
    number: float,
    rng: np.random.Generator,
) -> tuple[RockSet, ...]:
    """Sets of the P32 at which the holes meet so many fractures of each, on average."""
    found = []
    for density in densities:
        poles = density.rvs(MANY, rng)
        metres = sum(one.length_m * np.abs(poles @ one.direction).mean() for one in holes)
        found.append(RockSet(density, float(number / metres)))
    return tuple(found)


def read_site_model(path: str | Path) -> tuple[RockSet, ...]:
    """Round sets of a table with pole_trend_deg, pole_plunge_deg, fisher_kappa and p32_per_m."""
    with Path(path).open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return tuple(
        RockSet(
            js.sphere.AxialFisher(
                js.lines_from_trend(float(row["pole_trend_deg"]), float(row["pole_plunge_deg"]))[0],
                float(row["fisher_kappa"]),
            ),
            float(row["p32_per_m"]),
        )
        for row in rows
    )
