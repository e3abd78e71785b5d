"""Ties of depth and rotations of the tool against what their neighbours would give."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.borehole.ledger import station_residuals
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import INK, plain_axes, set_style, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.borehole.site import Site

_SAID = {"ties": ("image less core depth", "m"), "rolls": ("tool rotation", "°")}


@drawn
def station_plot(site: Site, kind: str, ax: Axes | None = None) -> Axes:
    """How far each tie of depth, or each tool rotation, lies from the line between its neighbours.

    Parameters
    ----------
    site : Site
    kind : {"ties", "rolls"}
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.
        A mark a station by hole; the first and the last of a hole have nothing to be checked by.

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> site = js.simulate_site(random_state=1)
    >>> plots.station_plot(site, "ties", plots.new_figure().add_subplot()).ax.get_xlabel()
    'depth, m'
    """
    found = station_residuals(site)
    own = found[(found["kind"] == kind) & found["residual"].notna()]
    what, unit = _SAID[kind]
    with styled():
        ax = plain_axes(ax, (4.0, 2.0))
        ax.axhline(0.0, color=INK.quiet, linewidth=0.8)
        for place, (hole, rows) in enumerate(own.groupby("hole", sort=False)):
            style = set_style(place)
            ax.plot(rows["depth_m"], rows["residual"], marker=style.marker, color=style.colour,
                    linestyle="none", markersize=4.0, label=str(hole))
        ax.set(xlabel="depth, m", ylabel=f"residual, {unit}")
        ax.set_title(what.capitalize(), fontsize=9.5)
        if len(own):
            ax.legend(fontsize=8, frameon=False)
    return ax
