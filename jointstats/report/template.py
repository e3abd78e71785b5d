"""The templates of the pages, with the style sheet and its colours filled in."""

from __future__ import annotations

from pathlib import Path

from jointstats.report.palette import DARK, LIGHT

__all__ = ["colour_sheet", "fill_template"]

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
    style = Markup(colour_sheet() + sheet)  # noqa: S704 (our own file)
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
