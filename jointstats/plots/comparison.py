"""Pictures of a comparison: a small net a hole, forests, the matrix of pairs, core beside image."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.errors import InputError
from jointstats.plots.drawn import drawn
from jointstats.plots.net import Net, net_axes
from jointstats.plots.palette import INK, plain_axes, set_style, styled
from jointstats.plots.pole_net import WIDEST_CONE_DEG

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.compare.holes import HoleComparison
    from jointstats.pairs.core_image import CoreMatch

_SIZE_IN = (4.8, 3.2)
_FIGURES = {
    "p32": ("p32_per_m", "p32_low_per_m", "p32_high_per_m", "P32, m²/m³"),
    "kappa": ("kappa", "kappa_low", "kappa_high", "κ"),
}


@drawn
def group_net(comparison: HoleComparison, name: str, ax: Axes | None = None) -> Axes:
    """Poles of one hole, by the sets of all holes, with the means that the hole by itself gives.

    Parameters
    ----------
    comparison : HoleComparison
        What `compare_holes` gave.
    name : str
        Name of the hole, or of the length of one.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If nothing of this name was compared.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> found = js.compare_holes(js.simulate_site(random_state=1), n_sets=3, draws=19)
    >>> plots.group_net(found, "H1", plots.net_axes(plots.new_figure())).ax.name
    'equal_area_stereonet'
    """
    if name not in comparison.names:
        raise InputError(
            f"nothing called {name!r} was compared; there are {', '.join(comparison.names)}"
        )
    group = comparison.groups[comparison.names.index(name)]
    table = comparison.analysis.fractures.iloc[group.index]
    with styled():
        ax = net_axes() if ax is None else ax
        net = Net(ax)
        fractures = Fractures(table)
        own = fractures.of_set(UNASSIGNED)
        if len(own):
            net.points(own.poles, s=9, color=INK.unassigned, linewidths=0, zorder=3)
        for position, one in enumerate(comparison.analysis.sets):
            style = set_style(position)
            own = fractures.of_set(one.name)
            if len(own):
                net.points(
                    own.poles,
                    s=12,
                    color=style.colour,
                    marker=style.marker,
                    linewidths=0,
                    zorder=4,
                )
            net.plane(one.density.frame[0], color=style.colour, linewidth=1.0, zorder=2)
        _draw_own_means(net, comparison, name)
        net.points(group.exposure.directions, s=26, marker="x", color=INK.ink, zorder=6)
    return ax


def _draw_own_means(net: Net, comparison: HoleComparison, name: str) -> None:
    from jointstats.sphere.angles import poles_from_dip

    table = comparison.estimates
    told = (table["cone_deg"] <= WIDEST_CONE_DEG) & (table["n"] >= 3)
    own = table[(table["hole"] == name) & told]
    names = [one.name for one in comparison.analysis.sets]
    for row in own.to_dict("records"):
        position = names.index(row["set"])
        pole = poles_from_dip(row["dip_deg"], row["dip_direction_deg"])[0]
        net.cone(pole, row["cone_deg"], color=set_style(position).colour, linewidth=1.4, zorder=5)


@drawn
def estimate_forest(
    comparison: HoleComparison, set_name: str, figure: str = "p32", ax: Axes | None = None
) -> Axes:
    """A figure of one set as each hole by itself gives it, the common fit as a band.

    Parameters
    ----------
    comparison : HoleComparison
        What `compare_holes` gave.
    set_name : str
        Name of the set.
    figure : {"p32", "kappa"}
        Fractures per metre (m²/m³), or the concentration.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If there is no such set, or the figure is neither.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> found = js.compare_holes(js.simulate_site(random_state=1), n_sets=3, draws=19)
    >>> plots.estimate_forest(found, "J1", "p32", plots.new_figure().add_subplot()).ax.get_xlabel()
    'P32, m²/m³ of J1'
    """
    names = [one.name for one in comparison.analysis.sets]
    if set_name not in names or figure not in _FIGURES:
        raise InputError(
            f"set_name must be one of {', '.join(names)} and figure one of "
            f"{', '.join(_FIGURES)}; got {set_name!r} and {figure!r}"
        )
    position = names.index(set_name)
    one, style = comparison.analysis.sets[position], set_style(position)
    value, low, high, label = _FIGURES[figure]
    own = comparison.estimates[comparison.estimates["set"] == set_name]
    whole = one.p32_interval if figure == "p32" else one.concentration_interval
    middle = one.p32_per_m if figure == "p32" else one.density.concentration
    with styled():
        ax = plain_axes(ax, _SIZE_IN)
        ax.axvspan(*whole, color=style.colour, alpha=0.15, linewidth=0)
        ax.axvline(middle, color=style.colour, linewidth=1.2)
        for row, hole in enumerate(own.to_dict("records")):
            ax.plot([hole[low], hole[high]], [row, row], color=style.colour, linewidth=2.0)
            ax.plot(
                hole[value],
                row,
                marker=style.marker,
                color=style.colour,
                markersize=6.5,
                markeredgecolor=INK.paper,
                markeredgewidth=0.6,
            )
        ax.set_yticks(range(len(own)), list(own["hole"]))
        ax.set(ylim=(len(own) - 0.4, -0.6), xlabel=f"{label} of {set_name}")
        ax.set_xlim(0.0, None)
        ax.grid(axis="x", color=INK.faint)
        ax.tick_params(axis="y", length=0)
    return ax


@drawn
def pair_matrix(comparison: HoleComparison, ax: Axes | None = None) -> Axes:
    """Every pair of holes with its corrected p-value; pairs below 0.05 are filled.

    Parameters
    ----------
    comparison : HoleComparison
        What `compare_holes` gave.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> found = js.compare_holes(js.simulate_site(random_state=1), n_sets=3, draws=19)
    >>> len(plots.pair_matrix(found, plots.new_figure().add_subplot()).ax.texts)
    6
    """
    from matplotlib.patches import Rectangle

    square = comparison.matrix().to_numpy()
    names = list(comparison.names)
    with styled():
        ax = plain_axes(ax, _SIZE_IN)
        for i, j in zip(*np.nonzero(~np.eye(len(names), dtype=bool)), strict=True):
            apart = square[i, j] < 0.05
            box = Rectangle(
                (j - 0.5, i - 0.5),
                1,
                1,
                facecolor=INK.warning if apart else INK.paper,
                edgecolor=INK.faint,
            )
            ax.add_patch(box)
            text = "<0.001" if square[i, j] < 0.001 else f"{square[i, j]:.2g}"
            ax.text(
                j,
                i,
                text,
                ha="center",
                va="center",
                fontsize=9.0,
                color=INK.paper if apart else INK.ink,
            )
        ax.set_xticks(range(len(names)), names, rotation=30, ha="right")
        ax.set_yticks(range(len(names)), names)
        ax.set(xlim=(-0.5, len(names) - 0.5), ylim=(len(names) - 0.5, -0.5))
        ax.tick_params(length=0)
        ax.spines[:].set_visible(False)
    return ax


@drawn
def match_log(
    match: CoreMatch, ax: Axes | None = None, *, span_m: tuple[float, float] | None = None
) -> Axes:
    """Core and image side by side, each fracture at its depth, pairs joined.

    Parameters
    ----------
    match : CoreMatch
        What `match_core_to_image` gave.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    span_m : (float, float) or None
        Depths to draw, from and to, metres; None draws all.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> site = js.pairs.simulate_core_and_image(15.0, random_state=1)
    >>> match = js.match_core_to_image(site, "H1")
    >>> plots.match_log(match, plots.new_figure().add_subplot()).ax.get_ylabel()
    'depth as logged, m'
    """
    from matplotlib.collections import LineCollection

    low, high = (-np.inf, np.inf) if span_m is None else span_m
    pairs = match.pairs
    middle = 0.5 * (pairs["core_depth_m"] + pairs["image_depth_m"])
    pairs = pairs[(middle >= low) & (middle < high)]
    alone = [one["depth_m"] for one in (match.core_only, match.image_only)]
    alone = [depth[(depth >= low) & (depth < high)] for depth in alone]
    with styled():
        ax = plain_axes(ax, _SIZE_IN)
        for column, depth, tone in (
            (0.0, pairs["core_depth_m"], INK.ink),
            (0.0, alone[0], INK.warning),
            (1.6, pairs["image_depth_m"], INK.ink),
            (1.6, alone[1], INK.warning),
        ):
            ticks = [[(column, y), (column + 0.6, y)] for y in depth]
            ax.add_collection(LineCollection(ticks, colors=tone, linewidths=1.1))
        for doubtful, own in pairs.groupby("ambiguous"):
            ends = zip(own["core_depth_m"], own["image_depth_m"], strict=True)
            lines = [[(0.6, a), (1.6, b)] for a, b in ends]
            tone, dashes = (INK.blind, "dashed") if doubtful else (INK.quiet, "solid")
            ax.add_collection(LineCollection(lines, colors=tone, linewidths=0.8, linestyles=dashes))
        for start in match.runs["from_m"]:
            if low <= start < high:
                ax.plot([-0.08, 0.0], [start, start], color=INK.quiet, linewidth=0.8)
        _match_frame(ax, span_m)
    return ax


def _match_frame(ax: Axes, span_m: tuple[float, float] | None) -> None:
    ax.set_xticks([0.3, 1.9], ["core", "image"])
    ax.xaxis.tick_top()
    ax.tick_params(axis="x", length=0)
    ax.spines["bottom"].set_visible(False)
    ax.autoscale_view()
    if span_m is not None:
        # A pair near the limit may reach past it.
        low, high = sorted(ax.get_ylim())
        ax.set_ylim(min(low, span_m[0]), max(high, span_m[1]))
    ax.invert_yaxis()
    ax.set_ylabel("depth as logged, m")
