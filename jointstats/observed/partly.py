"""Fractures known in part: the planes that what was read of them leaves open."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure
from jointstats.borehole.fractures import Mask
from jointstats.borehole.orient import hole_directions
from jointstats.sphere.angles import poles_from_dip
from jointstats.sphere.axes import frames_about
from jointstats.sphere.zonal import met_by_hole
from jointstats.types import Array

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.sampling import Sampling
    from jointstats.borehole.site import Site

#: Places on the circle of a fracture known by its angle to the hole: 5° apart, so that the mean of a
#: Fisher density over them is right within 1 % up to κ 400, and over a few fractures beyond.
PLACES = 72


class PartlyOriented(NamedTuple):
    """Fractures known in part, with the places that their poles may have."""

    number: NDArray[np.intp]  # (P,) rows of the table of fractures
    poles: Array  # (M, 3), those of one fracture after another
    weights: Array  # (M,) how likely the hole meets each and is trusted with it; at most 1 a fracture
    part_of: NDArray[np.intp]  # (M,) number of the fracture of each place
    exposure: LineExposure  # of fractures oriented, or known in part
    scatter: Array  # (P,) variance a tangent direction of what was read, radians²; NaN if not stated

    @property
    def starts(self) -> NDArray[np.intp]:
        """Where the places of each fracture begin, (P,)."""
        return np.searchsorted(self.part_of, np.arange(len(self.number)))


class HalfRead(NamedTuple):
    """What was read of each of P fractures that have no orientation; NaN for what was not."""

    angle_deg: Array  # (P,) between hole and plane
    dip_deg: Array  # (P,)
    azimuth_deg: Array  # (P,) dip direction, from true north

    @classmethod
    def of(cls, site: Site, fractures: pd.DataFrame) -> HalfRead:
        """From the table that `orient_fractures` gives; the first of the three that a row has stands."""

        def column(name: str) -> Array:
            if name not in fractures:
                return np.full(len(fractures), np.nan)
            return fractures[name].to_numpy(np.float64)

        angle, dip = column("hole_angle_deg"), column("dip_deg")
        dip = np.where(np.isnan(angle), dip, np.nan)
        azimuth = column("dip_direction_deg") + site.settings.bearing_of("fractures")
        return cls(angle, dip, np.where(np.isnan(angle) & np.isnan(dip), azimuth, np.nan))

    @property
    def any_known(self) -> Mask:
        """Which have something that narrows the planes down."""
        return np.asarray(~np.isnan(self).all(axis=0))

    def places(self, directions: Array) -> tuple[Array, Array]:
        """Poles (P, PLACES, 3) that each leaves open, and how likely each is if all planes are, (P, PLACES).

        `directions` (P, 3): of the holes.
        """
        number = len(self.angle_deg)
        poles, likely = np.full((number, PLACES, 3), np.nan), np.full((number, PLACES), 1.0 / PLACES)
        by_angle, by_dip = ~np.isnan(self.angle_deg), ~np.isnan(self.dip_deg)
        poles[by_angle] = circles(self.angle_deg[by_angle], directions[by_angle])
        # A dip is the angle to the vertical that a plane falls short of.
        upright = np.broadcast_to([0.0, 0.0, -1.0], (int(by_dip.sum()), 3))
        poles[by_dip] = circles(90.0 - self.dip_deg[by_dip], upright)
        rest = ~by_angle & ~by_dip
        dips = 90.0 * (np.arange(PLACES) + 0.5) / PLACES
        open_dips, azimuths = np.meshgrid(dips, self.azimuth_deg[rest])
        poles[rest] = poles_from_dip(open_dips.ravel(), azimuths.ravel() % 360.0).reshape(-1, PLACES, 3)
        # A strip of one width in dip direction narrows towards level planes, as meridians do.
        sine = np.sin(np.radians(dips))
        likely[rest] = sine / sine.sum()
        return poles, likely


def partly_oriented(
    site: Site, fractures: pd.DataFrame, rows: NDArray[np.intp], sampling: Sampling
) -> PartlyOriented:
    """The fractures of some rows with what each leaves open, sampled by what they count in."""
    own = fractures.iloc[rows]
    half, directions = HalfRead.of(site, own), hole_directions(site, own)
    poles, likely = half.places(directions)
    girth = {line.name: line.girth for line in sampling.lines}
    weights = seen_places(
        poles, likely, directions, own["hole"].map(girth).to_numpy(float), sampling.blind_angle_deg
    )
    kept = weights > 0
    number, _ = np.nonzero(kept)
    errors = site.settings.errors
    stated = [errors.alpha_deg, errors.dip_deg, errors.dip_direction_deg]
    scatter = np.radians([np.nan if one is None else one for one in stated]) ** 2
    kind = np.argmin(np.isnan(half), axis=0)
    return PartlyOriented(
        rows, poles[kept], weights[kept], number, sampling.exposure, scatter[kind]
    )


def seen_places(
    poles: Array, likely: Array, directions: Array, girths: Array, blind_angle_deg: float
) -> Array:
    """Weights (P, PLACES) of places by how often the hole meets them; 0 below the blind angle.

    The weights of a fracture add up to its chance of lying above the blind angle.
    """
    cosines = np.abs(np.einsum("pij,pj->pi", poles, directions))
    met = likely * met_by_hole(cosines, girths[:, np.newaxis])
    seen = cosines >= np.sin(np.radians(blind_angle_deg)) - 1e-12
    return np.asarray(met * seen / met.sum(axis=1, keepdims=True))


def circles(angle_deg: Array, directions: Array) -> Array:
    """Poles (P, PLACES, 3) of planes at an angle (P,) to lines (P, 3), evenly round the line.

    The first place of each fracture is moved on from that of the one before, so that the places of
    several fractures fall between one another.
    """
    number = len(angle_deg)
    step = 2.0 * np.pi / PLACES
    # The golden section spreads the starts evenly.
    start = (np.arange(number) * 0.6180339887 % 1.0)[:, np.newaxis]
    turn = step * (start + np.arange(PLACES))
    sine, cosine = (f(np.radians(angle_deg))[:, np.newaxis, np.newaxis] for f in (np.sin, np.cos))
    frames = frames_about(directions)
    across = np.cos(turn)[..., np.newaxis] * frames[:, np.newaxis, 0]
    across = across + np.sin(turn)[..., np.newaxis] * frames[:, np.newaxis, 1]
    return np.asarray(sine * directions[:, np.newaxis] + cosine * across)
