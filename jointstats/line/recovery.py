"""Zones of broken and lost core, and recovery and RQD down a hole with lost core counted as lost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from jointstats.borehole.spans import Spans
from jointstats.line.quality import rqd_from_depths
from jointstats.sphere.angles import as_azimuth, poles_from_dip
from jointstats.sphere.axes import axis_angles_deg

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.fractures import Fractures
    from jointstats.borehole.site import Site
    from jointstats.types import ArrayLike

#: A fracture that lies no further from a bound of a zone, in depth and direction, may be the bound.
_NEAR_M, _NEAR_DEG = 0.1, 20.0


class RockZone(NamedTuple):
    """A zone of the tables: its ends, what bounds it from true north, and how much of it came out.

    `upper` and `lower` are dip and dip direction, degrees; None where not given. `recovery` is a
    share of 0 to 1, NaN where not known.
    """

    hole: str
    from_m: float
    to_m: float
    kind: str
    condition: str
    recovery: float
    upper: tuple[float, float] | None
    lower: tuple[float, float] | None

    @property
    def partly_lost_m(self) -> float:
        """Metres of core lost somewhere in it; 0 where all or nothing came out, or it is not known."""
        return (self.to_m - self.from_m) * (1.0 - self.recovery) if 0 < self.recovery < 1 else 0.0


def zones_of(site: Site, hole: str | None = None) -> tuple[RockZone, ...]:
    """The zones of a site, or of one hole, by depth."""
    table = site.tables.get("zones")
    if table is None:
        return ()
    north, found = site.settings.bearing_of("fractures"), []
    for row in table.to_dict("records"):
        found.append(
            RockZone(
                hole=row["hole"],
                from_m=float(row["from_m"]),
                to_m=float(row["to_m"]),
                kind=str(row.get("kind", "") or ""),
                condition=str(row.get("condition", "") or ""),
                recovery=float(row.get("recovery_percent", np.nan)) / 100.0,
                upper=_bound(row, "upper", north),
                lower=_bound(row, "lower", north),
            )
        )
    own = [one for one in found if hole is None or one.hole == hole]
    return tuple(sorted(own, key=lambda one: (one.hole, one.from_m)))


def unlisted_bounds(
    zones: Iterable[RockZone], fractures: Fractures
) -> tuple[tuple[str, float], ...]:
    """Hole and depth of each bound that no oriented fracture near its depth and plane stands for."""
    ends = [
        (zone.hole, depth, bound)
        for zone in zones
        for bound, depth in ((zone.upper, zone.from_m), (zone.lower, zone.to_m))
        if bound is not None
    ]
    return tuple((hole, depth) for hole, depth, bound in ends if not _listed(fractures, hole, depth, bound))


def _listed(fractures: Fractures, hole: str, depth: float, bound: tuple[float, float]) -> bool:
    own = fractures.in_hole(hole).oriented
    near = np.abs(own.depth_m - depth) <= _NEAR_M
    apart = axis_angles_deg(own.poles, poles_from_dip(*bound)[0])
    return bool((near & (apart <= _NEAR_DEG)).any())


def _bound(row: Mapping[Any, Any], end: str, north_deg: float) -> tuple[float, float] | None:
    dip, way = row.get(f"{end}_dip_deg", np.nan), row.get(f"{end}_dip_direction_deg", np.nan)
    if not (np.isfinite(dip) and np.isfinite(way)):
        return None
    return float(dip), float(as_azimuth(way + north_deg))


def partly_lost_m(zones: Iterable[RockZone], cored: Spans) -> float:
    """Metres of core lost somewhere in zones, of the lengths that core alone logged."""
    return sum(
        one.partly_lost_m * cored.clip(one.from_m, one.to_m).total_m / (one.to_m - one.from_m)
        for one in zones
    )


def recovery_in_windows(
    depth_m: ArrayLike,
    logged: Spans,
    length_m: float,
    window_m: float,
    zones: Iterable[RockZone] = (),
) -> pd.DataFrame:
    """Recovery and RQD of each window of a hole, one row a window.

    from_m, to_m; recovery_percent, logged over drilled length; rqd_percent, length in pieces of
    0.1 m or more over drilled length: what was lost stands in no piece (NaN where nothing was
    logged), nor what was lost somewhere in `zones` (ASTM D6032, from memory).

    >>> recovery_in_windows([1.0, 1.05], Spans([(0, 2), (3, 4)]), 4.0, 2.0).round(1).values.tolist()
    [[0.0, 2.0, 100.0, 97.5], [2.0, 4.0, 50.0, 50.0]]
    """
    import pandas as pd

    depths, zones = np.asarray(depth_m, dtype=float), tuple(zones)
    edges = np.append(np.arange(0.0, length_m - 1e-9, window_m), length_m)
    rows = []
    for start, end in zip(edges[:-1], edges[1:], strict=True):
        parts = logged.clip(start, end)
        sound = sum((b - a) * rqd_from_depths(depths, a, b) for a, b in parts if b - a > 1e-9)
        lost = partly_lost_m(zones, parts)
        share = 100.0 * (parts.total_m - lost) / (end - start)
        sound = max(sound - 100.0 * lost, 0.0)
        rqd = sound / (end - start) if parts.total_m > 1e-9 else np.nan
        rows.append((start, end, share, rqd))
    return pd.DataFrame(rows, columns=["from_m", "to_m", "recovery_percent", "rqd_percent"])
