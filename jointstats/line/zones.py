"""Zones of constant frequency down a hole, by an exact search for change points of Poisson counts."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd
from scipy.special import gammaln

from jointstats.borehole.spans import Spans
from jointstats.checks import check_confidence, check_number
from jointstats.errors import InputError
from jointstats.intervals import poisson_interval
from jointstats.line.spacing import checked_depths
from jointstats.results import Result
from jointstats.types import Array, ArrayLike

_MOST_CELLS = 2000
_SNAP = 1.0  # log likelihood for which a boundary is put at a gap rather than near it


class Zone(Result):
    """A length of hole whose frequency does not change.

    Attributes
    ----------
    from_m, to_m : float
        Depths along the hole.
    kind : str
        "zone", "fracture zone" (see `frequency_zones`) or "not logged".
    n : int
        Fractures.
    logged_m : float
    p10_per_m, low_per_m, high_per_m : float or None
        Frequency and its exact Poisson interval; None where nothing was logged.

    Examples
    --------
    >>> Zone(0.0, 10.0, "zone", 20, 10.0, 2.0, 1.22, 3.09).n
    20
    """

    from_m: float
    to_m: float
    kind: str
    n: int
    logged_m: float
    p10_per_m: float | None
    low_per_m: float | None
    high_per_m: float | None


class Boundary(Result):
    """A depth at which the frequency changes, with its interval.

    Attributes
    ----------
    depth_m, low_m, high_m : float
        Depths along the hole; the interval holds the boundary with the stated confidence if its
        neighbours stand where they were found.
    gain : float
        Log likelihood that the boundary is worth.

    Examples
    --------
    >>> Boundary(12.0, 11.1, 12.8, 9.5).depth_m
    12.0
    """

    depth_m: float
    low_m: float
    high_m: float
    gain: float


class FrequencyZones(Result):
    """Zones of a hole and the boundaries between them.

    Attributes
    ----------
    zones : tuple of Zone
        Down the hole, lengths that were not logged among them.
    boundaries : tuple of Boundary
    penalty : float
        Log likelihood that a boundary had to gain.
    cell_m : float
        Boundaries were sought at multiples of this from the start of the log.
    confidence : float

    Examples
    --------
    >>> import numpy as np
    >>> depth = np.concatenate([np.arange(0.5, 20, 1.0), np.arange(20.03, 30, 0.1)])
    >>> [round(one.depth_m) for one in frequency_zones(depth, [(0, 30)]).boundaries]
    [20]
    """

    zones: tuple[Zone, ...]
    boundaries: tuple[Boundary, ...]
    penalty: float
    cell_m: float
    confidence: float

    def to_frame(self) -> pd.DataFrame:
        """One row a zone, with the interval of its upper boundary (None at the start)."""
        rows = []
        upper = {one.depth_m: one for one in self.boundaries}
        for zone in self.zones:
            row = dict(vars(zone))
            edge = upper.get(zone.from_m)
            row["boundary_low_m"] = None if edge is None else edge.low_m
            row["boundary_high_m"] = None if edge is None else edge.high_m
            rows.append(row)
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        parts = [
            f"{one.from_m:.1f}-{one.to_m:.1f} m: "
            + (one.kind if one.p10_per_m is None else f"{one.p10_per_m:.2f} /m ({one.kind})")
            for one in self.zones
        ]
        return f"FrequencyZones({'; '.join(parts)})"


def default_penalty(n: int) -> float:
    """Log likelihood that a boundary must gain so that constant frequency is seldom split.

    `n`: number of fractures. Gives 2 + 0.6 log n, fitted by simulation: of logs of constant
    frequency with 20 to 1000 fractures about one in twenty is given a boundary.
    """
    return 2.0 + 0.6 * float(np.log(max(n, 1)))


def _cost(number: Array, metres: Array) -> Array:
    """−max log likelihood of a constant rate: n − n log(n / ℓ)."""
    some = np.maximum(number, 1e-300)
    return np.where(number > 0, number - number * np.log(some / metres), 0.0)


def _best_split(counts: Array, cell: float, penalty: float, shortest: int) -> list[int]:
    """Edges (cells) of the zones of least cost, by exact dynamic programming.

    Optimal partitioning (Jackson et al. 2005, IEEE Signal Process. Lett. 12:105-108; from memory).
    """
    cells = len(counts)
    total = np.concatenate([[0.0], np.cumsum(counts)])
    best = np.full(cells + 1, np.inf)
    best[0] = -penalty
    last = np.zeros(cells + 1, dtype=np.intp)
    for end in range(shortest, cells + 1):
        starts = np.arange(0, end - shortest + 1)
        cost = _cost(total[end] - total[starts], (end - starts) * cell)
        value = best[starts] + cost + penalty
        last[end] = int(np.argmin(value))
        best[end] = value[last[end]]
    edges = [cells]
    while edges[-1] > 0:
        edges.append(int(last[edges[-1]]))
    return edges[::-1]


def _split_into(counts: Array, cell: float, n_zones: int, shortest: int) -> list[int]:
    """Edges (cells) of the given number of zones of least cost, by the same recursion."""
    cells = len(counts)
    total = np.concatenate([[0.0], np.cumsum(counts)])
    ends = np.arange(cells + 1)
    best = np.where(ends >= shortest, _cost(total, np.maximum(ends, 1) * cell), np.inf)
    last = []
    for _ in range(1, n_zones):
        before, best = best, np.full(cells + 1, np.inf)
        start_of = np.zeros(cells + 1, dtype=np.intp)
        for end in range(2 * shortest, cells + 1):
            starts = np.arange(shortest, end - shortest + 1)
            value = before[starts] + _cost(total[end] - total[starts], (end - starts) * cell)
            start_of[end] = starts[int(np.argmin(value))]
            best[end] = value.min()
        last.append(start_of)
    edges = [cells]
    for start_of in reversed(last):
        edges.append(int(start_of[edges[-1]]))
    return [0, *edges[::-1]]


def _log_marginal(number: Array, metres: Array, rate: float) -> Array:
    """Log of the chance of a count with its rate unknown: prior gamma of shape ½ about `rate`."""
    shape, scale = 0.5, 0.5 / rate
    return gammaln(number + shape) - (number + shape) * np.log(metres + scale)


def _interval(
    total: Array, cell: float, left: int, right: int, confidence: float
) -> tuple[int, int]:
    """Cells between which a boundary lies with the confidence, its neighbours standing still."""
    inner = np.arange(left + 1, right)
    rate = max(total[-1], 1.0) / ((len(total) - 1) * cell)
    log_chance = _log_marginal(
        total[inner] - total[left], (inner - left) * cell, rate
    ) + _log_marginal(total[right] - total[inner], (right - inner) * cell, rate)
    chance = np.exp(log_chance - log_chance.max())
    below = np.cumsum(chance) / chance.sum()
    tail = 0.5 * (1.0 - confidence)
    low, high = np.searchsorted(below, [tail, 1.0 - tail])
    return int(inner[low]), int(inner[min(high, len(inner) - 1)])


def frequency_zones(
    depth_m: ArrayLike,
    logged: Sequence[tuple[float, float]],
    *,
    n_zones: int | None = None,
    penalty: float | None = None,
    shortest_m: float | None = None,
    cell_m: float | None = None,
    fracture_zone_factor: float = 3.0,
    confidence: float = 0.95,
) -> FrequencyZones:
    """Zones of constant frequency down a hole, found exactly.

    Of all ways to cut the logged length into zones, the one of largest Poisson likelihood less a
    penalty for each boundary is found by dynamic programming; nothing is left to a start or a step.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths of the fractures, metres, any order.
    logged : sequence of (from_m, to_m)
        Lengths that were seen; a gap (lost core) is left out of the count and listed as "not
        logged".
    n_zones : int or None
        Number of zones, at least 1; None lets the penalty decide.
    penalty : float or None
        Log likelihood that a boundary must gain; None takes 2 + 0.6 log n, with which about one log
        in twenty of constant frequency is split.
    shortest_m : float or None
        Shortest zone sought, logged metres; None takes the length of five mean spacings, at most a
        quarter of the log.
    cell_m : float or None
        Boundaries are sought at multiples of this; None takes a fifth of the mean spacing, between
        1/2000 and 1/200 of the logged length.
    fracture_zone_factor : float
        A zone of less than half the logged length is called a fracture zone if its lower limit
        exceeds this many times the frequency of all the rest. Both are choices of this package.
    confidence : float
        Level of the intervals.

    Returns
    -------
    FrequencyZones

    Raises
    ------
    InputError
        If nothing was logged, a depth lies outside it, or an argument is out of range.

    Examples
    --------
    Twenty metres at 1 per metre, then ten at 10 per metre:

    >>> depth = np.concatenate([np.arange(0.5, 20, 1.0), np.arange(20.03, 30, 0.1)])
    >>> frequency_zones(depth, [(0, 30)])
    FrequencyZones(0.0-20.0 m: 1.00 /m (zone); 20.0-30.0 m: 10.00 /m (fracture zone))
    """
    lengths = Spans(logged)
    if not lengths:
        raise InputError("logged has no length, so there is nothing to divide into zones")
    depth = checked_depths(depth_m, lengths)
    level = check_confidence(confidence)
    cell, shortest = _grid(lengths.total_m, len(depth), cell_m, shortest_m)
    cost = (
        default_penalty(len(depth)) if penalty is None else check_number(penalty, "penalty", low=0)
    )
    cells = max(round(lengths.total_m / cell), 1)
    width = lengths.total_m / cells
    counts, _ = np.histogram(lengths.metres_to(depth), bins=cells, range=(0.0, lengths.total_m))
    least = max(round(shortest / width), 1)
    if n_zones is None:
        edges = _best_split(counts.astype(float), width, cost, min(least, cells))
    else:
        edges = _split_into(
            counts.astype(float), width, _checked_zones(n_zones, cells, least), least
        )
    total = np.concatenate([[0.0], np.cumsum(counts)])
    places = _snapped(lengths, total, width, edges)
    boundaries = tuple(
        _boundary(lengths, total, width, edges[i - 1 : i + 2], places[i], level)
        for i in range(1, len(edges) - 1)
    )
    zones = _zones(lengths, depth, places, level)
    marked = _marked(zones, check_number(fracture_zone_factor, "fracture_zone_factor", low=1))
    return FrequencyZones(marked, boundaries, cost, width, level)


def _grid(
    total_m: float, n: int, cell_m: float | None, shortest_m: float | None
) -> tuple[float, float]:
    spacing = total_m / max(n, 1)
    if cell_m is None:
        cell_m = float(np.clip(0.2 * spacing, total_m / _MOST_CELLS, total_m / 200))
    if shortest_m is None:
        shortest_m = min(5.0 * spacing, 0.25 * total_m)
    cell = check_number(cell_m, "cell_m", low=0, open_end=True)
    if total_m / cell > 10 * _MOST_CELLS:
        raise InputError(
            f"cell_m {cell:g} makes more than {10 * _MOST_CELLS} cells of {total_m:g} m; make it "
            "larger"
        )
    return cell, check_number(shortest_m, "shortest_m", low=0, open_end=True)


def _checked_zones(n_zones: int, cells: int, least: int) -> int:
    number = check_number(n_zones, "n_zones", low=1)
    if number != int(number) or number * least > cells:
        raise InputError(
            f"n_zones must be a whole number of zones of at least shortest_m that fit the logged "
            f"length, so at most {cells // least}; got {n_zones}"
        )
    return int(number)


def _snapped(lengths: Spans, total: Array, width: float, edges: list[int]) -> list[float]:
    """Places of the edges; one that a gap in the log explains about as well is put at the gap."""
    places = [edge * width for edge in edges]
    places[-1] = lengths.total_m
    for gap in lengths.edges_m[1:-1]:
        cell = round(float(gap) / width)
        near = int(np.argmin([abs(place - gap) for place in places]))
        if not 0 < near < len(edges) - 1 or not edges[near - 1] < cell < edges[near + 1]:
            continue
        around = np.array([[edges[near - 1], at, edges[near + 1]] for at in (edges[near], cell)])
        cost = _cost(np.diff(total[around], axis=1), np.diff(around, axis=1) * width).sum(axis=1)
        if cost[1] - cost[0] < _SNAP:
            places[near] = float(gap)
    return places


def _boundary(
    lengths: Spans,
    total: Array,
    width: float,
    edges: list[int],
    place: float,
    confidence: float,
) -> Boundary:
    low, high = _interval(total, width, edges[0], edges[2], confidence)
    number = np.diff(total[edges])
    metres = np.diff(edges) * width
    gain = _cost(number.sum(), metres.sum()) - _cost(number, metres).sum()
    # A boundary is known to half a cell at best.
    limits = (
        max(min((low - 0.5) * width, place), 0.0),
        min(max((high + 0.5) * width, place), lengths.total_m),
    )
    return Boundary(
        lengths.depth_at(place, end=False),
        lengths.depth_at(limits[0], end=True),
        lengths.depth_at(limits[1], end=False),
        float(gain),
    )


def _zones(lengths: Spans, depth: Array, edges: list[float], confidence: float) -> list[Zone]:
    zones = []
    for low, high in pairwise(edges):
        top, bottom = lengths.depth_at(low, end=False), lengths.depth_at(high, end=True)
        # A fracture at a boundary belongs below it, but one at the end of a logged length above.
        closed = any(abs(bottom - end) < 1e-9 for _, end in lengths)
        n = int(((depth >= top) & ((depth < bottom) | (closed & (depth <= bottom)))).sum())
        limits = poisson_interval(n, confidence)
        metres = high - low
        zones.append(
            Zone(top, bottom, "zone", n, metres, n / metres, limits[0] / metres, limits[1] / metres)
        )
    for (_, above), (below, _) in pairwise(lengths):
        zones.append(Zone(above, below, "not logged", 0, 0.0, None, None, None))
    return sorted(zones, key=lambda zone: (zone.from_m, zone.to_m))


def _marked(zones: list[Zone], factor: float) -> tuple[Zone, ...]:
    """Call a zone a fracture zone where its frequency surely exceeds that of the rest by a factor."""
    seen = [zone for zone in zones if zone.p10_per_m is not None]
    n, metres = sum(zone.n for zone in seen), sum(zone.logged_m for zone in seen)

    def kind(zone: Zone) -> str:
        rest = metres - zone.logged_m
        if zone.low_per_m is None or rest <= 0.5 * metres:
            return zone.kind
        return "fracture zone" if zone.low_per_m > factor * (n - zone.n) / rest else "zone"

    return tuple(Zone(**{**vars(zone), "kind": kind(zone)}) for zone in zones)
