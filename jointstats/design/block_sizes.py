"""Sizes and shapes of the blocks between three or more sets, by simulation."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.spatial import ConvexHull, HalfspaceIntersection, QhullError

from jointstats.checks import (
    as_generator,
    as_numbers,
    as_seed,
    check_choice,
    check_number,
)
from jointstats.design.blocks import mean_block_volume
from jointstats.design.estimates import Estimate, centre_of, estimate
from jointstats.errors import InputError, JointStatsWarning
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import HasRocks, Rocks
from jointstats.line.spacing_fits import SpacingFit
from jointstats.line.spacing_laws import LAWS
from jointstats.results import Result
from jointstats.sphere.axes import align_axes
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.types import Array, ArrayLike, Interval, RandomState

#: A dimension is "considerably" larger or smaller from this ratio on: a choice of this package, as
#: the ISRM gives no number.
SHAPE_RATIO = 3.0
#: Planes are drawn out to this many spacings of the sparsest set; what has not closed by then is open.
_REACH = 40.0
_FIRST = 40  # nearest planes tried first
_NEAR = 20.0  # over the total P32: how far planes are drawn first
_FEW_ROCKS, _FEWEST_POINTS = 40, 50
#: Shares of the rock whose block volumes are told.
SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)


def block_shape(dimensions_m: ArrayLike) -> str:
    """Shape class of a block from its three dimensions.

    Parameters
    ----------
    dimensions_m : array_like, shape (3,)
        Any order, above zero; for mean blocks the three mean spacings.

    Returns
    -------
    str
        "tabular" (one dimension considerably smaller than the other two), "columnar" (one
        considerably larger) or "blocky" (neither). Considerably is a factor of three here.

    Raises
    ------
    InputError
        If there are not three dimensions above zero.

    References
    ----------
    ISRM (1978), Suggested methods for the quantitative description of discontinuities in rock
    masses: the words (from memory); the factor is a choice of this package.

    Examples
    --------
    >>> block_shape([1, 1, 1.5]), block_shape([0.2, 1, 1.2]), block_shape([0.3, 0.3, 2])
    ('blocky', 'tabular', 'columnar')
    """
    dimensions = as_numbers(dimensions_m, "dimensions_m", low=0, open_end=True)
    if len(dimensions) != 3:
        raise InputError(f"a block has three dimensions; got {len(dimensions)}")
    small, middle, large = np.sort(dimensions)
    flat, long = middle / small, large / middle
    if max(flat, long) < SHAPE_RATIO:
        return "blocky"
    return "tabular" if flat >= long else "columnar"


class BlockSizes(Result):
    """Blocks met at random points of the rock.

    Attributes
    ----------
    volumes_m3 : ndarray, shape (n,)
        Volume of the block that holds each random point. A point falls in a block in proportion
        to its volume, so plain shares of these are shares of the rock.
    dimensions_m : ndarray, shape (n, 3)
        Extent of each along its own principal axes, falling.
    shapes : tuple of str
        Class of each, as by `block_shape`.
    mean_m3 : float or None
        Mean volume of a block, each counting once, as by `mean_block_volume`; None where no three
        planes meet in a point.
    open_share : float
        Share of the points whose block did not close within forty spacings of the sparsest
        set; these are left out.
    volume_by_rock_m3 : Estimate or None
        Of a result: the volumes that 5, 25, 50, 75 and 95 % of the rock lie below, with the interval
        that the investigation leaves them.

    Examples
    --------
    >>> import jointstats as js
    >>> cube = Rock.of_round(np.eye(3), np.full(3, 1e5), np.ones(3))
    >>> js.design.simulate_blocks(cube, 50, random_state=1).open_share
    0.0
    """

    _SHORT = "{n} points; half of the rock in blocks below {median_m3:.3g} m³"
    _COLUMNS = ("n", "mean_m3", "median_m3", "open_share")

    volumes_m3: Array
    dimensions_m: Array
    shapes: tuple[str, ...]
    mean_m3: float | None
    open_share: float
    volume_by_rock_m3: Estimate | None = None

    @property
    def n(self) -> int:
        """Number of points whose block closed."""
        return len(self.volumes_m3)

    @property
    def median_m3(self) -> float | None:
        """Volume that half of the rock lies below."""
        return self.quantile(0.5)

    def quantile(self, share: float, *, by: str = "volume") -> float | None:
        """Volume that a share of the rock (by "volume") or of the blocks ("number") lies below."""
        if not 0 <= share <= 1:
            raise InputError(f"share must lie between 0 and 1; got {share}")
        check_choice(by, "by", ("volume", "number"))
        if not self.n:
            return None
        volumes = np.sort(self.volumes_m3)
        weights = np.ones(self.n) if by == "volume" else 1.0 / volumes
        below = np.cumsum(weights) - 0.5 * weights
        return float(np.interp(share, below / weights.sum(), volumes))

    @property
    def shape_shares(self) -> dict[str, float]:
        """Share of the rock in blocks of each shape."""
        return {
            shape: self.shapes.count(shape) / max(self.n, 1)
            for shape in ("blocky", "tabular", "columnar")
        }

    def to_frame(self) -> pd.DataFrame:
        """Quantiles of the volume, by share of the rock and of the blocks."""
        table = pd.DataFrame(
            {
                "share": SHARES,
                "volume_m3_by_volume": [self.quantile(one) for one in SHARES],
                "volume_m3_by_number": [self.quantile(one, by="number") for one in SHARES],
            }
        )
        if self.volume_by_rock_m3 is None:
            return table
        low, high = self.volume_by_rock_m3.interval
        return table.assign(volume_low_m3_by_volume=low, volume_high_m3_by_volume=high)


def _distances(
    mean: float, law: SpacingFit | None, within: Interval, rng: np.random.Generator
) -> Array:
    """Signed distances of the planes of a set from a random point; a law needs all from zero on."""
    inner, reach = within
    if law is None:
        number = rng.poisson(2.0 * (reach - inner) / mean)
        return rng.uniform(inner, reach, number) * rng.choice([-1.0, 1.0], number)
    family = LAWS[law.law]
    # The law's shape with the mean that P32 asks for; the point lies in a spacing in proportion to
    # its length, at a uniform place in it.
    p = np.array(list(law.parameters.values()))
    p[0] *= mean / family.mean(p)
    steps = int(2.0 * reach / mean) + 10
    around = family.draw_at_a_point(p, 1, rng)[0]
    ahead = around * rng.random()
    up = ahead + np.concatenate([[0.0], np.cumsum(family.draw(p, steps, rng))])
    down = ahead - around - np.concatenate([[0.0], np.cumsum(family.draw(p, steps, rng))])
    return np.concatenate([down[down > -reach], up[up < reach]])


def _planes(
    rock: Rock,
    laws: Sequence[SpacingFit | None],
    rng: np.random.Generator,
    within: Interval,
) -> Array:
    """Half-spaces (n, −p) that hold the origin, one a plane between two distances, n · x ≤ p."""
    rows = []
    for (density, p32), law in zip(rock.sets, laws, strict=True):
        at = _distances(1.0 / p32, law, within, rng)
        poles = density.sample(len(at), rng)
        # All on the mean's side, so that the distances keep their order along it; a girdle has none.
        one_side = poles if density.mean is None else align_axes(poles, density.mean)
        rows.append((one_side, at))
    if rock.background_per_m > 0:
        at = _distances(1.0 / rock.background_per_m, None, within, rng)
        rows.append((AxialFisher([0, 0, 1], 0.0).rvs(len(at), rng), at))
    normals = np.vstack([row[0] for row in rows])
    at = np.concatenate([row[1] for row in rows])
    normals = np.where(at[:, np.newaxis] < 0, -normals, normals)
    return np.column_stack([normals, -np.maximum(np.abs(at), 1e-12)])


def _block(planes: Array, reach: float) -> tuple[float, Array] | None:
    """Volume and extents of the block about the origin, or None if it does not close.

    The nearest planes are tried first: once every corner lies nearer than the next plane, no plane
    further out can cut the block.
    """
    ordered = planes[np.argsort(-planes[:, 3], kind="stable")]
    next_at = np.append(-ordered[:, 3], reach)
    walls = np.column_stack([np.vstack([np.eye(3), -np.eye(3)]), np.full(6, -2.0 * reach)])
    used = min(_FIRST, len(ordered))
    try:
        while True:
            half_spaces = np.vstack([ordered[:used], walls])
            corners = HalfspaceIntersection(half_spaces, np.zeros(3)).intersections
            if np.linalg.norm(corners, axis=1).max() <= next_at[used]:
                break
            if used == len(ordered):
                return None
            used = min(2 * used, len(ordered))
        volume = ConvexHull(corners).volume
    except QhullError:
        return None  # a plane passes through the point to rounding, so no block holds it
    centred = corners - corners.mean(axis=0)
    axes = np.linalg.eigh(centred.T @ centred)[1]
    return float(volume), np.sort(np.ptp(centred @ axes, axis=0))[::-1]


def _block_at(
    rock: Rock, laws: Sequence[SpacingFit | None], rng: np.random.Generator, reach: float
) -> tuple[float, Array] | None:
    """The block about one point; planes further out are drawn only where the near ones leave it open."""
    total = float(rock.intensities.sum()) + rock.background_per_m
    near = reach if any(laws) else min(reach, _NEAR / total)
    planes = _planes(rock, laws, rng, (0.0, near))
    found = _block(planes, near)
    if found is None and near < reach:
        planes = np.vstack([planes, _planes(rock, laws, rng, (near, reach))])
        found = _block(planes, reach)
    return found


def simulate_blocks(
    rock: Rock | HasRocks | Rocks,
    n_points: int = 1000,
    *,
    laws: Sequence[SpacingFit | None] | None = None,
    random_state: RandomState = 0,
) -> BlockSizes:
    """Volumes and shapes of the blocks that the sets cut out, at random points of the rock.

    About each point planes of every set are drawn: at distances with the mean spacing 1 / P32 and
    the law of spacing, with normals from the set's density. The block is the
    intersection of their half-spaces, exactly.

    Parameters
    ----------
    rock : Rock, SiteAnalysis or Rocks
        Three sets or more (or fewer with a background) whose planes close blocks. A result has 40
        drawn rocks asked too, at a tenth of the points each (50 at least).
    n_points : int
        Points; a few milliseconds each.
    laws : sequence of SpacingFit or None, one a set; or None
        Law of spacing of each set from `fit_spacings`: its shape is used, with the mean 1 / P32.
        None: planes at random (exponential).
    random_state : int, Generator or None

    Returns
    -------
    BlockSizes

    Raises
    ------
    InputError
        If there is no set or background, an argument is out of range, or laws do not match sets.

    Warns
    -----
    JointStatsWarning
        Where more than a twentieth of the points lie in blocks that do not close within
        forty spacings of the sparsest set: the volumes given are then those of the smaller blocks only.

    Notes
    -----
    Every fracture is taken to cut right through. Fractures of limited size leave larger blocks, so
    the volumes are lower bounds. With dispersion and a law other than exponential the spacing holds
    along each plane's own normal from the point.

    Examples
    --------
    Three square sets a metre apart: a block is 1 m³ on average, and a random point finds one eight
    times as large:

    >>> cube = Rock.of_round(np.eye(3), np.full(3, 1e5), np.ones(3))
    >>> blocks = simulate_blocks(cube, 400, random_state=2)
    >>> bool(6.5 < blocks.volumes_m3.mean() < 9.5)
    True
    """
    if isinstance(rock, Rock):
        rng = as_generator(random_state)
        found = _simulated(rock, n_points, laws, rng)
        return replace(found, mean_m3=mean_block_volume(rock, random_state=rng))
    seed, fewer = as_seed(random_state), max(int(n_points) // 10, _FEWEST_POINTS)
    found = simulate_blocks(centre_of(rock), n_points, laws=laws, random_state=as_generator(seed))

    def volumes(one: Rock) -> Array | None:
        # The laws are of the sets of the first reading.
        own = laws if laws is None or len(laws) == len(one.sets) else None
        blocks = _simulated(one, fewer, own, as_generator(seed))
        return np.array([blocks.quantile(share) for share in SHARES]) if blocks.n else None

    return replace(found, volume_by_rock_m3=estimate(volumes, rock, n_rocks=_FEW_ROCKS))


def _simulated(
    rock: Rock,
    n_points: int,
    laws: Sequence[SpacingFit | None] | None,
    rng: np.random.Generator,
) -> BlockSizes:
    """Blocks at random points of one rock, without their mean by number."""
    number = check_number(n_points, "n_points", low=1)
    chosen = list(laws) if laws is not None else [None] * len(rock.sets)
    if len(chosen) != len(rock.sets):
        raise InputError(f"laws must have one entry a set ({len(rock.sets)}); got {len(chosen)}")
    if not rock.sets and rock.background_per_m == 0:
        raise InputError("the rock has no set and no background, so nothing cuts a block")
    for k, one in enumerate(rock.sets):
        check_number(one.p32_per_m, f"p32_per_m of set {k}", low=0, open_end=True)
    intensities = [value for value in (*rock.intensities, rock.background_per_m) if value > 0]
    reach = _REACH / min(intensities)
    found = [_block_at(rock, chosen, rng, reach) for _ in range(int(number))]
    closed = [one for one in found if one is not None]
    open_share = 1.0 - len(closed) / len(found)
    if open_share > 0.05:
        warnings.warn(
            f"{100 * open_share:.0f} % of the points lie in blocks that do not close within "
            f"{reach:.3g} m; the sets may leave blocks open, and the volumes are of the rest",
            JointStatsWarning,
            stacklevel=3,
        )
    dimensions = np.array([one[1] for one in closed]).reshape(-1, 3)
    return BlockSizes(
        np.array([one[0] for one in closed]),
        dimensions,
        tuple(block_shape(row) for row in dimensions),
        None,
        open_share,
    )
