"""Plan and sections of the holes, with fractures as short traces at their apparent dip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import INK, plain_axes, set_style, styled
from jointstats.plots.spread import thinned
from jointstats.words import short

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from jointstats.borehole.hole import Hole
    from jointstats.borehole.spans import Spans
    from jointstats.sets.result import SiteAnalysis
    from jointstats.types import Array

#: With more fractures than this an even part of them is drawn.
MOST_TRACES = 600
#: A trace is this part of the extent of the holes; its length says nothing of the fracture.
_TRACE_PART = 0.05
_NAME_PART = (0.16, 0.06)  # of the drawing, across and up, within which names lie on one another


@drawn
def site_plan(result: SiteAnalysis, ax: Axes | None = None) -> Axes:
    """Collars and traces of the holes from above, with north, a scale and coordinates.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.
        East to the right, north up, metres. Where a collar is not known the holes stand side by
        side, without coordinates.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.site_plan(result, plots.new_figure().add_subplot()).ax.get_aspect()
    1.0
    """
    with styled():
        ax = plain_axes(ax, (4.0, 4.0))
        placed = placed_holes(result.site.holes)
        level = np.array([[1.0, 0, 0], [0, 1.0, 0]])
        for hole, place in zip(result.site.holes, placed, strict=True):
            _draw_hole(ax, hole, result.sampling.line(hole.name).gaps, place, level)
        _name_holes(ax, result, placed, level)
        _finish(ax, result, ("easting, m", "northing, m"), np.vstack(_paths(result, placed)) @ level.T)
        ax.annotate("N", (0.96, 0.99), (0.96, 0.86), xycoords="axes fraction", ha="center",
                    fontweight="bold", fontsize=9.0,
                    arrowprops={"arrowstyle": "-|>", "color": INK.ink, "shrinkB": 0})
    return ax


@drawn
def site_section(result: SiteAnalysis, azimuth_deg: float, ax: Axes | None = None) -> Axes:
    """Holes projected on a vertical section, each oriented fracture a trace at its apparent dip.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    azimuth_deg : float
        Direction in which distance grows to the right, clockwise from north.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.
        Distance along the section and elevation, metres, at one scale. The length of a trace is
        for sight only.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.site_section(result, 90.0, plots.new_figure().add_subplot()).ax.get_title(loc="left")
    'Section toward 090°'
    """
    turn = np.radians(azimuth_deg)
    along = np.array([np.sin(turn), np.cos(turn), 0.0])
    screen = np.array([along, [0.0, 0.0, 1.0]])
    placed = placed_holes(result.site.holes, along)
    # Distance starts at the first hole, whatever the coordinates.
    placed = placed - float((np.vstack(_paths(result, placed)) @ along).min()) * along
    with styled():
        ax = plain_axes(ax, (4.6, 3.4))
        points = np.vstack(_paths(result, placed)) @ screen.T
        half = 0.5 * _TRACE_PART * float(max(np.ptp(points, axis=0).max(), 1.0))
        _draw_traces(ax, result, placed, screen, half)
        for hole, place in zip(result.site.holes, placed, strict=True):
            _draw_hole(ax, hole, result.sampling.line(hole.name).gaps, place, screen)
        _name_holes(ax, result, placed, screen)
        known = all(hole.collar is not None for hole in result.site.holes)
        up = "elevation, m" if known else "above the collars, m"
        _finish(ax, result, ("distance along the section, m", up), points)
        ax.set_title(f"Section toward {round(azimuth_deg) % 360:03d}°", fontsize=9.5)
    return ax


def placed_holes(holes: Sequence[Hole], along: Array | None = None) -> Array:
    """Collars, shape (n, 3), metres; holes side by side along a direction where one is not known."""
    if all(hole.collar is not None for hole in holes):
        return np.array([hole.collar for hole in holes], dtype=float)
    room = 0.6 * max(hole.length_m for hole in holes)
    right = np.array([1.0, 0, 0]) if along is None else along
    return room * np.arange(len(holes))[:, np.newaxis] * right


def best_azimuth_deg(result: SiteAnalysis) -> float:
    """Azimuth of the section along which the holes spread widest, 0 to 180°."""
    points = np.vstack(_paths(result, placed_holes(result.site.holes)))[:, :2]
    level = points - 0.5 * (points.min(axis=0) + points.max(axis=0))
    if np.abs(level).max() < 1e-6:
        return 90.0
    east, north = np.linalg.svd(level, full_matrices=False)[2][0]
    return float(np.degrees(np.arctan2(east, north)) % 180.0)


def _position(hole: Hole, depth_m: Array) -> Array:
    return np.asarray(hole.path.position(depth_m), dtype=float).reshape(-1, 3)


def _paths(result: SiteAnalysis, placed: Array) -> list[Array]:
    """Places along each hole, collar and end among them, shape (25, 3) each."""
    return [
        place + _position(hole, np.linspace(0.0, hole.length_m, 25))
        for hole, place in zip(result.site.holes, placed, strict=True)
    ]


def _draw_hole(ax: Axes, hole: Hole, gaps: Spans, place: Array, screen: Array) -> None:
    """The path, its collar as a square, lengths not logged as a broad band."""

    def seen(depth: Array) -> Array:
        return (place + _position(hole, depth)) @ screen.T

    path = seen(np.linspace(0.0, hole.length_m, 25))
    ax.plot(*path.T, color=INK.ink, linewidth=1.1, zorder=3)
    ax.plot(*path[0], color=INK.ink, marker="s", markersize=4.5, zorder=4)
    for start, end in gaps:
        ax.plot(*seen(np.linspace(start, end, 6)).T, color=INK.lost, linewidth=6.0, zorder=1.5,
                solid_capstyle="butt")


def _name_holes(ax: Axes, result: SiteAnalysis, placed: Array, screen: Array) -> None:
    """The name of each hole at its end; where ends lie close together, one below the other."""
    paths = [path @ screen.T for path in _paths(result, placed)]
    ends = np.array([path[-1] for path in paths])
    near = float(max(np.ptp(np.vstack(paths), axis=0).max(), 1.0)) * np.array(_NAME_PART)
    order = np.argsort(-ends[:, 1], kind="stable")
    for number, i in enumerate(order):
        hole, path = result.site.holes[i], paths[i]
        above = int((np.abs(ends[order[:number]] - ends[i]) < near).all(axis=1).sum())
        right = path[-1, 0] >= path[0, 0]
        ax.annotate(short(hole.name, 10), path[-1], (4 if right else -4, -2 - 11 * above), fontsize=9.0,
                    textcoords="offset points", ha="left" if right else "right", va="center", zorder=6,
                    fontweight="bold", annotation_clip=False,
                    bbox={"boxstyle": "round,pad=0.1", "fc": INK.paper, "ec": "none", "alpha": 0.8})


def _draw_traces(
    ax: Axes, result: SiteAnalysis, placed: Array, screen: Array, half_m: float
) -> None:
    """A trace a fracture: where its plane meets the section; one path a set keeps the file small."""
    fractures = Fractures(result.fractures).oriented
    fractures = Fractures(fractures.table.sort_values(["hole", "depth_m"], kind="stable"))
    kept = Fractures(fractures.table.iloc[thinned(len(fractures), MOST_TRACES)])
    centres = np.empty((len(kept), 3))
    for hole, place in zip(result.site.holes, placed, strict=True):
        own = (kept.table["hole"] == hole.name).to_numpy()
        centres[own] = place + _position(hole, kept.depth_m[own])
    # The trace is square to the pole within the section: (u, v) · (n · along, n · up) = 0.
    parts = kept.poles @ screen.T
    length = np.linalg.norm(parts, axis=1, keepdims=True)
    way = np.column_stack([-parts[:, 1], parts[:, 0]]) / np.where(length > 1e-9, length, 1.0)
    middle = centres @ screen.T
    broken = np.full((len(kept), 3, 2), np.nan)
    broken[:, 0], broken[:, 1] = middle - half_m * way, middle + half_m * way
    for position, name in enumerate([*(one.name for one in result.sets), UNASSIGNED]):
        mine = (kept.table["set"] == name).to_numpy()
        colour = INK.unassigned if name == UNASSIGNED else set_style(position).colour
        ax.plot(*broken[mine].reshape(-1, 2).T, color=colour, linewidth=0.8, zorder=2)


def _finish(ax: Axes, result: SiteAnalysis, labels: tuple[str, str], points: Array) -> None:
    """One scale for both directions, coordinates where they are known, and a bar of a round length."""
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.12)
    known = all(hole.collar is not None for hole in result.site.holes)
    ax.set(xlabel=labels[0] if known or "along" in labels[0] else "", ylabel=labels[1])
    ax.grid(color=INK.faint)
    ax.ticklabel_format(useOffset=False, style="plain")
    ax.locator_params(nbins=5)
    ax.tick_params(labelsize=8.5)
    if not known:
        ax.set_xticks([])
        if "northing" in labels[1]:
            ax.set(yticks=[], ylabel="collars not known: holes side by side")
    length = round_length(0.3 * float(np.ptp(points, axis=0).max()) or 1.0)
    from matplotlib.transforms import blended_transform_factory

    under = blended_transform_factory(ax.transData, ax.transAxes)
    low = float(points[:, 0].min())
    ax.plot([low, low + length], [0.03] * 2, color=INK.ink, linewidth=2.5, transform=under,
            solid_capstyle="butt", zorder=7)
    ax.text(low + 0.5 * length, 0.045, f"{length:g} m", transform=under, ha="center", va="bottom",
            fontsize=8.5, zorder=7)


def round_length(reach: float) -> float:
    """The largest of 1, 2, 5, 10, … within a length.

    >>> round_length(37.0), round_length(0.4)
    (20.0, 0.2)
    """
    unit = 10.0 ** np.floor(np.log10(max(reach, 1e-6)))
    return float(max(n for n in (1.0, 2.0, 5.0) if n * unit <= reach * (1 + 1e-9)) * unit)
