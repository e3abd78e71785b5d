"""Other ways to measure the spacing of a set: with each fracture's own normal, by membership."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from jointstats.borehole.spans import Spans
from jointstats.checks import as_numbers, check_confidence
from jointstats.errors import InputError
from jointstats.line.spacing import (
    Directions,
    SpacingStatistics,
    along_normal,
    checked_depths,
    hole_direction,
    statistics_of_pieces,
)
from jointstats.line.spacing_terms import spacing_term
from jointstats.results import Result
from jointstats.sphere.axes import as_axes
from jointstats.types import Array, ArrayLike

_FORGET = 1e-9  # a pair of neighbours with less chance than this is left out


def own_normal_spacing(
    depth_m: ArrayLike,
    directions: Directions,
    poles: ArrayLike,
    *,
    logged: Sequence[tuple[float, float]] | None = None,
    confidence: float = 0.95,
) -> SpacingStatistics:
    """Spacings between neighbours of one set, measured with the normals of the two themselves.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depth of each fracture of the set along the hole, metres, any order.
    directions : array_like, shape (n, 3) or (3,), or a function of depth
        As for `set_spacing`.
    poles : array_like, shape (n, 3)
        Pole of each fracture, either end.
    logged, confidence
        As for `set_spacing`.

    Returns
    -------
    SpacingStatistics
        Depth difference times the mean of |n · d| of the two fractures; of the one fracture for a
        piece that an end cut. Empty logged lengths have no fracture's normal and count for nothing.

    Raises
    ------
    InputError
        If a depth lies outside the logged lengths, or an argument is not what it should be.

    Examples
    --------
    >>> import jointstats as js
    >>> poles = js.poles_from_dip([0, 60], 0)
    >>> own_normal_spacing([2, 4], [0, 0, -1], poles).spacings_m.round(6)
    array([1.5])
    """
    level = check_confidence(confidence)
    lengths = None if logged is None else Spans(logged)
    depth = checked_depths(depth_m, lengths)
    normals = as_axes(poles)
    if len(normals) != len(depth):
        raise InputError(f"poles must have one row a fracture ({len(depth)}); got {len(normals)}")
    if len(depth) == 0:
        return SpacingStatistics(np.empty(0), confidence=level)
    cosine = np.abs((normals * hole_direction(depth, directions)(depth)).sum(axis=1))
    order = np.argsort(depth, kind="stable")
    # A length without a fracture has no normal to be measured with.
    used = lengths and Spans([one for one in lengths if Spans([one]).holds(depth).any()])

    def pieces(edges: Array, rows: slice) -> Array:
        own = cosine[order][rows]
        if used is not None:  # the ends of the log borrow from the nearest fracture
            own = np.concatenate([own[:1], own, own[-1:]])
        return np.diff(edges) * 0.5 * (own[:-1] + own[1:])

    return statistics_of_pieces(depth[order], used, pieces, level)


class MembershipSpacing(Result):
    """Spacings of a set whose members are known with a chance each.

    Attributes
    ----------
    spacings_m : ndarray, shape (m,)
        Every spacing that may be one between neighbours of the set, metres.
    chances : ndarray, shape (m,)
        Chance of each: both fractures belong, and none between them does.
    n_fractures : float
        Expected number of fractures of the set.
    total_m : float or None
        Logged length along the mean normal; None where the ends of the log are not known.

    Examples
    --------
    >>> import jointstats as js
    >>> js.line.membership_spacing([1, 2, 3], [1, 0.5, 1], [0, 0, 1], [0, 0, 1]).n
    1.5
    """

    _SHORT = "{n:.3g} expected; mean {mean_m:.3g} m; {term}"
    _COLUMNS = ("n", "n_fractures", "mean_m", "mean_complete_m", "median_m", "term")

    spacings_m: Array
    chances: Array
    n_fractures: float
    total_m: float | None

    @property
    def n(self) -> float:
        """Expected number of complete spacings."""
        return float(self.chances.sum())

    @property
    def mean_m(self) -> float | None:
        """Logged length / (expected number + 1), as in `SpacingStatistics`."""
        if self.total_m is None:
            return self.mean_complete_m
        return self.total_m / (self.n_fractures + 1.0)

    @property
    def mean_complete_m(self) -> float | None:
        """Expected total of the complete spacings over their expected number."""
        return float(self.chances @ self.spacings_m) / self.n if self.n > 0 else None

    @property
    def median_m(self) -> float | None:
        """Spacing that half of the chance lies below."""
        if self.n <= 0:
            return None
        order = np.argsort(self.spacings_m)
        below = np.cumsum(self.chances[order])
        return float(self.spacings_m[order][np.searchsorted(below, 0.5 * below[-1])])

    @property
    def term(self) -> str | None:
        """ISRM term of `mean_m`; None without a fracture."""
        mean = self.mean_m
        return None if mean is None or self.n_fractures <= 0 else spacing_term(mean)


def membership_spacing(
    depth_m: ArrayLike,
    memberships: ArrayLike,
    directions: Directions,
    mean: ArrayLike,
    *,
    logged: Sequence[tuple[float, float]] | None = None,
) -> MembershipSpacing:
    """Spacings of one set in one hole when each fracture belongs to it with a chance.

    Two fractures are neighbours with the chance that both belong and none between them does, the
    fractures being judged independently of one another. So no fracture has to be given to one set,
    and a doubtful fracture neither halves a spacing for certain nor leaves it whole.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depth of each fracture along the hole, metres, any order.
    memberships : array_like, shape (n,)
        Chance that each belongs to the set, 0 to 1.
    directions, mean, logged
        As for `set_spacing`.

    Returns
    -------
    MembershipSpacing

    Raises
    ------
    InputError
        If a membership is not within 0 to 1, or an argument is not what it should be.

    Examples
    --------
    The middle one of three is as likely in as out, so half a spacing of 2 m and twice half of 1 m:

    >>> found = membership_spacing([1, 2, 3], [1, 0.5, 1], [0, 0, 1], [0, 0, 1])
    >>> found.spacings_m, found.chances
    (array([1., 2., 1.]), array([0.5, 0.5, 0.5]))
    """
    lengths = None if logged is None else Spans(logged)
    depth = checked_depths(depth_m, lengths)
    chance = as_numbers(memberships, "memberships", low=0)
    if len(chance) != len(depth):
        raise InputError(f"memberships must have {len(depth)} values; got {len(chance)}")
    if (chance > 1).any():
        raise InputError(f"memberships must lie between 0 and 1; got {chance.max():g}")
    normal = as_axes(mean, "mean")[0]
    if len(depth) == 0 and not callable(directions) and np.size(directions) == 0:
        return MembershipSpacing(np.empty(0), np.empty(0), 0.0, None)
    at = hole_direction(depth, directions)
    order = np.argsort(depth, kind="stable")
    spacings: list[Array] = [np.empty(0)]
    chances: list[Array] = [np.empty(0)]
    total = 0.0
    for low, high in lengths or [(-np.inf, np.inf)]:
        own = order[(depth[order] >= low) & (depth[order] <= high)]
        found = _pairs(along_normal(depth[own], at, normal), chance[own])
        spacings.append(found[0])
        chances.append(found[1])
        if lengths is not None:
            edges = np.array([low, *depth[own], high])
            total += float(along_normal(edges, at, normal).sum())
    return MembershipSpacing(
        np.concatenate(spacings),
        np.concatenate(chances),
        float(chance.sum()),
        None if lengths is None else total,
    )


def _pairs(steps: Array, chance: Array) -> tuple[Array, Array]:
    """Every pair that may be neighbours: how far apart, and with what chance."""
    place = np.concatenate([[0.0], np.cumsum(steps)])
    apart, chances = [], []
    for i in range(len(chance) - 1):
        none_between = np.concatenate([[1.0], np.cumprod(1.0 - chance[i + 1 : -1])])
        both = chance[i] * chance[i + 1 :] * none_between
        kept = both > _FORGET
        apart.append((place[i + 1 :] - place[i])[kept])
        chances.append(both[kept])
    return np.concatenate([np.empty(0), *apart]), np.concatenate([np.empty(0), *chances])
