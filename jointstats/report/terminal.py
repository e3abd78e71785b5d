"""The sets as text for a terminal, within 80 columns."""

from __future__ import annotations

from jointstats.sets.result import SiteAnalysis

__all__ = ["sets_text"]

_HEADINGS = ("set", "dip/direction", "cone", "kappa", "P32 per m", "spacing m", "n")
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"


def _range(value: float, low: float, high: float, digits: int) -> str:
    return f"{value:.{digits}f} ({low:.{digits}f}-{high:.{digits}f})"


def _rows(result: SiteAnalysis) -> list[tuple[str, ...]]:
    rows = []
    for one in result.sets:
        spacing = "not known" if one.spacing.mean_m is None else f"{one.spacing.mean_m:.2f}"
        rows.append(
            (
                one.name,
                f"{one.dip_deg:.0f}/{one.dip_direction_deg:03.0f}",
                f"{one.cone_deg:.0f}",
                _range(one.kappa, *one.kappa_interval, 0),
                _range(one.p32_per_m, *one.p32_interval, 2),
                spacing,
                str(one.n),
            )
        )
    return rows


def sets_text(result: SiteAnalysis, *, bold: bool = False) -> str:
    """The table of sets, what became of every fracture, and what was not seen.

    Parameters
    ----------
    result : SiteAnalysis
    bold : bool
        Whether the headings are set bold by terminal codes.

    Returns
    -------
    str
        Lines of at most 80 characters, the table's columns aligned.

    Examples
    --------
    >>> import jointstats as js
    >>> print(sets_text(js.analyse(js.simulate_site(random_state=1))).splitlines()[0][:21])
    set  dip/direction  c
    """
    rows = [_HEADINGS, *_rows(result)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(_HEADINGS))]
    lines = [
        "  ".join(
            cell.ljust(width) if i == 0 else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    if bold:
        lines[0] = f"{_BOLD}{lines[0]}{_PLAIN}"
    level = f"{100 * result.settings['confidence']:g} %"
    counts = result.counts
    lines += [
        "",
        f"Angles in degrees; cone and ranges at {level}; n counts fractures in the fit.",
        f"{counts.total} fractures: {counts.in_a_set} in a set, {counts.unassigned} unassigned,",
        f"  {counts.below_blind_angle} below the blind angle of "
        f"{result.exposure.blind_angle_deg:g} degrees, {counts.not_oriented} not oriented, "
        f"{counts.other_method} of another method.",
    ]
    for one in result.sets:
        if one.seen_share < 0.9:
            lines.append(
                f"{one.name}: the holes saw {100 * one.seen_share:.0f} % of what they met; about "
                f"{one.missed:.0f} fractures missed."
            )
    return "\n".join(lines)
