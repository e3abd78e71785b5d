"""Spacing between neighbouring fractures of one set in a hole, and what the ends of the log cut."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field

import numpy as np

from jointstats.borehole.spans import Spans
from jointstats.checks import as_numbers, check_confidence, check_number
from jointstats.errors import InputError
from jointstats.intervals import gamma_limits, poisson_interval
from jointstats.line.placing import SMALL_P, clustering_pvalue
from jointstats.line.spacing_terms import spacing_term
from jointstats.results import Result
from jointstats.sphere.axes import align_axes, as_axes
from jointstats.types import Array, ArrayLike

Directions = ArrayLike | Callable[[Array], Array]

#: A hole with less cosine than this to the set's normal runs along its planes: no spacing.
_ALONG_THE_PLANES = 1e-9


class SpacingStatistics(Result):
    """Spacings of one set along its mean normal, metres.

    A figure about which nothing can be said is None.

    Attributes
    ----------
    spacings_m : ndarray, shape (n,)
        Complete spacings between neighbours, in the order of depth.
    censored_m : ndarray
        From each end of a logged length to the nearest fracture of the set; two for each logged
        length that holds at least one.
    empty_m : ndarray
        Logged lengths without a fracture of the set.
    lengths_m : ndarray
        All logged lengths along the mean normal; empty where the ends of the log are not known.
    confidence : float
        Level of `mean_interval_m`.

    Examples
    --------
    >>> import jointstats as js
    >>> found = js.line.set_spacing([2, 3, 5], [0, 0, -1], [0, 0, -1], logged=[(0, 9)])
    >>> found.spacings_m, found.censored_m
    (array([1., 2.]), array([2., 4.]))
    >>> found.mean_m, found.mean_complete_m
    (2.25, 1.5)
    """

    _SHORT = (
        "{n} complete, {n_censored} censored; mean {mean_m:.3g} m, of the complete ones "
        "{mean_complete_m:.3g} m; {term}"
    )
    _COLUMNS = (
        *("n", "n_censored", "mean_m", "mean_complete_m", "mean_interval_m", "median_m", "smallest_m"),
        *("largest_m", "total_m", "term", "confidence"),
    )

    spacings_m: Array
    censored_m: Array = field(default_factory=lambda: np.empty(0))
    empty_m: Array = field(default_factory=lambda: np.empty(0))
    lengths_m: Array = field(default_factory=lambda: np.empty(0))
    confidence: float = 0.95

    @property
    def n(self) -> int:
        """Number of complete spacings."""
        return len(self.spacings_m)

    @property
    def n_censored(self) -> int:
        """Number of pieces that an end of a logged length cut."""
        return len(self.censored_m) + len(self.empty_m)

    @property
    def n_fractures(self) -> int:
        """Number of fractures of the set in the lengths whose ends are known."""
        # A logged length with fractures has two censored pieces and one fracture more than spacings.
        return self.n + len(self.censored_m) // 2

    @property
    def total_m(self) -> float:
        """Everything seen: complete spacings, censored pieces and empty lengths, along the normal."""
        return float(self.spacings_m.sum() + self.censored_m.sum() + self.empty_m.sum())

    @property
    def mean_m(self) -> float | None:
        """Mean spacing, the censored pieces counted: total length / (fractures + 1).

        For fractures at random along a line its expected value is μ(1 − exp(−L/μ)), L being the
        total length: 0.7 % low at five spacings. Without any fracture it is the total length, to
        be read as "at least". Where the ends of the log are not known it is `mean_complete_m`.
        """
        # For a Poisson count N of mean θ = L/μ:  E[L/(N + 1)] = L (1 − e^(−θ)) / θ.
        if not self.n_censored:
            return self.mean_complete_m
        return self.total_m / (self.n_fractures + 1) if self.total_m > 0 else None

    @property
    def mean_complete_m(self) -> float | None:
        """Plain mean of the complete spacings alone. Too small where logged lengths are short: a
        wide spacing is cut more often than a close one."""
        return float(self.spacings_m.mean()) if self.n else None

    @property
    def mean_interval_m(self) -> tuple[float, float | None] | None:
        """Interval of the mean spacing for fractures at random along the line.

        The upper limit is None where there is no fracture, since nothing bounds it.
        """
        if self.total_m <= 0:
            return None
        if not self.n_censored:
            # The ends are not known: n exponential spacings of given number, so 2 n x̄ / μ ~ χ²(2n).
            low, high = map(float, gamma_limits(self.n, self.confidence))
        else:
            low, high = poisson_interval(self.n_fractures, self.confidence, method="mid-p")
        return self.total_m / high, (self.total_m / low if low > 0 else None)

    @property
    def clustering_pvalue(self) -> float | None:
        """Of Bartlett's test that the fractures stand at random; None below 20 spacings."""
        return clustering_pvalue(self.spacings_m)

    @property
    def clustered(self) -> bool:
        """Whether the spacings are more uneven than chance makes them, so that no mean describes them."""
        return self.clustering_pvalue is not None and self.clustering_pvalue < SMALL_P

    @property
    def median_m(self) -> float | None:
        """Median of the complete spacings."""
        return float(np.median(self.spacings_m)) if self.n else None

    @property
    def smallest_m(self) -> float | None:
        """Smallest complete spacing."""
        return float(self.spacings_m.min()) if self.n else None

    @property
    def largest_m(self) -> float | None:
        """Largest complete spacing."""
        return float(self.spacings_m.max()) if self.n else None

    @property
    def term(self) -> str | None:
        """ISRM term of `mean_m`; None without a fracture."""
        mean = self.mean_m
        return None if mean is None or self.n_fractures <= 0 else spacing_term(mean)


def hole_direction(depth: Array, directions: Directions) -> Callable[[Array], Array]:
    """Hole direction as a function of depth, from a function or from rows at the fractures.

    It takes depths (m,) and returns directions (m, 3), interpolated between the rows.
    """
    if callable(directions):
        return lambda at: as_axes(directions(at), "directions") if len(at) else np.empty((0, 3))
    rows = as_axes(directions, "directions")
    if len(rows) not in (1, len(depth)):
        raise InputError(
            f"directions must have one row, or one a fracture ({len(depth)}); got {len(rows)}"
        )
    if len(rows) == 1:
        return lambda at: np.broadcast_to(rows, (len(at), 3))
    order = np.argsort(depth, kind="stable")
    known = depth[order]
    lines = align_axes(rows, rows[0])[order]
    return lambda at: np.stack([np.interp(at, known, lines[:, i]) for i in range(3)], axis=1)


def along_normal(edges: Array, direction_at: Callable[[Array], Array], mean: Array) -> Array:
    """Length along the mean normal of each piece between neighbouring depths.

    `edges` (m,): depths, rising, metres; `direction_at`: as from `hole_direction`; `mean` (3,):
    unit normal. Gives (m − 1,): abs(∫ d(s) · μ ds) over each piece, by Simpson's rule: exact for
    a straight hole.
    """
    if len(edges) < 2:
        return np.empty(0)  # fewer than two fractures and no ends
    middle = 0.5 * (edges[:-1] + edges[1:])
    ends, inside = direction_at(edges), direction_at(middle)
    first = ends[:-1]
    cosine = first @ mean
    for lines, weight in ((inside, 4.0), (ends[1:], 1.0)):
        same_end = np.where((lines * first).sum(axis=1) < 0, -1.0, 1.0)
        cosine = cosine + weight * same_end * (lines @ mean)
    return np.diff(edges) * np.abs(cosine) / 6.0


def checked_depths(depth_m: ArrayLike, lengths: Spans | None) -> Array:
    """Check depths of fractures, each within a logged length.

    `depth_m` (n,). Gives (n,).
    """
    depth = as_numbers(depth_m, "depth_m")
    if lengths is not None:
        inside = lengths.holds(depth)
        if not inside.all():
            at = int(np.flatnonzero(~inside)[0])
            raise InputError(
                f"depth_m {at} is {depth[at]:g} m, outside every logged length; leave such "
                "fractures out, or correct the logged lengths"
            )
    return depth


def statistics_of_pieces(
    ordered: Array,
    lengths: Spans | None,
    pieces: Callable[[Array, slice], Array],
    confidence: float,
) -> SpacingStatistics:
    """Sort the pieces between fractures, and between them and the ends, into their kinds.

    `ordered` (n,): depths of the fractures, rising; `pieces` takes rising depths (m,) and which
    rows of `ordered` are among them, and gives the lengths between them (m − 1,).
    """
    if lengths is None:
        return SpacingStatistics(pieces(ordered, slice(None)), confidence=confidence)
    complete, cut, empty, whole = (list[float]() for _ in range(4))
    for low, high in lengths:
        rows = slice(np.searchsorted(ordered, low), np.searchsorted(ordered, high, "right"))
        own = ordered[rows]
        parts = pieces(np.array([low, *own, high]), rows)
        whole.append(parts.sum())
        complete.extend(parts[1:-1])
        (cut if len(own) else empty).extend(parts[:: max(len(own), 1)])
    return SpacingStatistics(
        np.array(complete), np.array(cut), np.array(empty), np.array(whole), confidence
    )


def set_spacing(
    depth_m: ArrayLike,
    directions: Directions,
    mean: ArrayLike,
    *,
    logged: Sequence[tuple[float, float]] | None = None,
    confidence: float = 0.95,
    share: float = 1.0,
) -> SpacingStatistics:
    """Spacings of one set in one hole, measured along the set's mean normal.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depth of each fracture of the set along the hole, metres, any order.
    directions : array_like, shape (n, 3) or (3,), or a function of depth
        Direction of the hole at each fracture, or of a straight hole, or a function such as
        ``HolePath.direction`` that takes depths (m,) and returns directions (m, 3). With neither
        fractures nor a direction the logged lengths can't be projected, and count for nothing.
    mean : array_like, shape (3,)
        Mean pole of the set, either end.
    logged : sequence of (from_m, to_m), or None
        Lengths that were seen. A gap between them breaks the sequence; lengths that touch are
        joined. None: only the spacings between the fractures count, and no end cuts any.
    confidence : float
        Level of the interval of the mean.
    share : float
        Share of the fractures of the set that the log has, above 0 up to 1: every spacing counts
        so many times its length. Where the others are missing by chance the mean is then right
        whatever the law of spacing, and all else for fractures at random along the line.

    Returns
    -------
    SpacingStatistics
        Its spacings are |∫ d · μ ds| between neighbours, d being the direction of the hole and
        μ the mean normal: the depth difference times the cosine for a straight hole.

    Raises
    ------
    InputError
        If a depth lies outside the logged lengths, or an argument is not what it should be.

    Notes
    -----
    A dispersed set meets the hole at the mean of \\|n · d\\|, not at that of its mean pole, so
    1/P32 is the better figure where the hole runs at a small angle to the set.

    Examples
    --------
    Level fractures a metre apart in depth, in a hole that plunges 30°, lie half a metre apart:

    >>> import jointstats as js
    >>> js.line.set_spacing([4, 5, 6], js.lines_from_trend(0, 30), [0, 0, -1]).mean_m.__round__(6)
    0.5
    """
    level, kept = check_confidence(confidence), check_number(share, "share", low=0)
    lengths = None if logged is None else Spans(logged)
    depth = checked_depths(depth_m, lengths)
    normal = as_axes(mean, "mean")[0]
    no_direction = not callable(directions) and np.size(directions) == 0
    if len(depth) == 0 and (lengths is None or no_direction):
        return SpacingStatistics(np.empty(0), confidence=level)
    direction_at = hole_direction(depth, directions)

    def pieces(edges: Array, _: slice) -> Array:
        return kept * along_normal(edges, direction_at, normal)

    whole = statistics_of_pieces(np.sort(depth), lengths, pieces, level)
    reach = lengths.total_m if lengths else np.ptp(depth)
    # Along its own planes a hole measures no spacing at all; zeros would pass for close ones.
    if whole.total_m <= _ALONG_THE_PLANES * reach:
        return SpacingStatistics(np.empty(0), confidence=level)
    return whole


def pool_spacings(
    spacings: Sequence[SpacingStatistics], *, confidence: float | None = None
) -> SpacingStatistics:
    """Spacings of one set from several holes, taken together.

    Parameters
    ----------
    spacings : sequence of SpacingStatistics
        One a hole; an empty sequence gives a result without spacings.
    confidence : float or None
        Level of the interval of the mean; None takes that of the first hole (0.95 without one).

    Returns
    -------
    SpacingStatistics

    Raises
    ------
    InputError
        If `confidence` is out of range, or only some of them know the ends of the log.

    Examples
    --------
    >>> import numpy as np
    >>> pool_spacings([SpacingStatistics(np.array([1.0])), SpacingStatistics(np.array([3.0]))])
    SpacingStatistics(2 complete, 0 censored; mean 2 m, of the complete ones 2 m; very wide)
    """
    if confidence is None:
        confidence = spacings[0].confidence if spacings else 0.95
    if len({len(one.lengths_m) > 0 for one in spacings if one.n or one.n_censored}) > 1:
        raise InputError(
            "some of the spacings were made with logged lengths and some without; give `logged` "
            "for every hole, or for none"
        )
    return SpacingStatistics(
        np.concatenate([np.empty(0), *(one.spacings_m for one in spacings)]),
        np.concatenate([np.empty(0), *(one.censored_m for one in spacings)]),
        np.concatenate([np.empty(0), *(one.empty_m for one in spacings)]),
        np.concatenate([np.empty(0), *(one.lengths_m for one in spacings)]),
        check_confidence(confidence),
    )
