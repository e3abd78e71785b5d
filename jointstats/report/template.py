"""The templates of the pages, with the style sheet and its colours filled in."""

from __future__ import annotations

from pathlib import Path

from jointstats.plots.palette import DARK, LIGHT

__all__ = ["colour_sheet", "fill_template", "highlight_sheet"]

_HERE = Path(__file__).parent


def fill_template(template: str, **context: object) -> str:
    """A page as one self-contained HTML document.

    Parameters
    ----------
    template : str
        File of the template, beside this module.
    **context
        What the template asks for; text is escaped.

    Returns
    -------
    str

    Examples
    --------
    >>> empty = {"kind": "", "answer": ["Yes."], "blocks": [], "notes": []}
    >>> "<h1>&lt;b&gt;</h1>" in fill_template("comparison.html.j2", site="<b>", **empty)
    True
    """
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
    style = Markup(colour_sheet() + sheet + highlight_sheet())
    return environment.get_template(template).render(style=style, **context)


def colour_sheet() -> str:
    """The colours as CSS custom properties, light and, on a dark screen, dark.

    Returns
    -------
    str

    Examples
    --------
    >>> colour_sheet()[:22]
    ':root{--paper:#fefefe;'
    """

    def block(tones: dict[str, str]) -> str:
        return "".join(f"--{name}:{tone};" for name, tone in tones.items())

    dark = f"@media screen and (prefers-color-scheme:dark){{:root{{{block(DARK.named())}}}}}"
    return f":root{{{block(LIGHT.named())}}}\n{dark}\n"


def highlight_sheet() -> str:
    """Rules that turn the other sets pale in every figure while a set is picked or pointed at.

    Every mark has the colour of its set by name, so the style sheet alone can do it: no script.

    Returns
    -------
    str

    Examples
    --------
    >>> highlight_sheet().count("--set-1:var(--faint)") == len(LIGHT.sets) - 1
    True
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
