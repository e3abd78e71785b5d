"""The normal spacing of each set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.borehole.settings import FOOT_M
from jointstats.intervals import median_interval
from jointstats.line.placing import FEWEST_SPACINGS
from jointstats.report.figures import Picture, picture
from jointstats.report.first import spacing_within
from jointstats.report.section import Section, Table
from jointstats.words import listed, number, p_value, within

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

#: Sets that are drawn; more would be too small to read.
_MOST_DRAWN = 6


def section(result: SiteAnalysis) -> Section | None:
    """A table, and histogram and survival function of each set on shared scales; none without sets."""
    sets = _measured(result)
    if not sets:
        return None
    return Section(
        name="spacing",
        title="Normal set spacing",
        text=(listed([_placing(one) for one in sets]) + ".",),
        pictures=(_picture(result),),
        tables=(spacing_table(result), *_in_feet(result)),
        definitions=("normal set spacing", "censored", "survival function"),
        sources=("ISRM", "Kaplan", "Moran"),
    )


def _measured(result: SiteAnalysis) -> list[JointSet]:
    """Sets that have a mean normal, along which spacing is measured."""
    return [one for one in result.sets if one.mean is not None]


def spacing_table(result: SiteAnalysis) -> Table:
    """Spacing of each set: numbers, mean and median with intervals, term."""
    rows = tuple(
        (
            one.name,
            f"{one.spacing.n} + {one.spacing.n_censored}",
            f"{number(one.spacing.mean_m, 2)} ({spacing_within(one) or '–'})",
            _median(one),
            number(1.0 / one.p32_per_m if one.p32_per_m > 0 else None, 2),
            one.spacing_term,
        )
        for one in _measured(result)
    )
    columns = ("Set", "Complete + censored", "Mean, m", "Median, m", "1 / P32, m", "ISRM term")
    return Table("Normal spacing of each set, with intervals", columns, rows, frozenset({5}))


def _in_feet(result: SiteAnalysis) -> tuple[Table, ...]:
    """P32 and spacing in feet, where the site asks for both units."""
    if result.site.settings.figures_in == "m":
        return ()
    rows = tuple(
        (
            one.name,
            _times(FOOT_M, one.p32_per_m, one.p32_interval),
            _times(1 / FOOT_M, one.spacing.mean_m, one.spacing_interval_m or (None, None)),
        )
        for one in result.sets
    )
    columns = ("Set", "P32, ft²/ft³", "Mean normal spacing, ft")
    return (Table("P32 and spacing in feet, with intervals", columns, rows),)


def _times(factor: float, value: float | None, interval: tuple[float | None, float | None]) -> str:
    """A figure with its interval, times a factor."""
    mean, *ends = (None if one is None else factor * one for one in (value, *interval))
    return f"{number(mean, 2)} ({within((ends[0], ends[1]))})"


def _median(one: JointSet) -> str:
    """Median of the complete spacings, with its interval by their order."""
    limits = median_interval(one.spacing.spacings_m, one.confidence)
    told = number(one.spacing.median_m, 2)
    return f"{told} ({within(limits)})" if limits else told


def _placing(one: JointSet) -> str:
    """Whether chance explains how uneven the spacings are."""
    pvalue = one.spacing.clustering_pvalue
    if pvalue is None:
        return f"{one.name} not tested (below {FEWEST_SPACINGS} spacings)"
    told = "clustered" if one.spacing.clustered else "consistent with random placing"
    return f"{one.name} {told} ({p_value(pvalue)})"


def _picture(result: SiteAnalysis) -> Picture:
    sets = _measured(result)
    rows = min(len(sets), _MOST_DRAWN)
    return picture(
        "spacing",
        (5.6, 0.85 + 1.2 * rows),
        lambda figure: _draw(result, sets[:rows], figure),
        finding="Spacing of each set: "
        + listed([f"{one.name} mean {number(one.spacing.mean_m, 2)} m" for one in sets]),
        caption="Left: number of complete spacings; line, mean with its interval; dashed, median. "
        "Right: survival function, censored spacings allowed for, with its interval; line, the "
        "exponential law of random placing; dashed, Weibull. One scale for all sets.",
    )


def _draw(result: SiteAnalysis, sets: list[JointSet], figure: Figure) -> None:
    rows = len(sets)
    axes = figure.subplots(rows, 2, sharex="col", sharey="col", squeeze=False,
                           width_ratios=[1.25, 1.0])
    figure.subplots_adjust(left=0.06, right=0.99, hspace=0.12, wspace=0.2)
    longest = max(float(max(one.spacing.spacings_m, default=1.0)) for one in sets)
    for row, (one, (left, right)) in enumerate(zip(sets, axes, strict=True)):
        plots.spacing_histogram(result, one.name, left, terms=row == 0)
        plots.spacing_survival(result, one.name, right, key=row == 0)
        right.set_xlim(0.0, longest)
        left.text(0.03, 0.86, one.name, transform=left.transAxes, fontweight="bold")
        for ax in (left, right):
            ax.set_ylabel("")
            if row < rows - 1:
                ax.set_xlabel("")
