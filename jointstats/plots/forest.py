"""Forest plots: figures of all sets, or of one set in all holes, side by side with intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.errors import InputError
from jointstats.intervals import poisson_interval
from jointstats.plots.palette import INK, set_style, style_settings
from jointstats.plots.spread import find_set
from jointstats.words import number, short, within

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["hole_forest", "set_forest"]

_FIGURES = {
    "p32": "P32, m²/m³",
    "kappa": "κ",
    "spacing": "mean spacing with the cut ones, m",
}


def set_forest(result: SiteAnalysis, figure: str = "p32", ax: Axes | None = None) -> Axes:
    """One figure of every set, with its interval, on a common axis.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    figure : {"p32", "kappa", "spacing"}
        Which figure.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If `figure` is none of the three.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.set_forest(result, "p32", plots.new_figure().add_subplot())
    >>> [label.get_text() for label in ax.get_yticklabels()]
    ['J1', 'J2', 'J3']
    """
    import matplotlib

    if figure not in _FIGURES:
        raise InputError(f"figure must be one of {', '.join(_FIGURES)}; got {figure!r}")
    with matplotlib.rc_context(style_settings()):
        ax = _axes(ax, len(result.sets))
        for position, one in enumerate(result.sets):
            value, (low, high) = _value_of(one, figure)
            style = set_style(position)
            _draw_row(ax, position, (value, low, high), style.colour, style.marker)
        _finish(ax, [one.name for one in result.sets], _FIGURES[figure])
    return ax


def _value_of(one: JointSet, figure: str) -> tuple[float | None, tuple[float | None, float | None]]:
    if figure == "p32":
        return one.p32_per_m, one.p32_interval
    if figure == "kappa":
        return one.kappa, one.kappa_interval
    return one.spacing.mean_m, one.spacing.mean_interval_m or (None, None)


def hole_forest(
    result: SiteAnalysis, name: str, ax: Axes | None = None, *, figures: bool = True
) -> Axes:
    """P32 of one set as each hole alone gives it, beside that of the whole fit.

    A hole's figure is its count over its exposure to the set; the band is the interval of the
    whole fit. Holes that disagree with it point to more than one domain.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    name : str
        Name of the set.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.
    figures : bool
        Whether to write the figures at the right.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        If there is no set of this name.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.hole_forest(result, "J1", plots.new_figure().add_subplot())
    >>> len(ax.get_yticklabels()) == len(result.site.holes)
    True
    """
    import matplotlib

    position, one = find_set(result, name)
    fitted = Fractures(result.fractures).of_set(name).fitted
    style = set_style(position)
    with matplotlib.rc_context(style_settings()):
        ax = _axes(ax, len(one.holes))
        ax.axvspan(*one.p32_interval, color=style.colour, alpha=0.15, linewidth=0)
        ax.axvline(one.p32_per_m, color=style.colour, linewidth=1.2)
        for row, hole in enumerate(one.holes.to_dict("records")):
            exposure = hole["n_expected"] / one.p32_per_m if one.p32_per_m > 0 else 0.0
            count = len(fitted.in_hole(hole["hole"]))
            if exposure > 0:
                low, high = poisson_interval(count, one.confidence)
                values = (count / exposure, low / exposure, high / exposure)
                _draw_row(ax, row, values, style.colour, style.marker, figures=figures)
        _finish(ax, [short(hole) for hole in one.holes["hole"]], f"P32 of {name}, m²/m³")
    return ax


def _axes(ax: Axes | None, rows: int) -> Axes:
    if ax is not None:
        return ax
    from matplotlib import pyplot

    return pyplot.figure(figsize=(4.8, 0.8 + 0.42 * max(rows, 1))).add_subplot()


def _draw_row(
    ax: Axes,
    row: int,
    values: tuple[float | None, float | None, float | None],
    colour: str,
    marker: str,
    *,
    figures: bool = True,
) -> None:
    value, low, high = (np.nan if one is None else float(one) for one in values)
    ax.plot([low, high], [row, row], color=colour, linewidth=2.0, solid_capstyle="butt", zorder=3)
    ax.plot(
        value,
        row,
        marker=marker,
        color=colour,
        markersize=7,
        zorder=4,
        markeredgecolor=INK.paper,
        markeredgewidth=0.6,
    )
    if not figures:
        return
    text = f"{number(value)}  ({within((low, high))})"
    ax.text(1.02, row, text, transform=ax.get_yaxis_transform(), va="center", fontsize=9.0)


def _finish(ax: Axes, names: list[str], label: Sequence[str] | str) -> None:
    ax.set_yticks(range(len(names)), names)
    ax.set(ylim=(max(len(names), 1) - 0.4, -0.6), xlabel=label)
    ax.set_xlim(0.0, None)
    ax.grid(axis="x", color=INK.faint)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
