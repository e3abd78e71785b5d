"""The page a person reads, and the files beside it: all of them appear, or none."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from jointstats.report import sections
from jointstats.report.belonging import membership_table
from jointstats.report.method import definitions_of, method_paragraphs, sources_of
from jointstats.report.tables import (
    account_table,
    assignment_line,
    condition_table,
    hole_table,
    methods_line,
    set_rows,
    spacing_table,
    trial_table,
)
from jointstats.report.template import fill_template
from jointstats.report.unseen import unseen_lines
from jointstats.report.wording import answer, design_line
from jointstats.sets.cautions import STANDING, cautions_of
from jointstats.sets.evenness import evenness_of
from jointstats.sets.record import fractures_csv, sets_csv, sets_json
from jointstats.sets.reliability import SURENESS_RULE, USE_RULE, how_sure
from jointstats.sets.unseen import blind_spot
from jointstats.tables.output import output_folder, write_folder
from jointstats.words import number, within

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

__all__ = ["page_html", "write_report"]

FILES = ("index.html", "sets.csv", "fractures.csv", "sets.json")


def write_report(result: SiteAnalysis, output: str | os.PathLike[str]) -> Path:
    """Write the report: index.html, sets.csv, fractures.csv and sets.json.

    The files appear together: whatever happens on the way, all of an earlier report is there,
    or all of the new one.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    output : path
        Directory to write to; made if it is not there. Other files in it stay.

    Returns
    -------
    pathlib.Path
        The page, ``output/index.html``.

    Raises
    ------
    InputError
        If `output` is a file, or what was read would be overwritten, or another run is writing.
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
    fractures.csv index.html sets.csv sets.json
    """
    target = output_folder(output, FILES, result.site.sources)
    contents = {
        "index.html": page_html(result),
        "sets.csv": sets_csv(result),
        "fractures.csv": fractures_csv(result),
        "sets.json": sets_json(result),
    }
    write_folder(target, contents)
    return target / "index.html"


def page_html(result: SiteAnalysis) -> str:
    """The page as one self-contained HTML document.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str
        The same text for the same result; it holds no date and asks for nothing from elsewhere.
    """
    return fill_template("page.html.j2", **_context(result))


def _context(result: SiteAnalysis) -> dict[str, object]:
    spot = blind_spot(result)
    return {
        "site": result.site.name,
        "summary": sections.summary_line(result),
        "answer": answer(result),
        "rows": set_rows(result),
        "design": design_line(result.sets),
        "trust": sections.trust_line(result),
        "not_oriented": sections.not_oriented_line(result),
        "background": number(result.background_per_m),
        "background_within": within(result.background_interval),
        "net": sections.net_picture(result),
        "exposure": sections.exposure_picture(result),
        "spot": spot.sentence(result.exposure.blind_angle_deg),
        "unseen": unseen_lines(result),
        "sureness_rule": SURENESS_RULE,
        "use_rule": USE_RULE,
        "weak": [one.name for one in result.sets if how_sure(one) == "weak"],
        "cautions": cautions_of(result),
        "standing": STANDING,
        "holes": hole_table(result),
        "account": account_table(result),
        "methods": methods_line(result),
        "assignment": assignment_line(result),
        "spacing": spacing_table(result),
        "condition": condition_table(result),
        "directions": sections.direction_pictures(result),
        "even": [evenness_of(result, one).sentence for one in result.sets],
        "fits": sections.fit_pictures(result),
        "spacing_pictures": sections.spacing_pictures(result),
        "where": sections.where_most(result),
        "view": sections.view_picture(result),
        "logs": sections.log_pictures(result),
        "membership": sections.membership_picture(result),
        "belonging": membership_table(result),
        "trials": trial_table(result),
        "method": method_paragraphs(result),
        "definitions": definitions_of(result),
        "sources": sources_of(result),
    }
