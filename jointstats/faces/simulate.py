"""Traces that discs at random leave on a face: a truth to check estimates with.

Discs are thrown into the block of rock about the window and cut by its plane; nothing here uses the
sine that the estimate divides by.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from jointstats.checks import as_generator, as_numbers, check_number
from jointstats.errors import InputError
from jointstats.faces.face import Face
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axial_fisher import AxialFisher
from jointstats.types import Array, ArrayLike, RandomState


def simulate_face_traces(
    face: Face,
    sets: Sequence[tuple[AxialFisher, float]],
    radii_m: ArrayLike,
    *,
    background_per_m: float = 0.0,
    random_state: RandomState = 0,
) -> pd.DataFrame:
    """Traces on a face in rock of discs at random.

    Parameters
    ----------
    face : Face
        Its window must be convex.
    sets : sequence of (AxialFisher, p32_per_m)
        Orientation and P32 of each set.
    radii_m : array_like, shape (m,)
        Radii that the discs have, each as probable as any other; quantiles of a law stand for it.
    background_per_m : float
        P32 of discs of any orientation, 1/m.
    random_state : int, Generator or None

    Returns
    -------
    pandas.DataFrame
        from_across_m, from_up_m, to_across_m, to_up_m, length_m (in the window), ends_seen ("both",
        "one", "none"), dip_deg, dip_direction_deg, whole_m (length of the whole trace), true_set
        (1, 2, …; 0 for the background).

    Raises
    ------
    InputError
        If the window is not convex, or an intensity or a radius is out of range.

    Examples
    --------
    >>> import jointstats as js
    >>> face = js.faces.Face.rectangle("F1", 90, 0, 10, 5)
    >>> level = AxialFisher([0, 0, 1], 500.0)
    >>> traces = simulate_face_traces(face, [(level, 2.0)], [1.0], random_state=1)
    >>> bool(60 < traces["length_m"].sum() < 140)  # 2 a metre on 50 m²
    True
    """
    if not face.is_convex:
        raise InputError(f"the window of face {face.name!r} must be convex to be simulated")
    radii = as_numbers(radii_m, "radii_m", low=0.0, open_end=True, min_n=1)
    rng = as_generator(random_state)
    parts = [
        _of_set(face, density, check_number(p32, "p32_per_m", low=0.0), radii, number, rng)
        for number, (density, p32) in enumerate(sets, start=1)
    ]
    background = check_number(background_per_m, "background_per_m", low=0.0)
    parts.append(_of_set(face, None, background, radii, 0, rng))
    return pd.concat(parts, ignore_index=True)


def _of_set(
    face: Face,
    density: AxialFisher | None,
    p32: float,
    radii: Array,
    number: int,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Traces of one set; of any orientation without a density."""
    low, high = face.outline_m.min(axis=0), face.outline_m.max(axis=0)
    # Centres from which a disc of each radius could reach the window lie in a box of this volume.
    volumes = np.prod(high - low + 2.0 * radii[:, np.newaxis], axis=1) * 2.0 * radii
    expected = p32 / (np.pi * (radii**2).mean()) * volumes.mean()
    size = int(rng.poisson(expected))
    radius = radii[rng.choice(len(radii), size, p=volumes / volumes.sum())]
    poles = rng.normal(size=(size, 3)) if density is None else density.rvs(size, rng)
    poles = np.atleast_2d(poles) / np.linalg.norm(poles, axis=1, keepdims=True)
    reach = radius[:, np.newaxis]
    centre = rng.uniform(low - reach, high + reach)
    away = rng.uniform(-radius, radius)
    sine = face.sines(poles)
    met = np.abs(away) < radius * sine
    centre, away, sine, radius, poles = centre[met], away[met], sine[met], radius[met], poles[met]
    half = np.sqrt(radius**2 - (away / sine) ** 2)
    line = face.trace_lines(poles)
    # The chord's middle lies from the foot of the centre up the disc to the face, square to the trace.
    normal = poles @ face.axes.T
    middle = centre + (away * (poles @ face.pole) / sine**2)[:, np.newaxis] * normal
    first, last = _clipped(face, middle, line, -half, half)
    kept = last > first
    ends = np.stack([middle + first[:, np.newaxis] * line, middle + last[:, np.newaxis] * line])[:, kept]
    seen = ((first == -half).astype(int) + (last == half))[kept]
    dip, direction = dip_from_poles(poles[kept])
    return pd.DataFrame(
        {
            "from_across_m": ends[0, :, 0],
            "from_up_m": ends[0, :, 1],
            "to_across_m": ends[1, :, 0],
            "to_up_m": ends[1, :, 1],
            "length_m": (last - first)[kept],
            "ends_seen": np.array(["none", "one", "both"], dtype=object)[seen],
            "dip_deg": dip,
            "dip_direction_deg": direction,
            "whole_m": 2.0 * half[kept],
            "true_set": number,
        }
    )


def _clipped(
    face: Face, middle: Array, line: Array, first: Array, last: Array
) -> tuple[Array, Array]:
    """Ends of chords along their lines, metres from the middle, inside the window; crossed if outside."""
    for start, end in zip(face.outline_m, np.roll(face.outline_m, -1, axis=0), strict=True):
        side = end - start
        inward = np.array([-side[1], side[0]])
        speed, room = line @ inward, (middle - start) @ inward
        with np.errstate(divide="ignore", invalid="ignore"):
            at = -room / speed
        first = np.where(speed > 0, np.maximum(first, at), first)
        last = np.where(speed < 0, np.minimum(last, at), last)
        last = np.where((speed == 0) & (room < 0), -np.inf, last)
    return first, last
