"""How unevenly each set of an analysis lies between its lines and along them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.sampling import SampledLine, Sampling
from jointstats.fit.certainty import Certainty
from jointstats.fit.rock import Rock
from jointstats.types import Array, Interval
from jointstats.uneven.uneven_rock import Unevenness, unevenness

#: Length of the pieces that are counted, metres.
CELL_M = 1.0
_DIRECTIONS_WITHIN = 2  # decimals of a direction beyond which pieces share one exposure
_DRAWS, _SEED = 4000, 1
_LEAST_M = 1e-6  # exposure of a set that a piece can't see


class Cells(NamedTuple):
    """Counts of each set in short pieces of the logged lines."""

    counts: Array  # (K, B) sums of memberships
    exposure: Array  # (K, B) metres
    line: Array  # (B,) number of the line
    lengths_m: Array  # (B,)


def cells_of(fractures: Fractures, memberships: Array, rock: Rock, sampling: Sampling) -> Cells:
    """Counts by memberships (n, K + 1) of the fitted fractures, in pieces of about a metre."""
    hole = fractures.table["hole"].to_numpy()
    depth = fractures.depth_m
    parts = []
    for number, line in enumerate(sampling.logged):
        own = hole == line.name
        for length in line.lengths:
            inside = own & (depth >= length.from_m) & (depth <= length.to_m)
            pieces = max(1, round(length.length_m / CELL_M))
            edges = np.linspace(length.from_m, length.to_m, pieces + 1)
            counts = [
                np.histogram(depth[inside], edges, weights=memberships[inside, k])[0]
                for k in range(len(rock.sets))
            ]
            met = _met(rock, line, 0.5 * (edges[1:] + edges[:-1])) * np.diff(edges)
            parts.append(Cells(np.array(counts), met, np.full(pieces, number), np.diff(edges)))
    joined = (np.concatenate(values, axis=-1) for values in zip(*parts, strict=True))
    return Cells(*joined)


def _met(rock: Rock, line: SampledLine, depth: Array) -> Array:
    """Exposure of each set per metre of line at each depth, (K, B)."""
    directions = line.path.direction(depth)
    rounded, index = np.unique(
        np.round(directions, _DIRECTIONS_WITHIN), axis=0, return_inverse=True
    )
    met = np.empty((len(rock.sets), len(rounded)))
    for j, direction in enumerate(rounded):
        alone = LineExposure([direction], [1.0], blind_angle_deg=line.blind_angle_deg)
        for k, density in enumerate(rock.densities):
            met[k, j] = max(density.mean_exposure(alone), _LEAST_M)
    return met[:, index.ravel()]


def site_intervals(
    uneven: Unevenness | None, certainty: Certainty, confidence: float
) -> list[Interval]:
    """Interval of P32 of the rock of the site, of each set, 1/m.

    Draws of P32 that take the rock as even, times draws of what unevenness does to it.
    """
    if uneven is None:
        return []
    factors = uneven.draws(_DRAWS, _SEED).factors
    tails = [0.5 * (1.0 - confidence), 0.5 * (1.0 + confidence)]
    found = []
    for k, column in enumerate(factors.T):
        even = certainty.intensity_draws(k, _DRAWS, np.random.default_rng([_SEED, k]))
        low, high = np.quantile(even * column, tails)
        plain = certainty.intensity_interval(k)
        # Never narrower than in even rock, but for what so many draws leave open.
        found.append((min(float(low), plain[0]), max(float(high), plain[1])))
    return found


def uneven_rock(
    fractures: Fractures, memberships: Array, rock: Rock, sampling: Sampling
) -> Unevenness | None:
    """Unevenness of the sets of a rock; None without a set."""
    if not rock.sets:
        return None
    return unevenness(*cells_of(fractures, memberships, rock, sampling))
