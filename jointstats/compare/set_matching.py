"""Sets found in each hole by itself, matched with those of all holes; the unmatched explained."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.special import pdtr

from jointstats.compare.counts import labels_of
from jointstats.compare.groups import SampledGroup
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.mixture import JointSetMixture
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axes import axis_angles_deg
from jointstats.types import Array, RandomState

__all__ = ["explained_absence", "match_sets"]


#: Sets match where they share at least this part of the fractures of the smaller of the two.
_SHARED = 0.5
_BLIND = 1.0  # fractures expected, below which their absence says nothing
_FEW = 5.0  # fractures expected, below which a hole alone can't show them to be a set


def match_sets(
    groups: Sequence[SampledGroup],
    rock: RoundSets,
    *,
    max_sets: int = 8,
    random_state: RandomState = 0,
) -> list[dict[str, object]]:
    """Find the sets of every hole by itself, and match them with those of all holes (`rock`).

    Two sets match where they hold the same fractures: one to one, so that the number shared is
    largest, and at least half of the smaller. A set of all holes that a hole does not show by
    itself is explained by what that hole was expected to meet of it.

    Keys of a row: hole, set (number in `rock`, −1 where the hole alone has it), own_set (number in the
    hole, −1 where it is not found), n (sorted to it by the fit of all), n_own, n_expected, seen_share,
    angle_deg (between the means), dip_deg, dip_direction_deg (of the hole's own), finding.
    """
    rows: list[dict[str, object]] = []
    for one in groups:
        alone = _alone(one, max_sets, random_state)
        labels = labels_of(one.poles, rock)
        own = labels_of(one.poles, alone)
        pairs = _pairs(labels, own, len(rock.kappas), len(alone.kappas))
        for k in range(len(rock.kappas)):
            rows.append(_of_set(one, rock, alone, k, pairs.get(k, -1), labels, own))
        unmatched = sorted(set(range(len(alone.kappas))) - set(pairs.values()))
        rows += [_only_here(one, groups, alone, i, own) for i in unmatched]
    return rows


def _alone(group: SampledGroup, max_sets: int, random_state: RandomState) -> RoundSets:
    if not group.n:
        return RoundSets(np.empty((0, 3)), np.empty(0), np.empty(0), 0.0)
    model = JointSetMixture(max_sets=max_sets, random_state=random_state)
    model.fit(group.poles, exposure=group.exposure)
    return RoundSets(model.means_, model.kappas_, model.intensities_, model.background_)


def _pairs(
    labels: NDArray[np.intp], own: NDArray[np.intp], sets: int, own_sets: int
) -> dict[int, int]:
    shared = np.zeros((sets + 1, own_sets + 1))
    np.add.at(shared, (labels, own), 1)
    inside = shared[:sets, :own_sets]
    smaller = np.minimum(
        shared.sum(axis=1)[:sets, np.newaxis], shared.sum(axis=0)[np.newaxis, :own_sets]
    )
    which, with_which = linear_sum_assignment(-inside)
    return {
        int(k): int(i)
        for k, i in zip(which, with_which, strict=True)
        if inside[k, i] >= max(_SHARED * smaller[k, i], 1.0)
    }


def _row(group: SampledGroup, k: int, own_set: int, mean: Array | None) -> dict[str, object]:
    dip, direction = (None, None) if mean is None else dip_from_poles(mean)
    return {
        "hole": group.name,
        "set": k,
        "own_set": own_set,
        "dip_deg": None if dip is None else float(dip[0]),
        "dip_direction_deg": None if direction is None else float(direction[0]),
    }


def _of_set(
    group: SampledGroup,
    rock: RoundSets,
    alone: RoundSets,
    k: int,
    own_set: int,
    labels: NDArray[np.intp],
    own: NDArray[np.intp],
) -> dict[str, object]:
    mean, kappa = rock.means[k], float(rock.kappas[k])
    expected = float(rock.intensities[k]) * group.exposure.of_set(mean, kappa)
    seen, n = group.exposure.seen_share(mean, kappa), int((labels == k).sum())
    matched = own_set >= 0
    row = _row(group, k, own_set, alone.means[own_set] if matched else None)
    angle = float(axis_angles_deg(alone.means[own_set], mean)[0]) if matched else None
    return row | {
        "n": n,
        "n_own": int((own == own_set).sum()) if matched else 0,
        "n_expected": expected,
        "seen_share": seen,
        "angle_deg": angle,
        "finding": "matched" if matched else explained_absence(n, expected, seen),
    }


def explained_absence(n: int, expected: float, seen_share: float) -> str:
    """Why a hole by itself does not show a set that the holes together do.

    `n` of its fractures are sorted to the set, `expected` would be if it were there as elsewhere;
    `seen_share` of the set's fractures there lie above the blind angle.

    >>> explained_absence(0, 0.3, 0.1)
    'not seen: the hole is nearly blind to it (0.3 expected if it were there)'
    """
    if expected < _BLIND:
        why = "the hole is nearly blind to it" if seen_share < _SHARED else "too little was logged"
        return f"not seen: {why} ({expected:.1f} expected if it were there)"
    chance = float(pdtr(n, expected))
    if chance < 0.05:
        return f"scarce here: {n} where {expected:.1f} were expected (chance {chance:.2g})"
    if expected < _FEW:
        return f"too few to show alone: {n} where {expected:.1f} were expected"
    return f"there, but not told from its neighbours by this hole alone: {n} of {expected:.1f}"


def _only_here(
    group: SampledGroup,
    groups: Sequence[SampledGroup],
    alone: RoundSets,
    i: int,
    own: NDArray[np.intp],
) -> dict[str, object]:
    mean, kappa, intensity = alone.means[i], float(alone.kappas[i]), float(alone.intensities[i])
    elsewhere = sum(
        intensity * one.exposure.of_set(mean, kappa) for one in groups if one is not group
    )
    n = int((own == i).sum())
    return _row(group, -1, i, mean) | {
        "n": 0,
        "n_own": n,
        "n_expected": intensity * group.exposure.of_set(mean, kappa),
        "seen_share": group.exposure.seen_share(mean, kappa),
        "angle_deg": None,
        "finding": f"a set in this hole alone: {n} fractures; if it were in the others they would "
        f"have met {elsewhere:.0f} more",
    }
