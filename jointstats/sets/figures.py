"""The figures of each set and each line, once the fit is made."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from jointstats.borehole.exposure import LineExposure, terzaghi_weights
from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import hole_directions
from jointstats.borehole.sampling import Sampling
from jointstats.borehole.site import Site
from jointstats.borehole.spans import Spans
from jointstats.fit.mixture import JointSetMixture
from jointstats.fit.roundness import roundness_of
from jointstats.intervals import poisson_interval
from jointstats.line.quality import rqd_from_frequency
from jointstats.line.recovery import partly_lost_m, zones_of
from jointstats.line.spacing import SpacingStatistics, pool_spacings, set_spacing
from jointstats.sets.joint_set import JointSet
from jointstats.sets.reading_error import reading_error, widened_cone_deg
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.fisher import FisherStatistics, fisher_statistics
from jointstats.sphere.set_density import SetDensity
from jointstats.types import Array, Interval
from jointstats.uneven.uneven_rock import Unevenness

__all__ = ["Basis", "joint_set", "line_table"]

#: Share of the largest κ that a fit allows, above which errors of reading explain all of the scatter.
_ALL_OF_IT = 0.9


class Basis(NamedTuple):
    """What the figures are drawn from."""

    site: Site
    fractures: pd.DataFrame
    model: JointSetMixture
    sampling: Sampling
    common_error_deg: Array
    uneven: Unevenness | None
    site_intervals: list[Interval]
    presence: Array


def line_table(basis: Basis) -> pd.DataFrame:
    """Frequency and theoretical RQD along each line; all fractures count, oriented or not.

    One row a line, with the columns that `SiteAnalysis.holes` lists.
    """
    every = Fractures(basis.fractures).counted
    confidence, rows = basis.model.confidence, []
    for line in basis.sampling.lines:
        logged = line.logged_m
        found = every.in_hole(line.name)
        counted = logged * line.detected
        low, high = poisson_interval(len(found), confidence)
        frequency = len(found) / counted if logged else 0.0
        trend, plunge = trend_from_lines(line.middle)
        # Lost core counts in the length and in no piece: ASTM D6032, from memory.
        lost = Spans(basis.site.hole(line.name).lost).minus(line.spans).total_m
        cored = Spans([(one.from_m, one.to_m) for one in line.lengths if one.method == "core"])
        partly = partly_lost_m(zones_of(basis.site, line.name), cored)
        core = (logged - partly) / (logged + lost) if logged else 0.0
        rows.append(
            {
                "hole": line.name,
                "trend_deg": float(trend[0]),
                "plunge_deg": float(plunge[0]),
                "logged_m": logged,
                "n": len(found),
                "n_oriented": len(found.oriented),
                "p10_per_m": frequency,
                "p10_low_per_m": low / counted if logged else 0.0,
                "p10_high_per_m": high / counted if logged else 0.0,
                "lost_m": lost + partly,
                "recovered_share": core if logged else None,
                "rqd_theoretical": float(rqd_from_frequency(frequency) * core) if logged else None,
            }
        )
    return pd.DataFrame(rows)


def joint_set(basis: Basis, k: int, name: str) -> JointSet:
    """All figures of the k-th set of the model."""
    site, fractures, model, sampling, common, uneven, intervals, presence = basis
    assert uneven is not None  # it is made wherever there is a set
    exposure = sampling.exposure
    density, read = model.rock_.densities[k], model.read_rock_.densities[k]
    every = Fractures(fractures.assign(common_error_deg=common)).of_set(name)
    own, fitted = every.counted, every.fitted
    reading = reading_error(fitted.table, fitted.table["common_error_deg"].to_numpy())
    spacing, holes = _along_lines(basis, own, k)
    certainty, met = model.certainty_, density.mean_exposure(exposure)
    between = certainty.kappa_interval(k)
    return JointSet(
        name=name,
        density=density,
        read_density=read,
        cone_deg=widened_cone_deg(certainty.cone_deg(k), reading.mean_deg, model.confidence),
        concentration_interval=between,
        kappa_read_interval=_read_interval(density, read, between),
        **_of_rock(density, between, model),
        reading_error_deg=reading.total_deg if model.data_.read else None,
        p32_per_m=float(model.intensities_[k]),
        p32_interval=intervals[k],
        p32_even_interval=certainty.intensity_interval(k),
        variation_between_lines=uneven.variation_interval(k, model.confidence),
        even_probabilities=(float(uneven.p_even_between[k]), float(uneven.p_even_along[k])),
        presence=float(presence[k]),
        n=len(fitted),
        n_blind=len(own) - len(fitted),
        n_expected=float(model.intensities_[k] * met),
        n_unlogged=float(model.intensities_[k]) * _unlogged_m(sampling, density),
        exposure_m=met,
        seen_share=seen_share(exposure, density),
        best_angle_deg=best_angle_deg(exposure, density),
        p32_weighted_per_m=_weighted_p32(site, fitted, exposure),
        statistics=_plain_statistics(own, density, model.confidence),
        spacing=spacing,
        elliptical_test=roundness_of(model.data_, model.fit_, k),
        holes=holes,
        confidence=model.confidence,
        posterior=certainty.draws(k),
    )


def _plain_statistics(own: Fractures, density: SetDensity, confidence: float) -> FisherStatistics:
    """Of the fractures as observed; where there is none, of the mean alone."""
    return fisher_statistics(own.poles if len(own) else density.frame[0], confidence=confidence)


def _of_rock(density: SetDensity, between: Interval, model: JointSetMixture) -> dict[str, Any]:
    """κ of the rock and its interval; what the errors explain wholly, or a girdle has not, is None."""
    if density.kappa is None or not model.data_.read:
        return {"kappa_rock": None, "kappa_rock_interval": (None, None)}
    most = _ALL_OF_IT * model.kappa_bounds[1]
    rock, low, high = (
        None if value > most else value for value in (density.kappa, between[0], between[1])
    )
    return {"kappa_rock": rock, "kappa_rock_interval": (low, high)}


def _read_interval(density: SetDensity, read: SetDensity, between: Interval) -> Interval:
    """The interval of κ spread as the density is, from κ of the rock to κ as read."""
    of_rock, as_read = 1.0 / density.concentration, 1.0 / read.concentration
    scatter = (as_read - of_rock) / (1.0 - of_rock)
    low, high = (1.0 / (v + scatter * (1.0 - v)) for v in (1.0 / between[0], 1.0 / between[1]))
    return low, high


def best_angle_deg(exposure: LineExposure, density: SetDensity) -> float:
    """Largest angle between the mean plane (any plane of a girdle) and a piece of line, degrees."""
    along = np.abs(exposure.directions @ density.frame[0])
    if density.mean is None:
        along = np.sqrt(np.maximum(1.0 - along**2, 0.0))
    return float(np.degrees(np.arcsin(np.clip(along, 0.0, 1.0))).max())


def seen_share(exposure: LineExposure, density: SetDensity) -> float:
    """Share, 0 to 1, of what the same metres would meet of a set without a blind angle."""
    return density.mean_exposure(exposure) / density.mean_exposure(exposure.with_blind_angle(0.0))


def _unlogged_m(sampling: Sampling, density: SetDensity) -> float:
    """Metres of square-on sampling that the lengths not logged would have given."""
    return density.mean_exposure(sampling.unlogged) if sampling.unlogged else 0.0


def _weighted_p32(site: Site, fitted: Fractures, exposure: LineExposure) -> float:
    """P32 by Terzaghi weights over the logged length, the classical way."""
    if not len(fitted):
        return 0.0
    weights = terzaghi_weights(
        fitted.poles,
        hole_directions(site, fitted.table),
        blind_angle_deg=max(exposure.blind_angle_deg, 1e-3),
    )
    return float(weights.sum()) / exposure.total_m


def _along_lines(basis: Basis, own: Fractures, k: int) -> tuple[SpacingStatistics, pd.DataFrame]:
    """Spacing pooled over the lines, and a row of figures for each line."""
    model = basis.model
    density = model.rock_.densities[k]
    spacings, rows = [], []
    for line in basis.sampling.logged:
        depth = own.in_hole(line.name).depth_m
        spacing = set_spacing(
            # A girdle has no mean normal to measure along.
            depth if density.mean is not None else depth[:0],
            line.path.direction,
            density.frame[0],
            logged=line.spans.pairs,
            confidence=model.confidence,
            share=line.exposure.total_m / line.logged_m,
        )
        spacings.append(spacing)
        alone = line.exposure
        low, high = poisson_interval(len(depth), model.confidence)
        rows.append(
            {
                "hole": line.name,
                "n": len(depth),
                "n_expected": float(model.intensities_[k]) * density.mean_exposure(alone),
                "logged_m": line.logged_m,
                "p10_per_m": len(depth) / alone.total_m,
                "p10_low_per_m": low / alone.total_m,
                "p10_high_per_m": high / alone.total_m,
                "angle_deg": best_angle_deg(alone, density),
                "spacing_mean_m": spacing.mean_m if spacing.n_fractures else None,
            }
        )
    return pool_spacings(spacings), pd.DataFrame(rows)
