"""What a mapped face gives in rock of discs whose truth is known: P32, its interval, trace length.

Discs of one set at random, on a vertical face of 50 traces or more; P32 by `p32_on_face`, mean length of
traces by `mean_trace_length`, whose truth is the mean chord: a plane meets discs in proportion to r, and cuts
chords of π r / 2 on average, so π/2 · E(r²) / E(r). Prints the table kept in mapped_faces.md.

    python benchmarks/mapped_faces.py [faces] [seed]
    python benchmarks/mapped_faces.py sites [sites] [first seed]

The second holds a face against three holes in the same rock: P32 of each set by fitted memberships, its cover,
and how often the test of a set falls below .05.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.stats import norm

import jointstats as js
from jointstats.borehole.simulate import SETS
from jointstats.sphere.axial_fisher import AxialFisher

SHARES = (np.arange(4000) + 0.5) / 4000


def lognormal(variation: float, mean_m: float = 1.0) -> np.ndarray:
    """Radii at equal shares of a lognormal law, metres."""
    spread = np.sqrt(np.log1p(variation**2))
    return mean_m * np.exp(spread * norm.ppf(SHARES) - 0.5 * spread**2)


def power_law(exponent: float, low_m: float = 0.4, high_m: float = 40.0) -> np.ndarray:
    """Radii at equal shares of a density that falls like r to the minus exponent, metres."""
    k = 1.0 - exponent
    return (low_m**k + SHARES * (high_m**k - low_m**k)) ** (1.0 / k)


#: Law of radii; angle of the set to the face; wanted number of traces.
CASES = (
    ("radius 1 m", np.array([1.0]), 90.0, 60),
    ("lognormal, c.v. 0.5", lognormal(0.5), 60.0, 60),
    ("lognormal, c.v. 1", lognormal(1.0), 90.0, 60),
    ("lognormal, c.v. 1", lognormal(1.0), 35.0, 60),
    ("lognormal, c.v. 1", lognormal(1.0), 35.0, 200),
    ("power law, 3", power_law(3.0), 60.0, 60),
    ("power law, 3.5", power_law(3.5), 60.0, 60),
    ("power law, 4", power_law(4.0), 60.0, 60),
)
KAPPA = 30.0


def case(radii: np.ndarray, angle_deg: float, wanted: int, faces: int, rng: np.random.Generator) -> dict:
    """Bias and cover of P32 and of mean trace length over many faces."""
    face = js.faces.Face.rectangle("F", 90.0, 0.0, 10.0, 4.0)
    # The face looks north; a vertical set turned by the angle from it.
    rock = AxialFisher(js.poles_from_dip(90.0, angle_deg)[0], KAPPA)
    trial = js.faces.simulate_face_traces(face, [(rock, 20.0)], radii, random_state=0)
    p32 = 20.0 * wanted / len(trial)
    chord = 0.5 * np.pi * (radii**2).mean() / radii.mean()
    found, held, counts, means, covered, pahl = [], [], [], [], [], []
    for _ in range(faces):
        traces = js.faces.simulate_face_traces(face, [(rock, p32)], radii, random_state=rng)
        poles = js.poles_from_dip(traces["dip_deg"], traces["dip_direction_deg"])
        one = js.faces.p32_on_face(face, traces["length_m"], poles)
        found.append(one.p32_per_m / p32)
        held.append(one.p32_interval[0] <= p32 <= one.p32_interval[1])
        counts.append(len(traces))
        size = js.faces.mean_trace_length(face, traces["length_m"], traces["ends_seen"], poles)
        means.append(size.mean_m / chord)
        pahl.append(size.pahl_m / chord)
        covered.append(size.mean_interval[0] <= chord <= size.mean_interval[1])
    return {
        "traces": np.mean(counts),
        "P32": np.mean(found),
        "s.e.": np.std(found) / np.sqrt(faces),
        "cover": np.mean(held),
        "length, median": np.median(means),
        "by counts, median": np.median(pahl),
        "cover of length": np.mean(covered),
    }


def main(faces: int = 2000, seed: int = 2) -> None:
    """Print the table."""
    print("| radii | angle to the face | traces | P32, found / true (s.e.) | cover | length (median) | by counts | cover |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for number, (name, radii, angle, wanted) in enumerate(CASES):
        row = case(radii, angle, wanted, faces, np.random.default_rng([seed, number]))
        print(
            f"| {name} | {angle:.0f}° | {row['traces']:.0f} | {row['P32']:.3f} ({row['s.e.']:.3f}) | "
            f"{100 * row['cover']:.1f} % | {row['length, median']:.2f} | "
            f"{row['by counts, median']:.2f} | {100 * row['cover of length']:.1f} % |",
            flush=True,
        )


def sites(number: int = 200, first: int = 100) -> None:
    """Print one line: P32 over the truth, cover, and the level of the test against the holes."""
    radii = lognormal(1.0, 0.8)[::2]
    rock = [(AxialFisher(js.poles_from_dip(d, a)[0], k), p32) for d, a, k, p32 in SETS]
    truth, p32 = js.poles_from_dip(*np.transpose(SETS)[:2]), np.array([one[3] for one in SETS])
    face = js.faces.Face.rectangle("A", 85.0, 60.0, 10.0, 5.0)
    window = dict(face="A", dip_deg=85.0, dip_direction_deg=60.0, width_m=10.0, height_m=5.0)
    found, held, tested = [], [], []
    for seed in range(first, first + number):
        made = js.faces.simulate_face_traces(
            face, rock, radii, background_per_m=0.1, random_state=seed
        )
        traces = made.drop(columns=["true_set", "whole_m"]).assign(face="A")
        tables = {"faces": pd.DataFrame([window]), "face_traces": traces}
        site = replace(js.simulate_site(random_state=seed), tables=tables)
        result = js.analyse(site, n_sets=3, shape="round", domains="none")
        for one, of_holes in zip(result.faces[0].sets, result.sets, strict=False):
            true = p32[np.argmax(np.abs(truth @ of_holes.mean))]
            low, high = one.on_face.p32_interval
            found.append(one.on_face.p32_per_m / true)
            held.append(low <= true <= high)
            tested.append(one.pvalue < 0.05)
    error = np.std(found) / np.sqrt(len(found))
    print(
        f"{len(found)} sets: P32 over truth {np.mean(found):.3f} ({error:.3f}), cover {100 * np.mean(held):.1f} %, "
        f"tests below .05 {100 * np.mean(tested):.1f} %"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["sites"]:
        sites(*(int(word) for word in sys.argv[2:4]))
    else:
        main(*(int(word) for word in sys.argv[1:3]))
