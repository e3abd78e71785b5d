"""The attitude of the bedding: of a site, of a length of a hole, and of what a log calls bedding."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import POLE_COLUMNS, Fractures
from jointstats.borehole.tilt import tilt_correct
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth, dip_from_poles
from jointstats.sphere.tensor import orientation_tensor

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

Array = NDArray[np.float64]


def level_poles(site: Site, table: pd.DataFrame, poles: Array) -> Array:
    """Poles, shape (n, 3), with the bedding at each row of a table brought to level.

    The table has the columns hole and depth_m. A row outside the intervals of the table bedding
    takes the bedding of the site; NaN where there is none.
    """
    level = np.full_like(poles, np.nan)
    known = np.isfinite(poles[:, 2])
    # One bedding for the site is a default; an interval of the table goes before it.
    whole = site.settings.true_bedding
    if whole is not None:
        level[known] = tilt_correct(poles[known], *whole)
    own = site.tables.get("bedding")
    if own is None:
        return level
    holes, depth = table["hole"].to_numpy(object), table["depth_m"].to_numpy(float)
    north = site.settings.bearing_of("fractures")
    for row in own.to_dict("records"):
        inside = (depth >= row["from_m"]) & (depth <= row["to_m"]) & (holes == row["hole"]) & known
        dip, direction = row["dip_deg"], row["dip_direction_deg"]
        if row.get("overturned") == "yes":  # past vertical: it dips away from where it once faced
            dip, direction = 180.0 - dip, direction + 180.0
        fold: dict[str, float] = {}
        if np.isfinite(row.get("fold_trend_deg", np.nan)):
            trend = as_azimuth(row["fold_trend_deg"] + north)
            fold = {"fold_trend_deg": float(trend), "fold_plunge_deg": row["fold_plunge_deg"]}
        if inside.any():
            turned = as_azimuth(direction + north)
            level[inside] = tilt_correct(poles[inside], dip, turned, **fold)
    return level


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
