"""What the holes could not observe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointstats import plots
from jointstats.report.figures import picture
from jointstats.report.section import Section
from jointstats.sets.unseen import KAPPA_MISSED
from jointstats.words import listed, number, percent

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis


def section(result: SiteAnalysis) -> Section:
    """The blind spot, each set's equivalent length and observable share, lengths without a log."""
    spot = result.blind_spot
    level = f"{100 * float(result.settings['confidence']):g} %"
    bound = (
        f"A set of κ {KAPPA_MISSED:g} could have been missed if it was intersected fewer than "
        f"{spot.fewest} times; the limit is at {level}."
    )
    return Section(
        name="unseen",
        title="What the holes could not observe",
        items=tuple((one.name, _set_line(result, one)) for one in result.sets)
        + (("Not logged", _not_logged(result)),),
        notes=(bound,) if spot.most_p32_per_m is not None and not result.unoriented else (),
        pictures=(
            picture(
                "seen",
                (3.3, 3.75),
                lambda figure: plots.exposure_net(result, plots.net_axes(figure)),
                finding=f"Net of equivalent length. {'' if result.unoriented else spot.sentence}".rstrip(),
                caption="Equivalent length of hole square to the planes of each pole, metres. "
                "Hatched: blind zones.",
            ),
        ),
        definitions=(
            "equivalent length square to the set",
            "blind angle",
            "blind zone",
            "observable share",
        ),
        sources=("Terzaghi",),
    )


def _set_line(result: SiteAnalysis, one: JointSet) -> str:
    text = (
        f"{number(one.exposure_m, 2)} m equivalent of {number(result.sampling.logged_m, 2)} m; the "
        f"best hole crosses it at {one.best_angle_deg:.0f}°. {percent(one.seen_share)} observable"
    )
    if one.missed < 0.5 and not one.n_blind:
        return f"{text}."
    return (
        f"{text}: below the blind angle {number(one.missed, 2)} expected, {one.n_blind} picked, none "
        "in the fit."
    )


def _not_logged(result: SiteAnalysis) -> str:
    told = [
        f"{number(line.gaps.total_m, 2)} m of {line.name}"
        for line in result.sampling.lines
        if line.gaps
    ]
    if told:
        return f"{listed(told)}."
    if "logged" not in result.site.tables:
        return "Not stated: every hole is taken as logged over its whole length."
    return "Nothing: every metre of every hole was logged."
