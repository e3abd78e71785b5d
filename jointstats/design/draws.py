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
from jointstats.sphere.set_chart import COORDINATES, turned_frames
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array, Interval, RandomState


class DrawnSet(Protocol):
    """What a set must know for draws with its uncertainty; a `JointSet` does."""

    @property
    def name(self) -> str: ...
    @property
    def density(self) -> SetDensity: ...
    @property
    def cone_deg(self) -> float: ...
    @property
    def concentration_interval(self) -> Interval: ...
    @property
    def p32_per_m(self) -> float: ...
    @property
    def p32_interval(self) -> Interval: ...
    @property
    def confidence(self) -> float: ...
    @property
    def posterior(self) -> SetDraws | None: ...


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
    density = joint_set.density
    frames = np.broadcast_to(density.frame, (size, 3, 3))
    c, e = (np.broadcast_to(one, size) for one in density.numbers)
    intensities = np.full(size, float(joint_set.p32_per_m))
    if uncertain:
        frames, c, e, intensities = _drawn_sets(joint_set, size, generator)
    poles = density.sample_each(frames, c, e, generator)
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
) -> tuple[Array, Array, Array, Array]:
    """Frames, concentrations, ellipticities and P32 as uncertain as they are."""
    posterior, cone, density = joint_set.posterior, joint_set.cone_deg, joint_set.density
    if posterior is None:
        frames = np.broadcast_to(density.frame, (size, 3, 3))
        between = joint_set.concentration_interval
        c = _drawn_between(joint_set, "concentration", between, size, generator)
        intensities = _drawn_between(joint_set, "P32", joint_set.p32_interval, size, generator)
        share = density.ellipticity / density.concentration if density.ellipticity else 0.0
        return _turned(frames, cone, joint_set.confidence, generator), c, share * c, intensities
    one = generator.choice(len(posterior.weights), size, p=posterior.weights)
    # The cone is that of the draws, widened by the errors that a hole's fractures share.
    drawn = posterior.cone_deg(density.frame[0], joint_set.confidence)
    shared = math.sqrt(max(cone**2 - drawn**2, 0.0))
    frames = _turned(posterior.frames[one], shared, joint_set.confidence, generator)
    return frames, posterior.concentrations[one], posterior.ellipticities[one], posterior.intensities[one]


def _turned(
    frames: Array, cone_deg: float, confidence: float, generator: np.random.Generator
) -> Array:
    """Frames turned by an isotropic normal in the tangent plane with `confidence` in the cone."""
    # For two normal coordinates of deviation σ, P(r ≤ c) = 1 − exp(−c² / 2σ²).
    deviation = np.radians(cone_deg) / math.sqrt(-2.0 * math.log1p(-confidence))
    steps = np.zeros((len(frames), COORDINATES))
    steps[:, :2] = deviation * generator.standard_normal((len(frames), 2))
    return turned_frames(frames, steps)[0]


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
