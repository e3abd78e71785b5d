"""Poles by group with what each group was exposed to: a group is a hole, or a stretch of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from jointstats.borehole.exposure import LineExposure
from jointstats.errors import InputError
from jointstats.sphere.axes import as_axes
from jointstats.sphere.zonal import (
    FisherMeansSlopes,
    hole_mean_table,
    met_by_hole,
    uniform_mean_of_hole,
)
from jointstats.types import Array, ArrayLike

#: Directions within this angle are gathered: an error below 4e-4 in |n · d|.
_GATHERED_DEG = 2.0


@dataclass(frozen=True, eq=False)
class GroupedPoles:
    """Poles of G groups, and the metres that each group logged along D directions."""

    poles: Array = field(repr=False)  # (n, 3)
    group: NDArray[np.intp] = field(repr=False)  # (n,)
    directions: Array  # (D, 3)
    lengths_m: Array  # (G, D)
    blind_angle_deg: float
    girths: Array  # (D,) radius of the hole over that of the fractures

    @property
    def n_groups(self) -> int:
        """Number of groups."""
        return len(self.lengths_m)

    @property
    def sizes(self) -> NDArray[np.intp]:
        """Number of poles in each group, shape (G,)."""
        return np.bincount(self.group, minlength=self.n_groups)

    @cached_property
    def gather(self) -> csr_matrix:
        """Sums rows (n, m) of values by group: one where a pole is in a group, shape (G, n)."""
        return gathering(self.group, self.n_groups)

    def of_sets(self, means: Array, kappas: Array) -> Array:
        """Mean exposure of each group to each of m sets, metres, shape (G, m)."""
        table = hole_mean_table(self.blind_angle_deg, self.girths)
        return self.lengths_m @ table.value_at(means @ self.directions.T, kappas[:, np.newaxis]).T

    def of_uniform(self) -> Array:
        """Mean exposure of each group to fractures of any orientation, metres, shape (G,)."""
        return self.lengths_m @ uniform_mean_of_hole(self.blind_angle_deg, self.girths)

    def at(self, poles: Array) -> Array:
        """Exposure of each group to single orientations, metres, shape (G, m)."""
        cosine = np.abs(poles @ self.directions.T)
        met = met_by_hole(cosine, self.girths) if self.girths.any() else cosine
        seen = np.where(cosine >= np.sin(np.radians(self.blind_angle_deg)), met, 0.0)
        return self.lengths_m @ seen.T

    def only(self, groups: list[int]) -> GroupedPoles:
        """Those groups alone, in the order named."""
        place = np.full(self.n_groups, -1)
        place[groups] = np.arange(len(groups))
        own = place[self.group] >= 0
        lengths = self.lengths_m[groups]
        used = lengths.any(axis=0)
        return GroupedPoles(
            self.poles[own],
            place[self.group][own],
            self.directions[used],
            lengths[:, used],
            self.blind_angle_deg,
            self.girths[used],
        )

    def taken_together(self, parent: NDArray[np.intp]) -> GroupedPoles:
        """The same with groups joined: group g becomes part of group `parent[g]`."""
        joined = np.zeros((int(parent.max()) + 1, len(self.directions)))
        np.add.at(joined, parent, self.lengths_m)
        return replace(self, group=parent[self.group], lengths_m=joined)

    def turned(self, groups: NDArray[np.bool_], matrix: Array) -> GroupedPoles:
        """The same with poles and directions of some groups (G,) turned together."""
        own = groups[self.group][:, np.newaxis]
        poles = np.where(own, self.poles @ matrix.T, self.poles)
        only = np.where(groups[:, np.newaxis], self.lengths_m, 0.0)
        # Directions of a turned hole stand beside those of the others, and the metres move over to them.
        lengths = np.hstack([self.lengths_m - only, only])
        directions = np.vstack([self.directions, self.directions @ matrix.T])
        used = lengths.any(axis=0)
        return replace(
            self,
            poles=poles,
            directions=directions[used],
            lengths_m=lengths[:, used],
            girths=np.tile(self.girths, 2)[used],
        )


def gathering(group: NDArray[np.intp], n_groups: int) -> csr_matrix:
    """Sparse matrix (G, n) that sums rows of values by their group (n,)."""
    rows = np.arange(len(group))
    return csr_matrix((np.ones(len(group)), (group, rows)), shape=(n_groups, len(group)))


class WeightedExposure:
    """Exposure with metres of its own for each of m sets: what the M step asks."""

    log_error = 0.0

    def __init__(self, data: GroupedPoles, lengths_m: Array) -> None:
        self._table = hole_mean_table(data.blind_angle_deg, data.girths)
        self._lines, self._lengths = data.directions, lengths_m  # (m, D)

    def of_sets(self, means: Array, kappas: Array) -> Array:
        """Mean exposure of each set, shape (m,)."""
        value = self._table.value_at(means @ self._lines.T, kappas[:, np.newaxis])
        return (value * self._lengths).sum(axis=1)

    def of_sets_slopes(self, means: Array, kappas: Array) -> FisherMeansSlopes:
        """The same with derivatives by mean and κ."""
        of, lines = (self._table.at(means @ self._lines.T, kappas[:, np.newaxis]), self._lines)
        value, by_cosine, by_kappa, twice, mixed, kappa_twice = (one * self._lengths for one in of)
        return FisherMeansSlopes(
            value.sum(axis=1),
            by_cosine @ lines,
            by_kappa.sum(axis=1),
            np.einsum("kd,di,dj->kij", twice, lines, lines),
            mixed @ lines,
            kappa_twice.sum(axis=1),
        )

    def of_uniform(self) -> float:
        """Not asked for: the background has no mean."""
        return 1.0

    def at(self, poles: Array) -> Array:
        """Not asked for by the M step."""
        raise NotImplementedError


def grouped_poles(
    poles: ArrayLike, group: ArrayLike, exposures: Sequence[LineExposure]
) -> GroupedPoles:
    """Gather poles (n, 3), the number of each one's group (n,) and the exposure of every group."""
    rows, number = as_axes(poles), np.asarray(group)
    if number.shape != (len(rows),) or not np.issubdtype(number.dtype, np.integer):
        raise InputError(f"group must be one whole number a pole ({len(rows)}); got {number.shape}")
    if len(number) and not (0 <= number.min() and number.max() < len(exposures)):
        raise InputError(
            f"group must lie between 0 and {len(exposures) - 1}, the last exposure; got "
            f"{number.min()} to {number.max()}"
        )
    blind = {one.blind_angle_deg for one in exposures}
    if len(blind) != 1:
        raise InputError(f"exposures must share one blind angle; got {sorted(blind)}")
    merged = [one.merged(_GATHERED_DEG) for one in exposures]
    directions = np.vstack([one.directions for one in merged])
    lengths = np.zeros((len(merged), len(directions)))
    place = np.repeat(np.arange(len(merged)), [len(one.lengths_m) for one in merged])
    lengths[place, np.arange(len(directions))] = np.concatenate([one.lengths_m for one in merged])
    girths = np.concatenate([one.girths for one in merged])
    return GroupedPoles(rows, number.astype(np.intp), directions, lengths, blind.pop(), girths)
