"""Nets of a quantity by direction: what the holes could observe, and what a new line would meet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from jointstats.design.frequency import frequency_along, frequency_range
from jointstats.plots.drawn import drawn
from jointstats.plots.marks import draw_blind, draw_set_marks
from jointstats.plots.net import Net, net_axes
from jointstats.plots.palette import INK, styled
from jointstats.types import Array
from jointstats.words import number

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.result import SiteAnalysis

#: Limits of the tones of the exposure net, as shares of the logged length.
EXPOSURE_SHARES = (0.2, 0.35, 0.5, 0.65, 0.8)


@drawn
def exposure_net(
    result: SiteAnalysis, ax: Axes | None = None, *, hemisphere: str = "lower"
) -> Axes:
    """What the holes could observe: equivalent length of hole square to planes of each pole.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.
    hemisphere : {"lower", "upper"}
        Which end of each pole is drawn.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If `ax` is not a net.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.exposure_net(result, plots.net_axes(plots.new_figure())).ax.name
    'equal_area_stereonet'
    """
    with styled():
        net = Net(net_axes() if ax is None else ax, hemisphere)
        levels = result.exposure.total_m * np.array(EXPOSURE_SHARES)
        # What was observed worst has a tone of its own, not that of bare paper.
        edges = [-1.0, *levels, 1.01 * result.exposure.total_m]
        _draw_field(net, result.exposure.at, edges, "m", cells=90, under=True)
        draw_blind(net, result)
        draw_set_marks(net, result)
    return net.ax


@drawn
def frequency_net(
    result: SiteAnalysis, ax: Axes | None = None, *, hemisphere: str = "lower"
) -> Axes:
    """Fractures a metre that a line of each direction would meet, by the fitted sets.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.
    hemisphere : {"lower", "upper"}
        Which end of each line is drawn.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.

    Raises
    ------
    InputError
        If `ax` is not a net.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> plots.frequency_net(result, plots.net_axes(plots.new_figure())).ax.name
    'equal_area_stereonet'
    """
    with styled():
        net = Net(net_axes() if ax is None else ax, hemisphere)
        _draw_field(net, lambda lines: frequency_along(result.rock, lines), _frequency_levels(result), "1/m")
        draw_set_marks(net, result)
    return net.ax


def _frequency_levels(result: SiteAnalysis) -> Array:
    """Limits of five equal tones from the least frequency to the most, shape (6,), 1/m."""
    _, low, _, high = frequency_range(result.rock)
    if high - low < 1e-9:
        low, high = 0.5 * low, high + 1e-9
    return np.linspace(0.999 * low, 1.001 * high, 6)


def _draw_field(
    net: Net,
    values: Callable[[Array], Array],
    levels: Sequence[float] | Array,
    unit: str,
    *,
    cells: int = 60,
    under: bool = False,
) -> None:
    """Tones between levels, with a key of their limits under the net; `under`: the first is open."""
    from matplotlib.patches import Patch

    colours = [INK.lost, *INK.density] if under else list(INK.density)
    net.field(values, levels, colors=colours, zorder=0.5, extend="neither", cells=cells)
    limits = [number(one, 2) for one in levels]
    labels = [f"{low} to {high}" for low, high in zip(limits[:-1], limits[1:], strict=True)]
    if under:
        labels[0] = f"under {limits[1]}"
    tones = [
        Patch(facecolor=tone, edgecolor=INK.faint, label=label)
        for tone, label in zip(colours, labels, strict=True)
    ]
    net.ax.legend(handles=tones, loc="upper center", bbox_to_anchor=(0.5, -0.07), ncols=3 if under else 5,
                  fontsize=9.0, handlelength=0.9, handletextpad=0.3, columnspacing=0.8,
                  borderpad=0.0, title=unit, title_fontsize=9.0)
