"""Pictures down a hole: each fracture at its depth, how many a metre, and what was not logged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.condition import condition_terms
from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.borehole.terms import SCALES
from jointstats.line.zones import frequency_zones
from jointstats.plots.palette import INK, set_style, style_settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.borehole.sampling import SampledLine
    from jointstats.sets.result import SiteAnalysis

__all__ = ["has_oxidation", "hole_log"]

Array = NDArray[np.float64]

#: Above this number of fractures the points are drawn as an image inside the vector picture.
RASTERISE_ABOVE = 600
#: Terms for oxidation, as steps of a bar.
_STEPS = {term: float(step) for step, term in enumerate(SCALES["oxidation"])} | {"": 0.0}
_NO_DIP = -14.0


def hole_log(result: SiteAnalysis, hole: str, ax: Axes | None = None, *, key: bool = False) -> Axes:
    """Log down one hole: dip and dip direction by set, frequency, oxidation, lengths not logged.

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
    key : bool
        Whether to explain the signs under the log.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If the site has no such hole.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.hole_log(result, result.site.holes[0].name, plots.new_figure().add_subplot())
    >>> ax.get_ylabel()
    'depth along the hole, m'
    """
    import matplotlib

    line = result.sampling.line(hole)
    with matplotlib.rc_context(style_settings()):
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=(3.6, 6.6)).add_subplot()
        fractures = Fractures(result.fractures).in_hole(hole).table
        _draw_frame(ax, line)
        _draw_fractures(ax, fractures, [one.name for one in result.sets], line)
        _draw_frequency(ax, fractures, line)
        if has_oxidation(fractures):
            _draw_oxidation(ax, fractures)
        if key:
            _draw_key(ax, result)
    return ax


def has_oxidation(fractures: pd.DataFrame) -> bool:
    """Whether the oxidation of any fracture is told.

    Parameters
    ----------
    fractures : pandas.DataFrame

    Returns
    -------
    bool

    Examples
    --------
    >>> has_oxidation(pd.DataFrame({"oxidation": ["", "slight"]}))
    True
    """
    return "oxidation" in fractures and bool(
        fractures["oxidation"].fillna("").astype(str).str.strip().any()
    )


def _draw_frame(ax: Axes, line: SampledLine) -> None:
    ax.set(xlim=(-25.0, 96.0), ylim=(line.length_m, 0.0), ylabel="depth along the hole, m")
    ax.set_xticks([_NO_DIP, 0, 30, 60, 90], ["no\ndip", "0°", "30°", "60°", "90°"])
    ax.set_xlabel("dip")
    ax.grid(axis="x", color=INK.faint)
    ax.axvline(0.0, color=INK.quiet, linewidth=0.7)
    ax.margins(0)
    for start, end in line.gaps:
        _shade(ax, start, end)
        if end - start > 0.035 * line.length_m:
            ax.text(
                45.0,
                0.5 * (start + end),
                "not logged",
                ha="center",
                va="center",
                fontsize=9.5,
                color=INK.quiet,
                zorder=4,
            )


def _shade(ax: Axes, start: float, end: float) -> None:
    ax.axhspan(
        start,
        end,
        facecolor=INK.lost,
        edgecolor=INK.faint,
        hatch="\\\\\\",
        linewidth=0.0,
        zorder=0.4,
    )


def _draw_fractures(ax: Axes, fractures: pd.DataFrame, names: list[str], line: SampledLine) -> None:
    raster = len(fractures) > RASTERISE_ABOVE
    depth = fractures["depth_m"].to_numpy(float)
    dip = fractures["true_dip_deg"].to_numpy(float)
    oriented = np.isfinite(dip)
    full = Fractures(fractures).is_fitted
    for position, name in enumerate([*names, UNASSIGNED]):
        style = set_style(position)
        colour = style.colour if name != UNASSIGNED else INK.unassigned
        mine = (fractures["set"] == name).to_numpy() & oriented
        if not mine.any():
            continue
        _draw_ticks(ax, fractures[mine], colour, line.length_m, raster=raster)
        for which, fill in ((mine & full, colour), (mine & ~full, INK.paper)):
            ax.scatter(
                dip[which],
                depth[which],
                marker=style.marker if name in names else "o",
                s=16,
                facecolors=fill,
                edgecolors=colour,
                linewidths=0.8,
                zorder=3,
                rasterized=raster,
            )
    ax.scatter(
        np.full((~oriented).sum(), _NO_DIP),
        depth[~oriented],
        marker="_",
        s=60,
        color=INK.ink,
        linewidths=1.0,
        zorder=3,
        rasterized=raster,
    )


def _draw_ticks(
    ax: Axes, fractures: pd.DataFrame, colour: str, length_m: float, *, raster: bool
) -> None:
    """Short lines from each fracture toward its dip direction, of equal length on paper."""
    azimuth = np.radians(fractures["true_dip_direction_deg"].to_numpy(float))
    ax.quiver(
        fractures["true_dip_deg"].to_numpy(float),
        fractures["depth_m"].to_numpy(float),
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


def _draw_frequency(ax: Axes, fractures: pd.DataFrame, line: SampledLine) -> None:
    """Fractures a metre over equal steps, counting logged metres only."""
    from matplotlib.ticker import MaxNLocator

    strip = ax.inset_axes([1.04, 0.0, 0.30, 1.0], sharey=ax)
    edges, rate = step_frequency(fractures["depth_m"].to_numpy(float), line)
    strip.stairs(
        rate, edges, orientation="horizontal", fill=True, color=INK.density[-1], baseline=0.0
    )
    strip.stairs(
        rate, edges, orientation="horizontal", color=INK.quiet, linewidth=0.8, baseline=None
    )
    for start, end in line.gaps:
        _shade(strip, start, end)
    top = max(1.0, float(np.nanmax(rate, initial=0.0)))
    strip.set(xlim=(0, 1.08 * top))
    strip.set_xlabel(f"per metre,\n{_step_of(line):g} m steps", fontsize=8.5)
    strip.yaxis.set_visible(False)
    marks = MaxNLocator(nbins=3, steps=[1, 2, 5, 10]).tick_values(0.0, top)
    strip.set_xticks(marks[(marks > 0) & (marks <= top)])
    strip.grid(axis="x", color=INK.faint)
    _draw_zones(strip, fractures["depth_m"].to_numpy(float), line)


def _draw_zones(strip: Axes, depth: Array, line: SampledLine) -> None:
    """Mean frequency of each zone that the counts tell apart, as one line."""
    spans = line.spans
    inside = np.zeros(len(depth), dtype=bool)
    for start, end in spans:
        inside |= (depth >= start) & (depth <= end)
    if inside.sum() < 2:
        return
    for zone in frequency_zones(depth[inside], spans).zones:
        if zone.p10_per_m is not None:
            strip.plot(
                [zone.p10_per_m] * 2,
                [zone.from_m, zone.to_m],
                color=INK.ink,
                linewidth=1.6,
                solid_capstyle="butt",
                zorder=4,
            )


def _draw_oxidation(ax: Axes, fractures: pd.DataFrame) -> None:
    """Oxidation of each fracture as a bar of one to four steps; other words as a ring."""
    terms = condition_terms(fractures["oxidation"].to_numpy(object), "oxidation")
    strip = ax.inset_axes([1.41, 0.0, 0.25, 1.0], sharey=ax)
    level = np.array([_STEPS.get(term, np.nan) for term in terms])
    depth = fractures["depth_m"].to_numpy(float)
    strong = np.nan_to_num(level) > 0
    strip.hlines(depth[strong], 0.0, level[strong], color=INK.blind, linewidth=1.4)
    other = np.isnan(level)
    strip.plot(
        np.full(other.sum(), 1.5),
        depth[other],
        marker="o",
        markersize=3.5,
        linestyle="none",
        color=INK.blind,
        markerfacecolor="none",
    )
    strip.set(xlim=(0.0, len(SCALES["oxidation"]) - 0.8))
    strip.set_title("oxidation", loc="center", fontsize=9.0, fontweight="normal", pad=3.0)
    named = SCALES["oxidation"][1:]
    strip.set_xticks(range(1, len(named) + 1), named, rotation=90, fontsize=7.5)
    strip.yaxis.set_visible(False)
    strip.grid(axis="x", color=INK.faint)


def step_frequency(depth_m: Array, line: SampledLine) -> tuple[Array, Array]:
    """Fractures per logged metre over equal steps down a hole, cut to what was logged.

    Parameters
    ----------
    depth_m : ndarray, shape (n,)
        Depths of the fractures.
    line : SampledLine

    Returns
    -------
    edges : ndarray, shape (m + 1,)
        Depths between the steps, and where logged lengths begin and end.
    rate : ndarray, shape (m,)
        1/m, of all that was logged within the step; NaN between logged lengths, and where less
        than a tenth of the step was logged.

    Examples
    --------
    >>> from types import SimpleNamespace as Plain
    >>> from jointstats.borehole.spans import Spans
    >>> line = Plain(length_m=4.0, spans=Spans([(0.0, 2.0)]))
    >>> step_frequency(np.array([0.5, 0.7]), line)[1]
    array([ 2.,  0., nan, nan])
    """
    edges = np.append(np.arange(0.0, line.length_m - 1e-9, _step_of(line)), line.length_m)
    logged = np.diff(line.spans.metres_to(edges))
    number = np.histogram(depth_m[line.spans.holds(depth_m)], edges)[0]
    enough = logged > 0.1 * np.diff(edges)
    rate = np.where(enough, number / np.where(enough, logged, 1.0), np.nan)
    return _cut_to_logged(edges, rate, line)


def _cut_to_logged(edges: Array, rate: Array, line: SampledLine) -> tuple[Array, Array]:
    """Steps parted where logged lengths begin and end, without a rate between them."""
    parted = np.union1d(edges, np.clip(np.ravel(line.spans.pairs), 0.0, line.length_m))
    middle = 0.5 * (parted[1:] + parted[:-1])
    of_step = rate[np.clip(np.searchsorted(edges, middle) - 1, 0, len(rate) - 1)]
    return parted, np.where(line.spans.holds(middle), of_step, np.nan)


def _step_of(line: SampledLine) -> float:
    """Length of a step, metres: the smallest of a few round ones that makes at most 60 of them."""
    sizes = (1.0, 2.0, 5.0, 10.0, 50.0, 500.0)
    fits = [size for size in sizes if line.length_m / size <= 60]
    return min([*fits, float(line.length_m)])


def _draw_key(ax: Axes, result: SiteAnalysis) -> None:
    from matplotlib.lines import Line2D

    entries = []
    for position, one in enumerate(result.sets):
        style = set_style(position)
        entries.append(
            Line2D(
                [],
                [],
                color=style.colour,
                marker=style.marker,
                label=one.name,
                linestyle="none",
                markersize=5,
            )
        )
    entries.append(
        Line2D(
            [],
            [],
            color=INK.unassigned,
            marker="o",
            linestyle="none",
            label=UNASSIGNED,
            markersize=5,
        )
    )
    ax.legend(
        handles=entries,
        loc="upper left",
        bbox_to_anchor=(-0.1, -0.12),
        ncols=3,
        fontsize=8.5,
        handletextpad=0.2,
        columnspacing=1.0,
    )
