"""The resultant of axes: which end of each to take, their sum, and how far they lie from it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from jointstats.types import Array

#: Up to this many scattered axes, every sign choice that can win is tried.
_EXACT_UP_TO = 24


@dataclass(frozen=True, eq=False)
class Resultant:
    """Weighted sum of unit rows.

    `rows` (n, 3): the rows, each by the end that was taken; `weights` (n,): weights scaled to sum
    to n; `mean` (3,): unit vector along the sum; `length`: length R of the sum, 0 to n; `drops`
    (n,).
    """

    rows: Array
    weights: Array
    mean: Array
    length: float
    drops: Array
    axial: bool

    @property
    def shortfall(self) -> float:
        """n − R, as a sum of terms that are never negative."""
        return float(self.weights @ self.drops)


def resultant_of(rows: Array, weights: Array, *, axial: bool) -> Resultant:
    """Sum unit rows; if axial, with the ends that make the sum longest.

    `rows` (n, 3): unit rows, at least one; `weights` (n,): weights above zero. Gives the sum.
    Directed rows that cancel give the first axis of their orientation tensor as a mean and a
    length of zero.
    """
    scaled = weights * (len(weights) / weights.sum())
    if axial:
        rows = rows * longest_signs(rows, scaled)[:, np.newaxis]
    total = scaled @ rows
    length = float(np.linalg.norm(total))
    if length <= 1e-12 * len(rows):
        mean, length = np.linalg.eigh((rows * scaled[:, np.newaxis]).T @ rows)[1][:, -1], 0.0
    else:
        mean = total / length
    gaps = rows - mean
    drops = 0.5 * np.einsum("ij,ij->i", gaps, gaps)
    return Resultant(rows, scaled, mean, length, drops, axial)


def means_of_many(rows: Array, start: Array, *, axial: bool) -> tuple[Array, Array, Array]:
    """Sums of many sets at once, each known to lie about one axis.

    `rows` (b, n, 3): unit rows of b sets; `start` (3,). Gives `ends` (b, n, 3): the rows by the
    end that was taken; `means` (b, 3): unit means; `lengths` (b,): lengths of the sums.
    """
    means = np.broadcast_to(start, (len(rows), 3))
    ends = rows
    for _ in range(4 if axial else 1):
        if axial:
            along = np.einsum("bni,bi->bn", rows, means)
            ends = rows * np.where(along < 0, -1.0, 1.0)[:, :, np.newaxis]
        totals = ends.sum(axis=1)
        lengths = np.linalg.norm(totals, axis=1)
        means = totals / np.maximum(lengths, 1e-12)[:, np.newaxis]
    return ends, means, lengths


def longest_signs(rows: Array, weights: Array) -> Array:
    """Signs that make the weighted sum of axes longest.

    `rows` (n, 3): unit rows; `weights` (n,): weights above zero. Gives (n,): −1 or 1. Exact if
    all axes lie within 45° of their mean, or there are at most 24 of them; otherwise the best of
    the local maxima reached from the axes of the orientation tensor, their diagonals, and up to
    200 of the axes themselves.
    """
    weighted = rows * weights[:, np.newaxis]
    axes = np.linalg.eigh(weighted.T @ rows)[1].T
    signs, _ = _climb(rows, weighted, axes[-1:])
    mean = signs[0] @ weighted
    mean /= np.linalg.norm(mean)
    # Axes within 45° of a line are pairwise within 90°, and then turning any of them shortens
    # the sum: |a − b| < |a + b| where a · b > 0.
    if (signs[0] * (rows @ mean)).min() >= np.sqrt(0.5):
        return signs[0]
    if len(rows) <= _EXACT_UP_TO:
        candidates = _all_signs(rows)
        return candidates[int(np.argmax(_lengths(candidates, weighted)))]
    diagonals = [axes[i] + s * axes[j] for i, j in combinations(range(3), 2) for s in (-1, 1)]
    corners = [axes[0] + s * axes[1] + t * axes[2] for s in (-1, 1) for t in (-1, 1)]
    starts = np.vstack([axes, diagonals, corners, rows if len(rows) <= 200 else axes])
    signs, lengths = _climb(rows, weighted, starts)
    return signs[int(np.argmax(lengths))]


def _lengths(signs: Array, weighted: Array) -> Array:
    return np.linalg.norm(signs @ weighted, axis=1)


def _climb(rows: Array, weighted: Array, starts: Array) -> tuple[Array, Array]:
    """Align with each start, then with the sum, until no sign changes."""
    signs = np.where(starts @ rows.T < 0, -1.0, 1.0)
    for _ in range(100):
        following = np.where((signs @ weighted) @ rows.T < 0, -1.0, 1.0)
        if (following == signs).all():
            break
        signs = following
    return signs, _lengths(signs, weighted)


def _all_signs(rows: Array) -> Array:
    """Sign choices of every cell that the planes square to the axes cut the sphere into.

    The longest sum agrees in sign with all its terms, so it is one of them. Each cell has a
    corner on two of the planes, where the signs of those two axes are free.
    """
    first, second = np.triu_indices(len(rows), 1)
    if not len(first):
        return np.ones((1, len(rows)))
    at = np.arange(len(first))
    signs = np.where(np.cross(rows[first], rows[second]) @ rows.T < 0, -1.0, 1.0)
    cells = []
    for s in (-1.0, 1.0):
        for t in (-1.0, 1.0):
            cell = signs.copy()
            cell[at, first], cell[at, second] = s, t
            cells.append(cell)
    return np.vstack(cells)
