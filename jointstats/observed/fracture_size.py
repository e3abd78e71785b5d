"""Size of fractures from their traces on the wall: how many run all round it, and how many end there.

A disc of radius r at |n · d| = t to a hole of radius ρ leaves a whole trace where the ellipse that its
plane cuts from the hole (semi-axes ρ and ρ/t) lies inside it. The centres for which it does fill an
area A of the plane, found by quadrature; those for which disc and hole meet at all fill
π r² (t + g P(t)/π + g²) / t, g = ρ/r (`met_by_hole`). The share of whole traces at an angle is their
ratio. Discs of many sizes count by r², so the radius found is near the mean of r² over that of r,
which is also what the exposure of a hole asks for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import ndtri

from jointstats.borehole.fractures import Fractures
from jointstats.checks import as_numbers, check_confidence
from jointstats.errors import InputError
from jointstats.sphere.zonal import met_by_hole
from jointstats.types import Array, ArrayLike
from jointstats.words import number, within

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.sampling import Sampling

#: Fewest traces, and of each kind, from which the size is used.
FEWEST_TRACES, FEWEST_OF_A_KIND = 20, 5
_TURNS, _POINTS = 24, 96
#: Radii tried, as multiples of the radius of the hole.
_RANGE = (0.3, 3000.0)


@dataclass(frozen=True)
class FractureSize:
    """Radius of fractures as discs, from their traces on the wall or as given.

    Attributes
    ----------
    radius_m : float
    interval_m : (float, float or None)
        An end of None is open; of a radius that was given both are that radius.
    n, n_partial : int
        Traces, and those that don't run all round the wall; 0 where it was given.

    Examples
    --------
    >>> FractureSize(0.5, (0.5, 0.5), 0, 0).log_error
    0.0
    """

    radius_m: float
    interval_m: tuple[float, float | None]
    n: int
    n_partial: int

    @property
    def sentence(self) -> str:
        """What the radius rests on, and what it is used for."""
        told = f"The fractures are taken as discs of radius {number(self.radius_m, 2)} m"
        if self.n:
            told += (
                f" (95 % from {within(self.interval_m)}), by {self.n_partial} of {self.n} traces that "
                "do not run all round the wall"
            )
        else:
            told += ", as given"
        return (
            f"{told}; holes meet them by their thickness, which counts more of them than a line "
            "would, the more so along the hole. A trace may also end against another fracture, which "
            "makes the radius too small and P32 too low. Spacings are those of the hole as it is."
        )

    @property
    def log_error(self) -> float:
        """Standard error of the log of the radius, from its interval of 95 %."""
        low, high = self.interval_m
        if high is None:
            return float(np.log(self.radius_m / low) / ndtri(0.975))
        return float(0.5 * np.log(high / low) / ndtri(0.975)) if high > low else 0.0


def size_of(
    fractures: pd.DataFrame, sampling: Sampling, given_m: float | None
) -> FractureSize | None:
    """The radius that was given, else that of the traces in the fit; None where holes stay lines."""
    diameters = {one.name: one.diameter_mm for one in sampling.lines if one.diameter_mm}
    if given_m is not None:
        return FractureSize(given_m, (given_m, given_m), 0, 0) if diameters else None
    if "wall_trace" not in fractures or not diameters:
        return None
    fitted = Fractures(fractures).fitted.table
    known = fitted[fitted["wall_trace"].isin(("whole", "partial")) & fitted["hole"].isin(diameters)]
    whole = (known["wall_trace"] == "whole").to_numpy()
    if len(known) < FEWEST_TRACES or min(whole.sum(), (~whole).sum()) < FEWEST_OF_A_KIND:
        return None
    sines = np.sin(np.radians(known["hole_angle_deg"].to_numpy(float)))
    radii = known["hole"].map(diameters).to_numpy(float) * 0.5e-3
    return size_from_traces(sines, whole, radii)


def whole_share(cosines: ArrayLike, girths: ArrayLike) -> Array:
    """Share of the discs met at |n · d| = t (n,) whose traces are whole; girths ρ/r, (n,)."""
    t, g = np.broadcast_arrays(np.abs(np.asarray(cosines, float)), np.asarray(girths, float))
    turn = (np.arange(_TURNS) + 0.5) * (0.5 * np.pi / _TURNS)
    around = np.arange(_POINTS) * (2.0 * np.pi / _POINTS)
    long = (g / np.maximum(t, 1e-9))[:, np.newaxis]
    e = np.stack([long * np.cos(around), g[:, np.newaxis] * np.sin(around)], axis=-1)
    along = e @ np.array([np.cos(turn), np.sin(turn)])  # (n, points, turns)
    inside = 1.0 - (e**2).sum(axis=-1)[..., np.newaxis]
    reach = (along + np.sqrt(np.maximum(inside + along**2, 0.0))).min(axis=1)
    reach = np.where((long <= 1.0) & (reach > 0), reach, 0.0)
    area = (reach**2).sum(axis=1) * (np.pi / _TURNS)
    return np.asarray(np.clip(t * area / (np.pi * met_by_hole(t, g)), 1e-12, 1.0 - 1e-12))


def size_from_traces(
    cosines: ArrayLike, whole: ArrayLike, hole_radius_m: ArrayLike, confidence: float = 0.95
) -> FractureSize:
    """Radius of fractures by maximum likelihood from their traces on the wall.

    `cosines` (n,): |n · d|, the sine of the angle between plane and hole; `whole` (n,): whether the
    trace runs all round; `hole_radius_m` (n,) or one. Its interval is that of the likelihood ratio, open
    above where the traces set no bound; an InputError where no trace is whole.

    >>> found = size_from_traces(np.ones(50), [True] * 30 + [False] * 20, 0.05)
    >>> round(found.radius_m, 2), found.n_partial
    (0.39, 20)
    """
    t = as_numbers(cosines, "cosines", low=0, high=1, min_n=1)
    full = np.asarray(whole, dtype=bool)
    radius = np.broadcast_to(as_numbers(hole_radius_m, "hole_radius_m", low=0, open_end=True), t.shape)
    if full.shape != t.shape:
        raise InputError(f"whole must have one value a cosine ({len(t)}); got {full.shape}")
    if not full.any():
        raise InputError("no trace is whole, so the size has no lower bound; give a radius instead")
    scale = float(radius.mean())
    level = 0.5 * ndtri(0.5 * (1.0 + check_confidence(confidence))) ** 2

    def loss(log_ratio: float) -> float:
        share = whole_share(t, radius / (scale * np.exp(log_ratio)))
        return -float(np.log(np.where(full, share, 1.0 - share)).sum())

    low, high = np.log(_RANGE)
    tried = np.linspace(low, high, 40)
    losses = [loss(one) for one in tried]
    best = int(np.argmin(losses))
    bounds = (tried[max(best - 1, 0)], tried[min(best + 1, len(tried) - 1)])
    found = minimize_scalar(loss, bounds=bounds, method="bounded")
    at, least = float(found.x), float(found.fun)

    def above(log_ratio: float) -> float:
        return loss(log_ratio) - least - level

    below = brentq(above, low, at) if above(low) > 0 else low
    over = brentq(above, at, high) if above(high) > 0 else None
    return FractureSize(
        scale * float(np.exp(at)),
        (scale * float(np.exp(below)), None if over is None else scale * float(np.exp(over))),
        len(t),
        int((~full).sum()),
    )
