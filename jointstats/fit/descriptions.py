"""Shapes chosen with the number of sets: descriptions of a rock, compared by one criterion.

Two paths give starts: round sets grown one at a time (`fit.search`) and elliptical sets grown one at
a time. From the best of each the shapes are swapped, neighbours merged into one elliptical set or
into a girdle, long sets split, and sets dropped, for as long as the criterion gains. Every fit on the
way is kept, so that the other readings of the same rock can be weighed against the best.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from jointstats.fit.data import FitData
from jointstats.fit.rock import Rock
from jointstats.fit.search import Trial
from jointstats.fit.shaped import ShapedFit, fit_shaped
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import (
    EllipticalDensity,
    GirdleDensity,
    HeavyTailedDensity,
    RoundDensity,
)
from jointstats.types import Array

__all__ = ["Descriptions", "as_elliptical", "describe"]


_FIRST_LOOK = 6  # steps of a fit before it is judged hopeless or worth its end
_HOPELESS = 12.0  # of the criterion, behind the best after a first look
_FAR_BEHIND = 20.0  # of the criterion: a start that far behind the best is left
_START_TAIL = 0.2  # of the concentration, where a set is given tails
_START_ELLIPTICITY = 0.15  # of the concentration, where a round set is let become elliptical
_NEAR = np.cos(np.radians(50.0))  # pairs farther apart are not merged into one elliptical set
_ALONG = np.sin(np.radians(20.0))  # sets this near a great circle may be one girdle
_FEW_TO_DROP = 30.0  # fractures; what a larger set explains nothing else does
_LONG = 2.0  # axial ratio above which a set may be two, or part of a girdle
_GIRDLE_START = (25.0, 4.0)
_MOST_FITS = 60
_LEAST_BACKGROUND = (
    0.05  # share of the fractures that a background starts from, where a set is added
)


def as_elliptical(density: SetDensity) -> EllipticalDensity:
    """An elliptical density near a round one."""
    c, e = density.concentration, 0.0 if density.round_about_mean else density.ellipticity
    return EllipticalDensity(density.frame, c, max(e, _START_ELLIPTICITY * c))


def key_of(rock: Rock) -> str:
    """Shapes of a rock in one word, whatever their order."""
    return "".join(sorted(shape[0] for shape in rock.shapes)) or "-"


@dataclass
class Descriptions:
    """Every description of one rock that was tried; the best fit of each number of each shape."""

    data: FitData
    n_sets: int | str = "auto"
    shape: str = "auto"
    fits: dict[str, ShapedFit] = field(default_factory=dict)
    trials: list[Trial] = field(default_factory=list)

    @property
    def least_background(self) -> float:
        """Intensity that a background starts from at least: an empty one can't come back."""
        return (
            _LEAST_BACKGROUND * self.data.total / self.data.uniform if self.data.background else 0.0
        )

    def value(self, fit: ShapedFit) -> float:
        """The criterion: smaller is better; no good where a set is too small to be called one."""
        own = fit.counts[self.data.n_given : -1]
        if len(own) and own.min() < self.data.smallest:
            return np.inf
        return fit.criterion(self.data)

    def offer(self, fit: ShapedFit) -> None:
        """Keep a fit if it is the best of its kind."""
        key = key_of(fit.rock)
        # A path may lead over other shapes; no set at all is of any shape.
        if self.shape == "elliptical" and set(key) - {"e", "-"}:
            return
        if key not in self.fits or self.value(fit) < self.value(self.fits[key]):
            self.fits[key] = fit

    def _trial(self, fit: ShapedFit, verdict: str) -> Trial:
        own = fit.counts[self.data.n_given : -1]
        fewest = float(own.min()) if len(own) else float("inf")
        n, shapes = self.data.total, key_of(fit.rock)
        value = fit.criterion(self.data)
        return Trial(
            len(fit.rock.sets), fit.log_likelihood, fit.bic(n), value, fewest, verdict, shapes
        )

    @property
    def best(self) -> ShapedFit:
        """The fit of the least criterion; the first of those that tie."""
        return min(self.fits.values(), key=self.value)

    @property
    def spent(self) -> bool:
        """Whether as many fits were made as may be."""
        return len(self.trials) >= _MOST_FITS

    def tried(self, rock: Rock, *, to_the_end: bool = False) -> ShapedFit | None:
        """Fit a rock from where it stands, unless a first look shows it hopeless."""
        if self.spent or (self.n_sets != "auto" and len(rock.sets) != self.n_sets):
            return None
        fit = fit_shaped(self.data, rock, max_iter=_FIRST_LOOK)
        behind = self.value(fit) - self.value(self.best) if self.fits else 0.0
        hopeless = behind > _HOPELESS and not to_the_end
        self.trials.append(self._trial(fit, "refused after a first look" if hopeless else "fitted"))
        if hopeless:
            return None
        if not fit.converged:
            fit = fit_shaped(self.data, fit.rock)
        self.offer(fit)
        return fit


def describe(found: Descriptions, starts: list[ShapedFit]) -> None:
    """Improve on each start by changes of shape and number, keeping all that was tried.

    The best start first; one that is far behind what came of it is not followed.
    """
    for start in sorted(starts, key=found.value):
        fit: ShapedFit | None = start
        if found.value(start) > found.value(found.best) + _FAR_BEHIND:
            continue
        while fit is not None and not found.spent:
            fit = _first_better(found, fit)


def _first_better(found: Descriptions, fit: ShapedFit) -> ShapedFit | None:
    """The first change of a fit that the criterion gains by."""
    for rock in changes(found.data, fit):
        other = found.tried(rock)
        if other is not None and found.value(other) < found.value(fit) - 1e-6:
            return other
    return None


def changes(data: FitData, fit: ShapedFit) -> Iterator[Rock]:
    """Rocks one change away, the most promising kinds first; given sets are neither merged nor dropped."""
    rock, free = fit.rock, range(data.n_given, len(fit.rock.sets))
    yield from _tails(rock)
    yield from _girdles(rock, free)
    yield from _merged(data, fit, free)
    for k, density in enumerate(rock.densities):
        if density.round_about_mean:
            yield rock.replaced(k, as_elliptical(density))
        elif density.shape == "elliptical" and _may_be_round(density, fit.counts[k]):
            yield rock.replaced(k, RoundDensity(density.frame, density.concentration))
    for k in free:
        yield from _split(rock, k)
    if data.background or len(rock.sets) > 1:
        for k in free[: len(rock.sets)]:
            if fit.counts[k] < _FEW_TO_DROP:
                yield rock.take([j for j in range(len(rock.sets)) if j != k])


def _tails(rock: Rock) -> Iterator[Rock]:
    """Tails given to all round sets, or to all that have a mean, or taken from those that have them."""
    kinds = {one.shape for one in rock.densities}
    if "round" in kinds:
        yield _reshaped(rock, {"round"}, as_heavy_tailed)
    if "elliptical" in kinds:
        yield _reshaped(rock, {"round", "elliptical"}, as_heavy_tailed)
    if HeavyTailedDensity.shape in kinds:
        yield _reshaped(rock, {HeavyTailedDensity.shape}, _as_round)


def _reshaped(rock: Rock, shapes: set[str], change: Callable[[SetDensity], SetDensity]) -> Rock:
    """The rock with the sets of some shapes changed, and one weight of the tails that have one."""
    for k, density in enumerate(rock.densities):
        if density.shape in shapes or density.tail_freedom is not None:
            rock = rock.replaced(k, change(density))
    return rock


def as_heavy_tailed(density: SetDensity) -> HeavyTailedDensity:
    """A density with heavy tails near one of another shape."""
    c = density.concentration
    return HeavyTailedDensity(density.frame, c, _START_TAIL * c)


def _as_round(density: SetDensity) -> RoundDensity:
    return RoundDensity(density.frame, density.concentration)


def _may_be_round(density: SetDensity, count: float) -> bool:
    """Whether a set may as well be round: by the gain of an elliptical one alone and seen evenly."""
    ratio = density.axial_ratio or 1.0
    return 2.0 * count * np.log(0.5 * (ratio + 1.0 / ratio)) < _HOPELESS + 2.0 * np.log(count + 1.0) + 6.0


def _girdles(rock: Rock, free: range) -> Iterator[Rock]:
    """Sets along one great circle made a girdle."""
    axes = []
    for k in free:
        density = rock.densities[k]
        if density.shape == "elliptical" and (density.axial_ratio or 0.0) > _LONG:
            axes.append(density.frame[2])
    for i, j in combinations([k for k in free if rock.densities[k].mean is not None], 2):
        axis = np.cross(rock.densities[i].frame[0], rock.densities[j].frame[0])
        if np.linalg.norm(axis) > 0.2:
            axes.append(axis / np.linalg.norm(axis))
    seen: list[tuple[int, ...]] = []
    for axis in axes:
        part = tuple(
            k
            for k in free
            if rock.densities[k].mean is not None
            and abs(rock.densities[k].frame[0] @ axis) < _ALONG
        )
        long = [k for k in part if (rock.densities[k].axial_ratio or 1.0) > _LONG]
        if part in seen or (len(part) < 3 and not long):
            continue
        seen.append(part)
        yield _joined_girdle(rock, part, axis)


def _joined_girdle(rock: Rock, part: tuple[int, ...], axis: Array) -> Rock:
    weights = rock.intensities[list(part)]
    middle = rock.densities[part[int(np.argmax(weights))]].frame[0]
    q = middle - (middle @ axis) * axis
    q /= np.linalg.norm(q)
    girdle = GirdleDensity(np.array([axis, q, np.cross(axis, q)]), *_GIRDLE_START)
    rest = rock.take([k for k in range(len(rock.sets)) if k not in part])
    return rest.joined(girdle, float(weights.sum()))


def _merged(data: FitData, fit: ShapedFit, free: range) -> Iterator[Rock]:
    """Pairs of sets made one elliptical set of the fractures of both, nearest first."""
    rock = fit.rock
    logs = rock.log_rates(data.rows, data.closed)
    shares = np.exp(logs - np.logaddexp.reduce(logs, axis=1)[:, np.newaxis])
    pairs = []
    for i, j in combinations([k for k in free if rock.densities[k].mean is not None], 2):
        near = float(abs(rock.densities[i].frame[0] @ rock.densities[j].frame[0]))
        if near >= _NEAR:
            pairs.append((-near, i, j))
    for _, i, j in sorted(pairs):
        weights = (shares[:, i] + shares[:, j]) * data.weights
        second = (data.rows * weights[:, np.newaxis]).T @ data.rows / max(weights.sum(), 1e-300)
        density = _of_moments(second, data.kappa_bounds)
        intensity = rock.sets[i].p32_per_m + rock.sets[j].p32_per_m
        yield rock.take([k for k in range(len(rock.sets)) if k not in (i, j)]).joined(
            density, intensity
        )


def _of_moments(second: Array, bounds: tuple[float, float]) -> EllipticalDensity:
    """The elliptical density of a matrix of second moments, as in a tangent plane."""
    values, vectors = np.linalg.eigh(second)
    # Variances 1/(κ − 2e) and 1/(κ + 2e).
    narrow, wide = 1.0 / np.clip(values[:2], 1e-3, 0.5)
    kappa = float(np.clip(0.5 * (narrow + wide), *bounds))
    frame = vectors.T[::-1].copy()
    frame[2] = np.cross(frame[0], frame[1])
    return EllipticalDensity(frame, kappa, float(min(0.25 * (narrow - wide), 0.45 * kappa)))


def _split(rock: Rock, k: int) -> Iterator[Rock]:
    """A long set made two round ones, a girdle a long set."""
    density, half = rock.densities[k], 0.5 * rock.sets[k].p32_per_m
    if density.shape == "girdle":
        p, q, r = density.frame
        frame = np.array([q, np.cross(p, q), p])
        yield rock.replaced(k, EllipticalDensity(frame, 12.0, 4.0))
    elif density.shape == "elliptical" and (density.axial_ratio or 0.0) > 1.5:
        p, q, _ = density.frame
        kappa, twice = density.concentration, 2.0 * density.ellipticity
        away = min(1.0 / np.sqrt(kappa - twice), 0.6)
        narrow = min(kappa + twice, 4.0 * kappa)
        ends = [np.cos(away) * p + sign * np.sin(away) * q for sign in (1.0, -1.0)]
        rest = rock.take([j for j in range(len(rock.sets)) if j != k])
        for end in ends:
            rest = rest.joined(RoundDensity.about(end, narrow), half)
        yield rest
