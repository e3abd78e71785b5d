"""The orientation line of the run of core that each fracture lies in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.rows import logged_depth

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.site import Site

__all__ = ["RunLines", "run_lines"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RunLines:
    """What each row's run says of its line, shape (n,): degrees to be added to β, its own error.

    Where a run says nothing the offset is 0 and the error NaN; a row whose run has no line is not
    `usable`.
    """

    offset_deg: Array
    error_deg: Array
    usable: NDArray[np.bool_]


def run_lines(site: Site, table: pd.DataFrame) -> RunLines:
    """The orientation lines of the rows of a table with columns hole, depth_m and perhaps run.

    A row lies in the run that it names, else in the one that holds its depth as logged.
    """
    n = len(table)
    lines = RunLines(np.zeros(n), np.full(n, np.nan), np.ones(n, dtype=bool))
    runs = site.tables.get("runs")
    if runs is None:
        return lines
    holes, depth = table["hole"].to_numpy(object), logged_depth(table)
    named = table["run"].fillna("").to_numpy(object) if "run" in table else np.full(n, "", object)
    for run in runs.to_dict("records"):
        within = (depth >= run["from_m"]) & (depth <= run["to_m"]) & (named == "")
        rows = (holes == run["hole"]) & (within | (named == run["run"]))
        lines.offset_deg[rows] = np.nan_to_num(run.get("beta_offset_deg", 0.0))
        lines.error_deg[rows] = run.get("line_error_deg", np.nan)
        lines.usable[rows] = run.get("line", "") != "none"
    return lines
