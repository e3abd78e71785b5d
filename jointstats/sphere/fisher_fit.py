"""Does a set follow a Fisher distribution? Three questions, with p-values by simulation."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr

from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.sphere.axes import frame_about, frames_about, sorted_out
from jointstats.sphere.axial_fisher import draw_directed
from jointstats.sphere.fisher import KAPPA_CAP
from jointstats.sphere.resultant import means_of_many, resultant_of
from jointstats.sphere.verdict import Verdict
from jointstats.types import Array, ArrayLike, RandomState

_QUESTIONS = (
    ("fit to Fisher, colatitude", "the angles to the mean are those of a Fisher set"),
    ("fit to Fisher, longitude", "the set is round about its mean"),
    ("fit to Fisher, two-variable", "angles and directions about the mean are independent"),
)


class FisherFitVerdict(Verdict):
    """Result of `fisher_fit_test`: all three questions as one, and each by itself.

    Attributes
    ----------
    colatitude, longitude, two_variable : Verdict or None
        The three tests.

    Examples
    --------
    >>> fisher_fit_test(np.eye(3) + [0, 0, 5.0], draws=99).colatitude.n
    (3,)
    """

    colatitude: Verdict | None = None
    longitude: Verdict | None = None
    two_variable: Verdict | None = None

    def to_frame(self) -> pd.DataFrame:
        """The test as a whole and its three parts, one row each.

        Returns
        -------
        pandas.DataFrame
            Columns as `Verdict.to_frame`.

        Examples
        --------
        >>> len(fisher_fit_test(np.eye(3) + [0, 0, 5.0], draws=99).to_frame())
        4
        """
        parts = [super().to_frame()]
        for part in (self.colatitude, self.longitude, self.two_variable):
            parts += [part.to_frame()] if part is not None else []
        return pd.concat(parts, ignore_index=True)


def _largest_gap(values: Array) -> tuple[Array, Array]:
    """D⁺ and D⁻ between sorted probabilities and the uniform distribution, a row a set."""
    ordered = np.sort(values, axis=-1)
    n = values.shape[-1]
    above = (np.arange(1, n + 1) / n - ordered).max(axis=-1)
    below = (ordered - np.arange(n) / n).max(axis=-1)
    return above, below


def fit_statistics(drops: Array, along: NDArray[np.complex128], *, longest: bool = True) -> Array:
    """M_E, M_U and M_N of sets that lie about the mean.

    `drops` (b, n): 1 − cos of the angle to the mean, b sets of n; `along` (b, n): sine of that
    angle times e^(i longitude). Gives (3, b): the statistics, scaled as Fisher & Best (1984),
    Aust. J. Stat. 26: 142-150.
    """
    n = drops.shape[-1]
    root = np.sqrt(n)
    kappa = (n - 1) / np.maximum(drops.sum(axis=-1, keepdims=True), n / KAPPA_CAP)
    above, below = _largest_gap(-np.expm1(-kappa * drops))
    colatitude = (np.maximum(above, below) - 0.2 / n) * (root + 0.26 + 0.5 / root)
    above, below = _largest_gap(np.angle(along) / (2.0 * np.pi) % 1.0)
    longitude = (above + below) * (root - 0.467 + 1.623 / root)
    # The mean is turned onto the equator, the longest way of the set along it: a frame that
    # turns with the poles. cos, sin·cos ψ along the equator, sin·sin ψ as the height.
    turn = np.exp(-0.5j * np.angle((along**2).sum(axis=-1, keepdims=True)))
    turned = along * turn if longest else along
    east, up = turned.real, turned.imag
    azimuth = np.arctan2(east, 1.0 - drops)
    score = azimuth * np.sqrt(np.sqrt(np.clip(1.0 - up**2, 0.0, 1.0)))
    width = np.sqrt((score**2).mean(axis=-1, keepdims=True))
    above, below = _largest_gap(ndtr(score / np.maximum(width, 1e-12)))
    two_variable = np.maximum(above, below) * (root - 0.01 + 0.85 / root)
    return np.array([colatitude, longitude, two_variable])


def _about_mean(rows: Array, *, axial: bool) -> tuple[Array, NDArray[np.complex128]]:
    found = resultant_of(rows, np.ones(len(rows)), axial=axial)
    across = found.rows @ frame_about(found.mean)[:2].T
    return found.drops, across[:, 0] + 1j * across[:, 1]


def _simulated(
    n: int, kappa: float, draws: int, generator: np.random.Generator, *, axial: bool
) -> Array:
    found, up, block = [], np.array([0.0, 0.0, 1.0]), max(1, 100_000 // n)
    for at in range(0, draws, block):
        count = min(block, draws - at)
        rows = draw_directed(up, kappa, n * count, generator).reshape(count, n, 3)
        ends, means, _ = means_of_many(rows, up, axial=axial)
        across = np.einsum("bni,bji->bnj", ends, frames_about(means)[:, :2])
        drops = 0.5 * ((ends - means[:, np.newaxis]) ** 2).sum(axis=2)
        found.append(fit_statistics(drops, across[..., 0] + 1j * across[..., 1]))
    return np.hstack(found)


def _tails(pool: Array) -> Array:
    """Share of the pool at least as large as each of its values."""
    ordered = np.sort(pool)
    return 1.0 - np.searchsorted(ordered, pool * (1 - 1e-12), side="left") / len(pool)


def fisher_fit_test(
    poles: ArrayLike,
    *,
    axial: bool = True,
    draws: int = 499,
    random_state: RandomState = 0,
) -> FisherFitVerdict:
    """Test whether a set follows a Fisher distribution.

    Parameters
    ----------
    poles : array_like, shape (n, 3)
        Poles of one set, three or more.
    axial : bool
        Whether the rows are axes.
    draws : int
        Sets drawn from the fitted distribution, 99 or more.
    random_state : int, Generator or None
        Seed or source of random numbers.

    Returns
    -------
    FisherFitVerdict
        The smallest of three p-values (colatitude, longitude, two-variable) as the statistic,
        and its own p-value, which allows for the choice; the three tests by themselves. Poles
        without any spread have nothing to test: p is 1.

    Raises
    ------
    InputError
        If there are fewer than three poles, or `draws` is below 99.

    Notes
    -----
    Statistics of Fisher & Best (1984), Goodness-of-fit tests for Fisher's distribution on the
    sphere, Aust. J. Stat. 26: 142-150. Their p-values come from a parametric bootstrap, as the
    printed limits of the longitude test are too liberal for large n. The two-variable test takes
    the longest way of the set as its equator, so that it does not depend on the frame.

    Examples
    --------
    >>> from jointstats.sphere import AxialFisher
    >>> fisher_fit_test(AxialFisher([0, 0.6, -0.8], 30.0).rvs(40, random_state=0)).pvalue > 0.05
    True
    """
    rows, weights = sorted_out(poles, None, min_rows=3)
    if draws < 99:
        raise InputError(f"draws must be 99 or more; got {draws}")
    n = len(rows)
    found = resultant_of(rows, weights, axial=axial)
    drops, along = _about_mean(rows, axial=axial)
    observed = fit_statistics(drops[np.newaxis], along[np.newaxis])[:, 0]
    kappa = min(KAPPA_CAP, (n - 1) / max(found.shortfall, 1e-300))
    if kappa >= KAPPA_CAP:
        tails, overall = np.ones(3), 1.0
    else:
        generator = as_generator(random_state)
        reference = _simulated(n, kappa, draws, generator, axial=axial)
        # The set and its draws are ranked together, as any one of them might be the set.
        pooled = np.array([_tails(row) for row in np.column_stack([observed, reference])])
        tails = pooled[:, 0]
        # By the smallest of the three; equal ones, of which there are many, by the next.
        score = np.array([1.0, 1e-4, 1e-8]) @ np.sort(pooled, axis=0)
        overall = float((score <= score[0] * (1 + 1e-12)).mean())
    by, assumed = f"{draws} draws of the fitted distribution", "independent poles, equally weighted"
    parts = [
        Verdict(name, what, float(value), float(tail), (), (n,), by, assumed)
        for (name, what), value, tail in zip(_QUESTIONS, observed, tails, strict=True)
    ]
    name, what = "fit to Fisher", "the set follows a Fisher distribution"
    least = float(tails.min())
    return FisherFitVerdict(name, what, least, overall, (), (n,), by, assumed, *parts)
