"""Pictures that set the fractures of a set beside the model: does the Fisher shape hold?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.plots.drawn import drawn
from jointstats.plots.palette import INK, plain_axes, set_style, styled
from jointstats.plots.spread import find_set, thinned
from jointstats.sets.fit_checks import ordered_angles, ordered_directions, ring_counts

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from jointstats.sets.fitted import HasSets
    from jointstats.sets.result import SiteAnalysis

_SIZE = (3.8, 3.0)


@drawn
def density_profile(
    result: HasSets,
    name: str,
    ax: Axes | None = None,
    *,
    ring_deg: float = 5.0,
    key: bool = True,
) -> Axes:
    """Fractures counted in rings about a set's mean pole, beside what the whole fit expects there.

    The line has the exposure in it, and the other sets and the random fractures too, so it should
    run through the points within their intervals wherever the model holds.

    Parameters
    ----------
    result : SiteAnalysis or PolesAnalysis
        What `analyse` or `analyse_poles` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    ring_deg : float
        Width of a ring, degrees.
    key : bool
        Whether to explain the signs above.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.density_profile(result, "J1", plots.new_figure().add_subplot()).ax
    >>> ax.get_ylabel()
    'fractures in the ring'
    """
    position, one = find_set(result.sets, name)
    style = set_style(position)
    edges = np.arange(0.0, 90.0 + 0.5 * ring_deg, ring_deg)
    rings = ring_counts(result, one, edges)
    middle = 0.5 * (edges[1:] + edges[:-1])
    with styled():
        ax = plain_axes(ax, _SIZE)
        ax.stairs(rings["expected"], edges, color=INK.ink, linewidth=1.2, zorder=2,
                  label="the whole fit")
        ax.stairs(rings["expected_of_set"], edges, fill=True, color=style.colour, alpha=0.25,
                  zorder=1, label=f"{name} alone")
        ax.vlines(middle, rings["low"], rings["high"], color=INK.quiet, linewidth=0.9, zorder=3)
        ax.plot(middle, rings["n"], linestyle="none", marker=style.marker, markersize=4.5,
                color=style.colour, zorder=4, label="observed")
        ax.set(xlim=(0, 90), xlabel=f"angle to the mean pole of {name}, degrees",
               ylabel="fractures in the ring")
        ax.set_ylim(0, None)
        ax.set_xticks(range(0, 91, 15))
        if key:
            ax.legend(fontsize=8.5, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3,
                      handlelength=1.2, columnspacing=1.0, borderaxespad=0.1)
    return ax


@drawn
def colatitude_plot(result: HasSets, name: str, ax: Axes | None = None) -> Axes:
    """Probability plot of the angles to a set's own mean against the Fisher distribution.

    Points within the band, at the confidence of the analysis for each alone, are no cause for
    doubt.

    Parameters
    ----------
    result : SiteAnalysis or PolesAnalysis
        What `analyse` or `analyse_poles` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.colatitude_plot(result, "J1", plots.new_figure().add_subplot()).ax
    >>> ax.get_xlabel()
    'expected of a Fisher set, degrees'
    """
    position, one = find_set(result.sets, name)
    table = ordered_angles(result, one)
    with styled():
        ax = plain_axes(ax, _SIZE)
        top = 1.08 * float(table[["angle_deg", "expected_deg"]].to_numpy().max(initial=1.0))
        _draw_ordered(ax, table, "angle_deg", position, top)
        ax.set(xlabel="expected of a Fisher set, degrees", ylabel="angle to the mean, degrees")
    return ax


@drawn
def longitude_plot(result: HasSets, name: str, ax: Axes | None = None) -> Axes:
    """Probability plot of the directions about a set's own mean against an even spread.

    A round set follows the diagonal; an elliptical one winds about it twice.

    Parameters
    ----------
    result : SiteAnalysis or PolesAnalysis
        What `analyse` or `analyse_poles` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.longitude_plot(result, "J1", plots.new_figure().add_subplot()).ax
    >>> ax.get_xlabel()
    'expected of a round set, degrees'
    """
    position, one = find_set(result.sets, name)
    table = ordered_directions(result, one)
    with styled():
        ax = plain_axes(ax, _SIZE)
        _draw_ordered(ax, table, "direction_deg", position, 360.0)
        ax.set(xlabel="expected of a round set, degrees", ylabel="direction about the mean, degrees")
        ax.set_xticks(range(0, 361, 90))
        ax.set_yticks(range(0, 361, 90))
    return ax


def _draw_ordered(ax: Axes, table: pd.DataFrame, column: str, position: int, top: float) -> None:
    """Observed against expected, the band of the limits, and the diagonal."""
    style = set_style(position)
    kept = table.iloc[thinned(len(table))]
    at = kept["expected_deg"]
    ax.fill_between(at, kept["low_deg"], kept["high_deg"], color=INK.density[1], linewidth=0,
                    zorder=1)
    ax.plot(at, kept[column], linestyle="none", marker=style.marker, markersize=3.4,
            color=style.colour, markeredgewidth=0, zorder=3)
    ax.plot([0, top], [0, top], color=INK.quiet, linewidth=0.9, zorder=2)
    ax.set(xlim=(0, top), ylim=(0, top))


@drawn
def angle_counts(result: SiteAnalysis, ax: Axes | None = None) -> Axes:
    """Fractures counted by angle between plane and hole, beside what the fit expects there.

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

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.angle_counts(result, plots.new_figure().add_subplot()).ax
    >>> ax.get_ylabel()
    'fractures'
    """
    table = result.by_angle
    edges = [*table["from_deg"], float(table["to_deg"].iloc[-1])]
    middle = 0.5 * (table["from_deg"] + table["to_deg"])
    with styled():
        ax = plain_axes(ax, _SIZE)
        ax.stairs(table["expected"], edges, color=INK.ink, linewidth=1.2, label="expected")
        ax.vlines(middle, table["low"], table["high"], color=INK.quiet, linewidth=0.9)
        ax.plot(middle, table["n"], linestyle="none", marker="o", markersize=4.5,
                color=INK.ink, label="observed")
        ax.set(xlim=(0, 90), ylim=(0, None), xlabel="angle between plane and hole, degrees",
               ylabel="fractures")
        ax.set_xticks(range(0, 91, 15))
    return ax
