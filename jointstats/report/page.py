"""The pages a person reads, and the files beside them: all of them appear, or none."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from jointstats.errors import InputError
from jointstats.poles.result import PolesAnalysis
from jointstats.report import (
    condition,
    directions,
    evidence,
    first,
    fit,
    logged,
    predicted,
    readings,
    spacing,
    unseen,
    where,
)
from jointstats.report.log_sheet import log_html, log_names
from jointstats.report.poles import POLES_FILES, poles_files
from jointstats.report.record import record_sections
from jointstats.report.section import Link
from jointstats.report.template import fill_template, slots_of
from jointstats.sets.record import fractures_csv, sets_csv, sets_json
from jointstats.sets.since import read_record
from jointstats.tables.output import output_folder, write_folder
from jointstats.words import NOTICE, of_lines

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

#: The body of the report in its order: to add a section, write its module and name it here.
SECTIONS = (
    fit.decisions,
    readings.section,
    where.domains,
    unseen.section,
    logged.section,
    evidence.section,
    evidence.cautions,
    spacing.section,
    condition.section,
    where.section,
    where.logs,
    fit.section,
    fit.law,
    directions.section,
    predicted.section,
    predicted.faces,
)
FILES = ("index.html", "record.html", "sets.csv", "fractures.csv", "sets.json")
_LINKS = (
    Link("record.html", "record, method and terms"),
    Link("sets.csv", "one row a set"),
    Link("fractures.csv", "one row a fracture, with its orientation and set"),
    Link("sets.json", "for other programs"),
)


def write_report(
    result: SiteAnalysis | PolesAnalysis,
    output: str | os.PathLike[str],
    *,
    since: str | os.PathLike[str] | None = None,
) -> Path:
    """Write the report: index.html, record.html, a log a hole, and tables for other programs.

    The files appear together: whatever happens on the way, all of an earlier report is there,
    or all of the new one.

    Parameters
    ----------
    result : SiteAnalysis or PolesAnalysis
        What `analyse` or `analyse_poles` gave; of poles, one page with its tables.
    output : path
        Directory to write to; made if it is not there. Other files in it stay.
    since : path or None
        An earlier report, or its sets.json: what changed since stands in the record.

    Returns
    -------
    pathlib.Path
        The page, ``output/index.html``.

    Raises
    ------
    InputError
        If `since` is no report, `output` is a file, what was read would be overwritten, or
        another run is writing.
    OSError
        If the disk refuses.

    Examples
    --------
    >>> import tempfile
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(holes=[(0, 60, 30)], random_state=1), n_sets=1)
    >>> with tempfile.TemporaryDirectory() as place:
    ...     page = js.write_report(result, place)
    ...     print(*sorted(file.name for file in page.parent.iterdir()))
    fractures.csv index.html log-H1.html record.html sets.csv sets.json
    """
    if isinstance(result, PolesAnalysis):
        if since is not None:
            raise InputError("since compares reports of sites; leave it out for a table of poles")
        target = output_folder(output, POLES_FILES, result.sources)
        write_folder(target, poles_files(result))
        return target / "index.html"
    if not hasattr(result, "site"):
        raise InputError(
            f"result must be what analyse or analyse_poles gave; got {type(result).__name__}: give the site, "
            "or the poles, to one of them, and report what it gives"
        )
    earlier = None if since is None else read_record(since)
    logs = log_names(result)
    target = output_folder(output, [*FILES, *logs.values()], result.site.sources)
    tables = {
        "sets.csv": sets_csv(result),
        "fractures.csv": fractures_csv(result),
        "sets.json": sets_json(result),
    }
    sheets = {name: log_html(result, hole, target) for hole, name in logs.items()}
    write_folder(target, report_pages(result, earlier) | sheets | tables)
    return target / "index.html"


def report_pages(
    result: SiteAnalysis, earlier: Mapping[str, object] | None = None
) -> dict[str, str]:
    """The pages by the name of their file, each one self-contained HTML document.

    The same text for the same result: they hold no date and ask for nothing from elsewhere.
    """
    body = [made for section in SECTIONS if (made := section(result)) is not None]
    title = result.site.name
    shared = {"title": title, "notice": NOTICE, "slots": slots_of(result)}
    return {
        "index.html": of_lines(
            fill_template(
                "page.html.j2",
                kind=first.kind_of(result),
                basis=first.basis_line(result),
                block=result.site.settings.title,
                first=_first(result),
                sections=body,
                links=(*_LINKS, *(Link(name, hole) for hole, name in log_names(result).items())),
                **shared,
            ),
            {hole.kind for hole in result.site.holes},
        ),
        "record.html": fill_template(
            "page.html.j2",
            kind="Record of the analysis",
            basis="",
            block=result.site.settings.title,
            first=None,
            sections=record_sections(result, body, earlier),
            links=(Link("index.html", "the report"),),
            **shared,
        ),
    }


def _first(result: SiteAnalysis) -> dict[str, object]:
    return {
        "headline": first.headline(result),
        "sentences": first.sentences(result),
        "readings": readings.readings_table(result),
        "table": first.set_table(result) if result.sets else None,
        "note": first.table_note(result),
        "cautions": len(result.cautions),
        "net": first.net_picture(result),
        "forest": first.forest_picture(result),
    }
