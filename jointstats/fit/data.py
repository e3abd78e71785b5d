"""The data and the rules of one fit: made once, kept with it, asked by every later test of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.likelihood import Closed, Exposure, RoundSets
from jointstats.fit.rock import ReadAlike
from jointstats.types import Array

__all__ = ["FitData"]

_ERROR_GROUPS = 4  # of rows read with different errors, at most

@dataclass(frozen=True, eq=False)
class FitData:
    """The fractures of a fit, how they were sampled, and what the fit may do.

    Attributes
    ----------
    rows : ndarray, shape (n, p)
        Unit rows.
    weights : ndarray, shape (n,)
    exposure : Exposure or None
    background : bool
        Whether a uniform background is one of the components.
    kappa_bounds : (float, float)
        Smallest and largest concentration of a set.
    smallest : float
        Fewest fractures (sum of memberships) that may be called a set.
    candidates : int
        Places tried for each new set.
    tol : float
        Gain of log likelihood per fracture below which the iteration ends.
    max_iter : int
    criterion : str
        "bic" or "icl"; decides the number of sets.
    given : RoundSets or None
        Sets that the analyst gave, to start from; they come first in every fit.
    held : ndarray of bool, shape (G,), or None
        Which of them keep their mean.
    closed : ndarray of bool, shape (n, G), or None
        Rows that may not join each of them.
    scatter : ndarray, shape (n,), or None
        Variance a tangent direction by which the error of reading turns each row, radians²: rows
        have the density of their set spread by it. None takes rows as they are.
    part_of : ndarray of int, shape (n,), or None
        Number of the fracture of each row, rising from 0, where a fracture known in part has a row
        for each of its places, weighed as they are likely; None: each row is a fracture.
    """

    rows: Array
    weights: Array
    exposure: Exposure | None = None
    background: bool = True
    kappa_bounds: tuple[float, float] = (4.0, 1000.0)
    smallest: float = 5.0
    candidates: int = 4
    tol: float = 1e-6
    max_iter: int = 500
    criterion: str = "bic"
    given: RoundSets | None = None
    held: NDArray[np.bool_] | None = None
    closed: Closed = None
    scatter: Array | None = None
    part_of: NDArray[np.intp] | None = None

    @cached_property
    def fracture_weights(self) -> Array:
        """Weight of each fracture, the sum of those of its rows."""
        if self.part_of is None:
            return self.weights
        return np.asarray(np.bincount(self.part_of, self.weights), dtype=np.float64)

    def summed(self, values: Array) -> Array:
        """Sums over the rows of each fracture of values (n, …)."""
        if self.part_of is None:
            return values
        starts = np.searchsorted(self.part_of, np.arange(self.part_of[-1] + 1))
        return np.add.reduceat(values, starts, axis=0)

    def log_means(self, logs: Array) -> Array:
        """Log rate (n,) of the fracture of each row: the mean of the rates over its rows."""
        if self.part_of is None:
            return logs
        # Means in logarithms with the largest term taken out: a circle of possible planes may lie far from every set.
        top = self.summed_top(logs)
        share = self.weights / self.fracture_weights[self.part_of]
        mean = self.summed(share * np.exp(logs - top[self.part_of]))
        return np.asarray((np.log(mean) + top)[self.part_of])

    def summed_top(self, logs: Array) -> Array:
        """Largest of the values (n,) over the rows of each fracture."""
        assert self.part_of is not None
        starts = np.searchsorted(self.part_of, np.arange(self.part_of[-1] + 1))
        return np.maximum.reduceat(logs, starts)

    def log_likelihoods(self, rates: Array) -> Array:
        """Σ w log of the mean rate of each fracture, of rates (n, D) by row; shape (D,)."""
        if self.part_of is None:
            return np.asarray(self.weights @ np.log(rates))
        weights = self.fracture_weights
        # A fracture known in part is anywhere on its circle alike: its rate is the mean over the points that stand for it.
        mean = self.summed(rates * self.weights[:, np.newaxis]) / weights[:, np.newaxis]
        return np.asarray(weights @ np.log(mean))

    @cached_property
    def read(self) -> tuple[ReadAlike, ...]:
        """Rows by the error they were read with, in at most so many groups; none without errors."""
        if self.scatter is None or not self.scatter.any():
            return ()
        # Each error of reading would ask for densities of its own; a few groups with their mean error come near enough.
        edges = np.quantile(self.scatter, np.arange(1, _ERROR_GROUPS) / _ERROR_GROUPS)
        group = np.searchsorted(np.unique(edges), self.scatter)
        parts = [np.flatnonzero(group == g) for g in np.unique(group)]
        return tuple(ReadAlike(part, float(self.scatter[part].mean())) for part in parts)

    @property
    def n_given(self) -> int:
        """Number of sets the analyst gave; they come first and are never dropped."""
        return 0 if self.given is None else len(self.given.kappas)

    @property
    def total(self) -> float:
        """Weighted number of fractures."""
        return float(self.weights.sum())

    @property
    def uniform(self) -> float:
        """Mean exposure of the background; 1 without an exposure."""
        return 1.0 if self.exposure is None else self.exposure.of_uniform()

    def held_of(self, sets: int) -> NDArray[np.bool_]:
        """Which of so many sets keep their mean."""
        held = np.zeros(sets, bool)
        # Sets that the analyst gave stand first, and only they can be held.
        if self.held is not None:
            held[: self.n_given] = self.held
        return held

    def reordered(self, order: NDArray[np.intp]) -> FitData:
        """The same for sets put in an order: what is held and closed goes with its set."""
        held, sets = self.held_of(len(order))[order], len(order)
        closed = None
        if self.closed is not None:
            closed = np.zeros((len(self.rows), sets), bool)
            own = np.flatnonzero(order < self.n_given)
            closed[:, own] = self.closed[:, order[own]]
        return replace(self, given=None, held=held if held.any() else None, closed=closed)

    def of_rows(self, rows: Array, kept: NDArray[np.bool_], exposure: Exposure | None) -> FitData:
        """The rules of this fit for a part of its rows, sampled by another exposure."""
        alike = len(rows) == len(self.rows)
        return replace(
            self,
            rows=rows[kept],
            weights=np.ones(int(kept.sum())),
            exposure=exposure,
            closed=self.closed[kept] if alike and self.closed is not None else None,
            scatter=self.scatter[kept] if alike and self.scatter is not None else None,
            part_of=None,
        )

    def thinned(self, random_state: np.random.RandomState, most: int) -> FitData:
        """The same on a random part of the rows, whose weights are scaled to the same sum."""
        number = len(self.fracture_weights)
        if number <= most:
            return self
        # By fracture, not by row: the points of a circle stay together.
        keep = np.sort(random_state.choice(number, most, replace=False))
        part_of = None
        if self.part_of is not None:
            keep = np.flatnonzero(np.isin(self.part_of, keep))
            part_of = np.unique(self.part_of[keep], return_inverse=True)[1]
        weights = self.weights[keep]
        return replace(
            self,
            rows=self.rows[keep],
            weights=weights * (self.total / weights.sum()),
            closed=None if self.closed is None else self.closed[keep],
            scatter=None if self.scatter is None else self.scatter[keep],
            part_of=part_of,
        )
