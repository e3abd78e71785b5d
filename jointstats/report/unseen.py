"""What the holes did not see, in sentences."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from jointstats.sets.unseen import KAPPA_MISSED, blind_spot, most_p32_unmet
from jointstats.words import listed, number, plane

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["unseen_lines"]


def unseen_lines(result: SiteAnalysis) -> list[str]:
    """What was not seen, beside the blind zone: a set missed, per set, and lengths without a log.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    list of str
        Sentences.

    Examples
    --------
    >>> import jointstats as js
    >>> unseen_lines(js.analyse(js.simulate_site(random_state=1), n_sets=3))[-1]
    'Every metre of every hole was logged.'
    """
    lines = [_missed_line(result)]
    lines += [_set_line(result, one) for one in result.sets]
    unlogged = [
        f"{number(one.gaps.total_m)} m of {one.name}" for one in result.sampling.lines if one.gaps
    ]
    lines.append(
        f"Not logged: {listed(unlogged)}." if unlogged else "Every metre of every hole was logged."
    )
    return lines


def _missed_line(result: SiteAnalysis) -> str:
    spot = blind_spot(result)
    where = f"A set about {plane(spot.dip_deg, spot.dip_direction_deg)} with κ {KAPPA_MISSED:g}"
    bound = most_p32_unmet(result, spot)
    if bound is None:
        return f"{where} was out of sight of every hole: nothing bounds its P32."
    level = f"{100 * float(result.settings['confidence']):g} %"
    fewest = ceil(result.mixture.smallest_set)
    return (
        f"{where} may have a P32 up to {number(bound, 2)} m²/m³ and still have been met fewer than "
        f"{fewest} times, too few to be called a set (upper limit at {level})."
    )


def _set_line(result: SiteAnalysis, one: JointSet) -> str:
    offered = (
        f"{one.name}: the {number(result.exposure.total_m)} m logged count as "
        f"{number(one.exposure_m, 2)} m square to it, the best hole crosses it at "
        f"{one.best_angle_deg:.0f}°; "
    )
    if one.seen_share > 0.995:
        return f"{offered}practically all that the holes met stands above the blind angle."
    picked = one.n_blind or "none"
    return (
        f"{offered}by its fitted shape {100 * one.seen_share:.0f} % of what the holes met stands "
        f"above the blind angle. Below it {number(one.missed, 2)} fractures are expected; "
        f"{picked} {'was' if one.n_blind == 1 else 'were'} picked, and left out of the fit."
    )
