"""What speaks for a fracture on the core and one on the image being the same one.

The log odds of a pair are those of a Poisson process of fractures, each seen by both methods, or
by one: with ν the numbers per metre seen by both, by core alone, by image alone,

    w = log ν_both / (ν_core ν_image) + log N(depth difference; σ) + log f(core | image) / g(core)

f is Fisher's distribution of the reading about the image's plane, g the density of orientations
at large, so that two planes of one close set speak less for a pair than two odd ones. Words and
apertures enter as the chance to agree against that of chance.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.types import Array

_SMOOTHING = 25.0  # κ of the kernel of the density of orientations at large
_ANY = 0.1  # share of it that is uniform
_SAME_WORD = 0.8  # chance that both methods use the same word of one fracture
_APERTURE_SPREAD = 0.7  # of the log of aperture between the two methods
_SMALLEST_MM = 0.1


class Log(NamedTuple):
    """Fractures of one method in one hole, in order of depth."""

    row: NDArray[np.intp]  # rows of the table
    depth: Array
    alpha: Array  # radians, NaN where not known
    beta: Array  # radians round the hole from the reference line, NaN where not known
    words: NDArray[np.object_]  # type, "" where not known
    aperture: Array  # mm, NaN where not known

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Log:
        """The fractures named."""
        return Log._make(values[rows] for values in self)

    def mirrored(self) -> Log:
        """The same with β counted the other way round."""
        return self._replace(beta=-self.beta)


class Reading(NamedTuple):
    """How the two logs differ, and how many fractures each sees."""

    depth_spread: float  # m
    kappa: float  # of the core's planes about the image's
    both: float  # fractures per metre
    core_only: float
    image_only: float

    @property
    def prior(self) -> float:
        """Log odds of a pair before anything is compared, per metre."""
        return float(np.log(self.both / (self.core_only * self.image_only)))


def axes_in_hole(alpha: Array, beta: Array) -> Array:
    """Poles in the frame of the hole: reference line, across it, down the hole.

    `alpha, beta` (n,): radians. Gives (n, 3).
    """
    across = np.cos(alpha)
    return np.stack([-across * np.cos(beta), -across * np.sin(beta), np.sin(alpha)], axis=-1)


def depth_odds(difference: Array, reading: Reading) -> Array:
    """Log density of a depth difference, with the prior odds of a pair.

    `difference`: metres.
    """
    spread = reading.depth_spread
    near = np.exp(-0.5 * (difference / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
    return np.log(np.maximum(near, 1e-22)) + reading.prior


def _log_fisher(cosine: Array, kappa: float) -> Array:
    size = np.abs(cosine)
    scale = np.log(kappa) - np.log(2 * np.pi) - np.log(-np.expm1(-2 * kappa))
    return scale + kappa * (size - 1.0) + np.log1p(np.exp(-2.0 * kappa * size))


def orientation_odds(core: Log, image: Log, turns: Array, kappa: float) -> tuple[Array, Array]:
    """Odds of the orientation of each pair, for core turned by each of several angles.

    `core, image`: the image's own fractures give the density of orientations at large; `turns`
    (m,): angles by which the core is turned about the hole, radians. Gives `odds` (m, I, J): zero
    where an orientation is not known; `at_large` (m,): log density of the core's orientations at
    large, summed: which turns suit the sets.
    """
    known = ~np.isnan(core.alpha + core.beta)
    seen = ~np.isnan(image.alpha + image.beta)
    odds = np.zeros((len(turns), len(core.depth), len(image.depth)))
    if not known.any() or not seen.any():
        return odds, np.zeros(len(turns))
    beta = core.beta[known] + turns[:, np.newaxis]
    poles = axes_in_hole(np.broadcast_to(core.alpha[known], beta.shape), beta)
    there = axes_in_hole(image.alpha[seen], image.beta[seen])
    cosine = poles @ there.T
    smooth = np.exp(_log_fisher(cosine, _SMOOTHING)).mean(axis=-1)
    large = np.log((1.0 - _ANY) * smooth + _ANY / (2 * np.pi))
    found = _log_fisher(cosine, kappa) - large[:, :, np.newaxis]
    odds[np.ix_(np.arange(len(turns)), known, seen)] = found
    return odds, large.sum(axis=1)


def alpha_odds(core: Log, image: Log, kappa: float) -> Array:
    """Odds of α alone, where the core has no β.

    `kappa`: spread of α is 1/√κ. Gives (I, J).
    """
    odds = np.zeros((len(core.depth), len(image.depth)))
    known = ~np.isnan(core.alpha)
    seen = ~np.isnan(image.alpha)
    if not known.any() or not seen.any():
        return odds
    spread, wide = 1.0 / np.sqrt(kappa), 0.2
    apart = core.alpha[known][:, np.newaxis] - image.alpha[seen]
    own = np.exp(-0.5 * (apart / spread) ** 2) / spread
    large = (np.exp(-0.5 * (apart / wide) ** 2) / wide).mean(axis=1, keepdims=True)
    large = 0.9 * large + 0.1 * np.sqrt(2 * np.pi) * 2 / np.pi
    odds[np.ix_(known, seen)] = np.log(np.maximum(own, 1e-12) / large)
    return odds


def condition_odds(core: Log, image: Log) -> Array:
    """Odds of type and aperture of each pair; zero where one of them is not known.

    Gives (I, J).
    """
    odds = np.zeros((len(core.depth), len(image.depth)))
    known, seen = core.words != "", image.words != ""
    if known.any() and seen.any():
        kinds, counts = np.unique(image.words[seen].astype(str), return_counts=True)
        share = dict(zip(kinds, counts / counts.sum(), strict=True))
        common = np.array([share.get(word, 0.05) for word in core.words[known]])[:, np.newaxis]
        same = core.words[known][:, np.newaxis] == image.words[seen]
        odds[np.ix_(known, seen)] += np.log(
            np.where(same, _SAME_WORD, 0.0) / common + (1 - _SAME_WORD)
        )
    known, seen = ~np.isnan(core.aperture), ~np.isnan(image.aperture)
    if known.any() and seen.any():
        first = np.log(core.aperture[known] + _SMALLEST_MM)
        second = np.log(image.aperture[seen] + _SMALLEST_MM)
        apart = first[:, np.newaxis] - second
        wide = max(float(second.std()), 1e-3)
        reach = np.hypot(wide, _APERTURE_SPREAD)
        large = -0.5 * ((first - second.mean()) / reach) ** 2 - np.log(reach)
        own = -0.5 * (apart / _APERTURE_SPREAD) ** 2 - np.log(_APERTURE_SPREAD)
        odds[np.ix_(known, seen)] += own - large[:, np.newaxis]
    return odds
