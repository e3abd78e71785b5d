"""The condition of the sets as a dot plot: the share of each term, with its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats.borehole.fractures import UNASSIGNED
from jointstats.plots.drawn import drawn
from jointstats.plots.palette import INK, plain_axes, set_style, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.result import SiteAnalysis


@drawn
def condition_dots(result: SiteAnalysis, column: str, ax: Axes | None = None) -> Axes:
    """Share of each term of one property in each set, of the fractures described, with intervals.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    column : str
        A property of `result.condition`: "oxidation", "infilling", "roughness", …
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    Drawn
        Its `ax`, and the `artists` on them.
        Without a row where no fracture is described.

    Examples
    --------
    >>> from dataclasses import replace
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> noted = replace(result, fractures=result.fractures.assign(oxidation="slight"))
    >>> ax = plots.condition_dots(noted, "oxidation", plots.new_figure().add_subplot()).ax
    >>> [label.get_text() for label in ax.get_yticklabels()]
    ['slight']
    """
    found = result.condition
    own = found[found["column"] == column]
    terms = list(dict.fromkeys(own["term"]))
    names = [one.name for one in result.sets]
    step = 0.8 / (len(names) + 1)
    with styled():
        ax = plain_axes(ax, (4.0, 0.8 + 0.3 * len(terms)))
        for row in own.to_dict("records"):
            is_set = row["set"] in names
            place = names.index(row["set"]) if is_set else len(names)
            style = set_style(place)
            colour = style.colour if row["set"] != UNASSIGNED else INK.unassigned
            at = terms.index(row["term"]) - 0.4 + (place + 0.5) * step
            ax.plot([100 * row["low"], 100 * row["high"]], [at, at], color=colour, linewidth=1.4)
            ax.plot(100 * row["share"], at, marker=style.marker if is_set else "o", color=colour,
                    markersize=4.0)
        ax.set_yticks(range(len(terms)), terms, fontsize=8.5)
        ax.set(xlim=(0, 100), ylim=(len(terms) - 0.4, -0.6))
        ax.set_title(column.capitalize(), fontsize=9.5)
        ax.set_xticks([0, 25, 50, 75, 100])
        ax.grid(axis="x", color=INK.faint)
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
    return ax
