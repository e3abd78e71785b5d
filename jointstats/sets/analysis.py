"""From a site to its joint sets: the main job, step by step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.exposure import LineExposure, terzaghi_weights
from jointstats.borehole.orient import orient_fractures
from jointstats.borehole.sampling import (
    SampledLength,
    sampled_lengths,
    site_exposure,
    was_sampled,
)
from jointstats.errors import InputError
from jointstats.sets.frequency import poisson_interval
from jointstats.sets.joint_set import JointSet
from jointstats.sets.mixture import JointSetMixture
from jointstats.sets.quality import rqd_from_frequency
from jointstats.sets.result import FractureCounts, SiteAnalysis
from jointstats.sets.spacing import SpacingStatistics, pool_spacings, set_spacing
from jointstats.sphere.angles import trend_from_lines
from jointstats.sphere.fisher import fisher_statistics

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

__all__ = ["analyse"]

Array = NDArray[np.float64]

POLE_COLUMNS = ["pole_east", "pole_north", "pole_up"]


def analyse(
    site: Site,
    n_sets: int | Literal["auto"] = "auto",
    *,
    blind_angle_deg: float | None = None,
    confidence: float = 0.95,
    max_sets: int = 8,
    random_state: int | None = 0,
) -> SiteAnalysis:
    """Find the joint sets of a site, with the sampling of its holes taken out.

    Parameters
    ----------
    site : Site
        From `read_site`.
    n_sets : int or "auto"
        Number of sets; "auto" lets the Bayesian information criterion choose.
    blind_angle_deg : float or None
        Angle between hole and plane below which picks are not trusted, degrees; None takes the
        site's own.
    confidence : float
        Level of every interval, between 0 and 1.
    max_sets : int
        Most sets that "auto" tries.
    random_state : int or None
        Makes the search repeatable.

    Returns
    -------
    SiteAnalysis
        Sets, every fracture with its set and membership, holes, and what must be known of them.

    Raises
    ------
    InputError
        If nothing was logged, or an argument is out of range.

    Examples
    --------
    Fractures made from three known sets are sorted back into three:

    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> result = js.analyse(site)
    >>> len(result.sets)
    3
    """
    blind = site.settings.blind_angle_deg if blind_angle_deg is None else blind_angle_deg
    lengths = sampled_lengths(site)
    if not lengths:
        raise InputError(f"site {site.name} has no logged length, so nothing was sampled")
    exposure = site_exposure(site, lengths, blind_angle_deg=blind)
    fractures = _with_status(orient_fractures(site), lengths, blind)
    used = (fractures["status"] == "in the fit").to_numpy()
    model = JointSetMixture(
        n_sets, max_sets=max_sets, confidence=confidence, random_state=random_state
    )
    model.fit(_at_least_one(fractures.loc[used, POLE_COLUMNS].to_numpy()), exposure=exposure)
    fractures = _with_sets(fractures, model)
    sets = tuple(
        _joint_set(site, fractures, model, exposure, lengths, k) for k in range(model.n_sets_)
    )
    return SiteAnalysis(
        site=site,
        sets=sets,
        background_per_m=float(model.background_),
        background_interval=model.certainty_.intensity_interval(model.n_sets_),
        fractures=fractures,
        holes=_hole_table(site, fractures, lengths, confidence),
        counts=_counts(fractures),
        exposure=exposure,
        mixture=model,
        settings={
            "n_sets": n_sets,
            "max_sets": max_sets,
            "blind_angle_deg": float(blind),
            "confidence": confidence,
            "random_state": random_state,
        },
        notes=tuple(site.notes) + _fit_notes(model),
    )


def _at_least_one(poles: Array) -> Array:
    # A row of zeros has no direction: the estimator leaves it out, and finds no set.
    return poles if len(poles) else np.zeros((1, 3))


def _with_status(
    fractures: pd.DataFrame, lengths: tuple[SampledLength, ...], blind_angle_deg: float
) -> pd.DataFrame:
    """Say of each fracture whether it enters the fit, and if not, why."""
    oriented = fractures["pole_up"].notna().to_numpy()
    angle = fractures["hole_angle_deg"].to_numpy(float)
    status = np.where(oriented, "in the fit", "not oriented").astype(object)
    status[oriented & (angle < blind_angle_deg)] = "below blind angle"
    status[~was_sampled(fractures, lengths)] = "other method"
    return fractures.assign(status=status)


def _with_sets(fractures: pd.DataFrame, model: JointSetMixture) -> pd.DataFrame:
    """Name the set of every oriented fracture, with its membership."""
    names = np.array([f"J{k + 1}" for k in range(model.n_sets_)] + ["unassigned"], dtype=object)
    oriented = fractures["pole_up"].notna().to_numpy()
    chosen = np.full(len(fractures), "", dtype=object)
    membership = np.full(len(fractures), np.nan)
    if oriented.any():
        shares = model.predict_proba(fractures.loc[oriented, POLE_COLUMNS].to_numpy())
        best = shares.argmax(axis=1)
        chosen[oriented] = names[best]
        membership[oriented] = shares[np.arange(len(best)), best]
    status = fractures["status"].to_numpy(dtype=object).copy()
    fitted = status == "in the fit"
    status[fitted] = np.where(chosen[fitted] == "unassigned", "unassigned", "in a set")
    return fractures.assign(status=status, set=chosen, membership=membership)


def _counts(fractures: pd.DataFrame) -> FractureCounts:
    number = fractures["status"].value_counts()
    return FractureCounts(
        total=len(fractures),
        in_a_set=int(number.get("in a set", 0)),
        unassigned=int(number.get("unassigned", 0)),
        below_blind_angle=int(number.get("below blind angle", 0)),
        not_oriented=int(number.get("not oriented", 0)),
        other_method=int(number.get("other method", 0)),
    )


def _fit_notes(model: JointSetMixture) -> tuple[str, ...]:
    notes = []
    if not model.converged_:
        notes.append(
            f"The fit stopped after {model.n_iter_} iterations before it had converged; its "
            "figures may still move."
        )
    for trial in model.trials_:
        if trial.n_sets > model.n_sets_ and "too few" in trial.verdict:
            notes.append(f"A fit with {trial.n_sets} sets was {trial.verdict}.")
            break
    return tuple(notes)


def _hole_table(
    site: Site, fractures: pd.DataFrame, lengths: tuple[SampledLength, ...], confidence: float
) -> pd.DataFrame:
    """Frequency and theoretical RQD along each hole; all fractures count, oriented or not."""
    counted = fractures[fractures["status"] != "other method"]
    rows = []
    for hole in site.holes:
        own = [one for one in lengths if one.hole == hole.name]
        logged = sum(one.length_m for one in own)
        found = counted[counted["hole"] == hole.name]
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
                "n_oriented": int(found["pole_up"].notna().sum()),
                "p10_per_m": frequency,
                "p10_low_per_m": low / logged if logged else 0.0,
                "p10_high_per_m": high / logged if logged else 0.0,
                "rqd_theoretical": float(rqd_from_frequency(frequency)) if logged else None,
            }
        )
    return pd.DataFrame(rows)


def _joint_set(
    site: Site,
    fractures: pd.DataFrame,
    model: JointSetMixture,
    exposure: LineExposure,
    lengths: tuple[SampledLength, ...],
    k: int,
) -> JointSet:
    name, mean, kappa = f"J{k + 1}", model.means_[k], float(model.kappas_[k])
    own = fractures[(fractures["set"] == name) & (fractures["status"] != "other method")]
    fitted = own[own["status"] == "in a set"]
    spacing, holes = _along_holes(site, own, model, exposure, lengths, k)
    certainty = model.certainty_
    blind = exposure.blind_angle_deg
    angle = np.degrees(np.arcsin(np.clip(np.abs(exposure.directions @ mean), 0.0, 1.0)))
    return JointSet(
        name=name,
        mean=mean,
        cone_deg=certainty.cone_deg(k),
        kappa=kappa,
        kappa_interval=certainty.kappa_interval(k),
        p32_per_m=float(model.intensities_[k]),
        p32_interval=certainty.intensity_interval(k),
        n=len(fitted),
        n_blind=len(own) - len(fitted),
        n_expected=float(model.intensities_[k] * exposure.of_set(mean, kappa)),
        exposure_m=exposure.of_set(mean, kappa),
        seen_share=exposure.seen_share(mean, kappa),
        best_angle_deg=float(angle.max()),
        p32_weighted_per_m=_weighted_p32(site, fitted, blind) / exposure.total_m,
        statistics=fisher_statistics(
            own[POLE_COLUMNS].to_numpy() if len(own) else mean, confidence=model.confidence
        ),
        spacing=spacing,
        holes=holes,
        confidence=model.confidence,
    )


def _directions(site: Site, fractures: pd.DataFrame) -> Array:
    """Direction of the hole at each fracture."""
    directions = np.empty((len(fractures), 3))
    for name in fractures["hole"].unique():
        at = (fractures["hole"] == name).to_numpy()
        directions[at] = site.hole(name).path.direction(fractures.loc[at, "depth_m"].to_numpy())
    return directions


def _weighted_p32(site: Site, fitted: pd.DataFrame, blind_angle_deg: float) -> float:
    """Sum of Terzaghi weights: P32 times the logged length, the classical way."""
    if fitted.empty:
        return 0.0
    weights = terzaghi_weights(
        fitted[POLE_COLUMNS].to_numpy(),
        _directions(site, fitted),
        blind_angle_deg=max(blind_angle_deg, 1e-3),
    )
    return float(weights.sum())


def _along_holes(
    site: Site,
    own: pd.DataFrame,
    model: JointSetMixture,
    exposure: LineExposure,
    lengths: tuple[SampledLength, ...],
    k: int,
) -> tuple[SpacingStatistics, pd.DataFrame]:
    """Spacing pooled over the holes, and a row of figures for each hole."""
    mean, kappa = model.means_[k], float(model.kappas_[k])
    spacings, rows = [], []
    for hole in site.holes:
        pieces = tuple(one for one in lengths if one.hole == hole.name)
        if not pieces:
            continue
        found = own[own["hole"] == hole.name].sort_values("depth_m", kind="stable")
        depth = found["depth_m"].to_numpy(float)
        spacing = set_spacing(
            depth,
            hole.path.direction,
            mean,
            logged=[(one.from_m, one.to_m) for one in pieces],
            confidence=model.confidence,
        )
        spacings.append(spacing)
        alone = site_exposure(site, pieces, blind_angle_deg=exposure.blind_angle_deg)
        low, high = poisson_interval(len(found), model.confidence)
        angle = np.arcsin(np.clip(np.abs(alone.directions @ mean), 0.0, 1.0))
        rows.append(
            {
                "hole": hole.name,
                "n": len(found),
                "n_expected": float(model.intensities_[k]) * alone.of_set(mean, kappa),
                "logged_m": alone.total_m,
                "p10_per_m": len(found) / alone.total_m,
                "p10_low_per_m": low / alone.total_m,
                "p10_high_per_m": high / alone.total_m,
                "angle_deg": float(np.degrees(angle.max())),
                "spacing_mean_m": spacing.mean_m,
            }
        )
    return pool_spacings(spacings), pd.DataFrame(rows)
