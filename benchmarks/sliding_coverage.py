"""How often the interval of a probability of sliding holds that of the true rock.

    python benchmarks/sliding_coverage.py [INVESTIGATIONS] [FIRST_SEED]

Investigations are simulated by `js.simulate_site`, which meets fractures one by one and knows no
exposure, in rock of known sets, and analysed as a user would, with the number and the shapes of the
sets unknown. The probability of sliding is the share of planes steeper than 35° whose dip direction
lies within 20° of that of the face, of one set (the one nearest the true set), and of all fractures of
the rock by area; in the true rock it is counted over 200,000 planes drawn by numpy alone. Its 5 to 95 %
interval is that of `js.design.estimate` over rocks drawn from the posterior.

Rocks: "plain" (three sets, three holes), "few" (two sets, 25 m of hole, about 25 fractures a set),
"steep" (the sliding set nearly along one of two holes), "uneven" (each hole meets each set with a P32
times a gamma variable of coefficient of variation 0.5).
"""

from __future__ import annotations

import sys
from collections import defaultdict

import numpy as np
import pandas as pd

import jointstats as js

FACE_DEG, FRICTION_DEG, HELD_DEG = 150.0, 35.0, 20.0
ROCKS, PLANES = 150, 1500
#: Sets (dip, dip direction, κ, P32; the first one slides) and holes (trend, plunge, length).
CASES = {
    "plain": ([(55, 150, 25, 1.2), (78, 20, 30, 0.8), (12, 300, 50, 0.6)],
              [(0, 90, 60), (315, 55, 50), (200, 50, 50)]),
    "few": ([(50, 145, 20, 1.4), (75, 250, 25, 1.4)], [(0, 90, 25), (90, 45, 25)]),
    "steep": ([(70, 150, 30, 1.0), (20, 330, 30, 1.0)], [(150, 75, 60), (60, 60, 40)]),
    "uneven": ([(55, 150, 25, 1.2), (78, 20, 30, 0.8), (12, 300, 50, 0.6)],
               [(0, 90, 50), (315, 55, 50), (200, 50, 50), (100, 60, 50)]),
}
BACKGROUND = 0.1


def free(poles: np.ndarray) -> np.ndarray:
    """Which planes are free to slide."""
    dip, direction = js.dip_from_poles(poles)
    turn = np.abs((direction - FACE_DEG + 180.0) % 360.0 - 180.0)
    return (dip > FRICTION_DEG) & (turn < HELD_DEG)


def drawn(mean: np.ndarray, kappa: float, n: int, rng: np.random.Generator) -> np.ndarray:
    """Axes of a Fisher set, by inversion (Fisher, Lewis & Willcox 1981; from memory)."""
    drop = -np.log1p(rng.random(n) * np.expm1(-2.0 * kappa)) / kappa
    across, phi = np.sqrt(drop * (2.0 - drop)), rng.uniform(0, 2 * np.pi, n)
    side = np.cross(mean, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    up = np.cross(mean, side)
    return ((1 - drop)[:, None] * mean + (across * np.cos(phi))[:, None] * side
            + (across * np.sin(phi))[:, None] * up)


def truth(sets: list[tuple[float, float, float, float]]) -> tuple[float, float]:
    """Share of the first set, and of all fractures by area, that is free to slide."""
    rng = np.random.default_rng(1)
    shares = [free(drawn(js.poles_from_dip(dip, way)[0], k, 200_000, rng)).mean()
              for dip, way, k, _ in sets]
    shares.append(free(rng.normal(size=(200_000, 3))).mean())
    areas = np.array([one[3] for one in sets] + [BACKGROUND])
    return float(shares[0]), float(areas @ shares / areas.sum())


def site_of(name: str, seed: int) -> js.Site:
    """A simulated investigation."""
    sets, holes = CASES[name]
    if name != "uneven":
        return js.simulate_site(sets, holes, background_per_m=BACKGROUND, random_state=seed)
    rng, tables, rows = np.random.default_rng([seed, 7]), [], []
    for number, hole in enumerate(holes):
        effects = rng.gamma(4.0, 0.25, len(sets))
        own = [(*one[:3], one[3] * e) for one, e in zip(sets, effects, strict=True)]
        part = js.simulate_site(own, [hole], background_per_m=BACKGROUND,
                                random_state=int(rng.integers(2**31)))
        tables.append(part.fractures.assign(hole=f"H{number}"))
        rows.append((f"H{number}", hole[2], hole[0], hole[1]))
    columns = ["hole", "length_m", "trend_deg", "plunge_deg"]
    return js.Site.from_frames(holes=pd.DataFrame(rows, columns=columns), fractures=pd.concat(
        tables, ignore_index=True)[["hole", "depth_m", "dip_deg", "dip_direction_deg"]])


def intervals(name: str, seed: int) -> list[tuple[float, float]]:
    """90 % intervals of the share of the sliding set and of all fractures."""
    result = js.analyse(site_of(name, seed), domains="none")
    mean = js.poles_from_dip(*CASES[name][0][0][:2])[0]
    placed = [one for one in result.sets if one.mean is not None]
    near = min(placed, key=lambda one: js.axis_angles_deg(one.mean, mean)[0]).name
    rocks = result.draws(ROCKS, seed)

    def of_set(rock: js.fit.NamedRock) -> float | None:
        one = rock.find(near)
        return None if one is None else float(free(one.density.sample(PLANES, 1)).mean())

    def of_all(rock: js.fit.NamedRock) -> float:
        shares = [free(one.density.sample(PLANES, 1)).mean() for one in rock.sets]
        shares.append(free(js.sphere.AxialFisher([0, 0, 1], 0.0).rvs(PLANES, 1)).mean())
        areas = np.append(rock.intensities, rock.background_per_m)
        return float(areas @ shares / areas.sum())

    found = [js.design.estimate(one, rocks, confidence=0.9) for one in (of_set, of_all)]
    return [(float(one.low), float(one.high)) for one in found]


def main() -> None:
    """Print one line an investigation, then the table."""
    number, first = ([int(one) for one in sys.argv[1:]] + [50, 0])[:2]
    true = {name: truth(sets) for name, (sets, _) in CASES.items()}
    held: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for seed in range(first, first + number):
        for name in CASES:
            for about, value, (low, high) in zip(
                ("of the set", "of all"), true[name], intervals(name, seed), strict=True
            ):
                held[name, about].append(low <= value <= high)
                print(f"# {name},{about},{seed},{value:.4f},{low:.4f},{high:.4f}", flush=True)
    print("| rock | share | n | held by 90 % intervals | standard error |\n| --- | --- | --- | --- | --- |")
    for (name, about), one in held.items():
        share = np.mean(one)
        error = np.sqrt(share * (1 - share) / len(one))
        print(f"| {name} | {about} | {len(one)} | {share:.3f} | {error:.3f} |")


if __name__ == "__main__":
    main()
