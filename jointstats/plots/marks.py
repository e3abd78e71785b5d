"""What every net shows beside its poles: holes, mean poles, names, and the blind zones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from jointstats.plots.net import Net
from jointstats.plots.palette import INK, set_style
from jointstats.words import short

if TYPE_CHECKING:
    from jointstats.borehole.sampling import SampledLine
    from jointstats.sets.fitted import HasSets

#: With more holes than this their names would cover the net.
MOST_HOLE_NAMES = 10
#: With more holes than this only the zone blind to all of them is hatched.
MOST_BLIND_BANDS = 6


def name_look(size: float) -> dict[str, Any]:
    """How the name of a set is written: in ink, since not every set colour can be read as text."""
    return {"color": INK.ink, "fontweight": "bold", "fontsize": size, "zorder": 4.0}


def _lines(result: HasSets) -> tuple[SampledLine, ...]:
    """What was logged; nothing is known of that from poles alone."""
    return result.sampling.logged if result.sampling is not None else ()


def draw_holes(net: Net, result: HasSets) -> None:
    """Mark the direction of each hole at the middle of its log."""
    # A level line lies on the rim, and is to be seen whole.
    look = {"zorder": 3.6, "linewidths": 1.1, "clip_on": False}
    for line in _lines(result):
        net.points(line.middle, marker="o", s=70, c=INK.paper, edgecolors=INK.ink, **look)
        net.points(line.middle, marker="x", s=22, c=INK.ink, **look)


def draw_set_marks(net: Net, result: HasSets) -> None:
    """Mark and name the mean pole (fold axis) of each set, and the direction of each hole."""
    for position, one in enumerate(result.sets):
        style = set_style(position)
        net.points(one.density.frame[0], c=style.colour, s=42,
                   marker="^" if one.mean is None else style.marker, zorder=3.0,
                   edgecolors=INK.paper, linewidths=0.6)
    draw_holes(net, result)
    name_marks(net, result, 10.5)


def name_marks(net: Net, result: HasSets, size: float) -> list[np.ndarray]:
    """Write the names of sets and holes clear of their marks; the marks, shape (3,) each."""
    lines = _lines(result)
    named = lines if len(lines) <= MOST_HOLE_NAMES else ()
    marks = [one.density.frame[0] for one in result.sets] + [line.middle for line in named]
    looks = [name_look(size)] * len(result.sets) + [{"fontsize": 9.0, "zorder": 4.1}] * len(named)
    if marks:
        texts = [f"axis {one.name}" if one.mean is None else one.name for one in result.sets]
        texts += [short(line.name) for line in named]
        net.labels(np.array(marks), texts, looks)
    return marks


def draw_blind(net: Net, result: HasSets) -> None:
    """Hatch the blind zone of each hole thinly, and what is blind to all of them boldly."""
    smallest = 0.0 if result.exposure is None else result.exposure.smallest_cosine
    if result.exposure is None or smallest <= 0:
        return
    lines = _lines(result)
    if len(lines) <= MOST_BLIND_BANDS:
        for line in lines:
            band = net.field(line.exposure.largest_cosine, [-1.0, smallest], colors="none",
                             hatches=["//"], zorder=0.8, cells=80)
            band.set(edgecolor=INK.blind, linewidth=0.5)
    hatched = net.field(
        result.exposure.largest_cosine,
        [-1.0, smallest],
        colors="none",
        hatches=["xxxx"],
        zorder=0.9,
        cells=80,
    )
    hatched.set(edgecolor=INK.blind, linewidth=0.9)
