"""How surely the fractures belong to their sets: a picture, a table, and the finding in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.plots.palette import set_style, style_settings
from jointstats.report.tables import Table
from jointstats.report.wording import listed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from jointstats.sets.result import SiteAnalysis

__all__ = ["DOUBT", "SURE", "membership_bars", "membership_finding", "membership_table"]

#: At this membership or above a fracture belongs surely; below the other, it is in doubt.
SURE, DOUBT = 0.9, 0.7



def _groups(result: SiteAnalysis) -> list[tuple[str, NDArray[np.intp], list[str]]]:
    """Of each set and the unassigned: counts (sure, likely, in doubt), and who is next in line.

    The next in line is named for each fracture in doubt: the set, or the background, of the
    second largest membership.
    """
    names = np.array([*(one.name for one in result.sets), UNASSIGNED], dtype=object)
    fractures = Fractures(result.fractures).fitted
    fitted = fractures.table
    if fitted.empty:
        return []
    own = fitted["set"].to_numpy()
    membership = fitted["membership"].to_numpy(float)
    shares = result.mixture.predict_proba(fractures.poles)
    next_best = names[np.where(names == own[:, np.newaxis], -1.0, shares).argmax(axis=1)]
    groups = []
    for name in names:
        mine = own == name
        step = np.digitize(membership[mine], [DOUBT, SURE])
        rival = next_best[mine][step == 0]
        groups.append((str(name), np.bincount(2 - step, minlength=3), list(rival)))
    return groups


def _rivals(rival: list[str]) -> str:
    found, counts = np.unique(np.array(rival, dtype=str), return_counts=True)
    order = np.argsort(-counts, kind="stable")
    return ", ".join(f"{_called(found[i])} {counts[i]}" for i in order) or "–"


def _called(name: str) -> str:
    return "no set" if name == UNASSIGNED else str(name)


def membership_table(result: SiteAnalysis) -> Table:
    """How many fractures of each set belong surely, likely, or in doubt, and between which sets.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    Table

    Examples
    --------
    >>> import jointstats as js
    >>> table = membership_table(js.analyse(js.simulate_site(random_state=1), n_sets=3))
    >>> [row[0] for row in table.rows]
    ['J1', 'J2', 'J3', 'unassigned']
    """
    rows = []
    for name, counts, rival in _groups(result):
        total = max(int(counts.sum()), 1)
        shares = [f"{n} ({100 * n / total:.0f} %)" for n in counts]
        rows.append((name, str(counts.sum()), *shares, _rivals(rival)))
    columns = (
        "Set",
        "Fractures",
        f"Sure: {SURE:g} or more",
        f"Likely: {DOUBT:g} to {SURE:g}",
        f"In doubt: below {DOUBT:g}",
        "Those in doubt could as well be",
    )
    return Table("Membership of the fractures in the fit", columns, tuple(rows), frozenset({5}))


def membership_finding(result: SiteAnalysis) -> str:
    """How surely the fractures of the sets belong, in one or two sentences.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> membership_finding(js.analyse(js.simulate_site(random_state=1), n_sets=3))[:5]
    'Of th'
    """
    groups = [group for group in _groups(result) if group[0] != UNASSIGNED]
    counts = sum((group[1] for group in groups), np.zeros(3, dtype=np.intp))
    total = int(counts.sum())
    if not total:
        return "No fracture is in a set."
    text = (
        f"Of the {total} fractures in sets, {counts[0]} ({100 * counts[0] / total:.0f} %) belong "
        f"surely (membership {SURE:g} or more) and {counts[2]} ({100 * counts[2] / total:.0f} %) "
        f"are in doubt (below {DOUBT:g})"
    )
    if not counts[2]:
        return f"{text}."
    between = [
        tuple(sorted((name, _called(other)))) for name, _, rival in groups for other in rival
    ]
    pairs, number = np.unique(np.array(between, dtype=str), axis=0, return_counts=True)
    most = [" and ".join(pair) for pair in pairs[number == number.max()]]
    return f"{text}, most often between {listed(most)} ({number.max()})."


def membership_bars(result: SiteAnalysis, ax: Axes | None = None) -> Axes:
    """Share of each set's fractures that belong surely, likely, or in doubt, as one bar a set.

    Parameters
    ----------
    result : SiteAnalysis
        What `analyse` gave.
    ax : matplotlib Axes or None
        Plain axes; a new figure if None.

    Returns
    -------
    matplotlib Axes

    Examples
    --------
    >>> import jointstats as js
    >>> from jointstats import plots
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> ax = plots.membership_bars(result, plots.new_figure(5, 2).add_subplot())
    >>> [label.get_text() for label in ax.get_yticklabels()]
    ['J1', 'J2', 'J3']
    """
    import matplotlib

    groups = [group for group in _groups(result) if group[0] != UNASSIGNED]
    with matplotlib.rc_context(style_settings()):
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=(5.6, 0.8 + 0.3 * len(groups))).add_subplot()
        for place, (_, counts, _) in enumerate(groups):
            share = 100.0 * counts / max(counts.sum(), 1)
            for left, width, tone in zip(np.cumsum(share) - share, share, (1, 0.5, 0), strict=True):
                ax.barh(place, width, 0.62, left, color=set_style(place).colour, alpha=tone)
            ax.barh(place, 100.0, 0.62, facecolor="none",
                    edgecolor=set_style(place).colour, clip_on=False)
        ax.set_yticks(range(len(groups)), [group[0] for group in groups])
        ax.set(xlim=(0, 100), ylim=(len(groups) - 0.4, -0.6), xlabel="share of its fractures, %")
        ax.tick_params(axis="y", length=0)
    return ax
