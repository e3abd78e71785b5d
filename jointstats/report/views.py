"""A hole and its fractures in space: discs on the hole's path, seen from a chosen side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.errors import InputError
from jointstats.report.downhole import hole_named
from jointstats.report.drilled import gaps_of
from jointstats.report.palette import INK, set_style, style_settings
from jointstats.sphere.angles import lines_from_trend, trend_from_lines
from jointstats.sphere.axes import frame_about

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from jointstats.borehole.site import Hole
    from jointstats.sets.result import SiteAnalysis

__all__ = ["hole_view"]

Array = NDArray[np.float64]

_POLE = ["pole_east", "pole_north", "pole_up"]
_RIM = np.linspace(0.0, 2.0 * np.pi, 33)
_RASTERISE_ABOVE = 400


def hole_view(
    result: SiteAnalysis,
    hole: str,
    ax: Axes | None = None,
    *,
    from_azimuth_deg: float | None = None,
    elevation_deg: float = 15.0,
    disc_radius_m: float | None = None,
) -> Axes:
    """A hole in space with a disc at each oriented fracture, without perspective.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    hole : str
        Name of the hole.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    from_azimuth_deg : float or None
        Azimuth that the viewer stands at; None: square to the trend of the hole.
    elevation_deg : float
        How far above level the viewer stands, −90 to 90.
    disc_radius_m : float or None
        Drawn radius of every disc, for sight only; None: a thirtieth of the hole's length.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If the site has no such hole, or the elevation is out of range.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats.report import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.hole_view(result, result.site.holes[0].name, plots.new_figure().add_subplot())
    >>> ax.get_aspect()
    1.0
    """
    import matplotlib

    drilled = hole_named(result, hole)
    if not -90.0 <= elevation_deg <= 90.0:
        raise InputError(f"elevation_deg must lie between -90 and 90; got {elevation_deg}")
    if from_azimuth_deg is None:
        trend, _ = trend_from_lines(_direction(drilled, 0.5 * drilled.length_m))
        from_azimuth_deg = (float(trend[0]) + 90.0) % 360.0
    screen = screen_axes(from_azimuth_deg, elevation_deg)
    radius = drilled.length_m / 30.0 if disc_radius_m is None else disc_radius_m
    with matplotlib.rc_context(style_settings()):
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=(4.4, 5.6)).add_subplot()
        _draw_path(ax, drilled, screen, radius)
        fractures = result.fractures[result.fractures["hole"] == hole]
        fractures = fractures[np.isfinite(fractures["pole_up"].to_numpy(float))]
        _draw_discs(ax, fractures, drilled, screen, radius, [one.name for one in result.sets])
        _draw_compass(ax, screen)
        ax.set_aspect("equal", adjustable="datalim")
        ax.set_axis_off()
        ax.margins(0.08)
        ax.set_title(f"{hole} seen from {round(from_azimuth_deg) % 360:03d}°")
    return ax


def screen_axes(azimuth_deg: float, elevation_deg: float) -> Array:
    """Right, up and toward-the-viewer of a picture, in east, north, up.

    Parameters
    ----------
    azimuth_deg, elevation_deg : float
        Where the viewer stands.

    Returns
    -------
    ndarray, shape (3, 3)
        Rows of a right-handed frame.

    Examples
    --------
    Seen from the south, east is at the right:

    >>> screen_axes(180.0, 0.0).round(6) + 0.0
    array([[ 1.,  0.,  0.],
           [ 0.,  0.,  1.],
           [ 0., -1.,  0.]])
    """
    toward = lines_from_trend([azimuth_deg], [-elevation_deg])[0]
    along = np.radians(azimuth_deg)
    right = np.array([-np.cos(along), np.sin(along), 0.0])
    return np.array([right, np.cross(toward, right), toward])


def _direction(hole: Hole, depth_m: float) -> Array:
    return np.asarray(hole.path.direction(depth_m), dtype=float).reshape(-1, 3)


def _position(hole: Hole, depth_m: Array) -> Array:
    return np.asarray(hole.path.position(depth_m), dtype=float).reshape(-1, 3)


def _draw_path(ax: Axes, hole: Hole, screen: Array, radius: float) -> None:
    depth = np.linspace(0.0, hole.length_m, 120)
    x, y, _ = screen @ _position(hole, depth).T
    ax.plot(x, y, color=INK.ink, linewidth=1.6, zorder=2)
    for start, end in gaps_of(hole):
        x, y, _ = screen @ _position(hole, np.linspace(start, end, 20)).T
        ax.plot(x, y, color=INK.lost, linewidth=7.0, zorder=1.5, solid_capstyle="butt")
    step = next(n for n in (1, 2, 5, 10, 20, 50, 100, 1000) if hole.length_m / n <= 10 or n == 1000)
    marks = np.arange(0.0, hole.length_m + 1e-9, step)
    x, y, _ = screen @ _position(hole, marks).T
    for at_x, at_y, mark in zip(x, y, marks, strict=True):
        ax.annotate(
            f"{mark:g} m",
            (at_x + 1.6 * radius, at_y),
            fontsize=8.5,
            va="center",
            color=INK.quiet,
            zorder=6,
            annotation_clip=False,
        )


def _draw_discs(
    ax: Axes,
    fractures: pd.DataFrame,
    hole: Hole,
    screen: Array,
    radius: float,
    names: list[str],
) -> None:
    """Discs as filled outlines, the farthest first."""
    from matplotlib.collections import PolyCollection

    if fractures.empty:
        return
    centres = _position(hole, fractures["depth_m"].to_numpy(float))
    outlines, distance = [], []
    for centre, pole in zip(centres, fractures[_POLE].to_numpy(float), strict=True):
        u, v, _ = frame_about(pole)
        rim = centre + radius * (np.outer(np.cos(_RIM), u) + np.outer(np.sin(_RIM), v))
        outlines.append(rim @ screen[:2].T)
        distance.append(float(centre @ screen[2]))
    colour = {name: set_style(place).colour for place, name in enumerate(names)}
    tones = [colour.get(name, INK.unassigned) for name in fractures["set"]]
    order = np.argsort(distance, kind="stable")
    ax.add_collection(
        PolyCollection(
            [outlines[i] for i in order],
            facecolors=[tones[i] for i in order],
            edgecolors=[tones[i] for i in order],
            linewidths=0.8,
            alpha=0.45,
            zorder=3,
            rasterized=len(outlines) > _RASTERISE_ABOVE,
        )
    )
    ax.autoscale_view()


def _draw_compass(ax: Axes, screen: Array) -> None:
    """North, east and up as the viewer sees them, in the lower left corner."""
    for name, way in (("N", [0, 1.0, 0]), ("E", [1.0, 0, 0]), ("up", [0, 0, 1.0])):
        x, y, _ = screen @ np.array(way)
        if np.hypot(x, y) < 0.12:
            continue
        ax.annotate(
            "",
            (26 + 22 * x, 26 + 22 * y),
            (26, 26),
            xycoords="axes points",
            textcoords="axes points",
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-|>",
                "color": INK.ink,
                "linewidth": 0.9,
                "shrinkA": 0,
                "shrinkB": 0,
                "mutation_scale": 7,
            },
        )
        ax.annotate(
            name,
            (26 + 31 * x, 26 + 31 * y),
            xycoords="axes points",
            fontsize=8.5,
            ha="center",
            va="center",
            annotation_clip=False,
        )
