"""A set that the analyst names: where it lies, whether it may move, which fractures may join."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.errors import InputError
from jointstats.sphere.angles import poles_from_dip

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.fit.mixture import JointSetMixture

#: Columns that say where a fracture lies: to choose by them changes what was sampled.
_PLACES = ("hole", "depth_m")


@dataclass(frozen=True)
class GivenSet:
    """A set given to `analyse`, to start from or to hold.

    Parameters
    ----------
    dip_deg, dip_direction_deg : float
        Its mean plane, degrees.
    name : str or None
        Name to report it under; None takes J and its place by P32.
    hold : bool
        Whether the mean stays as given.
    only : mapping of str to collection of str
        Which fractures may join: for each column of the fracture table named, the values allowed.

    Raises
    ------
    InputError
        If an angle is out of range.

    Examples
    --------
    Bedding, held at 20/135, that only fractures typed as bedding may join:

    >>> bedding = GivenSet(20, 135, name="bedding", hold=True, only={"type": ["bedding"]})
    >>> bedding.pole.shape
    (3,)
    """

    dip_deg: float
    dip_direction_deg: float
    name: str | None = None
    hold: bool = False
    only: Mapping[str, Collection[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        poles_from_dip(self.dip_deg, self.dip_direction_deg)

    @property
    def pole(self) -> NDArray[np.float64]:
        """Pole of the mean plane, lower hemisphere, shape (3,)."""
        return poles_from_dip(self.dip_deg, self.dip_direction_deg)[0]


def allowed_rows(given: Sequence[GivenSet], fractures: pd.DataFrame) -> NDArray[np.bool_]:
    """Which fractures may join each given set.

    Gives (n, len(given)).
    """
    allowed = np.ones((len(fractures), len(given)), bool)
    for k, one in enumerate(given):
        for column, values in one.only.items():
            if column in _PLACES:
                raise InputError(
                    f"a given set can't be open to one {column} only: it would have the exposure of "
                    "that part alone; analyse the part by itself"
                )
            if column not in fractures:
                raise InputError(
                    f"a given set names the column {column!r}, which the fracture table lacks; "
                    f"it has {', '.join(fractures.columns)}"
                )
            known = set(fractures[column].dropna())
            missing = [value for value in values if value not in known]
            if missing:
                raise InputError(
                    f"a given set is open to {column} {missing[0]!r} only, which no fracture has; "
                    f"the column holds {', '.join(sorted(map(str, known)))}"
                )
            allowed[:, k] &= fractures[column].isin(list(values)).to_numpy()
        if one.only and not allowed[:, k].any():
            raise InputError(
                f"no fracture may join the set given at {one.dip_deg:g}/{one.dip_direction_deg:g}: "
                "what its columns ask for does not occur together"
            )
    return allowed


def set_names(model: JointSetMixture, given: Sequence[GivenSet]) -> list[str]:
    """J1, J2, … by place, or the name that the analyst gave."""
    chosen = [given[g].name if g >= 0 else None for g in model.given_]
    return [name or f"J{k + 1}" for k, name in enumerate(chosen)]
