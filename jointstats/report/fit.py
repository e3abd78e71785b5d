"""What was decided; whether the model fits: rings about each mean, counts between the holes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.line.sampling_law import law_sentence
from jointstats.report.figures import picture
from jointstats.report.section import Section
from jointstats.sets.reliability import evenness_sentence
from jointstats.sets.joint_set import JointSet
from jointstats.sets.since import against_automatic
from jointstats.words import p_value

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from jointstats.sets.fitted import HasSets
    from jointstats.sets.oriented_set import OrientedSet
    from jointstats.sets.result import SiteAnalysis

#: Sets that are drawn, and side by side.
_MOST_DRAWN, _ACROSS = 6, 3


def section(result: HasSets) -> Section | None:
    """For each set whether it is round and even, and the rings; none without a set."""
    drawn = [one for one in result.sets if one.mean is not None][:_MOST_DRAWN]
    if not drawn:
        return None
    rows = -(-len(drawn) // _ACROSS)
    return Section(
        name="fit",
        title="Does the model fit?",
        items=tuple((one.name, _told(one)) for one in result.sets),
        pictures=(
            picture(
                "rings",
                (5.6, 0.3 + 1.75 * rows),
                lambda figure: _draw(result, figure, drawn, rows),
                finding="Fractures in rings about the mean of each set, beside the fit.",
                caption="Fractures in rings about each mean pole: observed (points, intervals), "
                "expected by the whole fit (line) and of the set alone (tone).",
            ),
        ),
        sources=("Fisher",),
    )


def law(result: SiteAnalysis) -> Section:
    """Fractures by angle to their hole, observed and expected: the law of sampling itself."""
    text = law_sentence(result.by_angle)
    return Section(
        name="law",
        title="Does the law of sampling hold?",
        text=(text,),
        pictures=(
            picture(
                "angles",
                (4.2, 2.6),
                lambda figure: plots.angle_counts(result, figure.add_subplot()),
                finding=text,
                caption="Fractures of the fit by angle between plane and hole: observed (points, "
                "intervals), and expected of the fitted rock (line).",
            ),
        ),
    )


def _told(one: OrientedSet) -> str:
    # Evenness is that of a set along lines, which a table of poles does not have.
    even = f" {evenness_sentence(one)}" if isinstance(one, JointSet) else ""
    test = one.elliptical_test
    if test is None:
        return f"Shape: a girdle.{even}"
    ratio = f"axial ratio {test.axial_ratio:.1f}"
    told = "not round" if test.elliptical else "consistent with a round set"
    return f"Shape: {told} ({p_value(test.pvalue)}), {ratio}.{even}"


def _draw(result: HasSets, figure: Figure, drawn: list[OrientedSet], rows: int) -> None:
    figure.subplots_adjust(left=0.06, right=0.99, hspace=0.5, wspace=0.32)
    for place, one in enumerate(drawn, start=1):
        ax = figure.add_subplot(rows, _ACROSS, place)
        plots.density_profile(result, one.name, ax, key=False)
        ax.set_ylabel("")
        ax.set_xticks([0, 30, 60, 90])
        ax.set_xlabel(f"degrees from {one.name}", fontsize=9.0)


def decisions(result: SiteAnalysis) -> Section | None:
    """Each decision, and every set beside the nearest automatic one; None where all is automatic."""
    decided = result.decided.decisions
    if not decided:
        return None
    changed = against_automatic(result)
    found = "Against the automatic answer:" if changed else "The sets are those of the automatic answer."
    return Section(
        name="decisions",
        title="Decisions of the analyst",
        text=(f"This is not the automatic answer. Decided: {'; '.join(decided)}.", found),
        items=tuple(changed),
    )
