"""How surely the fractures belong to their sets: a picture, a table, and the finding in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.sphere.angles import dip_from_poles
from jointstats.words import listed

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.fit.partly_fit import PartlyFitted
    from jointstats.observed.partly import PartlyOriented
    from jointstats.sets.fitted import HasSets

#: Of a fracture known in part: its most probable plane, and the root mean square angle to the others.
PROBABLE_COLUMNS = ["probable_dip_deg", "probable_dip_direction_deg", "probable_error_deg"]
#: At this membership or above a fracture belongs surely; below the other, it is in doubt.
SURE, DOUBT = 0.9, 0.7


def membership_groups(result: HasSets) -> list[tuple[str, NDArray[np.intp], list[str]]]:
    """Of each set and the unassigned: counts (sure, likely, in doubt), and who is next in line.

    The next in line is named for each fracture in doubt: the set, or the background, of the
    second largest membership.
    """
    names = np.array([*(one.name for one in result.sets), UNASSIGNED], dtype=object)
    fractures = Fractures(result.fractures).fitted
    fitted = fractures.table
    if fitted.empty:
        return []
    own = fitted["set"].to_numpy()
    membership = fitted["membership"].to_numpy(float)
    shares = result.mixture.predict_proba(fractures.poles)
    next_best = names[np.where(names == own[:, np.newaxis], -1.0, shares).argmax(axis=1)]
    groups = []
    for name in names:
        mine = own == name
        step = np.digitize(membership[mine], [DOUBT, SURE])
        rival = next_best[mine][step == 0]
        groups.append((str(name), np.bincount(2 - step, minlength=3), list(rival)))
    return groups


def with_partly(
    fractures: pd.DataFrame, known: PartlyOriented, fitted: PartlyFitted, set_names: list[str]
) -> pd.DataFrame:
    """The set of each fracture known in part, its membership, and its most probable plane."""
    names = np.array([*set_names, UNASSIGNED], dtype=object)
    at, best = fractures.index[known.number], fitted.memberships.argmax(axis=1)
    table = fractures.copy()
    table.loc[at, "set"] = names[best]
    table.loc[at, "membership"] = fitted.memberships[np.arange(len(best)), best]
    dip, direction = dip_from_poles(fitted.poles)
    for name, values in zip(PROBABLE_COLUMNS, (dip, direction, fitted.error_deg), strict=True):
        table.loc[at, name] = values
    return table


def called(name: str) -> str:
    return "no set" if name == UNASSIGNED else str(name)


def membership_finding(result: HasSets) -> str:
    """How surely the fractures of the sets belong, in one or two sentences."""
    groups = [group for group in membership_groups(result) if group[0] != UNASSIGNED]
    counts = sum((group[1] for group in groups), np.zeros(3, dtype=np.intp))
    total = int(counts.sum())
    if not total:
        return "No fracture is in a set."
    text = (
        f"Of the {total} fractures in sets, {counts[0]} ({100 * counts[0] / total:.0f} %) belong "
        f"surely (membership {SURE:g} or more) and {counts[2]} ({100 * counts[2] / total:.0f} %) "
        f"are in doubt (below {DOUBT:g})"
    )
    if not counts[2]:
        return f"{text}."
    between = [
        tuple(sorted((name, called(other)))) for name, _, rival in groups for other in rival
    ]
    pairs, number = np.unique(np.array(between, dtype=str), axis=0, return_counts=True)
    most = [" and ".join(pair) for pair in pairs[number == number.max()]]
    return f"{text}, most often between {listed(most)} ({number.max()})."
