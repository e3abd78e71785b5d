"""Parameters of sets that may be elliptical, their densities, and the likelihood with its slopes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.likelihood import (
    Closed,
    Exposure,
    SetParameters,
    component_log_densities,
    log_likelihood,
    log_uniform_density,
)
from jointstats.sphere.axes import frames_about, lower_hemisphere
from jointstats.sphere.elliptical import moments, unchecked_log_density

__all__ = [
    "Data",
    "EllipticalSets",
    "Slopes",
    "as_elliptical",
    "in_plain_form",
    "log_densities",
    "log_likelihood_of",
    "slopes_of",
]

Array = NDArray[np.float64]


class EllipticalSets(NamedTuple):
    """Parameters of K sets, round where β is zero, and of the background."""

    frames: Array  # (K, 3, 3) rows mean, long axis, short axis: a right-handed frame
    kappas: Array  # (K,)
    betas: Array  # (K,)
    intensities: Array  # (K,)
    background: float

    @property
    def means(self) -> Array:
        """Mean poles, (K, 3)."""
        return self.frames[:, 0]

    def take(self, keep: NDArray[np.intp] | list[int]) -> EllipticalSets:
        """The same with only the sets named, in the order named."""
        return EllipticalSets(
            self.frames[keep],
            self.kappas[keep],
            self.betas[keep],
            self.intensities[keep],
            self.background,
        )

    def as_round(self) -> SetParameters:
        """The same sets with their ellipticity left out."""
        return SetParameters(self.means, self.kappas, self.intensities, self.background)


def as_elliptical(parameters: SetParameters | EllipticalSets) -> EllipticalSets:
    """Round sets as elliptical ones of no ellipticity; others as they are."""
    if isinstance(parameters, EllipticalSets):
        return parameters
    means, kappas, intensities, background = parameters
    frames = frames_about(means)[:, [2, 0, 1]]
    return EllipticalSets(frames, kappas, np.zeros(len(kappas)), intensities, background)


def in_plain_form(sets: EllipticalSets) -> EllipticalSets:
    """The same sets with means and long axes on the lower hemisphere."""
    frames = sets.frames.copy()
    for frame in frames:
        frame[:2] = lower_hemisphere(frame[:2])
        frame[2] = np.cross(frame[0], frame[1])
    return sets._replace(frames=frames)


def log_densities(
    rows: Array, parameters: SetParameters | EllipticalSets, closed: Closed = None
) -> Array:
    """Log of λ f of each component at each row, the background last, whatever the sets' shape.

    Parameters
    ----------
    rows : ndarray, shape (n, p)
        Unit rows; p = 3 for elliptical sets.
    parameters : SetParameters or EllipticalSets
    closed : ndarray of bool, shape (n, G), or None
        Rows that may not join each of the first G sets.

    Returns
    -------
    ndarray, shape (n, K + 1)
    """
    if not isinstance(parameters, EllipticalSets):
        return component_log_densities(rows, parameters, closed)
    frames, kappas, betas, intensities, background = parameters
    values = np.empty((len(rows), len(kappas) + 1))
    with np.errstate(divide="ignore"):  # an intensity of zero is a component that is not there
        scale = np.log(intensities)
        values[:, -1] = np.log(background) + log_uniform_density(3)
    for k, frame in enumerate(frames):
        one = unchecked_log_density(rows, frame, float(kappas[k]), float(betas[k]))
        values[:, k] = one + scale[k]
    if closed is not None:
        values[:, : closed.shape[1]][closed] = -np.inf
    return values


def log_likelihood_of(
    rows: Array, weights: Array, parameters: SetParameters | EllipticalSets, exposure: Exposure | None
) -> float:
    """Poisson-process log likelihood of the rows, whatever the sets' shape.

    Parameters
    ----------
    rows : ndarray, shape (n, p)
        Unit rows.
    weights : ndarray, shape (n,)
    parameters : SetParameters or EllipticalSets
    exposure : Exposure or None

    Returns
    -------
    float
    """
    if not isinstance(parameters, EllipticalSets):
        return log_likelihood(rows, weights, parameters, exposure)
    return slopes_of(Data(rows, weights, exposure), parameters).log_likelihood


class Data(NamedTuple):
    """The fractures of a fit, how they were sampled, and the rules of the fit."""

    rows: Array  # (n, 3) unit rows
    weights: Array  # (n,)
    exposure: Exposure | None
    closed: Closed = None  # (n, G) rows that may not join each of the first G sets
    held: NDArray[np.bool_] | None = None  # (G,) which of them keep their mean
    kappa_bounds: tuple[float, float] = (4.0, 1000.0)

    @property
    def total(self) -> float:
        """Weighted number of fractures."""
        return float(self.weights.sum())


class Slopes(NamedTuple):
    """Log likelihood and its slopes by the plain parameters of each set.

    A set's density is cosh(v·n) exp(nᵀ B n) / C with v = κ γ1 and B = β (γ2 γ2ᵀ − γ3 γ3ᵀ).
    """

    log_likelihood: float
    counts: Array  # (K + 1,) expected number of fractures in each component, background last
    by_vector: Array  # (K, 3) by v
    by_matrix: Array  # (K, 3, 3) by B
    by_log_intensity: Array  # (K + 1,)


def slopes_of(data: Data, sets: EllipticalSets) -> Slopes:
    """Log likelihood of sets and background, with exact slopes.

    Parameters
    ----------
    data : Data
    sets : EllipticalSets

    Returns
    -------
    Slopes
    """
    logs = log_densities(data.rows, sets, data.closed)
    total = np.logaddexp.reduce(logs, axis=1)
    shares = np.exp(logs - total[:, np.newaxis]) * data.weights[:, np.newaxis]
    counts = shares.sum(axis=0)
    size = len(sets.kappas)
    expected, by_vector, by_matrix = np.empty(size + 1), np.empty((size, 3)), np.empty((size, 3, 3))
    seen = 1.0 if data.exposure is None else data.exposure.of_uniform()
    expected[-1] = sets.background * seen
    for k in range(size):
        frame, kappa, beta = sets.frames[k], float(sets.kappas[k]), float(sets.betas[k])
        whole = moments(frame, kappa, beta)
        met = whole if data.exposure is None else moments(frame, kappa, beta, data.exposure)
        expected[k] = sets.intensities[k] * met.met
        bend = np.tanh(kappa * (data.rows @ frame[0]))
        found = (shares[:, k] * bend) @ data.rows
        # Σ r ∂log f less the slope of λE, with E = (integral over what is seen) / C.
        rest = counts[k] - expected[k]
        by_vector[k] = found - expected[k] * met.first - rest * whole.first
        spread = (data.rows * shares[:, k, np.newaxis]).T @ data.rows
        by_matrix[k] = spread - expected[k] * met.second - rest * whole.second
    value = float(data.weights @ total) - float(expected.sum())
    return Slopes(value, counts, by_vector, by_matrix, counts - expected)
