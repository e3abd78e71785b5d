"""What the holes did not see, in figures: each set's share, what a missed set may amount to."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv

from jointstats.plots.drilled import gaps_of, hemisphere_grid
from jointstats.report.wording import BlindSpot, blind_spot, listed, number, plane
from jointstats.sphere.angles import poles_from_dip
from jointstats.sphere.axial_fisher import log_density

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["most_p32_unmet", "share_by_metres", "unseen_lines"]

#: Concentration of the set that may have been missed: its poles within about 26° of the mean.
KAPPA_MISSED = 30.0


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
    lost = [(hole.name, sum(b - a for a, b in gaps_of(hole))) for hole in result.site.holes]
    unlogged = [f"{number(metres)} m of {name}" for name, metres in lost if metres > 0]
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


def most_p32_unmet(result: SiteAnalysis, spot: BlindSpot) -> float | None:
    """Largest P32 of a set about the worst-seen plane that may be met too seldom to be called one.

    Parameters
    ----------
    result : SiteAnalysis
    spot : BlindSpot
        As from `blind_spot`.

    Returns
    -------
    float or None
        1/m: the Poisson mean whose chance of fewer than the smallest set's number of fractures is
        one less the confidence, over the exposure of the set. None if the exposure is next to
        nothing (below a thousandth of the logged metres).

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> 0.1 < most_p32_unmet(result, blind_spot(result)) < 1.0
    True
    """
    pole = poles_from_dip(spot.dip_deg, spot.dip_direction_deg)[0]
    exposure = result.exposure.of_set(pole, KAPPA_MISSED)
    if exposure < 1e-3 * result.exposure.total_m:
        return None
    # P(N < m) of a Poisson count of mean θ is 1 − P(m, θ), P the regularised incomplete gamma.
    mean = gammaincinv(ceil(result.mixture.smallest_set), float(result.settings["confidence"]))
    return float(mean / exposure)


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


def share_by_metres(result: SiteAnalysis, one: JointSet) -> float:
    """Share of a set's orientations above the blind angle, every logged metre counting alike.

    Terzaghi weights that are cut at the blind angle give this share of P32: each weight makes good
    for the angle of its own fracture, and nothing makes good for orientations never counted.

    Parameters
    ----------
    result : SiteAnalysis
    one : JointSet

    Returns
    -------
    float
        0 to 1.

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> bool(0.5 < share_by_metres(result, result.sets[0]) <= 1.0)
    True
    """
    grid = hemisphere_grid(20_000)
    height = log_density(grid, one.mean, one.kappa)
    density = np.exp(height - height.max())
    smallest = np.sin(np.radians(result.exposure.blind_angle_deg))
    merged = result.exposure.merged()
    above = sum(
        length * float(density @ (np.abs(grid @ line) >= smallest))
        for line, length in zip(merged.directions, merged.lengths_m, strict=True)
    )
    return above / (merged.total_m * float(density.sum()))
