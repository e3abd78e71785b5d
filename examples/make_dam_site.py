"""Make the invented investigation in examples/dam_site, with its truth beside it.

A dam foundation that exists nowhere: three joint sets and a background, met by four holes. D1 is
vertical, D2 and D3 are inclined, D4 runs nearly level from an adit. D3 was read on core (α and β,
reference line at the low side) and lost core from 31.0 to 34.5 m; the others were read on images
of the hole wall. Run it to write the tables again; the seed fixes every number.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd

import jointstats as js

SEED = 20
HERE = Path(__file__).resolve().parent / "dam_site"

#: Dip, dip direction, κ, P32 in 1/m.
SETS = {
    "foliation joints": (34.0, 152.0, 45.0, 1.30),
    "steep joints, river side": (81.0, 58.0, 32.0, 0.90),
    "steep joints, cross valley": (74.0, 318.0, 28.0, 0.65),
}
BACKGROUND_PER_M = 0.20
READING_ERROR_DEG = 2.0

#: Hole: collar, length, diameter, survey (depth, trend, plunge), method, logged lengths.
HOLES = {
    "D1": ((1210.0, 840.0, 312.5), 60.0, 76, [(0, 0.0, 90.0)], "image", [(4.0, 60.0)]),
    "D2": (
        (1188.0, 861.0, 315.0),
        70.0,
        76,
        [(0, 46.0, 60.0), (35, 48.0, 58.5), (70, 51.0, 56.5)],
        "image",
        [(3.0, 70.0)],
    ),
    "D3": (
        (1232.0, 866.0, 314.2),
        65.0,
        96,
        [(0, 291.0, 55.0), (30, 290.0, 54.0), (65, 288.0, 53.0)],
        "core",
        [(2.0, 31.0), (34.5, 65.0)],
    ),
    "D4": ((1175.0, 822.0, 301.8), 48.0, 76, [(0, 118.0, -3.0)], "image", [(1.0, 48.0)]),
}


def hole_path(name: str) -> js.HolePath:
    """The path of a hole through its survey stations."""
    depth, trend, plunge = zip(*HOLES[name][3], strict=True)
    return js.HolePath(depth, trend, plunge)


def read_with_error(table: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Turn each pole by a small random angle, as a reading would."""
    poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    poles = poles + np.radians(READING_ERROR_DEG) * rng.normal(size=poles.shape)
    dip, direction = js.dip_from_poles(poles)
    return table.assign(dip_deg=dip.round(1), dip_direction_deg=direction.round(1) % 360)


def as_core_angles(table: pd.DataFrame, path: js.HolePath) -> pd.DataFrame:
    """Alpha and beta of each plane, the reference line at the low side of the core."""
    poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    axis = path.direction(table["depth_m"].to_numpy())
    poles *= np.sign((poles * axis).sum(axis=1, keepdims=True))  # the end that looks down the hole
    sine = (poles * axis).sum(axis=1)
    # The down-hole end of the ellipse's long axis lies opposite to the part of the downward-looking
    # normal that is square to the core: along it the plane falls away fastest.
    long_axis = -(poles - sine[:, None] * axis)
    low = np.array([0.0, 0.0, -1.0]) + axis[:, 2:3] * axis
    angle = np.arctan2((np.cross(low, long_axis) * axis).sum(axis=1), (low * long_axis).sum(axis=1))
    return pd.DataFrame(
        {
            "alpha_deg": np.degrees(np.arcsin(np.clip(sine, 0.0, 1.0))).round(1),
            "beta_deg": np.degrees(angle).round(1) % 360,
        }
    )


def condition(table: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Aperture, infilling and oxidation; oxidation fades with depth."""
    n = len(table)
    weathered = rng.uniform(size=n) < np.exp(-table["depth_m"] / 18.0)
    strong = rng.uniform(size=n) < 0.4
    clay = weathered & (rng.uniform(size=n) < 0.3)
    filling = rng.choice(["none", "calcite", "quartz", "chlorite"], n, p=[0.55, 0.2, 0.1, 0.15])
    return table.assign(
        aperture_mm=np.where(weathered, rng.gamma(2.0, 0.6, n), rng.gamma(1.2, 0.2, n)).round(1),
        infilling=np.where(clay, "clay", filling),
        oxidation=np.where(weathered, np.where(strong, "strong", "slight"), "none"),
    )


def fractures_of(name: str, rng: np.random.Generator) -> pd.DataFrame:
    """The fracture table of one hole; one in twenty could not be oriented."""
    _, _, _, _, method, logged = HOLES[name]
    path = hole_path(name)
    rock = [
        (js.sphere.AxialFisher(js.poles_from_dip(dip, direction)[0], kappa), p32)
        for dip, direction, kappa, p32 in SETS.values()
    ]
    table = js.borehole.simulate_fractures(
        path, logged, rock, background_per_m=BACKGROUND_PER_M, random_state=rng
    )
    table["depth_m"] = table["depth_m"].round(2)
    table = condition(read_with_error(table, rng), rng)
    if method == "core":
        table = table.join(as_core_angles(table, path)).drop(
            columns=["dip_deg", "dip_direction_deg"]
        )
    unread = rng.uniform(size=len(table)) < 0.05
    angles = [name for name in table if name.endswith("_deg")]
    table.loc[unread, angles] = np.nan
    table.insert(0, "hole", name)
    table.insert(2, "method", method)
    return table.assign(remark=np.where(unread, "rough trace, not oriented", ""))


def write_tables() -> None:
    """Write the tables, the settings and the truth."""
    rng = np.random.default_rng(SEED)
    HERE.mkdir(exist_ok=True)
    fractures = pd.concat([fractures_of(name, rng) for name in HOLES], ignore_index=True)
    columns = [
        "hole",
        "depth_m",
        "method",
        "dip_deg",
        "dip_direction_deg",
        "alpha_deg",
        "beta_deg",
        "aperture_mm",
        "infilling",
        "oxidation",
        "remark",
    ]
    holes = pd.DataFrame(
        [
            dict(
                hole=name,
                easting_m=collar[0],
                northing_m=collar[1],
                elevation_m=collar[2],
                length_m=length,
                diameter_mm=diameter,
            )
            for name, (collar, length, diameter, *_) in HOLES.items()
        ]
    )
    surveys = pd.DataFrame(
        [
            dict(hole=name, depth_m=depth, trend_deg=trend, plunge_deg=plunge)
            for name, hole in HOLES.items()
            for depth, trend, plunge in hole[3]
        ]
    )
    logged = pd.DataFrame(
        [
            dict(hole=name, from_m=low, to_m=high, method=hole[4])
            for name, hole in HOLES.items()
            for low, high in hole[5]
        ]
    )
    zones = pd.DataFrame(
        [dict(hole="D3", from_m=31.0, to_m=34.5, kind="lost", condition="", recovery_percent=0)]
    )
    tables = {
        "holes": holes,
        "surveys": surveys,
        "logged": logged,
        "zones": zones,
        "fractures": fractures[columns],
    }
    for name, table in tables.items():
        table.to_csv(HERE / f"{name}.csv", index=False, lineterminator="\n")
    (HERE / "site.toml").write_text(
        'name = "Invented dam site, left abutment"\n'
        'north = "true"\n'
        'reference = "low side"\n'
        "blind_angle_deg = 10\n",
        encoding="utf-8",
    )
    truth = {
        "seed": SEED,
        "background_p32_per_m": BACKGROUND_PER_M,
        "sets": [
            dict(name=name, dip_deg=dip, dip_direction_deg=direction, kappa=kappa, p32_per_m=p32)
            for name, (dip, direction, kappa, p32) in SETS.items()
        ],
    }
    (HERE / "truth.json").write_text(json.dumps(truth, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_tables()
