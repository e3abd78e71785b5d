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
    Bedding, held at 20/135, that only fractures typed as bedding in hole B1 may join:

    >>> bedding = GivenSet(20, 135, name="bedding", hold=True,
    ...                    only={"type": ["bedding"], "hole": ["B1"]})
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
            if column not in fractures:
                raise InputError(
                    f"a given set names the column {column!r}, which the fracture table lacks; "
                    f"it has {', '.join(fractures.columns)}"
                )
            allowed[:, k] &= fractures[column].isin(list(values)).to_numpy()
    return allowed
