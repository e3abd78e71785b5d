"""The base of all results: read-only, short in print, a table in a notebook."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, ClassVar, dataclass_transform

import numpy as np

from jointstats.schema import with_units

if TYPE_CHECKING:
    import pandas as pd


@dataclass_transform(frozen_default=True, eq_default=False)
class Result:
    """A frozen dataclass whose arrays are read-only; a subclass needs no decorator.

    `_SHORT` is what its repr says: a format of its columns and fields. `_COLUMNS` are the fields
    and properties of its one row, all fields if empty. Two results are equal if they are one,
    since arrays have no one truth.
    """

    _SHORT: ClassVar[str] = ""
    _COLUMNS: ClassVar[tuple[str, ...]] = ()

    def __init_subclass__(cls) -> None:
        dataclass(frozen=True, eq=False, repr=False)(cls)

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if isinstance(value, np.ndarray):
                # A view, so that an array that the caller still holds stays his to write.
                view = value.view()
                view.flags.writeable = False
                object.__setattr__(self, name, view)

    def __setstate__(self, state: dict[str, object]) -> None:
        # Copies and pickles bring arrays that can be written; they are closed again.
        vars(self).update(state)
        Result.__post_init__(self)

    def _row(self) -> dict[str, object]:
        """What one row of a table holds: an interval as its two ends, and no arrays."""
        row: dict[str, object] = {}
        every = tuple(field.name for field in fields(self))  # type: ignore[arg-type]
        for name in self._COLUMNS or every:
            value = getattr(self, name)
            if "interval" in name:
                low, high = (None, None) if value is None else value
                row[name.replace("interval", "low")] = low
                row[name.replace("interval", "high")] = high
            elif value is None or isinstance(value, (bool, int, float, str, np.generic)):
                row[name] = value
        return row

    def to_frame(self) -> pd.DataFrame:
        """The figures as a table of one row, its units in `attrs["units"]`."""
        import pandas as pd

        return with_units(pd.DataFrame([self._row()]))

    def __repr__(self) -> str:
        row = self._row()
        try:
            said = self._SHORT.format_map({**vars(self), **row})
        except TypeError:  # a figure about which nothing can be said has no digits
            said = ""
        if not said:
            said = ", ".join(f"{name}={_short(value)}" for name, value in list(row.items())[:6])
        return f"{type(self).__name__}({said})"

    def _repr_html_(self) -> str:
        frame = self.to_frame()
        return frame.to_html() if len(frame) != 1 else frame.T.to_html(header=False)


def _short(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)
