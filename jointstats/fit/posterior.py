"""Posterior of the parameters of one set, by weighted draws: intervals that hold with few fractures.

The prior is flat in the mean pole, 1/κ in the concentration and λ^−½ √E in each intensity. For one
set under an even exposure that gives Fisher's own results: 2 κ (N − R) of 2N − 2 degrees of freedom
(Mardia & Jupp 2000, Directional Statistics, section 10.4; from memory), and a gamma of shape N + ½
for the intensity (Jeffreys; Brown, Cai & DasGupta 2003, Statistica Sinica 13:19-49; from memory).

What is drawn is what can bend most: the four parameters of the set, and the log of the background,
which trades fractures with it. The other sets follow to where the information expects them. The
draws come from a multivariate t about the maximum and weigh as posterior over t (importance
sampling; Robert & Casella 2004, Monte Carlo Statistical Methods, section 3.3; from memory). Where
few of them carry the weight the t is fitted anew to those.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, ndtri
from scipy.stats import qmc

from jointstats.fit.information import tangent_frames
from jointstats.fit.likelihood import (
    PRIOR,
    Closed,
    Exposure,
    SetParameters,
    component_log_densities,
    log_scale,
    log_uniform_density,
)
from jointstats.sphere.axes import axis_angles_deg, moved_along

__all__ = ["Posterior", "SetDraws", "weighted_quantiles"]

Array = NDArray[np.float64]

_FREEDOM = 8.0  # of the t
_WIDER = 1.2  # its covariance, over the one it is fitted to
_ROUNDS = 4  # fits of the t, at most
_ENOUGH = 0.5  # share of the draws that must carry the weight
_FIRST, _LAST = 9, 11  # draws of a fit of the t and of the end, as powers of two
_OF_ONE = 8  # the same where one parameter is drawn
_WORK = 1_000_000  # rows × components × draws above which the end makes do with fewer draws
_APART = 0.05  # correlation below which another set does not follow
_FAR = 20.0  # κ from which the far end of an axis adds nothing beside a background
_FLATTEST = 0.25  # information below which a direction starts from a variance of four
_KAPPA_RANGE = (0.5, 2000.0)  # of the prior, and of the table of exposures
_LEAST = 0.5  # fractures a component is raised to before the t is centred on it


class SetDraws(NamedTuple):
    """Weighted draws of the parameters of one set."""

    means: Array  # (D, 3)
    kappas: Array  # (D,)
    intensities: Array  # (D,)
    background: Array  # (D,)
    weights: Array  # (D,); they sum to one

    @property
    def effective(self) -> float:
        """Number of draws of equal weight that would be as good."""
        return float(1.0 / (self.weights**2).sum())

    def cone_deg(self, mean: Array, share: float) -> float:
        """Half-angle of the cone about a mean pole that holds a share of the means, degrees."""
        away = axis_angles_deg(self.means, mean)
        return float(weighted_quantiles(away, self.weights, [share])[0])


def weighted_quantiles(values: Array, weights: Array, shares: list[float]) -> Array:
    """Quantiles of weighted values.

    Parameters
    ----------
    values, weights : ndarray, shape (D,)
        The weights sum to one.
    shares : list of float
        0 to 1.

    Returns
    -------
    ndarray, shape (len(shares),)
    """
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weights[order]) - 0.5 * weights[order]
    return np.interp(shares, below, values[order])


@dataclass(frozen=True, eq=False)
class Posterior:
    """The data of a fit and its maximum.

    Attributes
    ----------
    rows : ndarray, shape (n, 3)
    weights : ndarray, shape (n,)
    exposure : Exposure or None
    closed : ndarray of bool, shape (n, G), or None
        Rows that may not join each of the first G sets.
    parameters : SetParameters
        At the maximum; a background of exactly zero is none.
    information : ndarray, shape (4 K + 1, 4 K + 1)
    """

    rows: Array
    weights: Array
    exposure: Exposure | None
    closed: Closed
    parameters: SetParameters
    information: Array

    def of_set(self, k: int) -> SetDraws:
        """Draws of a set and the background.

        Parameters
        ----------
        k : int

        Returns
        -------
        SetDraws
            The same for the same data: the points are a fixed low-discrepancy sequence.
        """
        change, weights = self._drawn(np.arange(4 * k, 4 * k + 4))
        return SetDraws(*self._moved(change, k), self._background(change), weights)

    def of_background(self) -> tuple[Array, Array]:
        """Draws of the intensity of the background, and their weights.

        Returns
        -------
        values, weights : ndarray, shape (D,)
        """
        change, weights = self._drawn(np.arange(0))
        return self._background(change), weights

    @cached_property
    def _centre(self) -> SetParameters:
        """The maximum, with no component of fewer than half a fracture."""
        means, kappas, intensities, background = self.parameters
        least = _LEAST / self._met(means, kappas)
        raised = max(background, _LEAST / self._uniform) if background > 0 else 0.0
        return SetParameters(means, kappas, np.maximum(intensities, least), raised)

    @cached_property
    def _frames(self) -> Array:
        return tangent_frames(self.parameters.means)

    @cached_property
    def _best(self) -> Array:
        """Log density of each row at the centre."""
        logs = component_log_densities(self.rows, self._centre, self.closed)
        return np.logaddexp.reduce(logs, axis=1)

    @property
    def _uniform(self) -> float:
        return 1.0 if self.exposure is None else self.exposure.of_uniform()

    def _met(self, means: Array, kappas: Array) -> Array:
        if self.exposure is None:
            return np.ones(len(kappas))
        return np.maximum(self.exposure.of_sets(means, kappas), np.finfo(float).tiny)

    def _drawn(self, own: NDArray[np.intp]) -> tuple[Array, Array]:
        """Weighted draws of some parameters and the background; changes (D, 4 K + 1)."""
        sets = len(self.parameters.kappas)
        if self.parameters.background > 0:
            own = np.append(own, 4 * sets)
        values, vectors = np.linalg.eigh(self.information)
        covariance = (vectors / np.maximum(values, _FLATTEST)) @ vectors.T
        spread = covariance[np.ix_(own, own)]
        follow = _followers(covariance, own)
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
        if len(own) > 1:
            work = (len(self.rows) * (sets + 1)) << _LAST
            fewer = max(0, int(np.ceil(np.log2(max(work, 1) / _WORK))))
            first = max(_LAST - fewer, _FIRST)
        x, weights = self._weighted(own, follow, centre, spread, first)
        return x @ follow.T, weights

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

    def _moved(self, change: Array, k: int) -> tuple[Array, Array, Array]:
        """Means (D, 3), κ (D,) and λ (D,) of set k at changes (D, 4 K + 1)."""
        means, kappas, intensities, _ = self._centre
        moved = moved_along(means[k], change[:, 4 * k : 4 * k + 2] @ self._frames[k])
        kappa = np.clip(kappas[k] * np.exp(change[:, 4 * k + 2]), *self._range(k))
        return moved, kappa, intensities[k] * np.exp(change[:, 4 * k + 3])

    def _range(self, k: int) -> tuple[float, float]:
        """Of κ in the prior; without an exposure there is no table to hold it to."""
        low, high = _KAPPA_RANGE
        kappa = float(self.parameters.kappas[k])
        return (low, high) if self.exposure else (min(low, kappa / 4), max(high, 4 * kappa))

    def _background(self, change: Array) -> Array:
        return self._centre.background * np.exp(change[:, -1])

    def _log_posterior(self, change: Array, own: NDArray[np.intp]) -> Array:
        """Log posterior of each change, up to a constant; shape (D,).

        Only a set that is drawn may leave the range of the prior.
        """
        background = self._background(change)
        value = -background * self._uniform
        if self.parameters.background > 0:
            value = value + 0.5 * change[:, -1]
        density = np.exp(log_uniform_density(3) - self._best)[:, np.newaxis] * background
        for k in range(len(self.parameters.kappas)):
            block = change[:, 4 * k : 4 * k + 4]
            # A set that stays where it is needs one column.
            means, kappas, intensities = self._moved(change if block.any() else change[:1], k)
            met = self._met(means, kappas)
            density += self._densities(k, means, kappas, intensities)
            value = value - intensities * met + PRIOR * np.log(met) + 0.5 * block[:, 3]
            if 4 * k in own:
                value += self._log_area(block, k)
        return self.weights @ np.log(density) + value

    def _log_area(self, block: Array, k: int) -> Array:
        """Log of the area that a step in the tangents covers; −inf outside the prior's range."""
        turn = np.linalg.norm(block[:, :2], axis=1)
        kappas = self.parameters.kappas[k] * np.exp(block[:, 2])
        low, high = self._range(k)
        inside = (turn < 0.5 * np.pi) & (kappas > low) & (kappas < high)
        return np.where(inside, np.log(np.abs(np.sinc(turn / np.pi))), -np.inf)

    def _densities(self, k: int, means: Array, kappas: Array, intensities: Array) -> Array:
        """λ f of set k at each row under each draw, over all of the density at the centre."""
        near = self.rows @ means.T
        np.abs(near, out=near)
        both = None
        if kappas.min() < _FAR or self.parameters.background == 0:
            both = 1.0 + np.exp(-2.0 * kappas * near)
        near *= kappas
        near += log_scale(kappas, 3) - kappas + np.log(intensities)
        near -= self._best[:, np.newaxis]
        np.exp(near, out=near)
        if both is not None:
            near *= both
        if self.closed is not None and k < self.closed.shape[1]:
            near[self.closed[:, k]] = 0.0
        return near


def _followers(covariance: Array, own: NDArray[np.intp]) -> Array:
    """Where all parameters are expected, a unit of each one drawn; shape (4 K + 1, len(own))."""
    part = covariance[np.ix_(own, own)]
    follow = covariance[:, own] @ np.linalg.inv(part)
    explained = np.einsum("ij,jk,ik->i", follow, part, follow) / np.diag(covariance)
    for k in range(len(covariance) // 4):
        block = slice(4 * k, 4 * k + 4)
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
