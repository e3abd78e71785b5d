"""The mean attitude of the structures that a log calls bedding."""

from __future__ import annotations

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import POLE_COLUMNS, Fractures
from jointstats.errors import InputError
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.tensor import orientation_tensor


def mean_bedding(fractures: pd.DataFrame, *, word: str = "bedding") -> tuple[float, float]:
    """Dip and dip direction of the mean of the oriented structures of one type.

    Parameters
    ----------
    fractures : pandas.DataFrame
        From `orient_fractures`; one hole's rows, or a length's, give the bedding there.
    word : str
        The type, as the column type says; case does not matter.

    Returns
    -------
    dip_deg, dip_direction_deg : float
        Of the plane whose pole is the axis of largest moment: for `tilt_correct`.

    Raises
    ------
    InputError
        If no oriented structure is of the type, or their poles have no mean.

    Examples
    --------
    >>> import jointstats as js
    >>> poles = js.poles_from_dip([20, 30], [100, 100])
    >>> table = pd.DataFrame(poles, columns=POLE_COLUMNS)
    >>> dip, direction = mean_bedding(table.assign(type="Bedding"))
    >>> round(dip, 6), round(direction, 6)
    (25.0, 100.0)
    """
    if "type" not in fractures or POLE_COLUMNS[-1] not in fractures:
        raise InputError("the table needs the column type and poles; use orient_fractures first")
    named = fractures["type"].fillna("").astype(str).str.strip().str.lower() == word.strip().lower()
    own = Fractures(fractures[named.to_numpy()]).oriented
    if not len(own):
        raise InputError(f"no oriented structure has the type {word!r}")
    tensor = orientation_tensor(own.poles)
    if tensor.eigenvalues[0] - tensor.eigenvalues[1] < 1e-9:
        raise InputError(f"the poles of type {word!r} have no single mean; give the bedding itself")
    dip, direction = dip_from_poles(np.asarray(tensor.axes)[0])
    return float(dip[0]), float(direction[0])
