"""The templates of the pages, with the style sheet and its colours filled in."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from jointstats.plots.palette import DARK, LIGHT, set_style

if TYPE_CHECKING:
    from jinja2 import Environment

    from jointstats.sets.fitted import HasSets

_HERE = Path(__file__).parent
# One marker a set, in a box of 12 by 12, as the pictures draw them.
_MARKERS = {
    "o": "M6 1a5 5 0 1 0 .01 0z",
    "s": "M1.5 1.5h9v9h-9z",
    "^": "M6 .8 11.4 10.8H.6z",
    "D": "M6 .4 11.6 6 6 11.6.4 6z",
    "v": "M6 11.2.6 1.2h10.8z",
    "P": "M4 1h4v3h3v4H8v3H4V8H1V4h3z",
    "X": "M3.2.8 6 3.6 8.8.8l2.4 2.4L8.4 6l2.8 2.8-2.4 2.4L6 8.4l-2.8 2.8L.8 8.8 3.6 6 .8 3.2z",
    "p": "M6 .8 11.2 4.6 9.2 10.8H2.8L.8 4.6z",
}


class Slot(NamedTuple):
    """How a set is marked in the text: number of its colour, path of its marker."""

    slot: int
    marker: str


def slots_of(result: HasSets) -> dict[str, Slot]:
    """The mark of each set by its name."""
    styles = [(one.name, set_style(place)) for place, one in enumerate(result.sets)]
    return {name: Slot(style.slot, _MARKERS[style.marker]) for name, style in styles}


def fill_template(template: str, **context: object) -> str:
    """A page as one self-contained HTML document, from a template beside this module."""
    environment, style = _environment()
    return environment.get_template(template).render(style=style, **context)


@lru_cache(maxsize=1)
def _environment() -> tuple[Environment, str]:
    """The templates, compiled once for all pages, and the style sheet."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=FileSystemLoader(_HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    sheet = (_HERE / "page.css").read_text(encoding="utf-8")
    return environment, Markup(colour_sheet() + sheet + highlight_sheet())


def colour_sheet() -> str:
    """The colours as CSS custom properties, light and, on a dark screen, dark."""

    def block(tones: dict[str, str]) -> str:
        return "".join(f"--{name}:{tone};" for name, tone in tones.items())

    dark = f"@media screen and (prefers-color-scheme:dark){{:root{{{block(DARK.named())}}}}}"
    return f":root{{{block(LIGHT.named())}}}\n{dark}\n"


def highlight_sheet() -> str:
    """Rules that turn the other sets pale in every figure while a set is picked or pointed at.

    Every mark has the colour of its set by name, so the style sheet alone can do it: no script.
    """
    slots = range(1, len(LIGHT.sets) + 1)
    rules = []
    for slot in slots:
        own = f'[data-slot="{slot}"]'
        pointed = f":root:has({own}:hover)"
        picked = f":root:not(:has([data-slot]:hover)):has(input{own}:checked)"
        pale = "".join(f"--set-{other}:var(--faint);" for other in slots if other != slot)
        rules.append(f"{pointed} figure,{picked} figure{{{pale}}}\n")
    return f"@media screen{{\n{''.join(rules)}}}\n"
