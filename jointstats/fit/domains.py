"""Structural domains: groups that share orientations, found by how well groupings explain them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jointstats.fit.block_fits import BlockFits, fit_blocks, group_values
from jointstats.fit.grouped import GroupedPoles
from jointstats.fit.likelihood import RoundSets
from jointstats.types import Array

Block = tuple[int, ...]

#: Up to this many holes every grouping of them is tried (877 of them).
TRY_ALL = 7
#: Fractures, below which a block is no domain: it would have no sets to be told by.
_FEWEST = 5
_REASSIGNED = 6  # rounds of a split
_SEEDS = 12  # starts of a split, the likeliest by their own sets, whose rest is fitted too


@dataclass(frozen=True)
class Grouping:
    """One way of sorting groups into domains, each with sets of its own.

    Attributes
    ----------
    domains : tuple of tuple of int
        Groups of each domain, by number.
    sets : tuple of RoundSets
        Sets of each domain.
    log_likelihood : float
    parameters : int
        Three a set and domain, and an intensity a set and group that could see it.
    bic : float
        Bayesian information criterion: smaller is better.
    """

    domains: tuple[Block, ...]
    sets: tuple[RoundSets, ...]
    log_likelihood: float
    parameters: int
    bic: float


class _Blocks:
    """Fits of blocks of groups, each made once."""

    def __init__(self, data: GroupedPoles, start: RoundSets) -> None:
        self.data, self.start = data, start
        self.penalty = float(np.log(max(len(data.poles), 2)))
        self._known: dict[Block, tuple[BlockFits, int, int]] = {}

    def learn(self, blocks: Iterable[Block]) -> None:
        """Fit those not yet known, side by side."""
        new = [one for one in dict.fromkeys(blocks) if one not in self._known]
        if not new:
            return
        masks = np.zeros((len(new), self.data.n_groups), bool)
        for mask, block in zip(masks, new, strict=True):
            mask[list(block)] = True
        fits = fit_blocks(self.data, masks, self.start)
        for b, (block, number) in enumerate(zip(new, fits.n_parameters(), strict=True)):
            self._known[block] = fits, b, int(number)

    def is_enough(self, block: Block) -> bool:
        """Whether a block has fractures enough to be a domain of its own."""
        return bool(self.data.sizes[list(block)].sum() >= _FEWEST)

    def cost(self, block: Block) -> float:
        """Information criterion of one block."""
        fits, b, number = self._known[block]
        return number * self.penalty - 2.0 * float(fits.log_likelihood[b])

    def values(self, block: Block) -> Array:
        """Log likelihood of every group among the sets of one block, shape (G,)."""
        fits, b, _ = self._known[block]
        rock, data = fits.parameters(b), self.data
        met = np.column_stack([data.of_sets(rock.means, rock.kappas), data.of_uniform()])
        return group_values(data.poles, data.group, rock, met)

    def grouping(self, domains: Iterable[Block], hole: NDArray[np.intp]) -> Grouping:
        """Domains with their sets, the first group's first; a cut of a hole is a parameter."""
        ordered = tuple(sorted(domains))
        label = np.empty(len(hole), dtype=np.intp)
        for i, block in enumerate(ordered):
            label[list(block)] = i
        # Domains share nothing, so that likelihood and parameters add up.
        found = [self._known[block] for block in ordered]
        value = sum(float(fits.log_likelihood[b]) for fits, b, _ in found)
        cuts = int(((np.diff(label) != 0) & (np.diff(hole) == 0)).sum())
        number = sum(one[2] for one in found) + cuts
        sets = tuple(fits.parameters(b) for fits, b, _ in found)
        return Grouping(ordered, sets, value, number, number * self.penalty - 2.0 * value)


def partitions(n: int) -> Iterator[list[Block]]:
    """Every way of sorting n things into groups."""
    if n == 0:
        yield []
        return
    for rest in partitions(n - 1):
        yield [*rest, (n - 1,)]
        for i, block in enumerate(rest):
            yield [*rest[:i], (*block, n - 1), *rest[i + 1 :]]


def find_domains(
    data: GroupedPoles, hole: NDArray[np.intp], start: RoundSets, *, keep: int = 10
) -> list[Grouping]:
    """Sort groups into domains by the Bayesian information criterion, best first.

    `hole` (G,) is the number of each group's hole. Within a domain the sets of `start` may move,
    change their κ, or be absent; intensities are free in every group, so that frequency alone makes
    no domain. Up to seven holes all their groupings are tried; with more, or where holes come in
    stretches, rock is split in two for as long as the criterion gains; it need not find the best.
    """
    blocks = _Blocks(data, start)
    every = _block(np.ones(data.n_groups, bool))
    members = [_block(hole == h) for h in np.unique(hole)]
    ways: list[list[Block]] = [[every]]
    if len(members) <= TRY_ALL:
        ways = [
            [tuple(sorted(g for h in part for g in members[h])) for part in way]
            for way in partitions(len(members))
        ]
    if len(members) > TRY_ALL or data.n_groups > len(members):
        label = _split(blocks, hole)
        ways.append([_block(label == one) for one in np.unique(label)])
    ways = [way for way in ways if len(way) == 1 or all(map(blocks.is_enough, way))]
    blocks.learn(block for way in ways for block in way)
    tried = {one.domains: one for one in (blocks.grouping(way, hole) for way in ways)}
    return sorted(tried.values(), key=lambda one: (one.bic, len(one.domains), one.domains))[:keep]


def _split(blocks: _Blocks, hole: NDArray[np.intp]) -> NDArray[np.intp]:
    """Number of the domain of each group (G,): split in two for as long as the criterion gains.

    A split starts from a hole, or from the parts of one or of all holes below some depth; groups
    then change sides, hole by hole along the best path.
    """
    label, waiting = np.zeros(len(hole), dtype=np.intp), [0]
    while waiting:
        one = waiting.pop()
        side = _best_split(blocks, hole, label == one)
        if side is not None:
            new = int(label.max()) + 1
            label[side] = new
            waiting += [one, new]
    return label


def _best_split(
    blocks: _Blocks, hole: NDArray[np.intp], own: NDArray[np.bool_]
) -> NDArray[np.bool_] | None:
    """Stretches of a domain (G,) that are better taken apart from the rest of it, or None."""
    def parts(side: NDArray[np.bool_]) -> list[Block]:
        return [_block(side), _block(own & ~side)]

    seeds = [one for one in _seeds(hole, own) if all(map(blocks.is_enough, parts(one)))]
    if not seeds:
        return None
    blocks.learn([_block(own), *map(_block, seeds)])
    together = blocks.values(_block(own))

    def alone(side: NDArray[np.bool_]) -> float:
        # As if the rest stayed as it is, which holds the better the less is taken from it.
        return blocks.cost(_block(side)) + 2.0 * float(together[side].sum())

    seeds = sorted(seeds, key=alone)[:_SEEDS]
    blocks.learn(part for one in seeds for part in parts(one))

    def cost(side: NDArray[np.bool_]) -> float:
        cuts = ((np.diff(side) != 0) & (np.diff(hole) == 0) & own[1:] & own[:-1]).sum()
        return sum(map(blocks.cost, parts(side))) + blocks.penalty * float(cuts)

    side = min(seeds, key=cost)
    for _ in range(_REASSIGNED):
        moved = _reassigned(blocks, hole, own, side)
        if not all(map(blocks.is_enough, parts(moved))) or (moved == side).all():
            break
        blocks.learn(parts(moved))
        if cost(moved) >= cost(side):
            break
        side = moved
    return side if cost(side) < blocks.cost(_block(own)) else None


def _block(mask: NDArray[np.bool_]) -> Block:
    return tuple(int(g) for g in np.flatnonzero(mask))


def _seeds(hole: NDArray[np.intp], own: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """Ways to start a split: a hole, the lower part of one, and that of all at a share of depth."""
    seeds, below = [], np.zeros(len(hole))
    for h in np.unique(hole[own]):
        mine = own & (hole == h)
        below[mine] = (np.arange(mine.sum()) + 0.5) / mine.sum()
        places = np.flatnonzero(mine)
        seeds += [mine & (np.arange(len(hole)) >= place) for place in places]
    return seeds + [own & (below > share) for share in (0.25, 0.5, 0.75)]


def _reassigned(
    blocks: _Blocks, hole: NDArray[np.intp], own: NDArray[np.bool_], side: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Each hole's stretches sorted to the side that explains them; a change of side costs a cut."""
    values = np.array([blocks.values(_block(part)) for part in (own & ~side, side)])  # (2, G)
    moved = np.zeros(len(hole), bool)
    for h in np.unique(hole[own]):
        places = np.flatnonzero(own & (hole == h))
        moved[places] = _path(values[:, places], 0.5 * blocks.penalty)
    return moved


def _path(values: Array, change: float) -> NDArray[np.bool_]:
    """The best of two states along a line (2, m), each change of state costing so much."""
    score, back = values[:, 0], []
    for now in values.T[1:]:
        other = score[::-1] - change
        back.append(other > score)
        score = np.maximum(score, other) + now
    state = int(np.argmax(score))
    states = [state]
    for changed in reversed(back):
        state = 1 - state if changed[state] else state
        states.append(state)
    return np.array(states[::-1], dtype=bool)
