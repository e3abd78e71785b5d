"""Draws from a joint set for Monte Carlo design: orientations, spacings, and their uncertainty."""

from __future__ import annotations

import math
import operator
from typing import Protocol

import numpy as np
import pandas as pd
from scipy.special import ndtri

from jointstats.borehole.fractures import pole_columns
from jointstats.checks import as_generator
from jointstats.errors import InputError
from jointstats.fit.posterior import SetDraws
from jointstats.sphere.angles import dip_from_poles
from jointstats.sphere.axes import frames_about, lower_hemisphere
from jointstats.types import Array, Interval, RandomState


class DrawnSet(Protocol):
    """What a set must know for draws with its uncertainty; a `JointSet` does."""

    name: str
    mean: Array
    cone_deg: float
    kappa: float
    kappa_interval: Interval
    p32_per_m: float
    p32_interval: Interval
    confidence: float
    posterior: SetDraws | None


def draw_set(
    joint_set: DrawnSet,
    n: int,
    random_state: RandomState = 0,
    *,
    uncertain: bool = False,
) -> pd.DataFrame:
    """Draw orientations and spacings of a set; the work behind `JointSet.sample`.

    `joint_set`: the set; `n`: number of draws, zero or more. Gives one row a draw: dip_deg,
    dip_direction_deg, pole_east, pole_north, pole_up, spacing_m.
    """
    size = _whole_number(n)
    if not (math.isfinite(joint_set.p32_per_m) and joint_set.p32_per_m > 0):
        raise InputError(
            f"{joint_set.name} has P32 {joint_set.p32_per_m:g} per m, so it has no spacing to draw"
        )
    generator = as_generator(random_state)
    means = np.broadcast_to(joint_set.mean, (size, 3))
    kappas = np.full(size, float(joint_set.kappa))
    intensities = np.full(size, float(joint_set.p32_per_m))
    if uncertain:
        means, kappas, intensities = _drawn_sets(joint_set, size, generator)
    poles = _poles_about(means, kappas, generator)
    dip, direction = dip_from_poles(poles)
    return pd.DataFrame(
        {
            "dip_deg": dip,
            "dip_direction_deg": direction,
            **pole_columns(poles),
            "spacing_m": generator.exponential(size=size) / intensities,
        }
    )


def _whole_number(n: int) -> int:
    try:
        size = operator.index(n)
    except TypeError:
        raise InputError(f"n must be a whole number of draws; got {n!r}") from None
    if size < 0:
        raise InputError(f"n must be zero or more; got {size}")
    return size


def _drawn_sets(
    joint_set: DrawnSet, size: int, generator: np.random.Generator
) -> tuple[Array, Array, Array]:
    """Means, κ and P32 as uncertain as they are."""
    posterior, cone = joint_set.posterior, joint_set.cone_deg
    if posterior is None:
        means = np.broadcast_to(joint_set.mean, (size, 3))
        kappas = _drawn_between(joint_set, "kappa", joint_set.kappa_interval, size, generator)
        intensities = _drawn_between(joint_set, "P32", joint_set.p32_interval, size, generator)
        return _turned(means, cone, joint_set.confidence, generator), kappas, intensities
    one = generator.choice(len(posterior.weights), size, p=posterior.weights)
    # The cone is that of the draws, widened by the errors that a hole's fractures share.
    drawn = posterior.cone_deg(joint_set.mean, joint_set.confidence)
    shared = math.sqrt(max(cone**2 - drawn**2, 0.0))
    means = _turned(posterior.means[one], shared, joint_set.confidence, generator)
    return means, posterior.kappas[one], posterior.intensities[one]


def _turned(
    means: Array, cone_deg: float, confidence: float, generator: np.random.Generator
) -> Array:
    """Means turned by an isotropic normal in the tangent plane with `confidence` in the cone."""
    # For two normal coordinates of deviation σ, P(r ≤ c) = 1 − exp(−c² / 2σ²).
    deviation = np.radians(cone_deg) / math.sqrt(-2.0 * math.log1p(-confidence))
    angle = deviation * np.sqrt(2.0 * generator.exponential(size=len(means)))
    around = generator.uniform(0.0, 2.0 * np.pi, len(means))
    return _at_angles(means, angle, around)


def _drawn_between(
    joint_set: DrawnSet,
    what: str,
    interval: Interval,
    size: int,
    generator: np.random.Generator,
) -> Array:
    """Values of the lognormal whose two tails at `confidence` are the ends of the interval."""
    low, high = interval
    if not (0 < low <= high and math.isfinite(high)):
        raise InputError(
            f"{joint_set.name} has a {what} interval of {low:g} to {high:g}; uncertain draws need "
            "one that is positive and finite: draw with uncertain=False"
        )
    middle = 0.5 * (math.log(low) + math.log(high))
    deviation = 0.5 * math.log(high / low) / float(ndtri(0.5 + 0.5 * joint_set.confidence))
    return np.exp(middle + deviation * generator.standard_normal(size))


def _poles_about(means: Array, kappas: Array, generator: np.random.Generator) -> Array:
    """One pole of the axial Fisher distribution about each mean."""
    u = generator.random(len(means))
    safe = np.where(kappas > 0, kappas, 1.0)
    # 1 − cos θ by inversion, as in `sphere.axial_fisher`, for one κ a row; κ = 0 is uniform.
    drop = np.where(kappas > 0, -np.log1p(u * np.expm1(-2.0 * safe)) / safe, 2.0 * u)
    angle = 2.0 * np.arcsin(np.sqrt(np.clip(0.5 * drop, 0.0, 1.0)))
    return _at_angles(means, angle, generator.uniform(0.0, 2.0 * np.pi, len(means)))


def _at_angles(centres: Array, angle: Array, around: Array) -> Array:
    """Axes at an angle from each centre, in a direction around it; lower hemisphere."""
    if not len(centres):
        return np.empty((0, 3))
    across = np.sin(angle)
    local = np.column_stack([across * np.cos(around), across * np.sin(around), np.cos(angle)])
    return lower_hemisphere(np.einsum("ni,nij->nj", local, frames_about(centres)))
