"""The sets as text for a terminal, within 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

from jointstats.report.condition import classes_sentence
from jointstats.report.first import agreement_text, headline
from jointstats.report.logged import account_line
from jointstats.report.poles import poles_headline
from jointstats.report.readings import fold_axis
from jointstats.words import NOTICE, number, of_lines, only_limit, percent, within

if TYPE_CHECKING:
    from jointstats.pairs.core_image import CoreMatch
    from jointstats.poles.result import PolesAnalysis
    from jointstats.sets.oriented_set import OrientedSet
    from jointstats.sets.result import SiteAnalysis

_WIDTH = 80
_HEADINGS = ("set", "dip/direction", "cone", "kappa", "P32 m2/m3", "spacing", "n", "confidence")
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"


def _range(value: float, interval: tuple[float, float]) -> str:
    if only_limit(value, interval):
        return f"below {number(interval[1], 2)}"
    return f"{number(value, 2)} ({within(interval).replace(' to ', '-')})"


def _rows(result: SiteAnalysis) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for one in result.sets:
        rows.append(
            (
                *_where(one),
                _range(one.p32_per_m, one.p32_interval),
                number(one.spacing.mean_m, 2) if one.spacing.n else "not known",
                str(one.n),
                result.confidence_in(one.name),
            )
        )
    if result.unoriented:
        return [*rows, ("all", "", "", "", "not known", "", "0", "")]
    random = _range(result.background_per_m, result.background_interval)
    rows.append(("random", "", "", "", random, "", str(result.counts.unassigned), ""))
    total, fitted = result.total_p32, result.counts.in_a_set + result.counts.unassigned
    whole = _range(float(total.estimate), (float(total.low), float(total.high)))
    rows.append(("all", "", "", "", whole, "", str(fitted), ""))
    return rows


def sets_text(result: SiteAnalysis, *, bold: bool = False) -> str:
    """The table of sets, what became of every fracture, every caution, and the notice.

    Lines of at most 80 characters, the columns aligned; `bold` sets the headings by terminal codes.

    >>> import jointstats as js
    >>> print(sets_text(js.analyse(js.simulate_site(random_state=1))).splitlines()[0][:21])
    set     dip/direction
    """
    rows = [_HEADINGS, *_rows(result)]
    lines = _aligned(rows, bold=bold)
    level = f"{100 * float(result.settings['confidence']):g} %"
    note = f"Angles in degrees, spacing in m; cone and ranges at {level}; n counts fractures in the fit."
    lines += ["", *_folded(note), *_folded(account_line(result)), ""]
    lines += [*_folded(headline(result)), *_folded(classes_sentence(result))]
    lines += [*_folded(agreement_text(result)), ""]
    lines += cautions_text((one.about, one.text) for one in result.cautions)
    return of_lines("\n".join(lines), {hole.kind for hole in result.site.holes})


def _aligned(rows: list[tuple[str, ...]], *, bold: bool) -> list[str]:
    """Rows in columns, the first of them the headings."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "  ".join(
            cell.ljust(width) if i == 0 else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    if bold:
        lines[0] = f"{_BOLD}{lines[0]}{_PLAIN}"
    return lines


def poles_text(result: PolesAnalysis, *, bold: bool = False) -> str:
    """The table of the sets of poles, every caution, and the notice, as `sets_text` has them.

    >>> import jointstats as js
    >>> poles = js.sphere.AxialFisher([0, 0, -1], 50.0).rvs(80, random_state=1)
    >>> poles_text(js.analyse_poles(poles)).splitlines()[0][:21]
    'set     dip/direction'
    """
    rows: list[tuple[str, ...]] = [("set", "dip/direction", "cone", "kappa", "share", "n", "confidence")]
    for one in result.sets:
        low, high = one.share_interval
        rows.append(
            (
                *_where(one),
                f"{percent(one.share)} ({percent(low)}-{percent(high)})",
                str(one.n),
                result.confidence_in(one.name),
            )
        )
    random = percent(result.background_share)
    rows.append(("random", "", "", "", random, str(result.counts.unassigned), ""))
    level = f"{100 * float(result.settings['confidence']):g} %"
    counts = result.counts
    note = (
        f"Angles in degrees; cone and ranges at {level}; shares are of the poles. {counts.total} "
        f"poles: {counts.in_a_set} in a set, {counts.unassigned} unassigned, {counts.not_oriented} "
        "without orientation."
    )
    lines = [*_aligned(rows, bold=bold), "", *_folded(note), "", *_folded(poles_headline(result)), ""]
    return "\n".join([*lines, *cautions_text((one.about, one.text) for one in result.cautions)])


def _where(one: OrientedSet) -> tuple[str, str, str, str]:
    """Name, plane or fold axis, cone and κ."""
    plane = f"axis {fold_axis(one.density)}"
    if one.mean is not None:
        plane = f"{one.dip_deg:.0f}/{one.dip_direction_deg:03.0f}"
    return one.name, plane, f"{one.cone_deg:.0f}", number(one.kappa, 2)


def cautions_text(cautions: Iterable[tuple[str, str]]) -> list[str]:
    """Cautions and the notice as lines of at most 80 characters.

    >>> cautions_text([("J1", "Few fractures.")])[0]
    'Caution, J1: Few fractures.'
    """
    lines = [line for about, text in cautions for line in _folded(f"Caution, {about}: {text}")]
    return [*lines, *_folded(f"Notice: {NOTICE}")]


def _folded(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def match_text(match: CoreMatch) -> str:
    """What a match of core and image found in one hole: counts, detection, runs."""
    columns = ["part", "n_core", "n_image", "n_both", "core_rate", "image_rate", "total"]
    detection = match.detection[columns].round(2).to_string(index=False)
    runs = match.runs.drop(columns="disagrees").round(2).to_string(index=False, na_rep="–")
    return "\n\n".join([str(match), detection, runs])
