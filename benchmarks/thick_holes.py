"""P32 and size of discs in cylinders: brute force against the exposure of a thick hole.

Discs of one radius, of two sets and of any orientation, are thrown into rock about three holes of
200 mm; those that meet a cylinder are logged, with whether their trace is whole. Each site is analysed
by the line, with the radius given, and with the radius from the traces. Prints a table by ratio of radii.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
import pandas as pd

import jointstats as js
from jointstats.sphere.axes import frame_about
from tests.observed.discs import discs_met

SETS = ((40.0, 90.0, 40.0, 1.0), (75.0, 200.0, 25.0, 0.7))
HOLES = ((0.0, 90.0), (300.0, 50.0), (120.0, 45.0))
BORE, BACKGROUND, FRACTURES = 0.1, 0.15, 220


def disc_site(radius: float, seed: int) -> js.Site:
    """A site of discs, with lengths of hole that meet some 220 fractures."""
    random = np.random.default_rng(seed)
    length = FRACTURES / 3.0 / (0.6 * 1.85 * (1.0 + BORE / radius) ** 2)
    base = js.simulate_site(holes=[(*one, length) for one in HOLES], random_state=seed)
    tables = []
    for hole in base.holes:
        frame = np.array(frame_about(hole.path.direction(0.0)))
        for p32, draw in _sets(random):
            mean = p32 / (np.pi * radius**2) * 4.0 * (radius + BORE) ** 2 * length
            number = random.poisson(mean)
            poles = draw(number)
            met, whole, _ = discs_met(poles @ frame.T, np.full(number, radius), BORE, random)
            dip, direction = js.dip_from_poles(poles[met])
            traces = np.where(whole[met], "whole", "partial")
            depth = random.uniform(0.0, length, int(met.sum()))
            columns = {"hole": hole.name, "method": "image", "depth_m": depth, "dip_deg": dip}
            rest = {"dip_direction_deg": direction, "wall_trace": traces}
            tables.append(pd.DataFrame(columns | rest))
    holes = tuple(replace(one, diameter_mm=2000 * BORE) for one in base.holes)
    return replace(base, holes=holes, fractures=pd.concat(tables, ignore_index=True))


def _sets(random: np.random.Generator) -> list:
    drawn = []
    for dip, direction, kappa, p32 in SETS:
        axis = js.sphere.AxialFisher(js.poles_from_dip(dip, direction)[0], kappa)
        drawn.append((p32, lambda n, axis=axis: axis.rvs(n, random_state=random)))
    drawn.append((BACKGROUND, lambda n: random.normal(size=(n, 3)) if n else np.empty((0, 3))))
    unit = drawn[-1][1]
    drawn[-1] = (BACKGROUND, lambda n: _unit(unit(n)))
    return drawn


def _unit(rows: np.ndarray) -> np.ndarray:
    return rows / np.linalg.norm(rows, axis=1, keepdims=True) if len(rows) else rows


def main(sites: int, first: int) -> None:
    """Print the table."""
    print("r/rho  by       P32 over truth (s.e.)  cover  radius over truth (s.e.)  cover")
    for ratio in (3.0, 5.0, 10.0, 50.0):
        radius = ratio * BORE
        found: dict[str, list] = {"line": [], "given": [], "traces": []}
        sizes = []
        for seed in range(first, first + sites):
            site = disc_site(radius, seed)
            plain = replace(site, fractures=site.fractures.drop(columns="wall_trace"))
            given = replace(site.settings, fracture_radius_m=radius)
            for name, one in (
                ("line", plain),
                ("given", replace(plain, settings=given)),
                ("traces", site),
            ):
                result = js.analyse(one, n_sets=2, shape="round", domains="none")
                for a in result.sets:
                    true = min(SETS, key=lambda s: js.axis_angles_deg(a.mean, js.poles_from_dip(*s[:2]))[0])
                    low, high = a.p32_even_interval
                    found[name].append((a.p32_per_m / true[3], low < true[3] < high))
                if name == "traces" and result.observation.size is not None:
                    size = result.observation.size
                    low, high = size.interval_m
                    sizes.append((size.radius_m / radius, low < radius < (high or np.inf)))
        for name, rows in found.items():
            values = np.array(rows, dtype=float)
            text = f"{values[:, 0].mean():.3f} ({values[:, 0].std() / np.sqrt(len(values)):.3f})"
            line = f"{ratio:5g}  {name:7}  {text:21}  {values[:, 1].mean():.3f}"
            if name == "traces" and sizes:
                s = np.array(sizes, dtype=float)
                line += f"  {s[:, 0].mean():.3f} ({s[:, 0].std() / np.sqrt(len(s)):.3f}), {len(s)} sites"
                line += f"  {s[:, 1].mean():.3f}"
            print(line, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, int(sys.argv[2]) if len(sys.argv) > 2 else 1000)
