"""Log sheets of a hole: A4 at a true scale, drawn in millimetres of paper.

Columns from left to right: depth, recovery and RQD, core beside image, dips with tails, condition
on ordered scales, frequency with its zones. One path a set and column keeps the file small.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from html import escape
from math import ceil, cos, isfinite, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointstats.borehole.condition import condition_terms
from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.borehole.settings import FOOT_M
from jointstats.borehole.terms import SCALES
from jointstats.line.recovery import recovery_in_windows, zones_of
from jointstats.line.windows import frequency_in_windows
from jointstats.line.zones import frequency_zones
from jointstats.plots.palette import set_style
from jointstats.report.figures import Picture
from jointstats.report.hole_notes import photo_section
from jointstats.report.section import Link, Section
from jointstats.report.sheet_marks import bar_mark, path_mark, text_mark, zone_marks
from jointstats.report.template import fill_template, slots_of
from jointstats.tables.output import output_folder, plain_names, write_folder
from jointstats.words import NOTICE, counted, number

if TYPE_CHECKING:
    from jointstats.borehole.sampling import SampledLine
    from jointstats.line.zones import Zone
    from jointstats.sets.result import SiteAnalysis

#: Scales to choose from, and most sheets of one hole before the next one is taken.
SCALES_OF_PAPER, MOST_SHEETS = (20, 50, 100, 200, 500, 1000, 2000, 5000), 3
#: Width of the drawing and height of the log on a sheet, mm of paper.
_WIDE, _TALL, _HEAD = 184.0, 225.0, 12.0
_WINDOW_M = 5.0
_X = {"depth": 10.0, "recovery": 12.0, "rqd": 26.0, "core": 42.0, "image": 56.0, "dips": 74.0}
_CONDITION_X, _FREQUENCY_X = 127.5, 168.0


def write_log(result: SiteAnalysis, hole: str, output: str | os.PathLike[str]) -> Path:
    """Write the log sheets of one hole: a page for A4 paper, at a true scale.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    hole : str
        Name of the hole.
    output : path
        Directory to write to; made if it is not there.

    Returns
    -------
    pathlib.Path
        The page.

    Raises
    ------
    InputError
        If there is no such hole, or the output cannot be written to.

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> with tempfile.TemporaryDirectory() as place:
    ...     js.write_log(result, "H2", place).name
    'log-H2.html'
    """
    result.sampling.line(hole)
    name = log_names(result)[hole]
    target = output_folder(output, [name], result.site.sources)
    write_folder(target, {name: log_html(result, hole, target)})
    return target / name


def log_names(result: SiteAnalysis) -> dict[str, str]:
    """The file of each hole's log."""
    plain = plain_names(hole.name for hole in result.site.holes)
    return {hole: f"log-{name}.html" for hole, name in plain.items()}


def log_html(result: SiteAnalysis, hole: str, folder: Path | None = None) -> str:
    """The log sheets of one hole as one HTML document; photographs linked from its `folder`."""
    line = result.sampling.line(hole)
    scale = scale_of(line.length_m)
    metres = _TALL * scale / 1000.0
    sheets = max(1, ceil(line.length_m / metres - 1e-9))
    log = _Log(result, line, Fractures(result.fractures).in_hole(hole), scale)
    sections = [
        Section(
            name=f"sheet-{i + 1}",
            title=f"{result.site.name}, hole {hole}: sheet {i + 1} of {sheets}, scale 1:{scale}",
            pictures=(log.sheet(i * metres, min((i + 1) * metres, line.length_m)),),
            wide=True,
        )
        for i in range(sheets)
    ]
    return fill_template(
        "page.html.j2",
        title=f"{result.site.name}: log of {hole}",
        kind="Log of a hole",
        basis=_basis(result, line),
        block=result.site.settings.title,
        notice=NOTICE,
        first=None,
        slots=slots_of(result),
        sections=[*filter(None, (_key(result, log), *sections, photo_section(log, folder)))],
        links=(Link("index.html", "the report"),),
    )


def scale_of(length_m: float) -> int:
    """Scale at which a hole fills at most `MOST_SHEETS` sheets.

    >>> scale_of(60.0), scale_of(10.0)
    (100, 20)
    """
    for scale in SCALES_OF_PAPER:
        if length_m <= MOST_SHEETS * _TALL * scale / 1000.0:
            return scale
    return SCALES_OF_PAPER[-1]


def _basis(result: SiteAnalysis, line: SampledLine) -> str:
    """Direction, length and collar of the hole."""
    row = next(one for one in result.holes.to_dict("records") if one["hole"] == line.name)
    way = f"trend {round(row['trend_deg']) % 360:03d}°, plunge {row['plunge_deg']:.0f}°"
    collar = result.site.hole(line.name).collar
    at = "" if collar is None else f", collar {collar[0]:.1f} E {collar[1]:.1f} N {collar[2]:.1f} m"
    return f"{way}, {number(line.length_m)} m{at}".replace("-", "−")


def _key(result: SiteAnalysis, log: _Log) -> Section:
    """How to read the sheets, and which corrections were applied."""
    settings = result.site.settings
    turn = settings.bearing_of("fractures")
    north = "true north" if settings.north == "true" else f"true north (turned by {turn:.1f}°)"
    scales = "; ".join(f"{name.removesuffix('_mm').removesuffix('_m')}: {', '.join(steps)}"
                       for name, steps in log.conditions.items())
    return Section(
        name="key",
        title="How to read the sheets",
        items=(
            ("Depth", f"{log.unit} along the hole from the collar. Hatched: not logged, or lost."),
            ("Recovery, RQD", f"per cent of each {_WINDOW_M:g} m drilled; what was lost stands in no "
             "piece, so it lowers RQD."),
            ("Zones", "a band beside the depths; what bounds them, as squares among the dips."),
            ("Core, image", "a tick for each fracture of that method, in the colour of its set."),
            ("Dip", f"0 to 90°, from {north}; the tail points to the dip direction, north being up. "
             "Hollow: below the blind angle, out of the fit. Dash at the left: no orientation."),
            ("Condition", f"steps from left to right: {scales}." if scales else "none described."),
            ("Frequency", "1/m in equal steps, and as a heavy line the mean of each zone."),
        ),
        wide=True,
    )


@dataclass(frozen=True)
class _Log:
    """What the sheets of one hole draw."""

    result: SiteAnalysis
    line: SampledLine
    fractures: Fractures
    scale: int

    @cached_property
    def conditions(self) -> dict[str, Sequence[str]]:
        """Columns of condition that the tables of this hole fill in, with the steps of each.

        A scale has its own order; infillings stand in that of their first letters.
        """
        table = self.fractures.table
        filled = [name for name in (*SCALES, "infilling")
                  if name in table and any(str(one).strip() for one in table[name].dropna())]
        return {
            name: SCALES.get(name) or sorted(set(condition_terms(table[name], name)) - {""})
            for name in filled
        }

    @property
    def unit(self) -> str:
        """Unit of the depths, that of the tables."""
        return self.result.site.settings.depth_unit

    @property
    def unit_m(self) -> float:
        """Metres of that unit."""
        return FOOT_M if self.unit == "ft" else 1.0

    @cached_property
    def quality(self) -> Sequence[Mapping[Any, Any]]:
        """Recovery and RQD of each window of the hole."""
        depth = self.fractures.counted.depth_m
        zones = zones_of(self.result.site, self.line.name) if "core" in self.line.methods else ()
        table = recovery_in_windows(depth, self.line.spans, self.line.length_m, _WINDOW_M, zones)
        return table.to_dict("records")

    @cached_property
    def frequency(self) -> tuple[Sequence[Mapping[Any, Any]], Sequence[Zone]]:
        """Frequency in equal steps down the hole, and its zones; nothing where none was met."""
        spans, depth = self.line.spans, self.fractures.counted.depth_m
        inside = depth[spans.holds(depth)]
        if not spans or not len(inside):
            return [], ()
        step = next((n for n in (1.0, 2.0, 5.0, 10.0) if self.line.length_m / n <= 120), 20.0)
        zones = frequency_zones(inside, spans.pairs).zones if len(inside) > 1 else ()
        return frequency_in_windows(inside, spans.pairs, step).to_dict("records"), zones

    def sheet(self, top_m: float, end_m: float) -> Picture:
        """One sheet, from one depth to another."""
        mm = 1000.0 / self.scale
        height = _HEAD + (end_m - top_m) * mm + 4.0
        depth = self.fractures.depth_m
        last = end_m >= self.line.length_m
        here = self.fractures.where((depth >= top_m) & ((depth < end_m) | last))

        def y(depth_m: float) -> float:
            return _HEAD + (depth_m - top_m) * mm

        zones = zones_of(self.result.site, self.line.name)
        parts = [
            *_frame(self, top_m, end_m, y),
            *_quality(self, top_m, end_m, y),
            *_traces(self, here, y),
            *zone_marks(zones, top_m, end_m, y, (_X["depth"], _X["dips"])),
            *_condition(self, here, y),
            *_frequency(self, top_m, end_m, y),
        ]
        finding = (
            f"Log of {self.line.name} from {number(top_m)} to {number(end_m)} m: "
            f"{counted(len(here), 'fracture')}."
        )
        svg = (
            f'<svg role="img" aria-label="{escape(finding, quote=True)}" viewBox="0 0 {_WIDE:g} '
            f'{height:.1f}" style="--wide: 999px; width: {_WIDE:g}mm; max-width: none">'
            f'{"".join(parts)}</svg>'
        )
        return Picture(svg, finding, "", width_in=9.0)


def _frame(log: _Log, top_m: float, end_m: float, y: Any) -> list[str]:
    """Headings, rules between the columns, depth ticks, and what was not logged."""
    heads = [("recovery", "recovery", 6.0), ("rqd", "RQD", 6.0), ("core", "core", 6.0),
             ("image", "image", 6.0), ("dips", "dip", 25.0)]
    parts = [text_mark(_X[key] + at, 4.0, said) for key, said, at in heads]
    parts += [text_mark(_X["dips"] + 5 + 45 * dip / 90, 9.5, f"{dip}°", size=2.2) for dip in (0, 30, 60, 90)]
    parts += [text_mark(_CONDITION_X + (0.5 + i) * _strip(log), 4.0, name.split("_")[0], size=2.2)
              for i, name in enumerate(log.conditions)]
    parts += [text_mark(_FREQUENCY_X + 8, 4.0, "1/m"), text_mark(4.0, 4.0, log.unit)]
    for start, end in log.line.gaps.clip(top_m, end_m):
        parts.append(bar_mark(_X["depth"], y(start), _WIDE - _X["depth"], y(end), "var(--lost)"))
    edges = [_X["depth"], *(_X[key] for key in ("rqd", "core", "image", "dips")), _CONDITION_X,
             _FREQUENCY_X, _WIDE]
    parts.append(path_mark((f"M{x:.1f} {_HEAD}V{y(end_m):.2f}" for x in edges), "var(--faint)", 0.2))
    unit, tall = log.unit_m, log.unit_m * 1000.0 / log.scale
    step = next(one for one in (1, 2, 5, 10, 20, 50, 100, 200) if one * tall >= 8.0 or one == 200)
    first, last = ceil(top_m / unit / step - 1e-9), int(end_m / unit / step + 1e-9)
    marks = [(step * i, y(step * i * unit)) for i in range(first, last + 1)]
    parts.append(path_mark((f"M{_X['depth'] - 2:.1f} {at:.2f}h2" for _, at in marks), "var(--ink)", 0.25))
    return parts + [text_mark(_X["depth"] - 2.6, at + 0.9, f"{said}", "end", 2.4) for said, at in marks]


def _quality(log: _Log, top_m: float, end_m: float, y: Any) -> list[str]:
    """Recovery and RQD of each window as bars, with their figures."""
    parts = []
    for row in log.quality:
        low, high = max(row["from_m"], top_m), min(row["to_m"], end_m)
        if high - low < 1e-6:
            continue
        for key, column in (("recovery", "recovery_percent"), ("rqd", "rqd_percent")):
            if isfinite(row[column]):
                wide = 0.12 * row[column]
                parts.append(bar_mark(_X[key] + 1, y(low), wide, y(high), "var(--density-1)"))
                parts.append(text_mark(_X[key] + 7, 0.5 * (y(low) + y(high)) + 0.8, f"{row[column]:.0f}",
                                   size=2.2))
    return parts


def _sets(log: _Log) -> Sequence[tuple[str, str]]:
    """Names with the colour of each, the unassigned last."""
    names = [one.name for one in log.result.sets]
    named = [(name, f"var(--set-{set_style(i).slot})") for i, name in enumerate(names)]
    return [*named, (UNASSIGNED, "var(--unassigned)")]


def _strip(log: _Log) -> float:
    """Width of the column of one property, mm; narrower where there are many."""
    return min((_FREQUENCY_X - _CONDITION_X) / max(len(log.conditions), 1), 14.0)


def _strip_of(row: Mapping[Any, Any]) -> float:
    """Where the strip of the method of a fracture begins; without a method that of the core."""
    return _X["image" if row.get("method") == "image" else "core"] + 2.0


def _traces(log: _Log, here: Fractures, y: Any) -> list[str]:
    """Ticks by method, dips with tails, and dashes for fractures without an orientation."""
    rows = here.table.assign(fitted=here.is_fitted).to_dict("records")
    parts = []
    for name, colour in _sets(log):
        own = [row for row in rows if row["set"] == name]
        ticks: list[str] = []
        tails: list[str] = []
        full: list[str] = []
        hollow: list[str] = []
        for row in own:
            at = y(row["depth_m"])
            ticks.append(f"M{_strip_of(row):.1f} {at:.2f}h10")
            x = _X["dips"] + 5 + row["true_dip_deg"] / 2
            way = radians(row["true_dip_direction_deg"])
            tails.append(f"M{x:.2f} {at:.2f}l{3.2 * sin(way):.2f} {-3.2 * cos(way):.2f}")
            (full if row["fitted"] else hollow).append(
                f"M{x - 0.8:.2f} {at:.2f}a.8 .8 0 1 0 1.6 0a.8 .8 0 1 0 -1.6 0"
            )
        parts += [
            path_mark(ticks, colour, 0.35),
            path_mark(tails, colour, 0.3),
            path_mark(full, colour, 0.2, colour),
            path_mark(hollow, colour, 0.3, "var(--paper)"),
        ]
    bare = [row for row in rows if row["true_dip_deg"] != row["true_dip_deg"]]
    dashes = [
        f"M{x:.1f} {y(row['depth_m']):.2f}h{wide}"
        for row in bare
        for x, wide in ((_X["dips"] + 1, 3), (_strip_of(row), 10))
    ]
    return [*parts, path_mark(dashes, "var(--ink)", 0.3)]


def _condition(log: _Log, here: Fractures, y: Any) -> list[str]:
    """Each scale as a bar that ends at the step of its term, infilling as a dot at its own."""
    parts = []
    for place, (name, steps) in enumerate(log.conditions.items()):
        at = {term: step for step, term in enumerate(steps)}
        terms = condition_terms(here.table[name], name)
        strip = _strip(log)
        step = (strip - 2.0) / max(len(steps) - 1, 1)
        start = _CONDITION_X + 1 + place * strip
        known = [(depth, step * at[term]) for depth, term in zip(here.depth_m, terms, strict=True)
                 if term in at]
        if name in SCALES:
            marks = [f"M{start:.1f} {y(depth):.2f}h{0.4 + wide:.2f}" for depth, wide in known]
        else:
            marks = [f"M{start + wide - 0.4:.2f} {y(depth):.2f}h.8" for depth, wide in known]
        parts.append(path_mark(marks, "var(--blind)", 0.5 if name in SCALES else 0.9))
    return parts


def _frequency(log: _Log, top_m: float, end_m: float, y: Any) -> list[str]:
    """Frequency in steps of a metre or more, and the mean of each zone."""
    table, zones = log.frequency
    if not table:
        return []
    most = max(row["p10_per_m"] for row in table)
    wide = (_WIDE - _FREQUENCY_X - 3) / most
    parts = [
        bar_mark(_FREQUENCY_X, y(max(row["from_m"], top_m)), wide * row["p10_per_m"],
             y(min(row["to_m"], end_m)), "var(--density-3)")
        for row in table
        if row["to_m"] > top_m and row["from_m"] < end_m
    ]
    lines = [
        f"M{_FREQUENCY_X + wide * zone.p10_per_m:.2f} {y(max(zone.from_m, top_m)):.2f}"
        f"V{y(min(zone.to_m, end_m)):.2f}"
        for zone in zones
        if zone.p10_per_m is not None and zone.to_m > top_m and zone.from_m < end_m
    ]
    ends = [
        text_mark(_FREQUENCY_X + 0.5, 9.5, "0", "start", 2.2),
        text_mark(_WIDE - 3, 9.5, number(most, 2), size=2.2),
    ]
    return [*parts, path_mark(lines, "var(--ink)", 0.7), *ends]
