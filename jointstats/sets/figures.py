"""The figures of each set and each hole, once the fit is made."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure, terzaghi_weights
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import hole_directions
from jointstats.borehole.sampling import SampledLength, site_exposure, unlogged_lengths
from jointstats.borehole.site import Site
from jointstats.fit.roundness import roundness_of
from jointstats.fit.mixture import JointSetMixture
from jointstats.intervals import poisson_interval
from jointstats.line.quality import rqd_from_frequency
from jointstats.line.spacing import SpacingStatistics, pool_spacings, set_spacing
from jointstats.sets.joint_set import JointSet
from jointstats.sets.reading_error import reading_error, widened_cone_deg
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.fisher import fisher_statistics
from jointstats.sphere.set_density import SetDensity

__all__ = ["Basis", "hole_table", "joint_set"]

Array = NDArray[np.float64]


class Basis(NamedTuple):
    """What the figures are drawn from."""

    site: Site
    fractures: pd.DataFrame
    model: JointSetMixture
    exposure: LineExposure
    lengths: tuple[SampledLength, ...]
    common_error_deg: Array


def hole_table(basis: Basis) -> pd.DataFrame:
    """Frequency and theoretical RQD along each hole; all fractures count, oriented or not.

    Parameters
    ----------
    basis : Basis

    Returns
    -------
    pandas.DataFrame
        One row a hole, with the columns that `SiteAnalysis.holes` lists.
    """
    counted = Fractures(basis.fractures).counted
    confidence, rows = basis.model.confidence, []
    for hole in basis.site.holes:
        own = [one for one in basis.lengths if one.hole == hole.name]
        logged = sum(one.length_m for one in own)
        found = counted.in_hole(hole.name)
        low, high = poisson_interval(len(found), confidence)
        frequency = len(found) / logged if logged else 0.0
        middle = 0.5 * (own[0].from_m + own[-1].to_m) if own else 0.0
        trend, plunge = trend_from_lines(hole.path.direction(middle))
        rows.append(
            {
                "hole": hole.name,
                "trend_deg": float(trend[0]),
                "plunge_deg": float(plunge[0]),
                "logged_m": logged,
                "n": len(found),
                "n_oriented": len(found.oriented),
                "p10_per_m": frequency,
                "p10_low_per_m": low / logged if logged else 0.0,
                "p10_high_per_m": high / logged if logged else 0.0,
                "rqd_theoretical": float(rqd_from_frequency(frequency)) if logged else None,
            }
        )
    return pd.DataFrame(rows)


def joint_set(basis: Basis, k: int, name: str) -> JointSet:
    """All figures of one set.

    Parameters
    ----------
    basis : Basis
    k : int
        Place of the set in the model.
    name : str

    Returns
    -------
    JointSet
    """
    site, fractures, model, exposure, lengths, common = basis
    density = model.rock_.densities[k]
    every = Fractures(fractures.assign(common_error_deg=common)).of_set(name)
    own, fitted = every.counted, every.fitted
    reading = reading_error(fitted.table, fitted.table["common_error_deg"].to_numpy())
    spacing, holes = _along_holes(basis, own, k)
    certainty, met = model.certainty_, density.mean_exposure(exposure)
    between = certainty.kappa_interval(k)
    rock, low, high = (None,) * 3
    if density.kappa is not None:
        rock, low, high = (reading.rock_kappa(one) for one in (density.kappa, *between))
    blind = exposure.blind_angle_deg
    return JointSet(
        name=name,
        density=density,
        cone_deg=widened_cone_deg(certainty.cone_deg(k), reading.mean_deg, model.confidence),
        concentration_interval=between,
        kappa_rock=rock,
        kappa_rock_interval=(low, high),
        reading_error_deg=reading.total_deg,
        p32_per_m=float(model.intensities_[k]),
        p32_interval=certainty.intensity_interval(k),
        n=len(fitted),
        n_blind=len(own) - len(fitted),
        n_expected=float(model.intensities_[k] * met),
        n_unlogged=float(model.intensities_[k]) * _unlogged_exposure(site, lengths, density),
        exposure_m=met,
        seen_share=seen_share(exposure, density),
        best_angle_deg=best_angle_deg(exposure.directions, density),
        p32_weighted_per_m=_weighted_p32(site, fitted, blind) / exposure.total_m,
        statistics=fisher_statistics(
            own.poles if len(own) else density.frame[0], confidence=model.confidence
        ),
        spacing=spacing,
        elliptical_test=roundness_of(model.data_, model.fit_, k),
        holes=holes,
        confidence=model.confidence,
        posterior=certainty.draws(k),
    )


def best_angle_deg(directions: Array, density: SetDensity) -> float:
    """Largest angle between any of the lines and the set's mean plane (a girdle: any of its planes)."""
    along = np.abs(directions @ density.frame[0])
    if density.mean is None:
        along = np.sqrt(np.maximum(1.0 - along**2, 0.0))
    return float(np.degrees(np.arcsin(np.clip(along, 0.0, 1.0))).max())


def seen_share(exposure: LineExposure, density: SetDensity) -> float:
    """Share, 0 to 1, of what the same metres would meet of a set without a blind angle."""
    everything = LineExposure(exposure.directions, exposure.lengths_m, blind_angle_deg=0.0)
    return density.mean_exposure(exposure) / density.mean_exposure(everything)


def _unlogged_exposure(
    site: Site, lengths: tuple[SampledLength, ...], density: SetDensity
) -> float:
    """Metres of square-on sampling that the drilled but unlogged lengths would have given."""
    pieces = unlogged_lengths(site, lengths)
    if not pieces:
        return 0.0
    return density.mean_exposure(site_exposure(site, pieces, blind_angle_deg=0.0))


def _weighted_p32(site: Site, fitted: Fractures, blind_angle_deg: float) -> float:
    """Sum of Terzaghi weights: P32 times the logged length, the classical way."""
    if not len(fitted):
        return 0.0
    weights = terzaghi_weights(
        fitted.poles,
        hole_directions(site, fitted.table),
        blind_angle_deg=max(blind_angle_deg, 1e-3),
    )
    return float(weights.sum())


def _along_holes(basis: Basis, own: Fractures, k: int) -> tuple[SpacingStatistics, pd.DataFrame]:
    """Spacing pooled over the holes, and a row of figures for each hole."""
    site, _, model, exposure, lengths, *_ = basis
    density = model.rock_.densities[k]
    spacings, rows = [], []
    for hole in site.holes:
        pieces = tuple(one for one in lengths if one.hole == hole.name)
        if not pieces:
            continue
        depth = own.in_hole(hole.name).depth_m
        spacing = set_spacing(
            # A girdle has no mean normal to measure along.
            depth if density.mean is not None else depth[:0],
            hole.path.direction,
            density.frame[0],
            logged=[(one.from_m, one.to_m) for one in pieces],
            confidence=model.confidence,
        )
        spacings.append(spacing)
        alone = site_exposure(site, pieces, blind_angle_deg=exposure.blind_angle_deg)
        low, high = poisson_interval(len(depth), model.confidence)
        rows.append(
            {
                "hole": hole.name,
                "n": len(depth),
                "n_expected": float(model.intensities_[k]) * density.mean_exposure(alone),
                "logged_m": alone.total_m,
                "p10_per_m": len(depth) / alone.total_m,
                "p10_low_per_m": low / alone.total_m,
                "p10_high_per_m": high / alone.total_m,
                "angle_deg": best_angle_deg(alone.directions, density),
                "spacing_mean_m": spacing.mean_m if spacing.n_fractures else None,
            }
        )
    return pool_spacings(spacings), pd.DataFrame(rows)
