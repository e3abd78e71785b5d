"""How surely the fractures belong to their sets, as bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from jointstats.borehole.fractures import UNASSIGNED
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import plain_axes, set_style, styled
from jointstats.sets.membership import membership_groups

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.result import SiteAnalysis


@drawn
def membership_bars(result: SiteAnalysis, ax: Axes | None = None) -> Axes:
    """Share of each set's fractures that belong surely, likely, or in doubt, as one bar a set.

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
    >>> ax = plots.membership_bars(result, plots.new_figure(5, 2).add_subplot()).ax
    >>> [label.get_text() for label in ax.get_yticklabels()]
    ['J1', 'J2', 'J3']
    """
    groups = [group for group in membership_groups(result) if group[0] != UNASSIGNED]
    with styled():
        ax = plain_axes(ax, (5.6, 0.8 + 0.3 * len(groups)))
        for place, (_, counts, _) in enumerate(groups):
            share = 100.0 * counts / max(counts.sum(), 1)
            for left, width, tone in zip(np.cumsum(share) - share, share, (1, 0.5, 0), strict=True):
                ax.barh(place, width, 0.62, left, color=set_style(place).colour, alpha=tone)
            ax.barh(place, 100.0, 0.62, facecolor="none",
                    edgecolor=set_style(place).colour, clip_on=False)
        ax.set_yticks(range(len(groups)), [group[0] for group in groups])
        ax.set(xlim=(0, 100), ylim=(len(groups) - 0.4, -0.6), xlabel="share of its fractures, %")
        ax.tick_params(axis="y", length=0)
    return ax
