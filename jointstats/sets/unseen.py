"""What the holes did not see, in figures: each set's share, what a missed set may amount to."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv

from jointstats.sphere.angles import dip_from_poles, poles_from_dip, trend_from_lines
from jointstats.sphere.axes import axis_angles_deg, hemisphere_grid
from jointstats.words import number, plane

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["KAPPA_MISSED", "BlindSpot", "blind_spot", "most_p32_unmet", "share_by_metres"]

#: Concentration of the set that may have been missed: its poles within about 26° of the mean.
KAPPA_MISSED = 30.0


@dataclass(frozen=True)
class BlindSpot:
    """What no hole could see, or saw worst.

    Attributes
    ----------
    share : float
        Share of all orientations without any exposure, 0 to 1.
    dip_deg, dip_direction_deg : float
        The plane deepest in the blind zone; without one, the plane of the least exposure.
    best_angle_deg : float
        Largest angle between that plane and a hole.
    least_m : float
        Its exposure, metres.
    total_m : float
        Logged metres.
    along : str
        Name of the hole, or words for the holes, if they have one common direction.

    Examples
    --------
    >>> BlindSpot(0.17, 90.0, 0.0, 0.0, 0.0, 10.0, "hole B1").share
    0.17
    """

    share: float
    dip_deg: float
    dip_direction_deg: float
    best_angle_deg: float
    least_m: float
    total_m: float
    along: str

    def sentence(self, blind_angle_deg: float) -> str:
        """The finding in one sentence.

        Parameters
        ----------
        blind_angle_deg : float

        Returns
        -------
        str
        """
        percent = f"{100 * self.share:.1f} %" if self.share < 0.1 else f"{100 * self.share:.0f} %"
        at = plane(self.dip_deg, self.dip_direction_deg)
        if self.share > 0 and self.along:
            return (
                f"No hole could see {percent} of all orientations: planes within "
                f"{blind_angle_deg:g}° of {self.along}."
            )
        if self.share > 0:
            return f"No hole could see {percent} of all orientations: planes near {at}."
        return (
            f"Every orientation was seen by some hole; planes near {at} were seen worst: the "
            f"{number(self.total_m)} m logged showed them as well as {number(self.least_m, 2)} m of "
            "hole square to them would."
        )


def blind_spot(result: SiteAnalysis) -> BlindSpot:
    """Find what no hole could see, or saw worst.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    BlindSpot

    Examples
    --------
    >>> import jointstats as js
    >>> 0 <= blind_spot(js.analyse(js.simulate_site(random_state=1), n_sets=3)).share < 0.2
    True
    """
    grid = hemisphere_grid(20_000)
    exposure, share = result.exposure, result.sampling.blind_share
    seen, cosine = exposure.at(grid), exposure.largest_cosine(grid)
    worst = grid[int(np.argmin(cosine if share > 0 else seen))]
    dip, direction = dip_from_poles(worst)
    return BlindSpot(
        share=share,
        dip_deg=float(dip[0]),
        dip_direction_deg=float(direction[0]),
        best_angle_deg=float(np.degrees(np.arcsin(cosine.min()))),
        least_m=float(seen.min()),
        total_m=exposure.total_m,
        along=_common_direction(result),
    )


def _common_direction(result: SiteAnalysis) -> str:
    """Words for the direction that all logged lengths share within 5°, or nothing."""
    lines = result.sampling.logged
    first = lines[0].middle
    if any(axis_angles_deg(line.exposure.directions, first).max() > 5.0 for line in lines):
        return ""
    trend, plunge = trend_from_lines(first)
    holes = f"the hole {lines[0].name}" if len(lines) == 1 else "the holes, which are parallel"
    if plunge[0] > 85:
        return f"{holes} (vertical), that is, steep planes of every strike"
    return f"{holes} (trend {round(float(trend[0])) % 360:03d}°, plunge {plunge[0]:.0f}°)"


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
    height = one.density.log_density(grid)
    density = np.exp(height - height.max())
    lines = result.exposure
    above = sum(
        length * float(density @ (np.abs(grid @ line) >= lines.smallest_cosine))
        for line, length in zip(lines.directions, lines.lengths_m, strict=True)
    )
    return above / (lines.total_m * float(density.sum()))
