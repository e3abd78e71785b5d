"""Fractures in space: discs of a rock in a box, and what a line drilled through them meets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import POLE_COLUMNS, Fractures
from jointstats.borehole.hole import PLACE_COLUMNS
from jointstats.checks import as_generator, check_number, real_array
from jointstats.errors import InputError
from jointstats.fit.rock import Rock
from jointstats.fit.rocks import NamedRock
from jointstats.sphere.angles import dip_from_poles, turn_in_azimuth
from jointstats.sphere.axes import lower_hemisphere
from jointstats.types import Array, ArrayLike, RandomState

if TYPE_CHECKING:
    from jointstats.borehole.sampling import Sampling
    from jointstats.borehole.site import Site

__all__ = ["drill", "realise"]

#: What discs of no set are called.
RANDOM = "random"
#: Radii drawn of a law, which stand for it from there on; most discs of a realisation.
_RADII, _MOST = 2**14, 3_000_000
#: A hole is taken as straight between depths this far apart, m.
_STEP_M = 1.0
_PAIRS_AT_ONCE = 4_000_000
#: A crossing this near to a logged depth, m, is the logged one; times a disc of the logs is drawn.
_AT_M, _TRIES = 1e-6, 50
CAUTION = (
    "One possible arrangement, not a forecast: discs of a size that was stated and not measured, even in "
    "space. A slope or foundation is not to be judged by one realisation; local codes and licensed practice "
    "decide."
)


class SizeLaw(Protocol):
    """A distribution of radii, such as a frozen one of scipy.stats."""

    def rvs(self, *, size: int, random_state: np.random.Generator) -> Array:
        """Radii, metres."""


class HasName(Protocol):
    """A set with its name."""

    @property
    def name(self) -> str: ...


class HasLogs(Protocol):
    """A result with its fitted rock, its fractures and what was sampled."""

    @property
    def site(self) -> Site: ...
    @property
    def rock(self) -> Rock: ...
    @property
    def sets(self) -> Sequence[HasName]: ...
    @property
    def fractures(self) -> pd.DataFrame: ...
    @property
    def sampling(self) -> Sampling: ...


class _Pieces(NamedTuple):
    """Straight pieces of the logged lengths of all holes."""

    starts: Array  # (m, 3)
    ends: Array  # (m, 3)
    from_m: Array  # (m,) along the hole
    to_m: Array  # (m,)
    seen: Array  # (m,) share of the fractures that the log has
    hole: NDArray[np.object_]  # (m,)


class _Discs(NamedTuple):
    centres: Array  # (n, 3)
    poles: Array  # (n, 3)
    radii: Array  # (n,)
    number: NDArray[np.intp]  # of the set; that of the random fractures last

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> _Discs:
        return _Discs._make(one[rows] for one in self)


def realise(
    rock: Rock | HasLogs,
    box: ArrayLike,
    *,
    radius_m: float | SizeLaw,
    conditioned: bool = False,
    random_state: RandomState = 0,
) -> pd.DataFrame:
    """Discs in a box, drawn from a rock: a Boolean model of its P32 and orientations.

    Parameters
    ----------
    rock : Rock or SiteAnalysis
        Of a result the fitted rock; hand a rock of `SiteAnalysis.draws` for one that the data leave
        possible beside it.
    box : array_like, shape (2, 3)
        Its lowest and highest easting, northing and elevation, metres.
    radius_m : float, or a frozen distribution of scipy.stats
        Radius of the discs, metres, of all sets: of one size, or as the law has it. No log tells it;
        faces and partial traces on the wall of a hole may.
    conditioned : bool
        Whether to honour the logs (of a result whose holes have collars): every fracture logged is a
        disc where it was met, and a disc that crosses a logged length is kept with one minus the share
        of its fractures that the log has.
    random_state : int, Generator, RandomState or None

    Returns
    -------
    pandas.DataFrame
        A row a disc: set ("random" for those of none), easting_m, northing_m, elevation_m of its
        centre, radius_m, dip_deg, dip_direction_deg, pole_east, pole_north, pole_up (all from the
        north of the coordinates), and logged, whether it is a fracture of the logs. `attrs` holds the
        units and a caution.

    Raises
    ------
    InputError
        If the box is empty, a radius is not above 0, there would be more than three million discs, or
        the logs can't be honoured.

    Notes
    -----
    Centres are a Poisson process of P32 / (π E r²) a volume, so the area of the discs in the box is
    P32 times its volume on average. A disc may reach into the box from a centre outside. Discs of
    logged fractures have the radii of discs that lines meet, whose density is r² f(r), and their
    centres are uniform over the disc about the point where the hole met them, as far as other logs
    could have missed them. A logged fracture whose
    orientation is not known takes one of the fitted rock, as the hole would meet it. Rock that is
    uneven, or has swarms, is realised as even.

    Examples
    --------
    >>> rock = Rock.of_round([[0, 0, -1]], [40.0], [2.0])
    >>> discs = realise(rock, [[0, 0, 0], [10, 10, 10]], radius_m=1.5, random_state=1)
    >>> met = drill(discs, [5, 5, 0], [5, 5, 10])
    >>> set(met["set"]), 10 < len(met) < 30
    ({'set 1'}, True)
    """
    low, high = _corners(box)
    generator, fitted = as_generator(random_state), rock if isinstance(rock, Rock) else rock.rock
    pool = _radii(radius_m, generator)
    discs = _free(fitted, low, high, pool, generator)
    logged = np.zeros(len(discs.radii), dtype=bool)
    if conditioned:
        if isinstance(rock, Rock):
            raise InputError("conditioned needs the result of analyse, which has the logs; got a rock")
        pieces = _pieces(rock)
        discs = discs.take(generator.random(len(discs.radii)) < _unseen(discs, pieces))
        own = _of_logs(rock, pieces, pool, generator)
        own = own.take(_reaches(own, low, high))
        logged = np.repeat([False, True], [len(discs.radii), len(own.radii)])
        discs = _Discs._make(np.concatenate(pair) for pair in zip(discs, own, strict=True))
    return _table(discs, _names(rock, fitted), logged)


def drill(discs: pd.DataFrame, start: ArrayLike, end: ArrayLike) -> pd.DataFrame:
    """What a straight line meets of discs.

    Parameters
    ----------
    discs : pandas.DataFrame
        From `realise`.
    start, end : array_like, shape (3,)
        Easting, northing and elevation of its ends, metres.

    Returns
    -------
    pandas.DataFrame
        The rows of the discs met, by depth_m: metres from the start.

    Raises
    ------
    InputError
        If an end is not three numbers, or the two are one place.

    Examples
    --------
    >>> rock = Rock.of_round([[0, 0, -1]], [1e4], [2.0])
    >>> discs = realise(rock, [[0, 0, 0], [9, 9, 9]], radius_m=2.0)
    >>> drill(discs, [5, 5, 0], [5, 5, 9])["depth_m"].is_monotonic_increasing
    True
    """
    first, last = real_array(start, "start"), real_array(end, "end")
    if first.shape != (3,) or last.shape != (3,) or not np.linalg.norm(last - first) > 0:
        raise InputError("start and end must be two different places of three numbers")
    centres = discs[list(PLACE_COLUMNS)].to_numpy(float)
    poles = Fractures(discs).poles
    radii = discs["radius_m"].to_numpy(float)
    depth = _crossed(centres, poles, radii, first[np.newaxis], last[np.newaxis])[:, 0]
    met = discs.assign(depth_m=depth)[~np.isnan(depth)]
    return met.sort_values("depth_m", kind="stable").reset_index(drop=True)


def _corners(box: ArrayLike) -> tuple[Array, Array]:
    corners = real_array(box, "box")
    if corners.shape != (2, 3) or not (np.isfinite(corners).all() and (corners[1] > corners[0]).all()):
        raise InputError(
            "box must be its lowest and then its highest easting, northing and elevation, shape (2, 3)"
        )
    return corners[0], corners[1]


def _radii(radius_m: float | SizeLaw, generator: np.random.Generator) -> Array:
    """Radii that stand for the law: the area of the discs is right for these, whatever its tail."""
    if not hasattr(radius_m, "rvs"):
        return np.array([check_number(radius_m, "radius_m", low=0, open_end=True)])
    drawn = np.asarray(radius_m.rvs(size=_RADII, random_state=generator), dtype=float)
    if not (np.isfinite(drawn).all() and (drawn > 0).all()):
        raise InputError("radius_m must be a law of radii above 0, metres")
    return drawn


def _chosen(pool: Array, weights: Array, size: int, generator: np.random.Generator) -> Array:
    return generator.choice(pool, size, p=weights / weights.sum())


def _free(
    rock: Rock, low: Array, high: Array, pool: Array, generator: np.random.Generator
) -> _Discs:
    """Discs of which no log knows."""
    # A disc may reach the box from as far as its radius, so large ones have more room for centres.
    room = np.prod(high - low + 2.0 * pool[:, np.newaxis], axis=1)
    a_volume = np.append(rock.intensities, rock.background_per_m) / (np.pi * (pool**2).mean())
    expected = a_volume * room.mean()
    if expected.sum() > _MOST:
        raise InputError(
            f"the box would hold some {expected.sum():.2g} discs; {_MOST:,} are the most: take a smaller "
            "box, or larger discs"
        )
    counts = generator.poisson(expected)
    number = np.repeat(np.arange(len(counts)), counts)
    radii = _chosen(pool, room, len(number), generator)
    reach = radii[:, np.newaxis]
    centres = generator.uniform(low - reach, high + reach)
    discs = _Discs(centres, _poles(rock, number, generator), radii, number)
    return discs.take(_reaches(discs, low, high))


def _poles(rock: Rock, number: NDArray[np.intp], generator: np.random.Generator) -> Array:
    """Poles of discs of each set, and of random fractures; shape (n, 3)."""
    poles = generator.standard_normal((len(number), 3))
    poles /= np.linalg.norm(poles, axis=1, keepdims=True)
    for k, density in enumerate(rock.densities):
        own = np.flatnonzero(number == k)
        poles[own] = density.sample(len(own), generator)
    return lower_hemisphere(poles)


def _reaches(discs: _Discs, low: Array, high: Array) -> NDArray[np.bool_]:
    """Whether the sphere about each disc meets the box."""
    away = np.clip(discs.centres, low, high) - discs.centres
    return np.asarray((away**2).sum(axis=1) <= discs.radii**2)


def _crossed(centres: Array, poles: Array, radii: Array, starts: Array, ends: Array) -> Array:
    """Metres from its start at which each piece of line (m) crosses each disc (n); NaN for none."""
    way = ends - starts
    length = np.linalg.norm(way, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = ((centres * poles).sum(axis=1)[:, np.newaxis] - poles @ starts.T) / (poles @ way.T)
        at = starts + share[..., np.newaxis] * way
        away = np.linalg.norm(at - centres[:, np.newaxis], axis=2)
        met = (share >= 0) & (share < 1) & (away <= radii[:, np.newaxis])
    return np.where(met, share * length, np.nan)


def _pieces(result: HasLogs) -> _Pieces:
    found = []
    for line in result.sampling.logged:
        hole = result.site.hole(line.name)
        if hole.collar is None:
            raise InputError(f"hole {hole.name} has no collar, so its log has no place in the box")
        for length in line.lengths:
            pieces = max(1, round(length.length_m / _STEP_M))
            edges = np.linspace(length.from_m, length.to_m, pieces + 1)
            places = hole.position(edges, result.site.settings.convergence_deg)
            seen, name = np.full(pieces, length.detected), np.full(pieces, line.name, dtype=object)
            found.append((places[:-1], places[1:], edges[:-1], edges[1:], seen, name))
    return _Pieces._make(np.concatenate(column) for column in zip(*found, strict=True))


def _unseen(discs: _Discs, pieces: _Pieces, but: NDArray[np.bool_] | None = None) -> Array:
    """Chance that no log shows a disc (n,); `but` (n, m): pieces whose log may."""
    chance = np.empty(len(discs.radii))
    step = max(1, _PAIRS_AT_ONCE // len(pieces.seen))
    for at in range(0, len(chance), step):
        rows = slice(at, at + step)
        one = discs.centres[rows], discs.poles[rows], discs.radii[rows]
        crossed = ~np.isnan(_crossed(*one, pieces.starts, pieces.ends))
        if but is not None:
            crossed &= ~but[rows]
        chance[rows] = np.where(crossed, 1.0 - pieces.seen, 1.0).prod(axis=1)
    return chance


def _of_logs(
    result: HasLogs, pieces: _Pieces, pool: Array, generator: np.random.Generator
) -> _Discs:
    """A disc for every fracture that counts, through the place where the hole met it.

    Size and centre are drawn anew while other logs would have shown the disc too, and did not.
    """
    counted, rock = Fractures(result.fractures).counted, result.rock
    table, names = counted.table, [one.name for one in result.sets]
    places = table[list(PLACE_COLUMNS)].to_numpy(float)
    # Coordinates count from grid north, which lies by the convergence to the east of true north.
    poles = counted.poles @ turn_in_azimuth(-result.site.settings.convergence_deg).T
    unknown = ~counted.is_oriented
    number = np.array([names.index(one) if one in names else len(names) for one in table["set"]])
    for row in np.flatnonzero(unknown):
        line = result.site.hole(table["hole"].iloc[row]).path.direction(counted.depth_m[row])
        drawn, of = rock.sample(64, generator)
        cosine = np.abs(drawn @ np.asarray(line).reshape(3))
        met = generator.choice(len(drawn), p=cosine / cosine.sum())
        poles[row], number[row] = drawn[met], of[met]
    hole, depth = table["hole"].to_numpy()[:, np.newaxis], counted.depth_m[:, np.newaxis]
    own = (hole == pieces.hole) & (depth > pieces.from_m - _AT_M) & (depth < pieces.to_m + _AT_M)
    discs = _Discs(places.copy(), lower_hemisphere(poles), np.zeros(len(table)), number)
    left = np.arange(len(table))
    for _ in range(_TRIES):
        radii = _chosen(pool, pool**2, len(left), generator)
        across = np.cross(poles[left], generator.standard_normal((len(left), 3)))
        across /= np.linalg.norm(across, axis=1, keepdims=True)
        away = radii * np.sqrt(generator.random(len(left)))
        discs.radii[left] = radii
        discs.centres[left] = places[left] + away[:, np.newaxis] * across
        left = left[generator.random(len(left)) >= _unseen(discs.take(left), pieces, own[left])]
    return discs


def _names(rock: Rock | HasLogs, fitted: Rock) -> list[str]:
    """The name of each set, and that of the random fractures."""
    if isinstance(rock, NamedRock):
        return [*rock.names, RANDOM]
    if isinstance(rock, Rock):
        return [*(f"set {k + 1}" for k in range(len(fitted.sets))), RANDOM]
    return [*(one.name for one in rock.sets), RANDOM]


def _table(discs: _Discs, names: list[str], logged: NDArray[np.bool_]) -> pd.DataFrame:
    dip, direction = dip_from_poles(discs.poles)
    east, north, up = discs.poles.T
    easting, northing, elevation = discs.centres.T
    table = pd.DataFrame(
        {
            "set": np.array(names, dtype=object)[discs.number],
            **dict(zip(PLACE_COLUMNS, (easting, northing, elevation), strict=True)),
            "radius_m": discs.radii,
            "dip_deg": dip,
            "dip_direction_deg": direction,
            **dict(zip(POLE_COLUMNS, (east, north, up), strict=True)),
            "logged": logged,
        }
    )
    table.attrs = {"units": "m; degrees from the north of the coordinates", "caution": CAUTION}
    return table
