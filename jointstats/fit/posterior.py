"""Posterior of the parameters of one set, by weighted draws: intervals that hold with few fractures.

The prior is flat in the mean pole, 1/κ in the concentration, (1 + η₁² + η₂²)⁻² in the ellipticity
(η₁, η₂), flat in the weight of heavy tails, and λ^−½ √E in each intensity. For one round set under an even
exposure that gives Fisher's own results: 2 κ (N − R) of 2N − 2 degrees of freedom (Mardia & Jupp 2000,
Directional Statistics, section 10.4; from memory), and a gamma of shape N + ½ for the intensity
(Jeffreys; Brown, Cai & DasGupta 2003, Statistica Sinica 13:19-49; from memory).

What is drawn is what can bend most: the coordinates of the set, and the log of the background, which
trades fractures with it. The other sets follow to where the information expects them. The draws come
from a multivariate t about the maximum and weigh as posterior over t (importance sampling; Robert &
Casella 2004, Monte Carlo Statistical Methods, section 3.3; from memory). Where few of them carry the
weight the t is fitted anew to those.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, ndtri
from scipy.stats import qmc

from jointstats.fit.data import FitData
from jointstats.fit.likelihood import PRIOR, log_uniform_density
from jointstats.fit.rock import Rock, RockSet
from jointstats.fit.shaped import PER_SET, free_directions, log_densities_read
from jointstats.sphere.axes import axis_angles_deg
from jointstats.sphere.set_chart import COORDINATES, SetChart
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array

__all__ = ["Posterior", "SetDraws", "weighted_quantiles"]


_FREEDOM = 8.0  # of the t
_WIDER = 1.2  # its covariance, over the one it is fitted to
_ROUNDS = 4  # fits of the t, at most
_ENOUGH = 0.5  # share of the draws that must carry the weight
_FIRST, _LAST = 9, 11  # draws of a fit of the t and of the end, as powers of two
_LAST_SMEARED = 10  # the same at the end for a set whose exposure takes a smear
_OF_ONE = 8  # the same where one parameter is drawn
_WORK = 1_000_000  # rows × components × draws above which the end makes do with fewer draws
_APART = 0.05  # correlation below which another set does not follow
_FLATTEST = 0.25  # information below which a direction starts from a variance of four
KAPPA_RANGE = (0.5, 2000.0)  # of the prior, and of the table of exposures
_LEAST = 0.5  # fractures a component is raised to before the t is centred on it
_TINY = float(np.finfo(float).tiny)


class SetDraws(NamedTuple):
    """Weighted draws of the parameters of one set."""

    kind: type[SetDensity]
    frames: Array  # (D, 3, 3)
    concentrations: Array  # (D,)
    ellipticities: Array  # (D,)
    intensities: Array  # (D,)
    background: Array  # (D,)
    weights: Array  # (D,); they sum to one

    @property
    def axes(self) -> Array:
        """Mean poles, or fold axes of a girdle, (D, 3)."""
        return self.frames[:, 0]

    @property
    def effective(self) -> float:
        """Number of draws of equal weight that would be as good."""
        return float(1.0 / (self.weights**2).sum())

    def cone_deg(self, axis: Array, share: float) -> float:
        """Half-angle of the cone about a mean pole that holds a share of the means, degrees."""
        away = axis_angles_deg(self.axes, axis)
        return float(weighted_quantiles(away, self.weights, [share])[0])

    def set_at(self, d: int) -> RockSet:
        """Draw d as a set of a rock."""
        density = self.kind(
            self.frames[d], float(self.concentrations[d]), float(self.ellipticities[d])
        )
        return RockSet(density, float(self.intensities[d]))


def weighted_quantiles(values: Array, weights: Array, shares: list[float]) -> Array:
    """Quantiles of weighted values (D,), whose weights sum to one, at shares of 0 to 1."""
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order]) - 0.5 * weights[order]
    return np.interp(shares, below, values[order])


@dataclass(frozen=True, eq=False)
class Posterior:
    """The data of a fit, its maximum and its information there.

    Attributes
    ----------
    data : FitData
    rock : Rock
        At the maximum; a background of exactly zero is none.
    information : ndarray, shape (6 K + 1, 6 K + 1)
        Zero for coordinates that are not free.
    free : ndarray of bool, shape (6 K + 1,)
    """

    data: FitData
    rock: Rock
    information: Array
    free: NDArray[np.bool_]

    def of_set(self, k: int) -> SetDraws:
        """Draws of set k and the background; the points are a fixed low-discrepancy sequence."""
        change, weights = self._drawn(np.arange(PER_SET * k, PER_SET * (k + 1)))
        moved = self._moved(change, k)
        return SetDraws(type(self.rock.densities[k]), *moved, self._background(change), weights)

    def of_background(self) -> tuple[Array, Array]:
        """Draws (D,) of the intensity of the background, and their weights."""
        change, weights = self._drawn(np.arange(0))
        return self._background(change), weights

    @cached_property
    def _centre(self) -> Rock:
        """The maximum, with no component of fewer than half a fracture."""
        exposure, sets = self.data.exposure, []
        for density, intensity in self.rock.sets:
            met = 1.0 if exposure is None else max(density.mean_exposure(exposure), _TINY)
            sets.append(RockSet(density, max(intensity, _LEAST / met)))
        background = self.rock.background_per_m
        raised = max(background, _LEAST / self.data.uniform) if background > 0 else 0.0
        return Rock(tuple(sets), raised)

    @cached_property
    def _charts(self) -> list[SetChart]:
        return [SetChart(one, self._range(k)) for k, one in enumerate(self.rock.densities)]

    @cached_property
    def _best(self) -> Array:
        """Log rate of each row at the centre."""
        logs = self._centre.log_rates(self.data.rows, self.data.closed, self.data.read)
        return self.data.log_means(np.logaddexp.reduce(logs, axis=1))

    def _drawn(self, own: NDArray[np.intp]) -> tuple[Array, Array]:
        """Weighted draws of some coordinates and the background; changes (D, 6 K + 1)."""
        own = own[self.free[own]]
        if self.rock.background_per_m > 0 and self.free[-1]:
            own = np.append(own, len(self.free) - 1)
        if not len(own):
            return np.zeros((1, len(self.free))), np.ones(1)
        covariance = self._covariance()
        spread, follow = covariance[np.ix_(own, own)], _followers(covariance, own)
        centre, first = np.zeros(len(own)), _FIRST if len(own) > 1 else _OF_ONE
        for _ in range(_ROUNDS):
            x, weights = self._weighted(own, follow, centre, spread, first)
            good = 1.0 / float((weights**2).sum())
            centre = weights @ x
            found = (x - centre).T @ ((x - centre) * weights[:, np.newaxis])
            # A few draws don't make a covariance: what was known before counts as so many more.
            spread = (good * found + len(own) * spread) / (good + len(own))
            if good > _ENOUGH * len(x):
                break
        if self._last(own) > _FIRST or good <= _ENOUGH * len(x):
            x, weights = self._weighted(own, follow, centre, spread, self._last(own))
        return x @ follow.T, weights

    def _last(self, own: NDArray[np.intp]) -> int:
        """Power of two of the draws at the end."""
        if len(own) == 1:
            return _OF_ONE
        if len(own) > 1 + COORDINATES - 1:
            return _LAST_SMEARED
        work = (len(self.data.rows) * (len(self.rock.sets) + 1)) << _LAST
        fewer = max(0, int(np.ceil(np.log2(max(work, 1) / _WORK))))
        return max(_LAST - fewer, _FIRST)

    def _covariance(self) -> Array:
        ways = free_directions(self.free, self.rock)
        values, vectors = np.linalg.eigh(ways.T @ self.information @ ways)
        spread = ways @ vectors
        return np.asarray((spread / np.maximum(values, _FLATTEST)) @ spread.T)

    def _weighted(
        self, own: NDArray[np.intp], follow: Array, centre: Array, spread: Array, power: int
    ) -> tuple[Array, Array]:
        """Draws of the t, shape (D, len(own)), and their weights."""
        points, log_t = _t_points(len(own), power)
        x = centre + points @ np.linalg.cholesky(_WIDER * spread).T
        change = x @ follow.T
        with np.errstate(divide="ignore"):  # a draw far off may leave a row without density
            value = self._log_posterior(change, own) - log_t
        weights = np.exp(value - value.max())
        return x, weights / weights.sum()

    def _moved(self, change: Array, k: int) -> tuple[Array, Array, Array, Array]:
        """Frames, concentrations, ellipticities and λ of set k at changes (D, 6 K + 1)."""
        block = change[:, PER_SET * k : PER_SET * (k + 1)]
        frames, c, e = self._charts[k].moved(block[:, :COORDINATES])
        return frames, c, e, self._centre.sets[k].p32_per_m * np.exp(block[:, -1])

    def _range(self, k: int) -> tuple[float, float]:
        """Of κ in the prior; without an exposure there is no table to hold it to."""
        low, high = KAPPA_RANGE
        c = self.rock.densities[k].concentration
        return (low, high) if self.data.exposure else (min(low, c / 4), max(high, 4 * c))

    def _background(self, change: Array) -> Array:
        return self._centre.background_per_m * np.exp(change[:, -1])

    def _log_posterior(self, change: Array, own: NDArray[np.intp]) -> Array:
        """Log posterior of each change, up to a constant; shape (D,).

        Only a set that is drawn may leave the range of the prior.
        """
        background = self._background(change)
        value = -background * self.data.uniform
        if self.rock.background_per_m > 0:
            value = value + 0.5 * change[:, -1]
        density = np.exp(log_uniform_density(3) - self._best)[:, np.newaxis] * background
        for k in range(len(self.rock.sets)):
            block = change[:, PER_SET * k : PER_SET * (k + 1)]
            # A set that stays where it is needs one column.
            rates, met, intensities = self._at(k, change if block.any() else change[:1])
            density += rates
            value = value - intensities * met + PRIOR * np.log(met) + 0.5 * block[:, -1]
            if PER_SET * k + 2 in own:
                value += self._log_area(block, k)
        return self.data.log_likelihoods(density) + value

    def _at(self, k: int, change: Array) -> tuple[Array, Array, Array]:
        """Set k at each change: λ f at each row over all at the centre, mean exposure, λ."""
        kind, exposure = type(self.rock.densities[k]), self.data.exposure
        frames, c, e, intensities = self._moved(change, k)
        met = np.ones(len(c))
        if exposure is not None:
            met = np.maximum(kind.mean_exposures(frames, c, e, exposure), _TINY)
        rates = log_densities_read(kind, self.data, frames, c, e)
        rates += np.log(intensities) - self._best[:, np.newaxis]
        np.exp(rates, out=rates)
        closed = self.data.closed
        if closed is not None and k < closed.shape[1]:
            rates[closed[:, k]] = 0.0
        return rates, met, intensities

    def _log_area(self, block: Array, k: int) -> Array:
        """Log of the prior of a step in the coordinates; −inf outside the prior's range."""
        turn = np.linalg.norm(block[:, :2], axis=1)
        c = self.rock.densities[k].concentration * np.exp(block[:, 2])
        low, high = self._range(k)
        inside = (turn < 0.5 * np.pi) & (c > low) & (c < high)
        area = np.log(np.abs(np.sinc(turn / np.pi)))
        # So the square of the ellipticity relative to its limit is uniform, and the weight of tails.
        eta = block[:, 3:5] + np.array([self._charts[k].start, 0.0])
        if self.rock.densities[k].limit:
            power = 1.5 if self.rock.densities[k].round_about_mean else 2.0
            area = area - power * np.log1p((eta**2).sum(axis=1))
        return np.where(inside, area, -np.inf)


def _followers(covariance: Array, own: NDArray[np.intp]) -> Array:
    """Where all coordinates are expected, a unit of each one drawn; shape (6 K + 1, len(own))."""
    part = covariance[np.ix_(own, own)]
    follow = covariance[:, own] @ np.linalg.inv(part)
    variance = np.maximum(np.diag(covariance), _TINY)
    explained = np.einsum("ij,jk,ik->i", follow, part, follow) / variance
    for k in range(len(covariance) // PER_SET):
        block = slice(PER_SET * k, PER_SET * (k + 1))
        if explained[block].max() < _APART**2:
            follow[block] = 0.0
    return follow


@lru_cache(maxsize=8)
def _t_points(dimension: int, power: int) -> tuple[Array, Array]:
    """Points (D, dimension) of a standard multivariate t, and their log density but a constant."""
    even = qmc.Sobol(dimension + 1, seed=0).random_base2(power)
    normal = ndtri(even[:, :-1])
    shrink = 2.0 * gammaincinv(0.5 * _FREEDOM, even[:, -1]) / _FREEDOM
    points = normal / np.sqrt(shrink)[:, np.newaxis]
    size = (points**2).sum(axis=1)
    return points, -0.5 * (_FREEDOM + dimension) * np.log1p(size / _FREEDOM)
