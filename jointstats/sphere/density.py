"""Density of poles on the lower hemisphere: a kernel estimate in multiples of uniform."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from jointstats.checks import as_generator, check_count
from jointstats.errors import InputError
from jointstats.results import Result
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axes import (
    as_axes,
    lower_hemisphere,
    principal_axes,
    sorted_out,
    uniform_axes,
)
from jointstats.sphere.axial_fisher import check_kappa
from jointstats.sphere.cones import effective_size
from jointstats.sphere.kernel_sum import KernelSum, kernel_sum
from jointstats.types import Array, ArrayLike, RandomState

#: Concentrations of the kernel among which the data choose: standard deviations of 40° and 1.8°.
KERNEL_KAPPA_RANGE = (2.0, 1000.0)
_CHOOSE_FROM = 800
_PEAKS_AT_MOST = 50
#: Uniform sets larger than this are stood for by sets of this size, their ups and downs scaled.
_AT_MOST = 600


class PoleDensity(Result):
    """Density of poles on a square grid in equal-area projection.

    Attributes
    ----------
    x, y : ndarray, shape (g,)
        Grid lines, east and north, −1 to 1; the horizon is the circle of radius 1. Grid nodes
        outside it stand for the other ends of axes inside, so the grid has no gaps.
    values : ndarray, shape (g, g)
        Density in multiples of a uniform one; rows go with `y`, columns with `x`.
    kappa : float
        Concentration of the kernel.
    n : int
        Number of poles with a weight above zero.
    n_effective : float
        Effective number, (Σw)² / Σw².
    peaks : ndarray, shape (p, 3)
        Poles of the local maxima above a uniform density, highest first, 50 at most.
    peak_values : ndarray, shape (p,)
        Density at the peaks.

    Examples
    --------
    >>> density = pole_density([[0, 0, -1.0]], kappa=100.0)
    >>> density.peaks.round(3) + 0.0, density.peak_values.round(3)
    (array([[ 0.,  0., -1.]]), array([100.]))
    """

    _SHORT = "n={n}, kernel kappa={kappa:.1f}, {n_peaks} peaks, highest {highest:.1f} times uniform"

    x: Array
    y: Array
    values: Array
    kappa: float
    n: int
    n_effective: float
    peaks: Array
    peak_values: Array
    source: KernelSum

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Which grid nodes lie on the lower hemisphere, shape (g, g)."""
        return self.x[np.newaxis, :] ** 2 + self.y[:, np.newaxis] ** 2 <= 1.0 + 1e-12

    def at(self, poles: ArrayLike) -> Array:
        """Density at any poles.

        Parameters
        ----------
        poles : array_like, shape (m, 3)
            Axes, either end.

        Returns
        -------
        ndarray, shape (m,)
            Multiples of a uniform density.

        Examples
        --------
        >>> pole_density([[0, 0, -1.0]], kappa=0.0).at([[1.0, 0, 0]])
        array([1.])
        """
        return self.source.at(as_axes(poles))

    def _row(self) -> dict[str, object]:
        highest = max(1.0, *self.peak_values) if len(self.peaks) else 1.0
        return super()._row() | {"n_peaks": len(self.peaks), "highest": highest}

    def to_frame(self) -> pd.DataFrame:
        """The peaks, highest first: density (times uniform), dip_deg, dip_direction_deg."""
        dip, direction = dip_from_poles(self.peaks)
        columns = {"density": self.peak_values, "dip_deg": dip, "dip_direction_deg": direction}
        return pd.DataFrame(columns)


def pole_density(
    poles: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    kappa: float | None = None,
    grid_size: int = 101,
) -> PoleDensity:
    """Density of poles, smoothed by an axial Fisher kernel.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Axes, either end.
    weights : array_like, shape (n,), or None
        Weights, zero or more.
    kappa : float or None
        Concentration of the kernel, zero or more. None: chosen from the data, within
        `KERNEL_KAPPA_RANGE`, so that each pole is best foretold by the others.
    grid_size : int
        Grid lines each way, 5 or more.

    Returns
    -------
    PoleDensity
        Exact for up to 1,000 poles; for more, the error is below 2e-5 of the value of the kernel
        at its centre. A peak narrower than the grid's spacing can be missed.

    Raises
    ------
    InputError
        If there is no pole with a weight above zero, the arrays are not axes and weights,
        `kappa` is not one number, finite and not negative, or `grid_size` is below 5.

    Notes
    -----
    Kernel estimates on the sphere, their width by cross-validated likelihood: Hall, Watson &
    Cabrera (1987), Kernel density estimation with spherical data, Biometrika 74: 751-762 (from
    memory). One part in a hundred of a uniform density is mixed in, so that a lone pole does not
    widen the kernel for all. Above 800 poles the width is chosen on 800 of them, and narrowed by
    the cube root of the ratio.

    Examples
    --------
    >>> from jointstats.sphere import AxialFisher
    >>> density = pole_density(AxialFisher([0, 0.6, -0.8], 40.0).rvs(400, random_state=0))
    >>> density.to_frame().round(0).head(1)
       density  dip_deg  dip_direction_deg
    0     31.0     37.0              177.0
    """
    rows, values = sorted_out(poles, weights)
    check_count(grid_size, "grid_size", 5)
    if kappa is None:
        chosen = _choose_kappa(rows, values)
    elif np.ndim(kappa) == 0:
        chosen = float(check_kappa(kappa))
    else:
        raise InputError(f"kappa must be one number; got {kappa!r}")
    source = kernel_sum(rows, values, chosen)
    lines = np.linspace(-1.0, 1.0, int(grid_size))
    points = grid_axes(lines)
    grid = source.at(points.reshape(-1, 3)).reshape(len(lines), len(lines))
    peaks, heights = _peaks(grid, points, source)
    return PoleDensity(
        x=lines,
        y=lines.copy(),
        values=grid,
        kappa=chosen,
        n=len(rows),
        n_effective=effective_size(values),
        peaks=peaks,
        peak_values=heights,
        source=source,
    )


def grid_axes(lines: Array) -> Array:
    """Axes at the nodes of a square grid in equal-area projection of the lower hemisphere.

    `lines` (g,): coordinates, −1 to 1. Gives (g, g, 3): unit vectors; beyond the horizon they
    point up.
    """
    x, y = np.meshgrid(lines, lines)
    # Lambert's projection: r² = 1 + z, and the level part is r √(2 − r²).
    squared = x**2 + y**2
    level = np.sqrt(np.clip(2.0 - squared, 0.0, None))
    return np.stack([x * level, y * level, squared - 1.0], axis=-1)


def _choose_kappa(rows: Array, weights: Array) -> float:
    n = len(rows)
    if n < 2:
        return 100.0
    if n > _CHOOSE_FROM:
        # Every k-th along the first axis of the tensor: the same poles in whatever order or
        # frame they come.
        first = principal_axes(rows, weights)[1][0]
        ranked = np.argsort(np.abs(rows @ first), kind="stable")
        keep = ranked[np.linspace(0, n - 1, _CHOOSE_FROM).round().astype(int)]
        rows, weights = rows[keep], weights[keep]
    along = np.abs(rows @ rows.T)
    share = weights / weights.sum()
    others = np.maximum(1.0 - share, 1e-12)

    def loss(log_kappa: float) -> float:
        k = np.exp(log_kappa)
        kernel = k * (np.exp(k * (along - 1)) + np.exp(-k * (along + 1))) / -np.expm1(-2 * k)
        np.fill_diagonal(kernel, 0.0)
        return -float(share @ np.log(0.99 * (kernel @ share) / others + 0.01))

    low, high = np.log(KERNEL_KAPPA_RANGE)
    starts = np.linspace(low, high, 8)
    best = int(np.argmin([loss(at) for at in starts]))
    span = (starts[max(0, best - 1)], starts[min(7, best + 1)])
    found = minimize_scalar(loss, bounds=span, method="bounded", options={"xatol": 0.02})
    return float(min(KERNEL_KAPPA_RANGE[1], np.exp(found.x) * np.cbrt(n / len(rows))))


def _peaks(grid: Array, points: Array, source: KernelSum) -> tuple[Array, Array]:
    """Local maxima of the grid above uniform, moved to the top of their hills."""
    inner = grid[1:-1, 1:-1]
    top = inner > 1.0 + 1e-6
    for i in range(3):
        for j in range(3):
            if (i, j) != (1, 1):
                size = grid.shape[0] - 2
                top &= inner >= grid[i : i + size, j : j + size]
    found, heights = points[1:-1, 1:-1][top], inner[top]
    found = found[np.argsort(-heights, kind="stable")][:_PEAKS_AT_MOST]
    found = np.array([source.uphill(axis) for axis in found]).reshape(-1, 3)
    heights = source.at(found)
    order = np.argsort(-heights, kind="stable")
    kept: list[int] = []
    for at in order:
        # Two ends of one hill, cut by the horizon, are one peak.
        if all(abs(found[at] @ found[other]) < np.cos(np.radians(0.5)) for other in kept):
            kept.append(int(at))
    axes = lower_hemisphere(found[kept]) if kept else np.zeros((0, 3))
    return axes, heights[kept]


def peak_pvalues(
    density: PoleDensity,
    *,
    draws: int = 199,
    random_state: RandomState = 0,
) -> Array:
    """Chance that uniform poles have a peak as high as each peak of a density.

    Parameters
    ----------
    density : PoleDensity
        A density; its kernel and effective number of poles are used.
    draws : int
        Sets of uniform poles, 99 or more.
    random_state : int, Generator or None
        Seed or source of random numbers.

    Returns
    -------
    ndarray, shape (p,)
        One for each of `density.peaks`: the share of uniform sets whose highest peak is as high.

    Raises
    ------
    InputError
        If `draws` is below 99.

    Notes
    -----
    A Monte Carlo test. Poles must be a fair sample: a single hole makes even uniform fractures
    peak about itself. Weighted poles are stood for by n_effective equal ones. More than 600 are
    stood for by 600 whose deviations from uniform are scaled by the root of the ratio, which is
    on the safe side where the kernel is narrow.

    Examples
    --------
    >>> from jointstats.sphere import AxialFisher
    >>> from jointstats import pole_density
    >>> density = pole_density(AxialFisher([0, 0, -1.0], 40.0).rvs(50, random_state=0))
    >>> float(peak_pvalues(density)[0])
    0.005
    """
    check_count(draws, "draws", 99)
    generator = as_generator(random_state)
    size = max(1, round(density.n_effective))
    drawn = min(size, _AT_MOST)
    highest = np.empty(draws)
    for at in range(draws):
        rows = uniform_axes(generator, drawn)
        source = kernel_sum(rows, np.ones(drawn), density.kappa)
        start = rows[int(np.argmax(source.at(rows)))]
        highest[at] = source.at(source.uphill(start)[np.newaxis])[0]
    highest = 1.0 + (highest - 1.0) * np.sqrt(drawn / size)
    beyond = (highest[np.newaxis, :] >= density.peak_values[:, np.newaxis] * (1 - 1e-9)).sum(axis=1)
    return (beyond + 1.0) / (draws + 1.0)
