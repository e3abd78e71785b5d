"""A hole logged twice, by image and on core, from a known truth."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.frame import poles_in_hole, reference_lines
from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.path import HolePath
from jointstats.borehole.settings import SiteSettings
from jointstats.borehole.simulate import SETS, simulate_fractures
from jointstats.borehole.site import Site
from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.sphere.angles import as_azimuth, dip_from_poles, poles_from_dip
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.types import Array, RandomState


def simulate_core_and_image(
    length_m: float = 60.0,
    *,
    trend_deg: float = 315.0,
    plunge_deg: float = 60.0,
    p32_factor: float = 1.5,
    core_rate: float = 0.7,
    image_rate: float = 0.95,
    run_m: float = 1.5,
    depth_noise_m: float = 0.05,
    stretch: float = 0.02,
    core_error_deg: float = 10.0,
    image_error_deg: float = 2.0,
    induced_share: float = 0.0,
    spun: bool | float = True,
    mirrored: bool = False,
    random_state: RandomState = 0,
) -> Site:
    """Simulate core and image logs of one inclined hole.

    Parameters
    ----------
    length_m : float
    trend_deg, plunge_deg : float
        Direction of the hole; it must not be vertical.
    p32_factor : float
        Times the intensities of the sets of `simulate_site`.
    core_rate, image_rate : float
        Share of the fractures that each method has.
    run_m : float
        Length of each run of core.
    depth_noise_m : float
        Standard deviation of each depth on the core.
    stretch : float
        Share by which depths on the core are too large.
    core_error_deg, image_error_deg : float
        Root-mean-square angle of a reading on the core, and on the image.
    induced_share : float
        Fractures made by drilling, square to the core, as a share of the true ones on it.
    spun : bool or float
        Whether each run of core is turned by an angle of its own; β is then read from a line
        drawn on the run, and stands in run_beta_deg. A share: each run is turned with that
        chance, nobody knows, and β stands in beta_deg as if all were oriented.
    mirrored : bool
        Whether β was counted the other way round.
    random_state : int, Generator or None

    Returns
    -------
    Site
        With the columns true_fracture (number of the fracture; −1 for one made by drilling) and
        true_rotation_deg (of its run, to add to β counted the right way).

    Raises
    ------
    InputError
        If a rate is not between 0 and 1, or the hole is vertical.

    Examples
    --------
    >>> site = simulate_core_and_image(random_state=1)
    >>> sorted(site.fractures["method"].unique())
    ['core', 'image']
    """
    if not (0 < core_rate <= 1 and 0 < image_rate <= 1):
        raise InputError(f"rates must lie between 0 and 1; got {core_rate!r} and {image_rate!r}")
    if abs(plunge_deg) > 89:
        raise InputError(
            f"the hole must not be vertical, so that it has a low side; got plunge {plunge_deg!r}"
        )
    rng = as_generator(random_state)
    path = HolePath([0.0], [trend_deg], [plunge_deg])
    rock = [
        (AxialFisher(poles_from_dip(dip, way)[0], kappa), p32_factor * p32)
        for dip, way, kappa, p32 in SETS
    ]
    truth = simulate_fractures(
        path, [(0.0, length_m)], rock, background_per_m=0.2 * p32_factor, random_state=rng
    )
    poles = poles_from_dip(truth["dip_deg"], truth["dip_direction_deg"])
    depth = truth["depth_m"].to_numpy()
    seen = rng.random(len(depth)) < image_rate
    image = _image_rows(depth[seen], poles[seen], np.flatnonzero(seen), image_error_deg, rng)
    kept = np.flatnonzero(rng.random(len(depth)) < core_rate)
    reading = (run_m, core_error_deg, induced_share)
    sense = -1.0 if mirrored else 1.0
    core = _core_rows(path, depth[kept], poles[kept], kept, reading, (spun, sense), rng)
    core["depth_m"] = core["depth_m"] * (1 + stretch) + rng.normal(0, depth_noise_m, len(core))
    core["depth_m"] = core["depth_m"].clip(0.0, None)
    reach = (1 + stretch) * length_m + 1.0
    hole = Hole(
        "H1",
        path,
        reach,
        76.0,
        None,
        (LoggedInterval(0.0, reach, "image"), LoggedInterval(0.0, reach, "core")),
    )
    table = pd.concat([image, core], ignore_index=True).assign(hole="H1")
    settings = SiteSettings(reference="low side")
    return Site(name="core and image", holes=(hole,), fractures=table, settings=settings)


def _read(poles: Array, error_deg: float, rng: np.random.Generator) -> Array:
    """Poles with isotropic errors of a root-mean-square angle."""
    moved = poles + np.radians(error_deg) / np.sqrt(2) * rng.normal(size=poles.shape)
    return moved / np.linalg.norm(moved, axis=1, keepdims=True)


def _image_rows(
    depth: Array, poles: Array, number: NDArray[np.intp], error_deg: float, rng: np.random.Generator
) -> pd.DataFrame:
    dip, direction = dip_from_poles(_read(poles, error_deg, rng))
    return pd.DataFrame(
        {
            "depth_m": depth,
            "method": "image",
            "dip_deg": dip,
            "dip_direction_deg": direction,
            "true_fracture": number,
            "run": "",
        }
    )


def _core_rows(
    path: HolePath,
    depth: Array,
    poles: Array,
    number: NDArray[np.intp],
    run: tuple[float, float, float],
    line: tuple[bool | float, float],
    rng: np.random.Generator,
) -> pd.DataFrame:
    spun, sense = line
    run_m, error_deg, induced = run
    added = rng.poisson(induced * len(depth))
    extra = rng.uniform(0, depth.max(initial=1.0), added)
    across = rng.normal(0, 0.15, (added, 3)) + path.direction(extra)
    depth = np.concatenate([depth, extra])
    poles = np.vstack([poles, across / np.linalg.norm(across, axis=1, keepdims=True)])
    number = np.concatenate([number, np.full(added, -1)])
    order = np.argsort(depth, kind="stable")
    depth, poles, number = depth[order], _read(poles[order], error_deg, rng), number[order]
    runs = (depth // run_m).astype(int)
    turn = rng.uniform(0, 360, runs.max(initial=0) + 1) if spun else np.zeros(runs.max() + 1)
    if spun is not True and spun:
        turn = np.where(rng.random(len(turn)) < spun, turn, 0.0)
    directions = path.direction(depth)
    low = reference_lines(directions, "low side")
    along = (poles * directions).sum(axis=1)
    lowest = -np.sign(along)[:, np.newaxis] * (poles - along[:, np.newaxis] * directions)
    sideways = (lowest * np.cross(directions, low)).sum(axis=1)
    beta = np.degrees(np.arctan2(sideways, (lowest * low).sum(axis=1)))
    alpha = np.degrees(np.arcsin(np.clip(np.abs(along), 0, 1)))
    back = poles_in_hole(alpha, beta, directions, low)
    assert np.allclose(np.abs((back * poles).sum(axis=1)), 1.0)
    column = "run_beta_deg" if spun is True else "beta_deg"
    return pd.DataFrame(
        {
            "depth_m": depth,
            "method": "core",
            "alpha_deg": alpha,
            column: as_azimuth(sense * (beta - turn[runs])),
            "true_fracture": number,
            "run": runs.astype(str),
            "true_rotation_deg": turn[runs],
        }
    ).sort_values("depth_m", kind="stable")
