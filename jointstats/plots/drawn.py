"""What a picture gives back: its axes and what was drawn on them."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple, ParamSpec

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

P = ParamSpec("P")


class Drawn(NamedTuple):
    """A picture on its axes.

    Attributes
    ----------
    ax : matplotlib Axes
        Those that were given, or of a new figure.
    artists : tuple of matplotlib Artist
        What was drawn on them, in the order in which it lies; to be moved, recoloured or left out.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> found = js.plots.membership_bars(result, js.plots.new_figure(5, 2).add_subplot())
    >>> len(found.artists), found.ax.get_xlabel()
    (12, 'share of its fractures, %')
    """

    ax: Axes
    artists: tuple[Artist, ...]


def drawn(function: Callable[P, Axes]) -> Callable[P, Drawn]:
    """Make a function that draws on axes and gives those give what it drew too."""

    @functools.wraps(function)
    def made(*args: P.args, **kwargs: P.kwargs) -> Drawn:
        from matplotlib.axes import Axes

        given = next((one for one in (*args, *kwargs.values()) if isinstance(one, Axes)), None)
        before = set() if given is None else set(_content(given))
        ax = function(*args, **kwargs)
        return Drawn(ax, tuple(one for one in _content(ax) if one not in before))

    return made


def _content(ax: Axes) -> list[Artist]:
    """What lies on axes, without the parts that all axes have."""
    frame = {ax.patch, ax.xaxis, ax.yaxis, ax.title, *ax.spines.values()}
    return [one for one in ax.get_children() if one not in frame and not _empty_title(one)]


def _empty_title(artist: Artist) -> bool:
    """The titles at the left and the right of all axes are texts; those not used say nothing."""
    from matplotlib.text import Text

    return isinstance(artist, Text) and not artist.get_text()
