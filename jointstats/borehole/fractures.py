"""The fractures of a site as a table, where their poles stand in it, and what became of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.types import Array, ArrayLike

Mask = NDArray[np.bool_]

#: Column of the class of a discontinuity in the table of an analysis.
CLASS_COLUMN = "discontinuity_class"
#: Columns of the pole of a fracture, a unit vector; empty where it has no orientation.
POLE_COLUMNS = ["pole_east", "pole_north", "pole_up"]


class Status(StrEnum):
    """What became of a fracture; the value is the word in the column status.

    Attributes
    ----------
    IN_THE_FIT, IN_A_SET, UNASSIGNED, BELOW_BLIND_ANGLE, NOT_ORIENTED, PARTLY_ORIENTED, OTHER_METHOD, PAIRED, NOT_INCLUDED : str
        An analysis that is done has none in the fit: each of those is in a set, or unassigned.

    Examples
    --------
    >>> Status("other method") is Status.OTHER_METHOD
    True
    """

    IN_THE_FIT = "in the fit"  # until the fit has been made
    IN_A_SET = "in a set"
    UNASSIGNED = "unassigned"
    BELOW_BLIND_ANGLE = "below blind angle"
    NOT_ORIENTED = "not oriented"
    PARTLY_ORIENTED = "partly oriented"  # by α, dip or dip direction alone: in the fit with all that it leaves open
    OTHER_METHOD = "other method"
    PAIRED = "paired"  # of core and image of one fracture, the one that is not used
    NOT_INCLUDED = "not included"


#: What the column set says of a fracture that is nearer the background than any set.
UNASSIGNED = Status.UNASSIGNED.value

_FITTED = (Status.IN_THE_FIT, Status.IN_A_SET, Status.UNASSIGNED)


def pole_columns(poles: ArrayLike) -> dict[str, Array]:
    """Poles, shape (n, 3), as the columns of a table of fractures."""
    return dict(zip(POLE_COLUMNS, np.asarray(poles, dtype=np.float64).T, strict=True))


@dataclass(frozen=True, eq=False)
class Fractures:
    """A view of a table of fractures, as `orient_fractures` or an analysis gives it.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a fracture, n rows; the columns that a question needs must be there.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1))
    >>> fractures = Fractures(result.fractures)
    >>> len(fractures.of_set("J1").fitted) == result.sets[0].n
    True
    """

    table: pd.DataFrame

    def __len__(self) -> int:
        return len(self.table)

    @property
    def poles(self) -> Array:
        """Poles, shape (n, 3); NaN where a fracture is not oriented."""
        return self.table[POLE_COLUMNS].to_numpy(dtype=np.float64)

    @property
    def depth_m(self) -> Array:
        """Depths along the line, shape (n,), metres."""
        return self.table["depth_m"].to_numpy(dtype=np.float64)

    @property
    def is_oriented(self) -> Mask:
        """Whether each has a pole, shape (n,)."""
        return self.table[POLE_COLUMNS[-1]].notna().to_numpy()

    @property
    def is_fitted(self) -> Mask:
        """Whether each was used in the fit, shape (n,)."""
        return self.has(*_FITTED)

    @property
    def oriented(self) -> Fractures:
        """Those with a pole."""
        return self.where(self.is_oriented)

    @property
    def fitted(self) -> Fractures:
        """Those used in the fit: of a set, or of none."""
        return self.where(self.is_fitted)

    @property
    def in_sets(self) -> Fractures:
        """Those of a set that were used in the fit."""
        return self.where(self.has(Status.IN_A_SET))

    @property
    def counted(self) -> Fractures:
        """Each fracture once: without those seen again by a second method, or of a class left out."""
        return self.where(~self.has(Status.OTHER_METHOD, Status.PAIRED, Status.NOT_INCLUDED))

    def has(self, *statuses: Status) -> Mask:
        """Whether the status of each is one of these, shape (n,)."""
        return self.table["status"].isin([one.value for one in statuses]).to_numpy()

    def where(self, rows: ArrayLike) -> Fractures:
        """The rows of a mask, shape (n,)."""
        return Fractures(self.table[np.asarray(rows, dtype=bool)])

    def of_set(self, name: str) -> Fractures:
        """Those whose set is this one, used in the fit or not; UNASSIGNED names those of none."""
        return self.where((self.table["set"] == name).to_numpy() & self.is_oriented)

    def in_hole(self, name: str) -> Fractures:
        """Those of this hole, in the order of the table."""
        return self.where(self.table["hole"] == name)

    def with_poles(self, poles: ArrayLike) -> Fractures:
        """The same fractures with other poles, shape (n, 3)."""
        return Fractures(self.table.assign(**pole_columns(poles)))

    def counts(self) -> Mapping[Status, int]:
        """Number of fractures of each status, zeros included."""
        number = self.table["status"].value_counts()
        return {one: int(number.get(one.value, 0)) for one in Status}
