"""Draw every picture of `jointstats.plots` on sheets of the invented dam site, for gallery.md.

    python examples/make_gallery.py

Each picture is one call on axes of its own: `DRAW` holds them as a script would write them. The
figures are those of a demo: invented data, to be read with the cautions of its report.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import jointstats as js
from jointstats import plots
from matplotlib.axes import Axes

PLACE = Path(__file__).parent
#: Picture: whether it is drawn on a net, and the call.
DRAW: dict[str, tuple[bool, Callable[[js.SiteAnalysis, Axes], plots.Drawn]]] = {
    "stereonet": (True, lambda result, ax: plots.stereonet(result, ax)),
    "tilted_stereonet": (True, lambda result, ax: plots.tilted_stereonet(result, ax)),
    "reading_net": (True, lambda result, ax: plots.reading_net(result, result.rock, ax)),
    "exposure_net": (True, lambda result, ax: plots.exposure_net(result, ax)),
    "frequency_net": (True, lambda result, ax: plots.frequency_net(result, ax)),
    "set_forest": (False, lambda result, ax: plots.set_forest(result, "p32", ax)),
    "hole_forest": (False, lambda result, ax: plots.hole_forest(result, "p32", ax)),
    "membership_bars": (False, lambda result, ax: plots.membership_bars(result, ax)),
    "condition_dots": (False, lambda result, ax: plots.condition_dots(result, "infilling", ax)),
    "hole_log": (False, lambda result, ax: plots.hole_log(result, "D3", ax)),
    "site_plan": (False, lambda result, ax: plots.site_plan(result, ax)),
    "site_section": (False, lambda result, ax: plots.site_section(result, 40.0, ax)),
    "station_plot": (False, lambda result, ax: plots.station_plot(result.site, "rolls", ax)),
    "angle_counts": (False, lambda result, ax: plots.angle_counts(result, ax)),
    "density_profile": (False, lambda result, ax: plots.density_profile(result, "J1", ax)),
    "colatitude_plot": (False, lambda result, ax: plots.colatitude_plot(result, "J1", ax)),
    "longitude_plot": (False, lambda result, ax: plots.longitude_plot(result, "J1", ax)),
    "spacing_histogram": (False, lambda result, ax: plots.spacing_histogram(result, "J1", ax)),
    "spacing_survival": (False, lambda result, ax: plots.spacing_survival(result, "J1", ax)),
}


def main() -> None:
    """Write gallery.png beside this script, or in the folder of a copy of it."""
    site = js.read_site(PLACE / "dam_site")
    site = replace(site, settings=replace(site.settings, bedding=(12.0, 300.0)))
    result = js.analyse(site)
    figure = plots.new_figure(20.0, 24.0)
    cells = figure.add_gridspec(5, 4, left=0.06, right=0.93, bottom=0.04, top=0.95, wspace=0.62, hspace=0.55)
    for cell, (name, (on_net, draw)) in zip(cells, DRAW.items(), strict=False):
        ax = plots.net_axes(figure, cell) if on_net else figure.add_subplot(cell)
        draw(result, ax).ax.set_title(name, loc="left", pad=24)
    figure.savefig(PLACE / "gallery.png", dpi=65)
    print(f"{len(DRAW)} pictures in gallery.png; invented data, read them with the cautions of the report")


if __name__ == "__main__":
    main()
