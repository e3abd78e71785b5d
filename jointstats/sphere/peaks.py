"""Could a peak of the density of poles have come about by chance?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.errors import InputError
from jointstats.sphere.density import PoleDensity
from jointstats.sphere.kernel_sum import kernel_sum

__all__ = ["peak_pvalues"]

Array = NDArray[np.float64]

#: Uniform sets larger than this are stood for by sets of this size, their ups and downs scaled.
_AT_MOST = 600


def peak_pvalues(
    density: PoleDensity,
    *,
    draws: int = 199,
    random_state: int | np.random.Generator | None = 0,
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
    if draws < 99:
        raise InputError(f"draws must be 99 or more; got {draws}")
    generator = np.random.default_rng(random_state)
    size = max(1, round(density.n_effective))
    drawn = min(size, _AT_MOST)
    highest = np.empty(draws)
    for at in range(draws):
        rows = generator.standard_normal((drawn, 3))
        rows /= np.linalg.norm(rows, axis=1, keepdims=True)
        source = kernel_sum(rows, np.ones(drawn), density.kappa)
        start = rows[int(np.argmax(source.at(rows)))]
        highest[at] = source.at(source.uphill(start)[np.newaxis])[0]
    highest = 1.0 + (highest - 1.0) * np.sqrt(drawn / size)
    beyond = (highest[np.newaxis, :] >= density.peak_values[:, np.newaxis] * (1 - 1e-9)).sum(axis=1)
    return (beyond + 1.0) / (draws + 1.0)
