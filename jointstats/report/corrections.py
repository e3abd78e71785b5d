"""What was done to the readings: each correction, how far it turned, and how well it is borne out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.borehole.ledger import applied, station_residuals
from jointstats.report.figures import Picture, picture
from jointstats.report.section import Section, Table
from jointstats.words import number

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from jointstats.sets.result import SiteAnalysis

_NAMES = {
    "ties": "Ties of depth",
    "roll": "Rotation of the tool",
    "sense": "Sense of beta",
    "run": "Line of the run of core",
    "north": "North",
}


def corrections_line(result: SiteAnalysis) -> str:
    """What was applied to how many readings, in one sentence; empty where nothing was."""
    told = applied(result.corrections)
    return f"Corrections: {'; '.join(told)}." if told else ""


def section(result: SiteAnalysis) -> Section | None:
    """A row a correction in the order they are made, and the residuals of ties and rotations."""
    found = result.corrections
    if found.empty:
        return None
    rows = tuple(
        (
            _NAMES[row["correction"]],
            str(row["n"]),
            f"{number(row['low'])} to {number(row['high'])} {row['unit']}" if row["unit"] else "–",
            f"{row['turned_low_deg']:.2f} to {row['turned_high_deg']:.2f}°",
        )
        for row in found.to_dict("records")
    )
    columns = ("Correction", "Fractures", "What was added", "Turned the pole by")
    return Section(
        name="corrections",
        title="Corrections of the readings",
        tables=(Table("Corrections, in the order they are made", columns, rows),),
        pictures=tuple(_pictures(result)),
        notes=(
            "What a correction turned a pole by is the angle to the pole without it and with all the "
            "others. `jointstats orient --ledger` writes every fracture with each of them.",
        ),
        wide=True,
    )


def _pictures(result: SiteAnalysis) -> list[Picture]:
    """Residuals of ties and rotations, where a station lies between two others."""
    found = station_residuals(result.site)
    kinds = [one for one in ("ties", "rolls") if ((found["kind"] == one) & found["residual"].notna()).any()]
    said = {"ties": "Ties of depth", "rolls": "Rotations of the tool"}
    return [
        picture(
            f"stations-{kind}",
            (4.6, 2.3),
            partial(_draw, result, kind),
            finding=f"{said[kind]} less what the stations before and after each would give.",
            caption="A mark far from zero is a slip, or a turn between stations that straight lines miss.",
        )
        for kind in kinds
    ]


def _draw(result: SiteAnalysis, kind: str, figure: Figure) -> None:
    plots.station_plot(result.site, kind, figure.add_subplot())
