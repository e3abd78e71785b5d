"""Colours, markers and line styles of the pictures and the page, for light and dark surroundings.

The set colours keep apart in greyscale (lightness L* at least 4 apart) and for the three kinds of
colour blindness (CIE76 distance at least 16 after Machado, Oliveira & Fernandes 2009, IEEE Trans.
Vis. Comput. Graph. 15: 1291-1298); a marker and a dash pattern back up each colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, fields
from functools import cache
from threading import RLock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Tones:
    """Colours of one surrounding, as hexadecimal strings.

    Attributes
    ----------
    paper, ink, quiet, faint : str
        Background, text, secondary text, grid lines.
    unassigned : str
        Fractures of no set.
    blind : str
        What the holes could not see.
    lost : str
        Lengths not logged.
    warning : str
        Cautions.
    density : tuple of str
        Filled contours, low to high.
    sets : tuple of str
        J1, J2, …; they repeat after the last, with another marker.

    Examples
    --------
    >>> len(LIGHT.sets) == len(DARK.sets)
    True
    """

    paper: str
    ink: str
    quiet: str
    faint: str
    unassigned: str
    blind: str
    lost: str
    warning: str
    density: tuple[str, ...]
    sets: tuple[str, ...]

    def named(self) -> dict[str, str]:
        """Each colour under the name that the style sheet gives it.

        Returns
        -------
        dict of str to str
            CSS custom property (without the two hyphens) to colour.

        Examples
        --------
        >>> LIGHT.named()["set-1"]
        '#513786'
        """
        tones = {one.name: getattr(self, one.name) for one in fields(self)}
        names = {name: tone for name, tone in tones.items() if isinstance(tone, str)}
        names |= {f"density-{i}": tone for i, tone in enumerate(self.density, start=1)}
        return names | {f"set-{i}": tone for i, tone in enumerate(self.sets, start=1)}


LIGHT = Tones(
    paper="#fefefe",
    ink="#1c2126",
    quiet="#565d65",
    faint="#d5d9dd",
    unassigned="#8d949b",
    blind="#8a5a44",
    lost="#e9e2da",
    warning="#9a3412",
    density=("#dde5ed", "#c4d2df", "#a9bdcf", "#8ea7be", "#7391ad"),
    sets=(
        "#513786",
        "#c1890e",
        "#ad346d",
        "#2b8e45",
        "#561b2f",
        "#b76cc4",
        "#296034",
        "#a65d0d",
    ),
)

DARK = Tones(
    paper="#14181c",
    ink="#e9ecef",
    quiet="#a9b1b9",
    faint="#3a4149",
    unassigned="#7d858d",
    blind="#d09a80",
    lost="#33302c",
    warning="#ffb38a",
    density=("#1f2930", "#293743", "#354756", "#42586a", "#506b80"),
    sets=(
        "#939ed5",
        "#d3d866",
        "#cea5bd",
        "#c6e5c2",
        "#ffad98",
        "#f7e9fe",
        "#3ba789",
        "#e2c781",
    ),
)

#: Colours of a picture on its own; inside the page the style sheet replaces them.
INK = LIGHT

_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "p")
_DASHES = ("-", (0, (6, 1.6)), (0, (6, 1.6, 1.2, 1.6)), (0, (1.4, 1.2)))


@dataclass(frozen=True)
class SetStyle:
    """How one set is drawn, alike in every picture.

    Attributes
    ----------
    colour : str
    marker : str
        A matplotlib marker.
    dashes : object
        A matplotlib line style.
    slot : int
        Number of the colour, from 1.

    Examples
    --------
    >>> set_style(0).marker
    'o'
    """

    colour: str
    marker: str
    dashes: Any
    slot: int


def set_style(position: int) -> SetStyle:
    """Style of the set at a position in the list of sets.

    `position`: 0 for the first set. Gives colours repeat after eight sets (or where the user's cycle
    of colours ends), with the markers shifted so that no pair repeats.
    """
    colours = _COLOURS.get()
    turn, slot = divmod(position, len(colours))
    return SetStyle(
        colour=colours[slot],
        marker=_MARKERS[(position + turn) % len(_MARKERS)],
        dashes=_DASHES[(position + turn) % len(_DASHES)],
        slot=slot + 1,
    )


_DRAWING = RLock()
_FIXED: ContextVar[bool] = ContextVar("fixed", default=False)
_COLOURS: ContextVar[tuple[str, ...]] = ContextVar("colours", default=INK.sets)


@contextmanager
def styled(*, fixed: bool = False) -> Iterator[None]:
    """Draw under our settings, and one picture at a time.

    What the user changed of the settings of matplotlib goes before ours, and a cycle of colours is
    the palette of the sets; unless `fixed`, for pages that are the same wherever they are made. The
    settings belong to the process, so two threads that draw would mix theirs.
    """
    import matplotlib

    with _DRAWING:
        fixed = fixed or _FIXED.get()
        changed = {} if fixed else _changed_settings()
        cycle = changed.get("axes.prop_cycle")
        colours = cycle.by_key().get("color") if cycle is not None else None
        tokens = _FIXED.set(fixed), _COLOURS.set(tuple(colours or _COLOURS.get()))
        try:
            with matplotlib.rc_context(_plain_settings() | _settings() | changed):
                yield
        finally:
            _FIXED.reset(tokens[0])
            _COLOURS.reset(tokens[1])


def _changed_settings() -> dict[Any, Any]:
    """The settings that the user has changed."""
    import matplotlib

    now = matplotlib.rcParams
    return {name: now[name] for name, plain in _plain_settings().items() if now[name] != plain}


@cache
def _plain_settings() -> dict[Any, Any]:
    """The settings that matplotlib comes with, but for those of windows."""
    import matplotlib

    return {
        name: value
        for name, value in matplotlib.rcParamsDefault.items()
        if "backend" not in name and name not in ("toolbar", "interactive")
    }


def _settings() -> dict[Any, Any]:
    """Our own: real text in SVG, fixed ids, quiet axes."""
    return {
        "svg.fonttype": "none",
        "svg.hashsalt": "jointstats",
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],
        "font.size": 9.5,
        "axes.edgecolor": INK.quiet,
        "axes.labelcolor": INK.ink,
        "axes.titlesize": 10.0,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.titlecolor": INK.ink,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.linewidth": 0.7,
        "axes.axisbelow": True,
        "axes.facecolor": INK.paper,
        "figure.facecolor": INK.paper,
        "figure.dpi": 100.0,
        "text.color": INK.ink,
        "text.parse_math": False,
        "xtick.color": INK.quiet,
        "ytick.color": INK.quiet,
        "xtick.labelcolor": INK.ink,
        "ytick.labelcolor": INK.ink,
        "grid.color": INK.faint,
        "grid.linewidth": 0.6,
        "hatch.linewidth": 0.45,
        "legend.frameon": False,
        "lines.linewidth": 1.4,
    }


def plain_axes(ax: Axes | None, size_in: tuple[float, float]) -> Axes:
    """The axes given, or those of a new figure of this size, inches, that pyplot shows."""
    if ax is not None:
        return ax
    from matplotlib import pyplot

    return pyplot.figure(figsize=size_in).add_subplot()
