"""One reading of the rock on a net: the same poles under the sets that it describes them by."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import Fractures
from jointstats.plots.drawn import drawn
from jointstats.plots.marks import name_look
from jointstats.plots.net import Net, net_axes
from jointstats.plots.palette import INK, set_style, styled
from jointstats.plots.spread_contour import spread_contours

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.fit.rock import Rock
    from jointstats.sets.fitted import HasSets


@drawn
def reading_net(result: HasSets, rock: Rock, ax: Axes | None = None) -> Axes:
    """Draw the sets of one reading, each by the contour that holds 95 % of it, over all poles.

    Parameters
    ----------
    result : SiteAnalysis or PolesAnalysis
        What `analyse` or `analyse_poles` gave.
    rock : Rock
        A reading of it: ``result.rock``, or ``.rock`` of one of ``result.readings``.
    ax : matplotlib Axes or None
        A net from `net_axes`; a new figure if None.

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
    >>> plots.reading_net(result, result.rock, plots.net_axes(plots.new_figure())).ax.name
    'equal_area_stereonet'
    """
    with styled():
        net = Net(net_axes() if ax is None else ax)
        fitted = Fractures(result.fractures).fitted
        if len(fitted):
            net.points(fitted.poles, c=INK.unassigned, s=5, linewidths=0, zorder=2.0)
        for place, one in enumerate(rock.sets):
            style, pole = set_style(place), one.density.frame[0]
            net.plane(pole, color=style.colour, linestyle=style.dashes, linewidth=1.4, zorder=3.0)
            for edge in spread_contours(one.density):
                net.line(edge, color=style.colour, linewidth=1.6, zorder=3.1)
            net.points(pole, c=style.colour, s=34, zorder=3.2, edgecolors=INK.paper, linewidths=0.6,
                       marker=style.marker if one.density.mean is not None else "^")
        if rock.sets:
            marks = np.array([one.density.frame[0] for one in rock.sets])
            names = [str(place) for place in range(1, len(rock.sets) + 1)]
            net.labels(marks, names, [name_look(11.0)] * len(names))
    return net.ax
