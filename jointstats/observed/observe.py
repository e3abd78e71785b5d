"""From a site to what was observed of it: its fractures with their status, its sampling by shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import CLASS_COLUMN, Fractures, Mask, Status
from jointstats.borehole.orient import hole_directions, orient_fractures
from jointstats.borehole.sampling import Sampling
from jointstats.borehole.terms import checked_classes, classes_of
from jointstats.errors import InputError
from jointstats.observed.fracture_size import size_of
from jointstats.observed.merged import log_error, merge_logs, merged_lengths
from jointstats.observed.observation import Observation, observation_of
from jointstats.observed.oriented import with_shares
from jointstats.observed.partly import HalfRead, PartlyOriented, partly_oriented, seen_places

if TYPE_CHECKING:
    from jointstats.borehole.site import Site


class Observed(NamedTuple):
    """What was observed of a site."""

    fractures: pd.DataFrame  # as `orient_fractures` gives them, with their status
    sampling: Sampling
    observation: Observation
    partly: PartlyOriented | None  # fractures known in part


def observe(
    site: Site, included: Sequence[str] | None = None, *, blind_angle_deg: float | None = None
) -> Observed:
    """Orient the fractures of a site, say which enter a fit, and what share of all those are.

    `included` names the classes of discontinuity that count; None: those that do unless others are asked for.
    """
    sampling = Sampling.of(site, blind_angle_deg=blind_angle_deg)
    if not sampling.logged:
        raise InputError(f"site {site.name} has no logged length, so nothing was sampled")
    fractures = _with_class(site, orient_fractures(site))
    counts = fractures[CLASS_COLUMN].isin(checked_classes(included)).to_numpy()
    fractures, yields, detection, notes = merge_logs(site, fractures, sampling, counts)
    lengths = merged_lengths(sampling, detection)
    fractures = _with_status(site, fractures, sampling.with_lengths(lengths), counts, yields)
    counted = Fractures(fractures).counted
    known = counted.is_oriented
    if not known.any():
        # Sets are found by whole orientations: where there is none, a part of one can't be placed.
        part = fractures["status"].isin([Status.PARTLY_ORIENTED, Status.BELOW_BLIND_ANGLE])
        part &= ~Fractures(fractures).is_oriented
        fractures.loc[part, "status"] = Status.NOT_ORIENTED.value
        counted = Fractures(fractures).counted
    size = size_of(fractures, sampling, site.settings.fracture_radius_m)

    def with_known(known: Mask) -> Sampling:
        hole = counted.table["hole"].to_numpy()
        parts = with_shares(lengths, hole, counted.depth_m, known)
        seen = sampling.with_lengths(parts, log_error(parts, detection))
        return seen if size is None else seen.with_fractures_of(size.radius_m, size.log_error)

    partly = None
    if known.any():
        more = known | counted.has(Status.PARTLY_ORIENTED)
        rows = np.flatnonzero(Fractures(fractures).has(Status.PARTLY_ORIENTED))
        partly = partly_oriented(site, fractures, rows, with_known(more)) if len(rows) else None
    seen = with_known(known)
    observation = observation_of(fractures, seen, detection, notes)
    return Observed(fractures, seen, replace(observation, size=size), partly)


def _with_class(site: Site, fractures: pd.DataFrame) -> pd.DataFrame:
    """The class of each fracture beside what the tables say of it."""
    return fractures.assign(**{CLASS_COLUMN: classes_of(fractures, site.words)})


def _with_status(
    site: Site, fractures: pd.DataFrame, sampling: Sampling, counts: Mask, yields: Mask
) -> pd.DataFrame:
    """Say of each fracture whether it enters the fit, and if not, why."""
    oriented = Fractures(fractures).is_oriented
    angle = fractures["hole_angle_deg"].to_numpy(float)
    status = np.where(oriented, Status.IN_THE_FIT, Status.NOT_ORIENTED).astype(object)
    status[oriented & (angle < sampling.blind_angle_deg)] = Status.BELOW_BLIND_ANGLE.value
    half = HalfRead.of(site, fractures)
    rows = np.flatnonzero(~oriented & half.any_known)
    directions = hole_directions(site, fractures.iloc[rows])
    poles, likely = HalfRead(*(one[rows] for one in half)).places(directions)
    lines = np.zeros(len(rows))  # how thick a hole is changes nothing in what it is blind to
    seen = seen_places(poles, likely, directions, lines, sampling.blind_angle_deg).any(axis=1)
    status[rows] = np.where(seen, Status.PARTLY_ORIENTED, Status.BELOW_BLIND_ANGLE).astype(object)
    status[~sampling.covers(fractures)] = Status.OTHER_METHOD.value
    status[yields] = Status.PAIRED.value
    status[~counts] = Status.NOT_INCLUDED.value
    return fractures.assign(status=status)
