"""Recovery and RQD over equal windows down a hole, lost core counted as lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.spans import Spans
from jointstats.line.quality import rqd_from_depths

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.types import ArrayLike


def recovery_in_windows(
    depth_m: ArrayLike, logged: Spans, length_m: float, window_m: float
) -> pd.DataFrame:
    """Recovery and RQD of each window of a hole, one row a window.

    from_m, to_m; recovery_percent, logged over drilled length; rqd_percent, length in pieces of
    0.1 m or more over drilled length: what was lost stands in no piece (NaN where nothing was
    logged).

    >>> recovery_in_windows([1.0, 1.05], Spans([(0, 2), (3, 4)]), 4.0, 2.0).round(1).values.tolist()
    [[0.0, 2.0, 100.0, 97.5], [2.0, 4.0, 50.0, 50.0]]
    """
    import pandas as pd

    depths = np.asarray(depth_m, dtype=float)
    edges = np.append(np.arange(0.0, length_m - 1e-9, window_m), length_m)
    rows = []
    for start, end in zip(edges[:-1], edges[1:], strict=True):
        parts = logged.clip(start, end)
        sound = sum((b - a) * rqd_from_depths(depths, a, b) for a, b in parts if b - a > 1e-9)
        share = 100.0 * parts.total_m / (end - start)
        rqd = sound / (end - start) if parts.total_m > 1e-9 else np.nan
        rows.append((start, end, share, rqd))
    return pd.DataFrame(rows, columns=["from_m", "to_m", "recovery_percent", "rqd_percent"])
