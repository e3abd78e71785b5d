"""What angles round the hole are turned by: the rotation of the tool, the line of a run of core."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.rows import logged_depth
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth
from jointstats.types import Array, ArrayLike

if TYPE_CHECKING:
    import pandas as pd


def roll_at(depth_m: ArrayLike, known_depth_m: ArrayLike, roll_deg: ArrayLike) -> Array:
    """Roll at depths, between those at which it was measured.

    Parameters
    ----------
    depth_m : array_like, shape (n,)
        Depths that are asked for, metres.
    known_depth_m : array_like, shape (m,)
        Depths of the measurements (marks, compass, gyroscope), metres, rising.
    roll_deg : array_like, shape (m,)
        Angle of the camera's zero mark from the reference line, clockwise looking down the
        hole, degrees. It is added to every angle read on the picture.

    Returns
    -------
    ndarray, shape (n,)
        Degrees, 0 up to 360. Between measurements the camera is taken to turn evenly, the short way; above
        the first and below the last the roll stays.

    Raises
    ------
    InputError
        If there is no measurement, lengths differ, depths do not rise, or a value is not finite.

    Examples
    --------
    From 350° to 10° the short way leads over 0°:

    >>> roll_at([5.0, 20.0], [0, 10], [350, 10])
    array([ 0., 10.])
    """
    depth = np.atleast_1d(np.asarray(depth_m, dtype=np.float64))
    known = np.atleast_1d(np.asarray(known_depth_m, dtype=np.float64))
    roll = np.atleast_1d(np.asarray(roll_deg, dtype=np.float64))
    if not len(known) or known.shape != roll.shape:
        raise InputError(
            f"roll_deg needs one value a measured depth, at least one; got {len(roll)} for "
            f"{len(known)} depths"
        )
    if not (np.isfinite(known).all() and np.isfinite(roll).all()):
        raise InputError("known_depth_m and roll_deg must be finite")
    if (np.diff(known) <= 0).any():
        raise InputError("known_depth_m must rise from measurement to measurement")
    # From 350 to 10° is 20° on, not 340° back: between stations a tool turns the short way.
    return as_azimuth(np.interp(depth, known, np.unwrap(roll, period=360.0)))


@dataclass(frozen=True)
class RunLines:
    """What each row's run says of its line, shape (n,): degrees to be added to β, its own error.

    Where a run says nothing the offset is 0 and the error NaN; a row whose run has no line is not
    `usable`.
    """

    offset_deg: Array
    error_deg: Array
    usable: NDArray[np.bool_]


def run_lines(runs: pd.DataFrame | None, table: pd.DataFrame) -> RunLines:
    """The orientation lines of the rows of a table with columns hole, depth_m and perhaps run.

    `runs` is the table of runs of the site. A row lies in the run that it names, else in the one that holds its depth as logged.
    """
    n = len(table)
    lines = RunLines(np.zeros(n), np.full(n, np.nan), np.ones(n, dtype=bool))
    if runs is None:
        return lines
    holes, depth = table["hole"].to_numpy(object), logged_depth(table)
    named = table["run"].fillna("").to_numpy(object) if "run" in table else np.full(n, "", object)
    for run in runs.to_dict("records"):
        # A row that names its run belongs to it wherever its depth was read; the others go by depth.
        within = (depth >= run["from_m"]) & (depth <= run["to_m"]) & (named == "")
        rows = (holes == run["hole"]) & (within | (named == run["run"]))
        lines.offset_deg[rows] = np.nan_to_num(run.get("beta_offset_deg", 0.0))
        lines.error_deg[rows] = run.get("line_error_deg", np.nan)
        # Without a line the β of a run is counted from anywhere, and is worth nothing.
        lines.usable[rows] = run.get("line", "") != "none"
    return lines
