"""Where a fit starts after a step that removes, merges or splits sets."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from jointstats.errors import InputError
from jointstats.fit.likelihood import Exposure
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.rock import RockSet
from jointstats.recipe.given_set import GivenSet
from jointstats.recipe.recipe import Step
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.tensor import orientation_tensor
from jointstats.types import Array

_FEWEST = 6  # fractures that can be split in two


def starts_after(
    step: Step, sets: Mapping[str, RockSet], asked: Mapping[str, GivenSet]
) -> list[GivenSet]:
    """Means that the sets which are not touched start from.

    `asked` are the sets that were given, by the name each has now; one that has a name, is held, or is
    open to some fractures only, stays as it was given.
    """
    for name in step.sets:
        if name not in sets:
            raise InputError(f"there is no set {name!r}; the sets are {', '.join(sets) or 'none'}")
    left = {name: one for name, one in sets.items() if name not in step.sets}
    kept = {name: one for name, one in asked.items() if one.name or one.hold or one.only}
    return [
        kept[name] if name in kept else _at(one.density.mean)
        for name, one in left.items()
        if name in kept or one.density.mean is not None
    ]


def merged_start(step: Step, sets: Mapping[str, RockSet]) -> GivenSet:
    """The mean of two sets as one: the first axis of both together, by area."""
    pair = [sets[name] for name in step.sets]
    for name, one in zip(step.sets, pair, strict=True):
        if one.density.mean is None:
            raise InputError(f"{name} is a girdle: it has no mean to merge with another")
    axes = np.array([one.density.frame[0] for one in pair])
    areas = np.array([one.p32_per_m for one in pair])
    return _at(orientation_tensor(axes, areas).axes[0])


def split_starts(step: Step, poles: Array, exposure: Exposure) -> list[GivenSet]:
    """Two means in the place of one, from the fractures of the set."""
    if len(poles) < _FEWEST:
        raise InputError(
            f"{step.sets[0]} has {len(poles)} fractures in the fit; to be split it needs {_FEWEST}"
        )
    model = JointSetMixture(2, background=False, random_state=0).fit(poles, exposure=exposure)
    return [_at(mean) for mean in model.means_]


def _at(mean: Array | None) -> GivenSet:
    assert mean is not None  # girdles are left to be found anew
    dip, direction = dip_from_poles(mean)
    return GivenSet(float(dip[0]), float(direction[0]))
