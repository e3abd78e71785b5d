"""Can planes slide, or wedges, out of a slope? A kinematic screening by Monte Carlo.

    python examples/wedge_check.py

Prints, for the invented dam site and one cut slope, which share of the planes of each set, and of the
lines of intersection of each pair of sets, is free to slide by the textbook conditions, and how far
the investigation leaves that share open.
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
DRAWS, ROCKS = 2000, 200

ASSUMPTIONS = """\
Assumptions: sliding by friction alone on planes without cohesion, all of one friction angle; no
water, no earthquake, no load, no support; a plain face with a level top; planes long enough to cut
right through, each drawn independently of the others. The share is over the planes of one rock; the
interval is over 200 rocks that the logs leave possible.
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


def of_set(rock: js.fit.NamedRock, name: str) -> float | None:
    """Share of the planes of one set that are free to slide; None where the rock lacks the set."""
    one = rock.find(name)
    return None if one is None else planar_share(one.density.sample(DRAWS, 1))


def of_pair(rock: js.fit.NamedRock, a: str, b: str) -> float | None:
    """The same of the lines in which two sets meet."""
    pair = rock.find(a), rock.find(b)
    if None in pair:
        return None
    return wedge_share(*(one.density.sample(DRAWS, seed) for seed, one in enumerate(pair)))


def main() -> None:
    """Print the shares with what they rest on."""
    result = js.analyse(js.read_site(SITE), random_state=0)
    rocks = result.draws(ROCKS)
    print(
        f"Face {FACE_DIP_DEG:.0f}/{FACE_DIP_DIRECTION_DEG:03.0f}, friction {FRICTION_DEG:.0f} deg; "
        f"{DRAWS} planes a set in each of {ROCKS} rocks, intervals of 90 %\n"
    )
    print(f"One plane alone (dip direction within {HELD_BEYOND_DEG:.0f} deg of that of the face):")
    names = [one.name for one in result.sets]
    for name in names:
        found = js.design.estimate(lambda rock, name=name: of_set(rock, name), rocks, confidence=0.9)
        print(f"  {name}: {told(found)} of the planes are free to slide")
    print("\nTwo planes, along the line in which they meet:")
    for a, b in combinations(names, 2):
        line = js.design.intersection_lines(rocks, a, b)
        found = js.design.estimate(lambda rock, a=a, b=b: of_pair(rock, a, b), rocks, confidence=0.9)
        print(
            f"  {a} x {b} (mean {line.trend_deg:03.0f}/{line.plunge_deg:02.0f} within "
            f"{line.line_cone_deg:.0f} deg): {told(found)} of the lines are free to slide"
        )
    print(f"\n{ASSUMPTIONS}\n")
    for caution in result.cautions:
        print(f"Caution, {caution.about}: {caution.text}")
    print(result.notice)


def told(found: js.design.Estimate) -> str:
    """A share with its interval, in percent."""
    value, low, high = (100 * float(one) for one in (found.estimate, *found.interval))
    return f"{value:.0f} % ({low:.0f} to {high:.0f})"


if __name__ == "__main__":
    main()
