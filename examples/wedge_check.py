"""Can planes slide, or wedges, out of a slope? A kinematic screening by Monte Carlo.

    python examples/wedge_check.py

Prints, for the invented dam site and one cut slope, how many drawn planes of each set, and how many
lines of intersection of each pair of sets, are free to slide by the textbook conditions.
"""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import jointstats as js

Array = NDArray[np.float64]

SITE = Path(__file__).resolve().parent / "dam_site"
FACE_DIP_DEG, FACE_DIP_DIRECTION_DEG = 65.0, 150.0
FRICTION_DEG = 30.0
#: A plane farther off than this from the dip direction of the face is held at its sides and does
#: not slide out as a whole. Common practice, no source.
HELD_BEYOND_DEG = 20.0
DRAWS = 5000

ASSUMPTIONS = """\
Assumptions: sliding by friction alone on planes without cohesion, all of one friction angle; no
water, no earthquake, no load, no support; a plain face with a level top; planes long enough to cut
right through, each drawn independently of the others; round sets, drawn with their intervals.
Cautions: a screening of geometry only. A share is not a probability of failure: it knows nothing
of the size, number or position of blocks, nor of toppling, flexure or failure through the rock, and
a wedge may also slide on one of its planes alone. Water can bring down a slope that passes. Sets
that the holes could not see are not in it. Local codes and the judgement of a licensed engineer
decide."""


def apparent_dip_deg(dip_deg: float, dip_direction_deg: float, trend_deg: Array) -> Array:
    """Dip of a face along vertical sections of given trends; below zero where it dips away."""
    turn = np.radians(trend_deg - dip_direction_deg)
    return np.degrees(np.arctan(np.tan(np.radians(dip_deg)) * np.cos(turn)))


def slides(
    steepness_deg: Array,
    trend_deg: Array,
    face: tuple[float, float] = (FACE_DIP_DEG, FACE_DIP_DIRECTION_DEG),
    friction_deg: float = FRICTION_DEG,
) -> Array:
    """True where a line of sliding is steeper than friction and comes out of the face."""
    return (steepness_deg > friction_deg) & (steepness_deg < apparent_dip_deg(*face, trend_deg))


def planar_share(poles: Array, **slope: object) -> float:
    """Share of planes free to slide down their dip, that strike near enough along the face to come out."""
    dip, direction = js.dip_from_poles(poles)
    face = slope.get("face", (FACE_DIP_DEG, FACE_DIP_DIRECTION_DEG))
    turn = np.abs((direction - face[1] + 180.0) % 360.0 - 180.0)
    return float(np.mean(slides(dip, direction, **slope) & (turn <= HELD_BEYOND_DEG)))


def wedge_share(poles_a: Array, poles_b: Array, **slope: object) -> float:
    """Share of pairs of planes whose line of intersection is free to slide along."""
    trend, plunge = js.trend_from_lines(js.design.intersections_of_planes(poles_a, poles_b))
    return float(np.mean(slides(plunge, trend, **slope)))


def main() -> None:
    """Print the shares with what they rest on."""
    result = js.analyse(js.read_site(SITE), random_state=0)
    generator = np.random.default_rng(0)
    columns = ["pole_east", "pole_north", "pole_up"]
    drawn = {
        one.name: one.sample(DRAWS, generator, uncertain=True)[columns].to_numpy()
        for one in result.sets
    }
    print(
        f"Face {FACE_DIP_DEG:.0f}/{FACE_DIP_DIRECTION_DEG:03.0f}, "
        f"friction {FRICTION_DEG:.0f} deg, {DRAWS} draws a set\n"
    )
    print(f"One plane alone (dip direction within {HELD_BEYOND_DEG:.0f} deg of that of the face):")
    for name, poles in drawn.items():
        print(f"  {name}: {planar_share(poles) * DRAWS:.0f} of {DRAWS} planes are free to slide")
    print("\nTwo planes, along the line in which they meet:")
    for a, b in combinations(result.sets, 2):
        line = js.design.intersection_lines(a, b, n=DRAWS, random_state=generator, uncertain=True)
        share = wedge_share(drawn[a.name], drawn[b.name])
        print(
            f"  {a.name} x {b.name} (mean {line.trend_deg:03.0f}/{line.plunge_deg:02.0f}, "
            f"95 % within {line.half_angle_95_deg:.0f} deg): "
            f"{share * DRAWS:.0f} of {DRAWS} lines are free to slide"
        )
    print(f"\n{ASSUMPTIONS}\n")
    for caution in result.cautions:
        print(f"Caution, {caution.about}: {caution.text}")
    print(result.notice)


if __name__ == "__main__":
    main()
