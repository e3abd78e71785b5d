"""Points picked on the wall of a hole, on unrolled and on ring-shaped pictures.

A camera that looks at a conical mirror shows the wall as a ring: one edge of the ring is the upper end of
the length that the mirror sees, the other its lower end. A radius on the picture stands for a depth, by
a calibration; the angle round the picture is the angle round the wall.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.borehole.rotation import roll_at
from jointstats.borehole.rows import grouped_rows, logged_depth
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth
from jointstats.types import Array, ArrayLike

if TYPE_CHECKING:
    from jointstats.borehole.site import Site


def ring_points(
    radius: ArrayLike,
    angle_deg: ArrayLike,
    frame_depth_m: ArrayLike,
    *,
    calibration_radius: ArrayLike,
    calibration_offset_m: ArrayLike,
    roll_deg: ArrayLike = 0.0,
    counted: str = "clockwise",
) -> tuple[Array, Array]:
    """Angle round the wall and depth of points on a ring-shaped picture.

    Parameters
    ----------
    radius : array_like, shape (n,)
        Distance of each point from the centre of the picture, in its own unit (pixels).
    angle_deg : array_like, shape (n,)
        Angle of each point round the centre from the picture's zero mark, degrees.
    frame_depth_m : float or array_like, shape (n,)
        Depth of the camera's datum for the picture, metres.
    calibration_radius, calibration_offset_m : array_like, shape (m,)
        Radii at which the wall is seen at known distances below the datum, metres (above:
        negative): two for a linear picture (the inner and the outer edge), more for a table,
        which is followed by straight lines. Radii rise.
    roll_deg : float or array_like, shape (n,)
        Angle of the zero mark from the reference line of the hole, clockwise looking down it.
    counted : str
        "clockwise" where angles on the picture grow clockwise looking down the hole,
        "anticlockwise" where the mirror turns them round.

    Returns
    -------
    angle_deg : ndarray, shape (n,)
        From the reference line, clockwise looking down the hole, 0 up to 360.
    depth_m : ndarray, shape (n,)
        As `orient_trace` takes them.

    Raises
    ------
    InputError
        If the calibration is not one, or a radius lies outside it.

    Examples
    --------
    The inner edge, radius 100, shows the wall 40 mm below the datum, the outer edge the datum:

    >>> angle, depth = ring_points([100, 150], [0, 90], 12.0, calibration_radius=[100, 200],
    ...                            calibration_offset_m=[0.04, 0.0])
    >>> depth.round(6)
    array([12.04, 12.02])
    """
    known = np.atleast_1d(np.asarray(calibration_radius, dtype=np.float64))
    offset = np.atleast_1d(np.asarray(calibration_offset_m, dtype=np.float64))
    if len(known) < 2 or known.shape != offset.shape or not (np.diff(known) > 0).all():
        raise InputError(
            "a calibration needs two radii or more, rising, and an offset for each; "
            f"got {len(known)} radii and {len(offset)} offsets"
        )
    if counted not in ("clockwise", "anticlockwise"):
        raise InputError(f'counted must be "clockwise" or "anticlockwise"; got {counted!r}')
    radii = np.atleast_1d(np.asarray(radius, dtype=np.float64))
    wrong = ~((radii >= known[0]) & (radii <= known[-1]))
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise InputError(
            f"radius must lie within the calibration, {known[0]:g} to {known[-1]:g}; "
            f"value {at} is {radii[at]:g}"
        )
    # Azimuths on the wall count clockwise looking down the hole; a mirror shows the wall the other way round.
    sense = 1.0 if counted == "clockwise" else -1.0
    angle = as_azimuth(sense * np.asarray(angle_deg, dtype=np.float64) + np.asarray(roll_deg))
    # The mirror shows the wall ahead of the lens: the further out on the ring, the deeper or higher by its calibration.
    depth = np.asarray(frame_depth_m, dtype=np.float64) + np.interp(radii, known, offset)
    return np.broadcast_to(angle, radii.shape) + 0.0, np.broadcast_to(depth, radii.shape) + 0.0


def roll_of(site: Site, table: pd.DataFrame) -> Array:
    """Roll of the camera at each row of a table with columns hole and depth_m, (n,), degrees.

    To be added to angles read on the wall; 0 where no roll was measured.
    """
    rolls = site.tables.get("rolls")
    # Rotation was logged beside the depths of the cable, before any tie moved them.
    depth = logged_depth(table)
    total = np.zeros(len(table))
    if rolls is None:
        return total
    holes = table["hole"].to_numpy(dtype=object)
    for name, own in rolls.groupby("hole", sort=False):
        rows = holes == name
        total[rows] = roll_at(depth[rows], own["depth_m"], own["roll_deg"])
    return total


def wall_points(site: Site) -> pd.DataFrame | None:
    """Points picked on the wall, on unrolled and on ring-shaped pictures; None without any."""
    rings, mirrors = site.tables.get("rings"), site.tables.get("mirrors")
    if rings is None or mirrors is None:
        return site.traces
    mirror = rings["mirror"] if "mirror" in rings else pd.Series("", index=rings.index)
    parts = [] if site.traces is None else [site.traces]
    for name, shown in mirrors.groupby("mirror", sort=False):
        # With one mirror nobody writes which; rows without a name are then of it.
        own = rings[(mirror == name) | (mirror == "")]
        shown = shown.sort_values("radius")
        turned = "counted" in shown and (shown["counted"] == "anticlockwise").any()
        angle, depth = ring_points(
            own["radius"],
            own["angle_deg"],
            own["depth_m"],
            calibration_radius=shown["radius"],
            calibration_offset_m=shown["offset_m"],
            counted="anticlockwise" if turned else "clockwise",
        )
        points = own[["hole", "fracture"]].assign(depth_m=depth, angle_deg=angle)
        parts.append(points.reset_index(drop=True))
    return pd.concat(parts, ignore_index=True)


def trace_points(site: Site, table: pd.DataFrame) -> list[tuple[Array, Array, Array] | None]:
    """Angle, depth and radius (mm) of the points of each row's trace; None where it has none.

    `table`: with columns hole and fracture. Angles have the roll of the camera in them.
    """
    traces = wall_points(site)
    if traces is None:
        return [None] * len(table)
    rows = grouped_rows(traces["hole"].to_numpy(object), traces["fracture"].to_numpy(object))
    # The tool turns as it is lowered: a pick is read from the mark of the tool, the trace from that of the hole.
    angle = as_azimuth(traces["angle_deg"].to_numpy(float) + roll_of(site, traces))
    depth = traces["depth_m"].to_numpy(float)
    by_hole = {hole.name: hole.diameter_mm or np.nan for hole in site.holes}
    diameter = traces["hole"].map(by_hole).to_numpy(float)
    if "diameter_mm" in traces:
        # A caliper at the trace goes before the nominal size of the bit: in a washed-out hole the
        # nominal one would make the plane too steep against the hole.
        caliper = traces["diameter_mm"].to_numpy(float)
        diameter = np.where(np.isnan(caliper), diameter, caliper)
    found = []
    for key in zip(table["hole"], table["fracture"], strict=True):
        at = rows.get((str(key[0]), str(key[1])))
        found.append(None if at is None else (angle[at], depth[at], diameter[at] / 2.0))
    return found
