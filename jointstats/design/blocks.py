"""Mean size of the blocks that sets of persistent planes cut out."""

from __future__ import annotations

from itertools import combinations_with_replacement
from math import factorial

import numpy as np

from jointstats.checks import as_generator, as_numbers, check_choice, check_count
from jointstats.design.estimates import of_rock
from jointstats.design.frequency import frequency_along
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.sphere.axes import as_axes, hemisphere_grid
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.types import ArrayLike, RandomState

#: Below this value of |n1 · (n2 × n3)| the three planes share a line, and no block closes.
_SMALLEST_DETERMINANT = 1e-9
_DIRECTIONS = 4000


def block_volume(spacings_m: ArrayLike, normals: ArrayLike) -> float:
    """Volume of the block that three sets of persistent planes cut out.

    Parameters
    ----------
    spacings_m : array_like, shape (3,)
        Normal spacing of each set, metres, above zero.
    normals : array_like, shape (3, 3)
        Mean pole of each set, either end.

    Returns
    -------
    float
        S1 S2 S3 / abs(n1 · (n2 × n3)), m³: the volume between three pairs of parallel planes.

    Raises
    ------
    InputError
        If there are not three of each, a spacing is not above zero, or the three normals lie in one
        plane, so that no block closes.

    Notes
    -----
    Geometry of one block of mean spacings. Three independent sets of unbounded parallel planes cut
    blocks of this mean volume whatever the law of their spacings; the median is far smaller.

    Examples
    --------
    >>> block_volume([1.0, 2.0, 0.5], [[1, 0, 0], [0, 1, 0], [0, 0, 1]])
    1.0
    """
    spacing = as_numbers(spacings_m, "spacings_m", low=0, open_end=True)
    axes = as_axes(normals, "normals")
    if len(spacing) != 3 or len(axes) != 3:
        raise InputError(
            f"a block needs three spacings and three normals; got {len(spacing)} and {len(axes)}"
        )
    determinant = abs(float(np.linalg.det(axes)))
    if determinant < _SMALLEST_DETERMINANT:
        raise InputError("the three normals lie in one plane, so the sets close no block")
    return float(spacing.prod() / determinant)


@of_rock(100)
def mean_block_volume(
    rock: Rock,
    *,
    by: str = "number",
    n_triples: int = 20_000,
    random_state: RandomState = 0,
) -> float | None:
    """Mean volume of the blocks between sets of unbounded planes.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
    by : {"number", "volume"}
        Each block counting once, or by its volume (the block that holds a random point).
    n_triples : int
        Triples of normals drawn for the mean over dispersed sets ("number"). With 20,000 its error is
        about half a percent; a tenth of them is enough for the many rocks of a result.
    random_state : int, Generator or None
        For those draws.

    Returns
    -------
    float or None
        m³; None where no three planes meet in a point. Of a result, or rocks: an `Estimate` of it.

    Raises
    ------
    InputError
        If an argument is out of range.

    Notes
    -----
    By number: as many blocks as points where three planes meet, per volume
    (1/6) Σ λ_i λ_j λ_k E abs(n_i · (n_j × n_k)) over all ordered triples of sets, independent of
    one another (Miles 1972 for the isotropic case, 48 / (π λ³); from memory). Three sets without
    dispersion: S1 S2 S3 / abs(n1 · (n2 × n3)). Dispersed planes of one set meet one another too, and
    cut off slivers that lower this mean.

    By volume, planes at random: a place at distance r along u is in the same block with the chance
    exp(−λ(u) r), λ(u) being the frequency along u; so the mean is 2 ∫ λ(u)⁻³ du over the sphere.

    Examples
    --------
    >>> isotropic = Rock((), background_per_m=2.0)
    >>> round(mean_block_volume(isotropic), 1)
    1.9
    >>> round(mean_block_volume(isotropic, by="volume"), 1)  # 8 π
    25.1
    """
    check_choice(by, "by", ("number", "volume"))
    if by == "volume":
        frequency = frequency_along(rock, hemisphere_grid(_DIRECTIONS))
        if frequency.min() <= 1e-6 * frequency.max():
            return None
        return float(8.0 * np.pi * (frequency**-3.0).mean())
    rng, size = as_generator(random_state), check_count(n_triples, "n_triples", 1)
    intensities = [*rock.intensities, rock.background_per_m]
    draws = [density.sample for density in rock.densities] + [AxialFisher([0, 0, 1], 0.0).rvs]
    density = 0.0
    for triple in combinations_with_replacement(range(len(draws)), 3):
        rate = float(np.prod([intensities[k] for k in triple]))
        if rate == 0:
            continue
        first, second, third = (draws[k](size, rng) for k in triple)
        corner = np.abs((first * np.cross(second, third)).sum(axis=1)).mean()
        repeats = np.prod([factorial(triple.count(k)) for k in set(triple)])
        density += rate * float(corner) / float(repeats)
    # Below this no three planes meet but by rounding.
    return 1.0 / density if density > 1e-12 * max(intensities) ** 3 else None
