"""Structural domains: holes that agree, found by comparing how well groupings explain the logs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jointstats.compare.groups import SampledGroup, pooled_exposure
from jointstats.fit.batch import kappa_bounds
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.search import Fit, Problem, settle

__all__ = ["Grouping", "find_domains"]

Array = NDArray[np.float64]
Block = tuple[int, ...]

#: Up to this many holes every grouping is tried (877 of them); beyond it pairs are merged.
TRY_ALL = 7
#: A set of fewer fractures (sum of memberships) is not there, and costs no parameter.
_PRESENT = 1.0


@dataclass(frozen=True)
class Grouping:
    """One way of sorting the holes into domains.

    Attributes
    ----------
    domains : tuple of tuple of int
        Holes of each domain, by number.
    log_likelihood : float
    parameters : int
        Four a set that is there, and one for the background, in each domain.
    bic : float
        Bayesian information criterion: smaller is better.

    Examples
    --------
    >>> Grouping(((0, 1), (2,)), -10.0, 10, 66.0).domains
    ((0, 1), (2,))
    """

    domains: tuple[Block, ...]
    log_likelihood: float
    parameters: int
    bic: float


class _Blocks:
    """Fits of sets of holes, each made once."""

    def __init__(self, groups: Sequence[SampledGroup], start: RoundSets) -> None:
        self.groups, self.start = groups, start
        self.penalty = float(np.log(max(sum(one.n for one in groups), 1)))
        self._known: dict[Block, tuple[float, int]] = {}

    def of(self, block: Block) -> tuple[float, int]:
        """Log likelihood and number of parameters of holes taken as one domain."""
        if block not in self._known:
            fit = self._fit([self.groups[g] for g in block])
            there = int((fit.found.counts[:-1] >= _PRESENT).sum())
            self._known[block] = fit.log_likelihood, 4 * there + 1
        return self._known[block]

    def cost(self, block: Block) -> float:
        value, parameters = self.of(block)
        return parameters * self.penalty - 2.0 * value

    def _fit(self, members: Sequence[SampledGroup]) -> Fit:
        rows = np.vstack([one.poles for one in members])
        problem = Problem(
            rows=rows,
            weights=np.ones(len(rows)),
            exposure=pooled_exposure(members),
            background=True,
            kappa_bounds=kappa_bounds(self.start.kappas),  # type: ignore[arg-type]  # one a set
            smallest=1.0,
            candidates=1,
            tol=1e-5,
            max_iter=200,
        )
        return settle(problem, self.start)

    def grouping(self, domains: Sequence[Block]) -> Grouping:
        found = [self.of(block) for block in domains]
        value, parameters = sum(one[0] for one in found), sum(one[1] for one in found)
        return Grouping(
            tuple(sorted(domains)), value, parameters, parameters * self.penalty - 2.0 * value
        )


def partitions(n: int) -> Iterator[list[Block]]:
    """Every way of sorting n things into groups.

    Parameters
    ----------
    n : int

    Yields
    ------
    list of tuple of int

    Examples
    --------
    >>> sum(1 for _ in partitions(4))
    15
    """
    if n == 0:
        yield []
        return
    for rest in partitions(n - 1):
        yield [*rest, (n - 1,)]
        for i, block in enumerate(rest):
            yield [*rest[:i], (*block, n - 1), *rest[i + 1 :]]


def find_domains(
    groups: Sequence[SampledGroup], start: RoundSets, *, keep: int = 10
) -> list[Grouping]:
    """Sort holes into domains of one rock each, by the Bayesian information criterion.

    Parameters
    ----------
    groups : sequence of SampledGroup
        Holes, or lengths of holes.
    start : RoundSets
        Sets of all of them; within a domain each may move, change its κ and P32, or be absent.
    keep : int
        How many of the best groupings are given.

    Returns
    -------
    list of Grouping
        Best first. Up to seven holes all groupings are tried; with more, domains are merged two
        at a time for as long as the criterion gains, which need not find the best.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats.compare.groups import groups_of
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> find_domains(groups_of(result), RoundSets.of(result.rock))[0].domains
    ((0, 1, 2),)
    """
    blocks = _Blocks(groups, start)
    tried = (
        [blocks.grouping(one) for one in partitions(len(groups))]
        if len(groups) <= TRY_ALL
        else _merged(blocks)
    )
    tried.sort(key=lambda one: (one.bic, len(one.domains), one.domains))
    return tried[:keep]


def _merged(blocks: _Blocks) -> list[Grouping]:
    domains: list[Block] = [(g,) for g in range(len(blocks.groups))]
    tried = [blocks.grouping(domains)]
    while len(domains) > 1:
        pairs = [(a, b) for i, a in enumerate(domains) for b in domains[i + 1 :]]
        gains = [
            blocks.cost(a) + blocks.cost(b) - blocks.cost(tuple(sorted(a + b))) for a, b in pairs
        ]
        a, b = pairs[int(np.argmax(gains))]
        domains = [one for one in domains if one not in (a, b)] + [tuple(sorted(a + b))]
        tried.append(blocks.grouping(domains))
    return tried
