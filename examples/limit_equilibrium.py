"""Sliding of a slope, of wedges and of a dam, toppling, and blocks in a tunnel roof, by textbook equilibrium.

    python examples/limit_equilibrium.py

Prints, for the invented dam site, which share of the planes of each set, or of the blocks that sets
bound, is less stable than its own strength, and how far the investigation leaves that share open. The
functions are plain statics, to be read and changed; strength, water and geometry are invented here.
"""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls
from wedge_check import HELD_BEYOND_DEG, slides

import jointstats as js

Array = NDArray[np.float64]

SITE = Path(__file__).resolve().parent / "dam_site"
FACE, HEIGHT_M = (65.0, 150.0), 20.0
COHESION_KPA, FRICTION_DEG = 15.0, 30.0
ROCK_KN_M3, WATER_KN_M3 = 26.0, 9.81
#: Planes steeper than this along the river are left to an analysis with the rock above them.
LEVEL_DEG = 20.0
#: Dam of triangular section: height, width of its base, direction in which the water thrusts it.
DAM_M, BASE_M, DOWNSTREAM_DEG, CONCRETE_KN_M3 = 30.0, 24.0, 330.0, 24.0
DRAWS, ROCKS = 100, 60

CAUTIONS = """\
Assumptions: rigid blocks, planes that cut right through, each of one cohesion and friction angle; water at
the levels stated and no other, no earthquake, no support, no load but weight and water; each plane drawn
independently. The share is over the planes of one rock; the interval is over rocks that the logs leave possible.
Cautions: a share is not a probability of failure: it knows nothing of size, number or place of blocks, nor
of failure through the rock. Sets that the holes could not see are not in it. Strength and water are invented
and must be measured. Local codes and the judgement of a licensed engineer decide."""


def planar_safety(
    dip_deg: Array, face_dip_deg: float, height_m: float, *, cohesion_kpa: float, friction_deg: float,
    crack_m: float = 0.0, behind_m: float = 0.0, water_m: float = 0.0,
) -> Array:
    """Factor of safety of a block on a plane that strikes along the face and comes out at its toe.

    A vertical tension crack, `crack_m` deep and `behind_m` behind the crest of a level top, holds water
    to `water_m`, which drains along the plane (Hoek & Bray, Rock Slope Engineering, chapter 7; Wyllie &
    Mah 2004, chapter 6).
    """
    plane, face = np.radians(dip_deg), np.radians(face_dip_deg)
    area = (height_m - crack_m) / np.sin(plane)
    flat = 1.0 / np.tan(face)
    section = (1.0 - flat * np.tan(plane)) * (behind_m * height_m + 0.5 * height_m**2 * flat)
    weight = ROCK_KN_M3 * (section - 0.5 * behind_m**2 * np.tan(plane))
    uplift, thrust = 0.5 * WATER_KN_M3 * water_m * area, 0.5 * WATER_KN_M3 * water_m**2
    normal = weight * np.cos(plane) - uplift - thrust * np.sin(plane)
    driving = weight * np.sin(plane) + thrust * np.cos(plane)
    holding = cohesion_kpa * area + np.maximum(normal, 0.0) * np.tan(np.radians(friction_deg))
    return holding / driving


def block_safety(sides: Array, friction_deg: float) -> tuple[Array, float]:
    """Way of sliding (3,) and factor of safety of a block by friction alone, whatever its size.

    `sides` (m, 3): of each plane that it may slide on, the unit normal into the block. It slides along
    that way that leaves every plane alone and lies nearest to straight down: on two planes, on one, or
    on none where it falls (0). The forces of the planes are then those of least squares that push and
    never pull (Goodman & Shi 1985, Block theory, chapter on modes of sliding; for two planes the wedge
    of Hoek & Bray, F = A tan φa + B tan φb).
    """
    forces, left = nnls(sides.T, np.array([0.0, 0.0, 1.0]))
    way = sides.T @ forces - [0.0, 0.0, 1.0]
    return way, float(np.tan(np.radians(friction_deg)) * forces.sum() / left) if left > 1e-9 else np.inf


def wedge_safety(pole_a: Array, pole_b: Array, face: tuple[float, float], friction_deg: float) -> float:
    """The same of the wedge above two planes in a face; inf where it can't come out."""
    sides = np.where(np.array([[pole_a[2]], [pole_b[2]]]) < 0, -1.0, 1.0) * np.array([pole_a, pole_b])
    trend, plunge = js.trend_from_lines(js.design.intersections_of_planes(pole_a, pole_b))
    if not slides(plunge, trend, face, 0.0)[0]:
        return np.inf
    return block_safety(sides, friction_deg)[1]


def roof_safety(poles: Array, friction_deg: float) -> float:
    """The same of the block that three planes (3, 3) cut from a level roof: 0 where it falls.

    Of the eight pyramids that the planes bound, one opens downward alone: that of the three lines in
    which they meet. It is the block that can leave the roof.
    """
    lines = np.cross(poles[[1, 2, 0]], poles[[2, 0, 1]])
    lines *= np.where(lines[:, 2:] > 0, -1.0, 1.0)
    sides = poles * np.sign((poles * lines).sum(axis=1))[:, np.newaxis]
    return block_safety(sides, friction_deg)[1]


def topples(dip_deg: Array, face_dip_deg: float, friction_deg: float) -> Array:
    """Whether layers that dip into the slope can slip past one another and bend over.

    Their normals must plunge less steeply than the face by the friction angle: Goodman & Bray 1976.
    """
    return (90.0 - dip_deg) <= face_dip_deg - friction_deg


def dam_safety(
    dip_deg: Array, *, height_m: float, base_m: float, cohesion_kpa: float, friction_deg: float
) -> Array:
    """Factor of safety of a full dam of triangular section on planes below its base; (n,).

    `dip_deg`: apparent dip downstream, below zero upstream. Uplift falls from the head at the heel to
    nothing at the toe, with no drain; forces are resolved along and square to the plane, of the length
    of the base (the general equation of shear friction, as dam manuals have it; from memory). The
    rock between base and plane is left out, so it is for planes that are nearly level.
    """
    dip = np.radians(dip_deg)
    weight = 0.5 * CONCRETE_KN_M3 * height_m * base_m
    thrust = 0.5 * WATER_KN_M3 * height_m**2
    length = base_m / np.cos(dip)
    uplift = 0.5 * WATER_KN_M3 * height_m * length
    normal = weight * np.cos(dip) - thrust * np.sin(dip) - uplift
    driving = weight * np.sin(dip) + thrust * np.cos(dip)
    holding = cohesion_kpa * length + np.maximum(normal, 0.0) * np.tan(np.radians(friction_deg))
    return np.where(driving > 0, holding / np.maximum(driving, 1e-9), np.inf)


def apparent(poles: Array, trend_deg: float) -> Array:
    """Apparent dip of planes (n,) along a section, degrees; below zero where they dip the other way."""
    dip, direction = js.dip_from_poles(poles)
    return np.degrees(np.arctan(np.tan(np.radians(dip)) * np.cos(np.radians(direction - trend_deg))))


def drawn(rock: js.fit.NamedRock, *names: str) -> list[Array] | None:
    """Planes of some sets of a rock, (n, 3) each; None where it lacks one of them."""
    sets = [rock.find(name) for name in names]
    return None if None in sets else [one.density.sample(DRAWS, k) for k, one in enumerate(sets)]


def of_planes(rock: js.fit.NamedRock, name: str) -> list[float] | None:
    """Shares of the planes of a set: unsafe in the face dry, and with water; toppling; unsafe below the dam."""
    found = drawn(rock, name)
    if found is None:
        return None
    dip, direction = js.dip_from_poles(found[0])
    off = np.abs((direction - FACE[1] + 180.0) % 360.0 - 180.0)
    out = slides(dip, direction, FACE, 0.0) & (off <= HELD_BEYOND_DEG)
    strength = {"cohesion_kpa": COHESION_KPA, "friction_deg": FRICTION_DEG}
    crack = {"crack_m": 0.2 * HEIGHT_M, "behind_m": 0.0}
    unsafe = [
        out & (planar_safety(dip, FACE[0], HEIGHT_M, **crack, water_m=water, **strength) < 1.0)
        for water in (0.0, 0.2 * HEIGHT_M)
    ]
    into = off >= 180.0 - HELD_BEYOND_DEG
    along = apparent(found[0], DOWNSTREAM_DEG)
    below = dam_safety(along, height_m=DAM_M, base_m=BASE_M, **strength) < 1.0
    every = [*unsafe, into & topples(dip, FACE[0], FRICTION_DEG), below & (np.abs(along) <= LEVEL_DEG)]
    return [float(np.mean(one)) for one in every]


def of_pair(rock: js.fit.NamedRock, a: str, b: str) -> float | None:
    """Share of wedges of two sets that friction alone does not hold in the face."""
    found = drawn(rock, a, b)
    if found is None:
        return None
    return float(np.mean([wedge_safety(*pair, FACE, FRICTION_DEG) < 1.0 for pair in zip(*found, strict=True)]))


def of_three(rock: js.fit.NamedRock, *names: str) -> list[float] | None:
    """Shares of roof blocks of three sets that fall, and that slide."""
    found = drawn(rock, *names)
    if found is None:
        return None
    safety = np.array([roof_safety(np.array(three), FRICTION_DEG) for three in zip(*found, strict=True)])
    return [float(np.mean(safety == 0.0)), float(np.mean((safety > 0.0) & (safety < 1.0)))]


def told(found: js.design.Estimate, k: int | tuple[()] = ()) -> str:
    """A share with its interval, in percent."""
    value, low, high = (100 * float(one[k]) for one in (found.estimate, *found.interval))
    return f"{value:.0f} % ({low:.0f} to {high:.0f})"


def main() -> None:
    """Print the shares with what they rest on."""
    result = js.analyse(js.read_site(SITE), random_state=0)
    rocks, names = result.draws(ROCKS), [one.name for one in result.sets]
    print(
        f"Face {FACE[0]:.0f}/{FACE[1]:03.0f}, {HEIGHT_M:.0f} m high; cohesion {COHESION_KPA:.0f} kPa, friction "
        f"{FRICTION_DEG:.0f} deg; dam {DAM_M:.0f} m high on {BASE_M:.0f} m; {DRAWS} planes a set in each of "
        f"{ROCKS} rocks, intervals of 90 %. Factor of safety below 1, of all planes, wedges or blocks:\n"
    )
    for name in names:
        found = js.design.estimate(lambda rock, name=name: of_planes(rock, name), rocks, confidence=0.9)
        dry, wet, over, below = (told(found, k) for k in range(4))
        print(f"{name}: planes of the face {dry} dry, {wet} with a crack full of water; toppling {over};")
        print(f"    sliding of the dam on planes within {LEVEL_DEG:.0f} deg of level {below}")
    for pair in combinations(names, 2):
        found = js.design.estimate(lambda rock, pair=pair: of_pair(rock, *pair), rocks, confidence=0.9)
        print(f"{' x '.join(pair)}: wedges of the face by friction alone {told(found)}")
    for three in combinations(names, 3):
        found = js.design.estimate(lambda rock, three=three: of_three(rock, *three), rocks, confidence=0.9)
        print(f"{' x '.join(three)}: blocks of a level roof fall {told(found, 0)}, slide {told(found, 1)}")
    print(f"\n{CAUTIONS}\n")
    for caution in result.cautions:
        print(f"Caution, {caution.about}: {caution.text}")
    print(result.notice)


if __name__ == "__main__":
    main()
