"""Pictures down a hole: each fracture at its depth, how many a metre, and what was not logged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.line.windows import frequency_in_windows
from jointstats.line.zones import frequency_zones
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import INK, plain_axes, set_style, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.borehole.sampling import SampledLine
    from jointstats.sets.result import SiteAnalysis
    from jointstats.types import Array

#: Above this number of fractures the points are drawn as an image inside the vector picture.
RASTERISE_ABOVE = 600
_NO_DIP = -14.0


@drawn
def hole_log(
    result: SiteAnalysis,
    hole: str,
    ax: Axes | None = None,
    *,
    depths_m: float | None = None,
    most_per_m: float | None = None,
) -> Axes:
    """Log down one hole: dip and dip direction by set, frequency, lengths not logged.

    Each fracture stands at its depth and dip; its tick points toward the dip direction, north
    being up. Fractures that could not be oriented stand in the strip at the left.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    hole : str
        Name of the hole.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None. A strip of frequency is set beside them.
    depths_m, most_per_m : float or None
        Ends of the scales of depth and frequency, where several logs share them; None takes the
        hole's own.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If the site has no such hole.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.hole_log(result, result.site.holes[0].name, plots.new_figure().add_subplot()).ax
    >>> ax.get_ylabel()
    'depth along the hole, m'
    """
    line = result.sampling.line(hole)
    fractures = Fractures(result.fractures).in_hole(hole)
    with styled():
        ax = plain_axes(ax, (3.6, 6.6))
        _draw_frame(ax, line, line.length_m if depths_m is None else depths_m)
        _draw_fractures(ax, fractures, [one.name for one in result.sets])
        _draw_frequency(ax, fractures.counted.depth_m, line, most_per_m)
    return ax


def step_of(length_m: float) -> float:
    """Length of a step of frequency: the smallest of a few round ones that makes at most 60.

    >>> step_of(45.0), step_of(230.0)
    (1.0, 5.0)
    """
    sizes = (1.0, 2.0, 5.0, 10.0, 50.0, 500.0)
    return next((size for size in sizes if length_m / size <= 60), float(length_m))


def _draw_frame(ax: Axes, line: SampledLine, depths_m: float) -> None:
    ax.set(xlim=(-25.0, 96.0), ylim=(depths_m, 0.0), ylabel="depth along the hole, m")
    ax.set_xticks([_NO_DIP, 0, 30, 60, 90], ["no\ndip", "0°", "30°", "60°", "90°"])
    ax.grid(axis="x", color=INK.faint)
    ax.axvline(0.0, color=INK.quiet, linewidth=0.7)
    ax.margins(0)
    for start, end in line.gaps:
        _shade(ax, start, end)
    ax.plot([-25.0, 96.0], [line.length_m] * 2, color=INK.ink, linewidth=1.2)


def _shade(ax: Axes, start: float, end: float) -> None:
    ax.axhspan(start, end, facecolor=INK.lost, edgecolor=INK.faint, hatch="\\\\\\", linewidth=0.0,
               zorder=0.4)


def _draw_fractures(ax: Axes, fractures: Fractures, names: list[str]) -> None:
    raster = len(fractures) > RASTERISE_ABOVE
    depth = fractures.depth_m
    dip = fractures.table["true_dip_deg"].to_numpy(float)
    oriented, full = fractures.is_oriented, fractures.is_fitted
    for position, name in enumerate([*names, UNASSIGNED]):
        style = set_style(position)
        colour = style.colour if name != UNASSIGNED else INK.unassigned
        mine = (fractures.table["set"] == name).to_numpy() & oriented
        if not mine.any():
            continue
        _draw_ticks(ax, fractures.where(mine), colour, raster=raster)
        for which, fill in ((mine & full, colour), (mine & ~full, INK.paper)):
            ax.plot(dip[which], depth[which], linestyle="none", markersize=4.0,
                    marker=style.marker if name in names else "o", markerfacecolor=fill,
                    markeredgecolor=colour, markeredgewidth=0.8, zorder=3, rasterized=raster)
    ax.plot(np.full((~oriented).sum(), _NO_DIP), depth[~oriented], linestyle="none", marker="_",
            markersize=8.0, color=INK.ink, zorder=3, rasterized=raster)


def _draw_ticks(ax: Axes, fractures: Fractures, colour: str, *, raster: bool) -> None:
    """Short lines from each fracture toward its dip direction, of equal length on paper."""
    azimuth = np.radians(fractures.table["true_dip_direction_deg"].to_numpy(float))
    ax.quiver(
        fractures.table["true_dip_deg"].to_numpy(float),
        fractures.depth_m,
        np.sin(azimuth),
        np.cos(azimuth),
        angles="uv",
        scale_units="inches",
        scale=7.0,
        width=1.1,
        units="dots",
        headlength=0,
        headaxislength=0,
        headwidth=0,
        minlength=0,
        pivot="tail",
        color=colour,
        zorder=2.5,
        rasterized=raster,
    )


def _draw_frequency(ax: Axes, depth_m: Array, line: SampledLine, most_per_m: float | None) -> None:
    """Fractures a metre over equal steps, counting logged metres only, and the zones."""
    from matplotlib.ticker import MaxNLocator

    strip = ax.inset_axes((1.04, 0.0, 0.34, 1.0), sharey=ax)
    inside = line.spans.holds(depth_m)
    top = 1.0
    if line.spans:
        steps = frequency_in_windows(depth_m[inside], line.spans.pairs, step_of(line.length_m))
        strip.barh(steps["from_m"], steps["p10_per_m"], steps["to_m"] - steps["from_m"],
                   align="edge", color=INK.density[2], edgecolor=INK.quiet, linewidth=0.5)
        top = max(1.0, float(steps["p10_per_m"].max()))
    for start, end in line.gaps:
        _shade(strip, start, end)
    if inside.sum() > 1:
        for zone in frequency_zones(depth_m[inside], line.spans.pairs).zones:
            if zone.p10_per_m is not None:
                strip.plot([zone.p10_per_m] * 2, [zone.from_m, zone.to_m], color=INK.ink,
                           linewidth=1.6, solid_capstyle="butt", zorder=4)
    top = top if most_per_m is None else most_per_m
    strip.set(xlim=(0, 1.08 * top), xlabel="1/m")
    strip.yaxis.set_visible(False)
    strip.xaxis.set_major_locator(MaxNLocator(nbins=2, steps=[1, 2, 5, 10], prune="lower"))
    strip.grid(axis="x", color=INK.faint)
