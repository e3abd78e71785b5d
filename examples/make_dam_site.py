"""Make the invented investigation in examples/dam_site, with its truth beside it.

A dam foundation that exists nowhere: three joint sets and a background, met by four holes. D1 is
vertical, D2 and D3 are inclined, D4 runs nearly level from an adit. D3 was read on core (α and β,
reference line at the low side, one run with its line elsewhere) and lost core from 31.0 to 34.5 m;
the others were read on images of the hole wall. Every input table has its part: the tool turned in
D4, and its cable began 0.35 m off; some planes of D2 stand as points picked on the wall or on
ring-shaped pictures; words of one reader are told in terms and mapping. Run it to write the tables
again; the seed fixes every number.
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
#: Depth and rotation of the tool in D4, and what its cable was off by, m.
ROLLS = [(0.65, 12.0), (16.0, 15.0), (32.0, 21.0), (47.65, 24.0)]
CABLE_OFF_M = 0.35
#: Runs of core in D3: first depth of each, and where the line of one lies, degrees.
RUN_STARTS, TURNED_RUN, LINE_DEG = [2.0, 12.0, 22.0, 34.5, 45.0, 55.0], "R3", 40.0
#: Fractures of D2, by their place among its oriented ones, that stand as points on the wall.
TRACED, RINGED = (4, 17, 33), (8, 25)

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


def core_angles(table: pd.DataFrame, path: js.HolePath) -> tuple[np.ndarray, np.ndarray]:
    """Alpha and beta of each plane, degrees, the reference line at the low side."""
    poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
    axis = path.direction(table["depth_m"].to_numpy())
    poles *= np.sign((poles * axis).sum(axis=1, keepdims=True))  # the end that looks down the hole
    sine = (poles * axis).sum(axis=1)
    # The down-hole end of the ellipse's long axis lies opposite to the part of the downward-looking
    # normal that is square to the core: along it the plane falls away fastest.
    long_axis = -(poles - sine[:, None] * axis)
    low = np.array([0.0, 0.0, -1.0]) + axis[:, 2:3] * axis
    angle = np.arctan2((np.cross(low, long_axis) * axis).sum(axis=1), (low * long_axis).sum(axis=1))
    return np.degrees(np.arcsin(np.clip(sine, 0.0, 1.0))), np.degrees(angle) % 360


def as_core_angles(table: pd.DataFrame, path: js.HolePath) -> pd.DataFrame:
    """Alpha and beta as they are read, to a tenth of a degree."""
    alpha, beta = core_angles(table, path)
    return pd.DataFrame({"alpha_deg": alpha.round(1), "beta_deg": beta.round(1) % 360})


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


def in_runs(fractures: pd.DataFrame) -> pd.DataFrame:
    """D3 with the run of each fracture, β of one run being counted from a line of its own."""
    core = fractures["hole"] == "D3"
    number = np.searchsorted(RUN_STARTS, fractures["depth_m"], side="right")
    fractures["run"] = np.where(core, [f"R{one}" for one in number], "")
    turned = fractures["run"] == TURNED_RUN
    fractures.loc[turned, "beta_deg"] = (fractures["beta_deg"] - LINE_DEG).round(1) % 360
    return fractures


def as_seen_by_the_tool(fractures: pd.DataFrame) -> pd.DataFrame:
    """D4 relative to the hole and to the tool that turned, at the depths of its cable."""
    rows = fractures.index[(fractures["hole"] == "D4") & fractures["dip_deg"].notna()]
    own = fractures.loc[rows]
    alpha, beta = core_angles(own, hole_path("D4"))
    depth = (own["depth_m"] - CABLE_OFF_M).to_numpy()
    turned = beta - np.interp(depth, *zip(*ROLLS, strict=True))
    fractures.loc[rows, "image_dip_deg"] = (90.0 - alpha).round(3)
    fractures.loc[rows, "image_azimuth_deg"] = turned.round(3) % 360
    fractures.loc[rows, ["dip_deg", "dip_direction_deg"]] = np.nan
    cable = fractures["hole"] == "D4"
    fractures.loc[cable, "depth_m"] = (fractures["depth_m"] - CABLE_OFF_M).round(2)
    fractures.loc[cable, "method"] = "camera"
    return fractures


def as_points(fractures: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Some planes of D2 as points on the wall, and on ring-shaped pictures; gives all three tables."""
    rows = fractures.index[(fractures["hole"] == "D2") & fractures["dip_deg"].notna()]
    alpha, beta = core_angles(fractures.loc[rows], hole_path("D2"))
    radius, angles = 0.038, np.array([10, 80, 150, 220, 290])
    traces, rings = [], []
    fractures["fracture"] = ""
    for place, row in enumerate(rows):
        if place not in TRACED + RINGED:
            continue
        name, depth = f"P{place}", fractures.loc[row, "depth_m"]
        fall = radius / np.tan(np.radians(alpha[place]))  # of the trace, along the hole
        below = fall * np.cos(np.radians(angles - beta[place]))
        for angle, down in zip(angles.tolist(), below.tolist(), strict=True):
            if place in TRACED:
                at = dict(depth_m=round(depth + down, 5), angle_deg=angle)
                traces.append(dict(hole="D2", fracture=name) | at)
            else:  # the mirror shows 120 mm above its datum at radius 80, 120 mm below at 320
                at = dict(radius=round(200 + 1000 * down, 2), angle_deg=(360 - angle) % 360)
                rings.append(dict(hole="D2", fracture=name, mirror="M1", depth_m=depth) | at)
        fractures.loc[row, "fracture"] = name
        fractures.loc[row, ["dip_deg", "dip_direction_deg"]] = np.nan
    return fractures, pd.DataFrame(traces), pd.DataFrame(rings)


def small_tables() -> dict[str, pd.DataFrame]:
    """The tables of a few rows each."""
    ends = [*RUN_STARTS[1:3], 31.0, *RUN_STARTS[4:], 65.0]
    runs = [
        dict(hole="D3", run=f"R{k + 1}", from_m=start, to_m=end)
        | dict(beta_offset_deg=LINE_DEG if f"R{k + 1}" == TURNED_RUN else 0.0, line="marked")
        for k, (start, end) in enumerate(zip(RUN_STARTS, ends, strict=True))
    ]
    zones = [
        dict(hole="D2", from_m=41.2, to_m=41.9, kind="sheared", upper_dip_deg=36)
        | dict(upper_dip_direction_deg=148, condition="clay with rock fragments"),
        dict(hole="D3", from_m=31.0, to_m=34.5, kind="lost", condition="", recovery_percent=0),
    ]
    bedding = [
        dict(hole=name, from_m=0, to_m=hole[1], dip_deg=12, dip_direction_deg=190)
        for name, hole in HOLES.items()
    ]
    mapping = [
        dict(table="fractures", column="method", word="camera", means="image", confirmed="yes"),
        dict(table="logged", column="method", word="camera", means="image", confirmed="yes"),
    ]
    return {
        "rolls": pd.DataFrame([dict(hole="D4", depth_m=d, roll_deg=r) for d, r in ROLLS]),
        "runs": pd.DataFrame(runs),
        "ties": pd.DataFrame([dict(hole="D4", method="image", offset_m=CABLE_OFF_M)]),
        "mirrors": pd.DataFrame(
            [
                dict(mirror="M1", radius=80, offset_m=-0.12, counted="anticlockwise"),
                dict(mirror="M1", radius=320, offset_m=0.12, counted="anticlockwise"),
            ]
        ),
        "bedding": pd.DataFrame(bedding),
        "zones": pd.DataFrame(zones),
        "terms": pd.DataFrame([dict(column="infilling", word="chl.", term="chlorite")]),
        "mapping": pd.DataFrame(mapping),
    }


def write_tables() -> None:
    """Write the tables, the settings and the truth."""
    rng = np.random.default_rng(SEED)
    HERE.mkdir(exist_ok=True)
    fractures = pd.concat([fractures_of(name, rng) for name in HOLES], ignore_index=True)
    fractures, traces, rings = as_points(as_seen_by_the_tool(in_runs(fractures)))
    reader = (fractures["hole"] == "D4") & (fractures["infilling"] == "chlorite")
    fractures.loc[reader, "infilling"] = "chl."
    fractures["type"] = "joint"
    fractures["photo"] = np.where(fractures["fracture"] != "", "box 4, " + fractures["fracture"], "")
    columns = [
        "hole",
        "depth_m",
        "method",
        "dip_deg",
        "dip_direction_deg",
        "alpha_deg",
        "beta_deg",
        "image_dip_deg",
        "image_azimuth_deg",
        "fracture",
        "run",
        "type",
        "aperture_mm",
        "infilling",
        "oxidation",
        "photo",
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
            dict(hole=name, from_m=low - off, to_m=high - off, method=method)
            for name, hole in HOLES.items()
            for low, high in hole[5]
            for off, method in [(CABLE_OFF_M, "camera") if name == "D4" else (0.0, hole[4])]
        ]
    )
    tables = {
        "holes": holes,
        "surveys": surveys,
        "logged": logged,
        "traces": traces,
        "rings": rings,
        **small_tables(),
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
