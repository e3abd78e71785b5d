"""Holes and their fractures in space: discs on the paths of the holes, seen from a chosen side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.fractures import Fractures
from jointstats.errors import InputError
from jointstats.plots.palette import INK, set_style, style_settings
from jointstats.plots.spread import thinned
from jointstats.sphere.angles import lines_from_trend, trend_from_lines
from jointstats.sphere.axes import frame_about
from jointstats.words import short

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from jointstats.borehole.hole import Hole
    from jointstats.borehole.spans import Spans
    from jointstats.sets.result import SiteAnalysis

__all__ = ["hole_view", "screen_axes", "site_view"]

Array = NDArray[np.float64]

# A circle as four cubic curves: 13 points where a polygon as smooth would need 60.
_ARM = 4.0 / 3.0 * (np.sqrt(2.0) - 1.0)
_RIM = np.array(
    [[1, 0], [1, _ARM], [_ARM, 1], [0, 1], [-_ARM, 1], [-1, _ARM], [-1, 0]]
    + [[-1, -_ARM], [-_ARM, -1], [0, -1], [_ARM, -1], [1, -_ARM], [1, 0]]
)
#: The longest hole is this many times as long as the radius of a disc in the view of a site.
DISC_PART = 50.0
#: Height of a name, points.
_NAME_PT = 11.0
#: With more fractures than this an even part of them is drawn, and the title says so.
MOST_DISCS = 600


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
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.hole_view(result, result.site.holes[0].name, plots.new_figure().add_subplot())
    >>> ax.get_aspect()
    1.0
    """
    import matplotlib

    drilled = result.site.hole(hole)
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
        _draw_path(ax, drilled, result.sampling.line(hole).gaps, screen, np.zeros(3))
        _write_depths(ax, drilled, screen, 1.6 * radius)
        fractures, part = _drawn(result, [drilled])
        centres = _position(drilled, fractures["depth_m"].to_numpy(float))
        _draw_discs(ax, result, fractures, centres, screen, radius)
        _draw_compass(ax, screen)
        _finish(ax, f"{hole} seen from {round(from_azimuth_deg) % 360:03d}°{part}")
    return ax


def site_view(
    result: SiteAnalysis,
    ax: Axes | None = None,
    *,
    from_azimuth_deg: float | None = None,
    elevation_deg: float = 0.0,
) -> Axes:
    """All holes in space with a disc at each oriented fracture, without perspective.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    from_azimuth_deg : float or None
        Azimuth that the viewer stands at; None: square to the longest spread of the holes, from
        the south rather than from the north.
    elevation_deg : float
        How far above level the viewer stands, −90 to 90. From level, a scale of elevation stands
        at the left.

    Returns
    -------
    matplotlib Axes
        Holes stand at their collars; if one is not known, all stand side by side.

    Raises
    ------
    InputError
        If the elevation is out of range.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.site_view(result, plots.new_figure().add_subplot()).get_aspect()
    1.0
    """
    import matplotlib

    if not -90.0 <= elevation_deg <= 90.0:
        raise InputError(f"elevation_deg must lie between -90 and 90; got {elevation_deg}")
    holes = result.site.holes
    places = placed_holes(holes, from_azimuth_deg)
    azimuth = facing(holes, places) if from_azimuth_deg is None else from_azimuth_deg
    screen = screen_axes(azimuth, elevation_deg)
    with matplotlib.rc_context(style_settings()):
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=(6.4, 4.4)).add_subplot()
        radius = max(hole.length_m for hole in holes) / DISC_PART
        for hole, place in zip(holes, places, strict=True):
            _draw_path(ax, hole, result.sampling.line(hole.name).gaps, screen, place)
        _write_names(ax, holes, places, screen)
        fractures, part = _drawn(result, holes)
        centres = np.empty((len(fractures), 3))
        for hole, place in zip(holes, places, strict=True):
            own = (fractures["hole"] == hole.name).to_numpy()
            centres[own] = place + _position(hole, fractures.loc[own, "depth_m"].to_numpy(float))
        _draw_discs(ax, result, fractures, centres, screen, radius)
        _draw_compass(ax, screen)
        points = np.vstack(list(map(_path_points, holes, places)))
        _draw_scale(ax, points @ screen[0])
        _finish(ax, f"Seen from {round(azimuth) % 360:03d}°{part}")
        if elevation_deg == 0.0:
            _draw_elevation(ax, holes, points[:, 2])
    return ax


def placed_holes(holes: Sequence[Hole], from_azimuth_deg: float | None = None) -> Array:
    """Collars about their middle; holes side by side where one of the collars is not known.

    Parameters
    ----------
    holes : sequence of Hole
    from_azimuth_deg : float or None
        Where a viewer stands, who sees the side-by-side holes apart; None: in the south.

    Returns
    -------
    ndarray, shape (n, 3)
        East, north, up, metres.

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> placed_holes([Plain(collar=(10.0, 0.0, 5.0)), Plain(collar=(30.0, 0.0, 5.0))])
    array([[-10.,   0.,   0.],
           [ 10.,   0.,   0.]])
    """
    if all(hole.collar is not None for hole in holes):
        collars = np.array([hole.collar for hole in holes], dtype=float)
        return collars - collars.mean(axis=0)
    right = screen_axes(180.0 if from_azimuth_deg is None else from_azimuth_deg, 0.0)[0]
    room = 1.1 * max(hole.length_m for hole in holes)
    return room * np.arange(len(holes))[:, np.newaxis] * right


def facing(holes: Sequence[Hole], places: Array) -> float:
    """Azimuth to look from that spreads the holes widest, 90 to 270°.

    Parameters
    ----------
    holes : sequence of Hole
    places : ndarray, shape (n, 3)
        Collars.

    Returns
    -------
    float

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> import jointstats as js
    >>> hole = Plain(length_m=50.0, path=js.HolePath([0.0], [90.0], [45.0]))
    >>> round(facing([hole], np.zeros((1, 3))))
    180
    """
    points = np.vstack([
        place + _position(hole, np.linspace(0.0, hole.length_m, 9))
        for hole, place in zip(holes, places, strict=True)
    ])
    level = points[:, :2] - points[:, :2].mean(axis=0)
    if np.abs(level).max() < 1e-6:
        return 180.0
    east, north = np.linalg.svd(level, full_matrices=False)[2][0]
    azimuth = (np.degrees(np.arctan2(east, north)) + 90.0) % 180.0
    return float(azimuth if azimuth >= 90.0 else azimuth + 180.0)


def _drawn(result: SiteAnalysis, holes: Sequence[Hole]) -> tuple[pd.DataFrame, str]:
    """Oriented fractures of some holes, at most so many, and words for the part that is drawn."""
    fractures = result.fractures
    mine = fractures["hole"].isin([hole.name for hole in holes])
    fractures = Fractures(fractures[mine]).oriented.table
    if len(fractures) <= MOST_DISCS:
        return fractures, ""
    ordered = fractures.sort_values(["hole", "depth_m"], kind="stable")
    kept = thinned(len(ordered), MOST_DISCS)
    return ordered.iloc[kept], f"; {len(kept)} of {len(ordered)} fractures drawn"


def _finish(ax: Axes, title: str) -> None:
    ax.set_aspect("equal", adjustable="datalim")
    ax.set_axis_off()
    ax.margins(0.08)
    ax.set_title(title)


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


def _draw_path(ax: Axes, hole: Hole, gaps: Spans, screen: Array, place: Array) -> None:
    """The path, its collar, and the lengths not logged as a broad band."""

    def seen(depth: Array) -> tuple[Array, Array]:
        x, y, _ = screen @ (place + _position(hole, depth)).T
        return x, y

    ax.plot(*seen(np.linspace(0.0, hole.length_m, 60)), color=INK.ink, linewidth=1.0, zorder=2)
    ax.plot(*seen(np.zeros(1)), color=INK.ink, marker="s", markersize=4.5, zorder=2)
    for start, end in gaps:
        path = seen(np.linspace(start, end, 12))
        ax.plot(*path, color=INK.lost, linewidth=7.0, zorder=1.5, solid_capstyle="butt")


def _write_depths(ax: Axes, hole: Hole, screen: Array, gap: float) -> None:
    step = next(n for n in (1, 2, 5, 10, 20, 50, 100, 1000) if hole.length_m / n <= 10 or n == 1000)
    marks = np.arange(0.0, hole.length_m + 1e-9, step)
    x, y, _ = screen @ _position(hole, marks).T
    for at_x, at_y, mark in zip(x, y, marks, strict=True):
        ax.annotate(f"{mark:g} m", (at_x + gap, at_y), fontsize=8.5, va="center",
                    color=INK.quiet, zorder=6, annotation_clip=False)


def _path_points(hole: Hole, place: Array) -> Array:
    """Places along a hole, collar and end among them."""
    return place + _position(hole, np.linspace(0.0, hole.length_m, 25))


def _write_names(ax: Axes, holes: Sequence[Hole], places: Array, screen: Array) -> None:
    """Each hole's name at its end, beside, above or below, clear of holes and names."""
    paths = [_path_points(*one) @ screen[:2].T for one in zip(holes, places, strict=True)]
    points = np.vstack(paths)
    line = _NAME_PT * _metres_a_point(ax, np.ptp(points, axis=0))
    pad = 0.35 * line * np.array([-1.0, -1.0, 1.0, 1.0])
    taken = [np.tile(point, 2) + pad for point in points]
    for hole, path in zip(holes, paths, strict=True):
        rise = float(_position(hole, np.array([hole.length_m]))[0, 2])
        text = f"{short(hole.name)}{', rising' if rise > 0 else ''}"
        right = path[-1, 0] >= path[0, 0] - 0.5 * line
        at, box, right = _name_place(path[-1], len(text), line, taken, right=right)
        taken.append(box)
        ax.update_datalim(box.reshape(2, 2))
        ax.annotate(text, at, va="center", fontweight="bold", ha="left" if right else "right",
                    annotation_clip=False, zorder=6,
                    bbox={"boxstyle": "round,pad=0.1", "fc": INK.paper, "ec": "none", "alpha": 0.8})


def _metres_a_point(ax: Axes, reach: Array) -> float:
    """About how many metres a point of type covers once the view and its names fill the axes."""
    room = ax.get_window_extent().size * 72.0 / ax.figure.dpi - np.array([6.0 * _NAME_PT, 0.0])
    return 1.1 * float((reach / np.maximum(room, 4.0 * _NAME_PT)).max() or 1.0)


def _name_place(
    end: Array, letters: int, line: float, taken: list[Array], *, right: bool
) -> tuple[Array, Array, bool]:
    """Where a name starts, the box it fills, and whether it runs to the right of there."""
    width = 0.6 * line * letters
    first = None
    for shift in (0.0, -1.0, 1.0, -2.0, 2.0, -3.0, 3.0):
        for way in (right, not right):
            sign = 1.0 if way else -1.0
            at = end + line * np.array([0.9 * sign, 1.25 * shift])
            far = at[0] + width * sign
            box = np.array([min(at[0], far), at[1] - 0.6 * line,
                            max(at[0], far), at[1] + 0.6 * line])
            first = first or (at, box, way)
            if not any((box[:2] < o[2:]).all() and (o[:2] < box[2:]).all() for o in taken):
                return at, box, way
    return first


def _round_length(reach: float) -> float:
    """The largest of 1, 2, 5, 10, … within a length."""
    unit = 10.0 ** np.floor(np.log10(max(reach, 1e-6)))
    return float(max(n for n in (1.0, 2.0, 5.0) if n * unit <= reach * (1 + 1e-9)) * unit)


def _draw_scale(ax: Axes, right: Array) -> None:
    """A bar of a round length under the view; there is no perspective, so it holds everywhere."""
    from matplotlib.transforms import blended_transform_factory

    length = _round_length(0.3 * float(np.ptp(right)) or 1.0)
    ends = 0.5 * (right.min() + right.max()) + 0.5 * length * np.array([-1.0, 1.0])
    under = blended_transform_factory(ax.transData, ax.transAxes)
    ax.plot(ends, [-0.08] * 2, color=INK.ink, linewidth=2.0, transform=under, clip_on=False,
            solid_capstyle="butt", scalex=False, scaley=False)
    ax.text(ends.mean(), -0.1, f"{length:g} m", transform=under, ha="center", va="top",
            fontsize=8.5)


def _draw_elevation(ax: Axes, holes: Sequence[Hole], up: Array) -> None:
    """Elevation at the left, where the view is level; above the collars if one is not known."""
    from matplotlib.ticker import MaxNLocator

    known = all(hole.collar is not None for hole in holes)
    base = float(np.mean([hole.collar[2] for hole in holes])) if known else 0.0
    marks = MaxNLocator(nbins=5, steps=[1, 2, 5, 10]).tick_values(up.min() + base, up.max() + base)
    ax.set_axis_on()
    ax.set_xticks([])
    ax.set_yticks(marks - base, [f"{mark:g}".replace("-", "−") for mark in marks])
    ax.set_ylabel("elevation, m" if known else "above the collars, m")
    ax.spines[["right", "top", "bottom"]].set_visible(False)
    ax.grid(axis="y", color=INK.faint)
    ax.set_axisbelow(True)


def _draw_discs(
    ax: Axes,
    result: SiteAnalysis,
    fractures: pd.DataFrame,
    centres: Array,
    screen: Array,
    radius: float,
) -> None:
    """Discs as filled outlines, the farthest first."""
    from matplotlib.collections import PathCollection
    from matplotlib.path import Path

    codes = [Path.MOVETO, *[Path.CURVE4] * 12]
    outlines = []
    for centre, pole in zip(centres, Fractures(fractures).poles, strict=True):
        rim = centre + radius * _RIM @ frame_about(pole)[:2]
        outlines.append(Path(rim @ screen[:2].T, codes))
    colour = {one.name: set_style(place).colour for place, one in enumerate(result.sets)}
    tones = [colour.get(name, INK.unassigned) for name in fractures["set"]]
    order = np.argsort(centres @ screen[2], kind="stable")
    discs = PathCollection(
        [outlines[i] for i in order],
        facecolors=[tones[i] for i in order],
        edgecolors=[tones[i] for i in order],
        linewidths=0.5,
        alpha=0.5,
        zorder=3,
        transform=ax.transData,
    )
    ax.add_collection(discs)
    if outlines:
        ends = np.array([outline.vertices for outline in outlines]).reshape(-1, 2)
        ax.update_datalim(ends)
    ax.autoscale_view()


def _draw_compass(ax: Axes, screen: Array) -> None:
    """North, east and up as the viewer sees them, under the lower left corner."""
    for name, way in (("N", [0, 1.0, 0]), ("E", [1.0, 0, 0]), ("up", [0, 0, 1.0])):
        x, y, _ = screen @ np.array(way)
        if np.hypot(x, y) < 0.3:
            continue
        ax.annotate(
            "",
            (26 + 22 * x, 22 * y - 18),
            (26, -18),
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
            (26 + 31 * x, 31 * y - 18),
            xycoords="axes points",
            fontsize=8.5,
            ha="center",
            va="center",
            annotation_clip=False,
        )
