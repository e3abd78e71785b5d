"""Pictures as SVG for the page: fixed ids, colours by name, and the finding in words."""

from __future__ import annotations

import gc
import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from jointstats.plots import new_figure
from jointstats.plots.palette import LIGHT, styled

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.transforms import Bbox

_RASTER_DPI = 180
#: A narrower drawing has its caption beside it; a broader one can be moved on a phone.
_NARROW_IN = 4.0
_BROAD_IN = 8.0
_BY_COLOUR = {tone: name for name, tone in LIGHT.named().items()}


@dataclass(frozen=True)
class Picture:
    """A drawing ready to stand in the page.

    Attributes
    ----------
    svg : str
        The drawing, safe to insert.
    finding : str
        What it shows, in one or two sentences.
    caption : str
        How to read it.
    width_in : float
        As drawn.

    Examples
    --------
    >>> Picture("<svg></svg>", "Nothing.", "").finding
    'Nothing.'
    """

    svg: str
    finding: str
    caption: str
    width_in: float = 5.0

    @property
    def narrow(self) -> bool:
        """Whether there is room for the caption beside it."""
        return self.width_in < _NARROW_IN

    @property
    def broad(self) -> bool:
        """Whether it must be moved sideways on a phone to be read."""
        return self.width_in > _BROAD_IN


def picture(
    name: str,
    size_in: tuple[float, float],
    draw: Callable[[Figure], object],
    *,
    finding: str,
    caption: str = "",
) -> Picture:
    """Draw on a new figure and return it as SVG: the same bytes for the same drawing.

    `name` (letters, digits, hyphens) opens every id, so that no two drawings share one; `draw`
    takes the figure; `finding` is what is read aloud, `caption` how to read the drawing.

    >>> made = picture("empty", (2, 1), lambda figure: figure.add_subplot(), finding="Empty axes.")
    >>> made.svg.startswith('<svg role="img" aria-label="Empty axes."')
    True
    """
    with styled(fixed=True), _collector_paused():
        figure = new_figure(*size_in)
        draw(figure)
        page = io.StringIO()
        figure.savefig(
            page,
            format="svg",
            dpi=_RASTER_DPI,
            bbox_inches=_ink_box(figure),
            transparent=True,
            metadata={"Date": None},
        )
    return Picture(
        _for_page(page.getvalue(), name, finding), finding, caption, size_in[0]
    )


@contextmanager
def _collector_paused() -> Iterator[None]:
    """Keep the collector from going through a figure's thousands of small objects as it grows."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def _ink_box(figure: Figure) -> Bbox:
    """What the drawing covers, in inches. Asking for "tight" would draw everything twice."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    return figure.get_tightbbox(renderer).padded(0.04)


def _for_page(svg: str, name: str, finding: str) -> str:
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\b(?:d|x|y|transform)="[^"]*"', _shorter, svg)
    svg = re.sub(r"<style.*?</style>|<!--.*?-->", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)
    svg = re.sub(r"#[0-9a-f]{6}\b", _named_colour, svg)
    svg = svg.replace("'DejaVu Sans'", "var(--face)").replace(", sans-serif", "")
    ((width, height),) = re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)[:1]
    head = (
        f'<svg role="img" aria-label="{escape(finding, quote=True)}" '
        f'xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 {width} {height}" '
        f'style="--wide: {float(width):.0f}px">'
    )
    return re.sub(r"<svg[^>]*>", lambda _: head, svg, count=1).strip()


def _shorter(found: re.Match[str]) -> str:
    """Coordinates to a hundredth of a point, on one line."""
    short = re.sub(r"\d+\.\d{3,}", lambda n: f"{float(n.group()):.2f}", found.group(0))
    return re.sub(r"\s+", " ", short)


def _named_colour(found: re.Match[str]) -> str:
    name = _BY_COLOUR.get(found.group(0))
    return f"var(--{name})" if name else found.group(0)
