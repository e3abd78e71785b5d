"""Forest plots: figures of all sets, or of each set in each hole, side by side with intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from jointstats.errors import InputError
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import INK, plain_axes, set_style, styled
from jointstats.sets.by_hole import set_by_hole
from jointstats.words import number, short, within

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

_FIGURES = {"p32": "P32, m²/m³", "kappa": "κ", "spacing": "mean normal set spacing, m"}
_OF_HOLES = {"p32": "P32 by hole, m²/m³", "angle": "mean of the hole to the set's, °"}
_Row = tuple[float | None, float | None, float | None]


@drawn
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
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If `figure` is none of the three.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.set_forest(result, "p32", plots.new_figure().add_subplot()).ax
    >>> [label.get_text() for label in ax.get_yticklabels()]
    ['J1', 'J2', 'J3']
    """
    if figure not in _FIGURES:
        raise InputError(f"figure must be one of {', '.join(_FIGURES)}; got {figure!r}")
    with styled():
        ax = plain_axes(ax, (4.8, 0.8 + 0.42 * max(len(result.sets), 1)))
        for position, one in enumerate(result.sets):
            value, (low, high) = _value_of(one, figure)
            _draw_row(ax, position, (value, low, high), position)
            text = f"{number(value, 2)}  ({within((low, high))})"
            ax.text(1.02, position, text, transform=ax.get_yaxis_transform(), va="center",
                    fontsize=9.0)
        _finish(ax, [one.name for one in result.sets], _FIGURES[figure])
    return ax


def _value_of(one: JointSet, figure: str) -> tuple[float | None, tuple[float | None, float | None]]:
    if figure == "p32":
        return one.p32_per_m, one.p32_interval
    if figure == "kappa":
        return one.kappa, one.kappa_interval if one.kappa is not None else (None, None)
    return one.spacing.mean_m, one.spacing_interval_m or (None, None)


@drawn
def hole_forest(result: SiteAnalysis, figure: str = "p32", ax: Axes | None = None) -> Axes:
    """Each set as each hole alone gives it, beside the whole fit.

    The band behind a set is what the whole fit gives; holes that disagree with it point to more
    than one domain.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    figure : {"p32", "angle"}
        P32; or the angle between the mean of the hole and that of the set, with the cone of the
        former as its reach: a bar that meets zero is consistent with the whole.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If `figure` is neither of the two.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.hole_forest(result, "p32", plots.new_figure().add_subplot()).ax
    >>> [label.get_text() for label in ax.get_yticklabels()][:2]
    ['J1  H1', 'H2']
    """
    if figure not in _OF_HOLES:
        raise InputError(f"figure must be one of {', '.join(_OF_HOLES)}; got {figure!r}")
    names: list[str] = []
    with styled():
        ax = plain_axes(ax, (4.8, 0.8 + 0.2 * len(result.sets) * len(result.site.holes)))
        for position, one in enumerate(result.sets):
            table = set_by_hole(result, one)
            start = len(names)
            _draw_whole(ax, one, figure, (start - 0.45, start + len(table) - 0.55), position)
            for row, hole in enumerate(table.to_dict("records"), start=start):
                _draw_row(ax, row, _of_hole(hole, figure), position, size=5.0)
            holes = [short(str(hole)) for hole in table["hole"]]
            names += [f"{one.name}  {holes[0]}", *holes[1:]] if holes else []
        _finish(ax, names, _OF_HOLES[figure])
    return ax


def _of_hole(hole: dict[Any, Any], figure: str) -> _Row:
    """The figure of one hole with its ends."""
    if figure == "p32":
        return hole["p32_per_m"], hole["p32_low_per_m"], hole["p32_high_per_m"]
    angle, cone = hole["angle_deg"], hole["cone_deg"]
    return angle, max(0.0, angle - cone), angle + cone


def _draw_whole(
    ax: Axes, one: JointSet, figure: str, rows: tuple[float, float], position: int
) -> None:
    """The interval of the whole fit behind the rows of a set; of an angle, its own cone."""
    from matplotlib.patches import Rectangle

    low, high = one.p32_interval if figure == "p32" else (0.0, one.cone_deg or 0.0)
    box = Rectangle((low, rows[0]), high - low, rows[1] - rows[0], linewidth=0, zorder=1,
                    facecolor=set_style(position).colour, alpha=0.16)
    ax.add_patch(box)
    if figure == "p32":
        ax.plot([one.p32_per_m] * 2, rows, color=set_style(position).colour, linewidth=1.2)


def _draw_row(ax: Axes, row: int, values: _Row, position: int, *, size: float = 7.0) -> None:
    style = set_style(position)
    value, low, high = (np.nan if one is None else float(one) for one in values)
    ax.plot([low, high], [row, row], color=style.colour, linewidth=2.0, solid_capstyle="butt",
            zorder=3)
    ax.plot(value, row, marker=style.marker, color=style.colour, markersize=size, zorder=4,
            markeredgecolor=INK.paper, markeredgewidth=0.6)


def _finish(ax: Axes, names: Sequence[str], label: str) -> None:
    ax.set_yticks(range(len(names)), names)
    ax.set(ylim=(max(len(names), 1) - 0.4, -0.6), xlabel=label)
    ax.set_xlim(0.0, None)
    ax.grid(axis="x", color=INK.faint)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
