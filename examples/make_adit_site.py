"""Make the invented investigation in examples/adit_site, with its truth beside it.

Rock that exists nowhere, round an adit: three joint sets and random fractures. Two holes were drilled from the adit, each
logged on core and on images of the wall; the core of K2 was spun below 22 m, so that its fractures have α
and no β there. A scanline runs along the adit, and a window of its wall was mapped. Run it to write the tables again; the
seed fixes every number.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.special import ndtri

import jointstats as js

SEED = 31
HERE = Path(__file__).resolve().parent / "adit_site"

#: Dip, dip direction, κ, P32 in 1/m.
SETS = {
    "level joints": (18.0, 205.0, 40.0, 0.80),
    "steep joints, along the valley": (76.0, 65.0, 35.0, 1.10),
    "steep joints, across the valley": (68.0, 330.0, 30.0, 0.70),
}
BACKGROUND_PER_M = 0.15
#: Share of fractures that each method sees, and its standard error a direction.
SEEN = {"image": 0.85, "core": 0.90}
ERROR_DEG, DEPTH_ERROR_M = 1.5, 0.01
#: Trend, plunge and length of the holes, and the depth below which the core of K2 was spun.
HOLES = {"K1": (245.0, 50.0, 45.0), "K2": (150.0, 48.0, 45.0)}
SPUN_BELOW_M = 22.0
ADIT_TREND_DEG, SCANLINE_M = 112.0, 26.0
#: The window on the adit's wall: width, height; mean radius of the fractures, lognormal with a c.v. of .7.
WINDOW_M, RADIUS_M, VARIATION = (20.0, 2.4), 0.8, 0.7


def rock() -> list[tuple[js.sphere.AxialFisher, float]]:
    """The sets, for the simulation."""
    return [
        (js.sphere.AxialFisher(js.poles_from_dip(dip, direction)[0], kappa), p32)
        for dip, direction, kappa, p32 in SETS.values()
    ]


def met_along(path: js.HolePath, length_m: float, rng: np.random.Generator) -> pd.DataFrame:
    """Every fracture that a line meets, in its true attitude."""
    return js.borehole.simulate_fractures(
        path, [(0.0, length_m)], rock(), background_per_m=BACKGROUND_PER_M, random_state=rng
    )


def read(table: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Attitudes and depths as they are read."""
    poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    poles = poles + np.radians(ERROR_DEG) * rng.normal(size=poles.shape)
    dip, direction = js.dip_from_poles(poles)
    return table.assign(dip_deg=dip.round(1), dip_direction_deg=direction.round(1) % 360)


def core_angles(table: pd.DataFrame, path: js.HolePath) -> tuple[np.ndarray, np.ndarray]:
    """Alpha and beta of each plane, degrees, the reference line at the low side."""
    poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    axis = path.direction(table["depth_m"].to_numpy())
    poles *= np.sign((poles * axis).sum(axis=1, keepdims=True))  # the end that looks down the hole
    sine = (poles * axis).sum(axis=1)
    long_axis = -(poles - sine[:, None] * axis)
    low = np.array([0.0, 0.0, -1.0]) + axis[:, 2:3] * axis
    angle = np.arctan2((np.cross(low, long_axis) * axis).sum(axis=1), (low * long_axis).sum(axis=1))
    return np.degrees(np.arcsin(np.clip(sine, 0.0, 1.0))), np.degrees(angle) % 360


def logs_of(name: str, rng: np.random.Generator) -> pd.DataFrame:
    """Both logs of a hole: each sees its share of the same fractures, and reads them by itself."""
    trend, plunge, length = HOLES[name]
    path = js.HolePath([0.0], [trend], [plunge])
    whole, parts = met_along(path, length, rng), []
    for method, share in SEEN.items():
        own = read(whole[rng.random(len(whole)) < share].reset_index(drop=True), rng)
        depth = own["depth_m"] + DEPTH_ERROR_M * rng.normal(size=len(own))
        own["depth_m"] = depth.clip(0.0, length).round(3)
        if method == "core":
            alpha, beta = core_angles(own, path)
            spun = (name == "K2") & (own["depth_m"] > SPUN_BELOW_M)
            own = own.assign(alpha_deg=alpha.round(1), beta_deg=(beta.round(1) % 360))
            own["beta_deg"] = own["beta_deg"].mask(spun)
            own[["dip_deg", "dip_direction_deg"]] = np.nan
        parts.append(own.assign(hole=name, method=method))
    return pd.concat(parts).sort_values("depth_m", kind="stable")


def scanline(rng: np.random.Generator) -> pd.DataFrame:
    """The log of the scanline."""
    path = js.HolePath([0.0], [ADIT_TREND_DEG], [0.0])
    met = met_along(path, SCANLINE_M, rng)
    return read(met, rng).assign(hole="S1", method="scanline", depth_m=met["depth_m"].round(2))


def mapped_window(rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The window on the wall of the adit, and its traces; three of them could not be oriented."""
    direction = ADIT_TREND_DEG + 90.0
    face = js.faces.Face.rectangle("W1", 90.0, direction, *WINDOW_M)
    spread = np.sqrt(np.log1p(VARIATION**2))
    shares = (np.arange(2000) + 0.5) / 2000
    radii = RADIUS_M * np.exp(spread * ndtri(shares) - 0.5 * spread**2)
    made = js.faces.simulate_face_traces(
        face, rock(), radii, background_per_m=BACKGROUND_PER_M, random_state=rng
    )
    made = read(made, rng).sample(frac=1.0, random_state=rng).reset_index(drop=True)
    lost = made.index[:3]
    made.loc[lost, ["dip_deg", "dip_direction_deg"]] = np.nan
    ends = ["from_across_m", "from_up_m", "to_across_m", "to_up_m"]
    traces = made[[*ends, "dip_deg", "dip_direction_deg"]].round(2)
    traces = traces[(made["length_m"] > 0.02)]  # shorter ones have no length on the plan
    traces.insert(0, "face", "W1")
    window = dict(face="W1", dip_deg=90, dip_direction_deg=direction)
    window |= dict(width_m=WINDOW_M[0], height_m=WINDOW_M[1])
    window |= dict(easting_m=512.0, northing_m=231.0, elevation_m=140.5)
    return pd.DataFrame([window]), traces


def lines() -> tuple[pd.DataFrame, pd.DataFrame]:
    """The holes and the scanline, and what was logged of them."""
    at = dict(easting_m=505.0, northing_m=234.0, elevation_m=140.0)
    holes = [
        dict(hole=name, kind="borehole", **at, length_m=length, trend_deg=trend, plunge_deg=plunge)
        for name, (trend, plunge, length) in HOLES.items()
    ]
    holes.append(
        dict(hole="S1", kind="scanline", **at, length_m=SCANLINE_M)
        | dict(trend_deg=ADIT_TREND_DEG, plunge_deg=0.0)
    )
    logged = [
        dict(hole=name, from_m=0.0, to_m=hole[2], method=method)
        for name, hole in HOLES.items()
        for method in SEEN
    ]
    logged.append(dict(hole="S1", from_m=0.0, to_m=SCANLINE_M, method="scanline"))
    return pd.DataFrame(holes), pd.DataFrame(logged)


def write_tables() -> None:
    """Write the tables, the settings and the truth."""
    rng = np.random.default_rng(SEED)
    HERE.mkdir(exist_ok=True)
    holes, logged = lines()
    fractures = pd.concat([*(logs_of(name, rng) for name in HOLES), scanline(rng)])
    columns = ["hole", "depth_m", "method", "dip_deg", "dip_direction_deg", "alpha_deg", "beta_deg"]
    faces, traces = mapped_window(rng)
    tables = {
        "holes": holes,
        "logged": logged,
        "fractures": fractures[columns].assign(type="joint"),
        "faces": faces,
        "face_traces": traces,
    }
    for name, table in tables.items():
        table.to_csv(HERE / f"{name}.csv", index=False, lineterminator="\n")
    (HERE / "site.toml").write_text(
        'name = "Invented adit, two holes and a wall"\nnorth = "true"\nreference = "low side"\n'
        "blind_angle_deg = 10\n",
        encoding="utf-8",
    )
    truth = {
        "seed": SEED,
        "background_p32_per_m": BACKGROUND_PER_M,
        "seen_share": SEEN,
        "mean_radius_m": RADIUS_M,
        "sets": [
            dict(name=name, dip_deg=dip, dip_direction_deg=direction, kappa=kappa, p32_per_m=p32)
            for name, (dip, direction, kappa, p32) in SETS.items()
        ],
    }
    (HERE / "truth.json").write_text(json.dumps(truth, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_tables()
