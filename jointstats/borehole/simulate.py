"""Investigations made from a known truth: rock with given sets, logged along given holes.

Fractures are drawn in the rock and met by the hole by chance: each candidate at a random depth is
met with probability |n · d|. Nothing here uses the exposure that the analysis inverts, so a
simulated site is an independent check of it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.borehole.path import HolePath
from jointstats.borehole.settings import SiteSettings
from jointstats.borehole.site import Site
from jointstats.checks import as_generator, real_array
from jointstats.errors import InputError
from jointstats.sphere.angles import dip_from_poles, poles_from_dip
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.types import Array, ArrayLike, RandomState

#: Dip, dip direction, κ and P32 (1/m) of three invented sets.
SETS = ((62.0, 135.0, 40.0, 1.2), (78.0, 20.0, 30.0, 0.8), (12.0, 300.0, 50.0, 0.6))
#: Trend, plunge and length (m) of three invented holes.
HOLES = ((0.0, 90.0, 80.0), (315.0, 55.0, 70.0), (200.0, 50.0, 70.0))


def simulate_fractures(
    path: HolePath,
    logged: Sequence[tuple[float, float]],
    sets: Sequence[tuple[AxialFisher, float]],
    *,
    background_per_m: float = 0.0,
    random_state: RandomState = 0,
) -> pd.DataFrame:
    """Fractures that a hole meets in rock of known sets.

    Parameters
    ----------
    path : HolePath
        The hole.
    logged : sequence of (from_m, to_m)
        Lengths that are seen.
    sets : sequence of (AxialFisher, p32_per_m)
        Orientation and intensity of each set.
    background_per_m : float
        P32 of fractures of any orientation, 1/m.
    random_state : int, Generator or None

    Returns
    -------
    pandas.DataFrame
        depth_m (rising), dip_deg, dip_direction_deg, true_set (1, 2, …; 0 for the background).

    Raises
    ------
    InputError
        If an intensity is negative.

    Examples
    --------
    Level beds, two a metre, in ten metres of vertical hole:

    >>> beds = [(AxialFisher([0, 0, 1], 500.0), 2.0)]
    >>> hole = HolePath([0.0], [0.0], [90.0])
    >>> 10 < len(simulate_fractures(hole, [(0, 10)], beds, random_state=1)) < 30
    True
    """
    rng = as_generator(random_state)
    intensities = [background_per_m, *(p32 for _, p32 in sets)]
    if min(intensities) < 0:
        raise InputError(f"an intensity must not be negative; got {min(intensities)}")
    tables = []
    for low, high in logged:
        for number, intensity in enumerate(intensities):
            # Candidates at P32 a metre whatever their normal, of which |n · d| are met: what a line meets of a rock of
            # infinite planes, and no formula of the package is in it.
            depth = rng.uniform(low, high, rng.poisson(intensity * (high - low)))
            poles = (
                sets[number - 1][0].rvs(len(depth), random_state=rng)
                if number
                else _any_orientation(len(depth), rng)
            )
            chance = np.abs((poles * path.direction(depth)).sum(axis=1))
            met = rng.uniform(size=len(depth)) < chance
            dip, direction = dip_from_poles(poles[met])
            tables.append(
                pd.DataFrame(
                    {
                        "depth_m": depth[met],
                        "dip_deg": dip,
                        "dip_direction_deg": direction,
                        "true_set": number,
                    }
                )
            )
    whole = pd.concat(tables, ignore_index=True)
    return whole.sort_values("depth_m", kind="stable", ignore_index=True)


def _rows(values: ArrayLike, n: int, name: str) -> list[list[float]]:
    rows = real_array(values, name, f", {n} each")
    if rows.size and (rows.ndim != 2 or rows.shape[1] != n):
        raise InputError(f"{name} must have {n} numbers each; got shape {rows.shape}")
    return rows.tolist()


def _any_orientation(n: int, rng: np.random.Generator) -> Array:
    rows = rng.normal(size=(n, 3))
    # Normal deviates have no preferred direction.
    return rows / np.linalg.norm(rows, axis=1, keepdims=True)


def simulate_site(
    sets: Sequence[tuple[float, float, float, float]] = SETS,
    holes: Sequence[tuple[float, float, float]] = HOLES,
    *,
    background_per_m: float = 0.2,
    blind_angle_deg: float = 10.0,
    random_state: RandomState = 0,
) -> Site:
    """A site of straight holes through rock of known sets.

    Parameters
    ----------
    sets : sequence of (dip_deg, dip_direction_deg, kappa, p32_per_m)
    holes : sequence of (trend_deg, plunge_deg, length_m)
        Each is logged whole, by image; they are named H1, H2, …
    background_per_m : float
        P32 of fractures of any orientation, 1/m.
    blind_angle_deg : float
        Setting of the site, degrees; fractures below it are still in its table.
    random_state : int, Generator or None

    Returns
    -------
    Site
        Its fractures carry the column true_set (1, 2, …; 0 for the background).

    Raises
    ------
    InputError
        If an angle or an intensity is out of range.

    Examples
    --------
    >>> import jointstats as js
    >>> js.simulate_site(random_state=1).fractures["true_set"].nunique()
    4
    """
    rng = as_generator(random_state)
    rock = [
        (AxialFisher(poles_from_dip(dip, direction)[0], kappa), p32)
        for dip, direction, kappa, p32 in _rows(sets, 4, "sets")
    ]
    drilled, tables = [], []
    for number, (trend, plunge, length) in enumerate(_rows(holes, 3, "holes"), start=1):
        path = HolePath([0.0], [trend], [plunge])
        hole = Hole(
            name=f"H{number}",
            path=path,
            length_m=length,
            diameter_mm=None,
            collar=None,
            logged=(LoggedInterval(0.0, length, "image"),),
        )
        drilled.append(hole)
        met = simulate_fractures(
            path, [(0.0, length)], rock, background_per_m=background_per_m, random_state=rng
        )
        tables.append(met.assign(hole=hole.name, method="image"))
    return Site(
        name="simulated site",
        holes=tuple(drilled),
        fractures=pd.concat(tables, ignore_index=True),
        settings=SiteSettings(blind_angle_deg=blind_angle_deg),
        notes=(),
    )
