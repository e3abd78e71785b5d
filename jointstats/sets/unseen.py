"""What the holes could not observe: the worst orientation, and how frequent a set there may be."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv

from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.sphere.axes import axis_angles_deg, hemisphere_grid
from jointstats.types import Array
from jointstats.words import number, percent, plane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jointstats.borehole.exposure import LineExposure
    from jointstats.borehole.sampling import Sampling
    from jointstats.sets.joint_set import JointSet
    from jointstats.sphere.set_density import SetDensity

#: Concentration of the set that may have been missed: its 95 % spread cone is 26°.
KAPPA_MISSED = 30.0
#: Below this share of the logged length an exposure bounds nothing.
_NEXT_TO_NOTHING = 1e-3


@dataclass(frozen=True)
class BlindSpot:
    """What no hole could observe, or observed worst.

    Attributes
    ----------
    share : float
        Share of all orientations without any exposure, 0 to 1.
    dip_deg, dip_direction_deg : float
        The plane deepest in the blind zone; without one, the plane of the least exposure.
    least_m : float
        Its exposure, metres.
    total_m : float
        Logged metres.
    along : str
        Words for the holes, if they have one common direction.
    blind_angle_deg : float
    most_p32_per_m : float or None
        Upper limit of P32, at the confidence of the analysis, of a set (κ 30) about that plane
        that was intersected too seldom to be called one; None if nothing bounds it.
    fewest : int
        Fractures from which on the fit calls them a set.
    of_set : str
        Name of the set within whose 95 % spread cone the plane lies; empty if there is none.

    Examples
    --------
    >>> BlindSpot(0.17, 90.0, 0.0, 0.0, 10.0, "hole B1", 10.0, None, 5).share
    0.17
    """

    share: float
    dip_deg: float
    dip_direction_deg: float
    least_m: float
    total_m: float
    along: str
    blind_angle_deg: float
    most_p32_per_m: float | None
    fewest: int
    of_set: str = ""

    @property
    def sentence(self) -> str:
        """What was out of sight, and how frequent a set there may be."""
        at = plane(self.dip_deg, self.dip_direction_deg)
        if self.share > 0:
            where = (
                f"planes within {self.blind_angle_deg:g}° of {self.along}"
                if self.along
                else f"planes near {at}"
            )
            text = f"No hole could observe {percent(self.share)} of all orientations: {where}."
        else:
            text = (
                f"Planes near {at} were observed worst: the {number(self.total_m, 2)} m logged are "
                f"as good as {number(self.least_m, 2)} m square to them."
            )
        if self.most_p32_per_m is None:
            return f"{text} Nothing bounds the P32 of a set there."
        if self.of_set:
            return f"{text} They are outer planes of {self.of_set}; there its P32 rests on the fitted shape."
        return (
            f"{text} A set there with P32 up to {number(self.most_p32_per_m, 2)} m²/m³ could have "
            "been missed."
        )


def blind_spot(
    sampling: Sampling, sets: Sequence[JointSet], smallest_set: float, confidence: float
) -> BlindSpot:
    """Find what no hole could observe, or observed worst.

    `smallest_set`: fractures from which on the fit calls them a set.
    """
    grid = hemisphere_grid(20_000)
    exposure, share = sampling.exposure, sampling.blind_share
    seen, cosine = exposure.at(grid), exposure.largest_cosine(grid)
    worst = grid[int(np.argmin(cosine if share > 0 else seen))]
    dip, direction = dip_from_poles(worst)
    fewest = ceil(smallest_set)
    offered = exposure.of_set(worst, KAPPA_MISSED)
    # P(N < m) of a Poisson count of mean θ is 1 − P(m, θ), P the regularised incomplete gamma.
    mean = float(gammaincinv(fewest, confidence))
    bounded = offered >= _NEXT_TO_NOTHING * exposure.total_m
    return BlindSpot(
        share=share,
        dip_deg=float(dip[0]),
        dip_direction_deg=float(direction[0]),
        least_m=float(seen.min()),
        total_m=sampling.logged_m,
        along=_common_direction(sampling),
        blind_angle_deg=exposure.blind_angle_deg,
        most_p32_per_m=mean / offered if bounded else None,
        fewest=fewest,
        of_set=_set_about(sets, worst),
    )


def _set_about(sets: Sequence[JointSet], pole: Array) -> str:
    """Name of the set whose 95 % spread cone holds a pole; empty if none does."""
    for one in sets:
        if one.mean is not None:
            apart = axis_angles_deg(pole[np.newaxis], one.mean)[0]
            if apart <= one.density.spread_deg():
                return one.name
    return ""


def _common_direction(sampling: Sampling) -> str:
    """Words for the direction that all logged lengths share within 5°, or nothing."""
    lines = sampling.logged
    first = lines[0].middle
    if any(axis_angles_deg(line.exposure.directions, first).max() > 5.0 for line in lines):
        return ""
    trend, plunge = trend_from_lines(first)
    holes = f"the hole {lines[0].name}" if len(lines) == 1 else "the holes, which are parallel"
    if plunge[0] > 85:
        return f"{holes} (vertical), that is, steep planes of every strike"
    return f"{holes} (trend {round(float(trend[0])) % 360:03d}°, plunge {plunge[0]:.0f}°)"


def share_by_metres(lines: LineExposure, density: SetDensity) -> float:
    """Share of a set's orientations above the blind angle, 0 to 1, every logged metre counting alike.

    Terzaghi weights that are cut at the blind angle give this share of P32: each weight makes good
    for the angle of its own fracture, and nothing makes good for orientations never counted.
    """
    grid = hemisphere_grid(20_000)
    height = density.log_density(grid)
    weights = np.exp(height - height.max())
    above = sum(
        length * float(weights @ (np.abs(grid @ line) >= lines.smallest_cosine))
        for line, length in zip(lines.directions, lines.lengths_m, strict=True)
    )
    return above / (lines.total_m * float(weights.sum()))
