"""What errors of reading do to a set: they widen its scatter, and may turn its mean.

An error drawn anew for each fracture adds to the scatter about the mean. Where one is stated for every
fracture the fit spreads the density of a set by the error of each (`FitData.scatter`), so that its κ,
P32 and draws are the rock's. An error that all fractures of a hole share
(of its survey, of the reference line round its wall) turns them together: within one hole it leaves
no scatter to see, so the cone is widened by it. Errors are taken as independent from hole to hole.
An error that all holes share, a wrong declination for one, is in neither.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from jointstats.borehole.orient import orient_fractures
from jointstats.types import Array

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.site import Site


@dataclass(frozen=True)
class ReadingError:
    """Errors of reading of the fractures of one set, root mean squares in degrees.

    Attributes
    ----------
    total_deg : float or None
        Angle between a pole and the true one; None unless stated for every fracture of the set.
    scatter : ndarray, shape (n,)
        Variance a tangent direction that each fracture adds to the observed scatter, radians².
    mean_deg : float
        Angle by which errors common to a hole may have turned the mean of the set.

    Examples
    --------
    >>> ReadingError(None, np.zeros(0), 0.0).total_deg is None
    True
    """

    total_deg: float | None
    scatter: Array
    mean_deg: float


def common_error_deg(site: Site, fractures: pd.DataFrame) -> Array:
    """The part of each fracture's angular error that it shares with its hole.

    `fractures`: from `orient_fractures`, all rows of the site. Gives (n,): root mean square
    angle, degrees: what is left of angular_error_deg when the errors without those of survey and
    roll are taken from it, in squares; 0 where it is not known.
    """
    errors = site.settings.errors
    if not (errors.survey_deg or errors.roll_deg):
        return np.zeros(len(fractures))
    alone = replace(errors, survey_deg=None, roll_deg=None)
    bare = orient_fractures(replace(site, settings=replace(site.settings, errors=alone)))
    squares = (
        fractures["angular_error_deg"].to_numpy(float) ** 2
        - bare["angular_error_deg"].to_numpy(float) ** 2
    )
    return np.sqrt(np.maximum(np.nan_to_num(squares), 0.0))


def reading_error(fractures: pd.DataFrame, common_deg: Array) -> ReadingError:
    """Errors of reading of one set.

    `fractures`: the fractures of the set, with hole and angular_error_deg; `common_deg` (n,):
    part of each that its hole shares, degrees.
    """
    total = fractures["angular_error_deg"].to_numpy(float)
    if not len(total):
        return ReadingError(None, np.zeros(0), 0.0)
    _, hole = np.unique(fractures["hole"].to_numpy(dtype=str), return_inverse=True)
    count = np.bincount(hole)
    share = count / len(total)
    # Each hole turns its share of the mean by the mean square of its common error.
    per_hole = np.bincount(hole, weights=common_deg**2) / count
    mean_deg = float(np.sqrt((share**2 * per_hole).sum()))
    # Of an error common to a hole, only what sets the holes apart is scatter: 1 − Σ share².
    apart = 1.0 - float((share**2).sum())
    squares = total**2 - (1.0 - apart) * common_deg**2
    if np.isnan(squares).any():
        return ReadingError(None, np.zeros(0), mean_deg)
    rms = float(np.sqrt(np.mean(total**2)))
    return ReadingError(rms, 0.5 * np.radians(1.0) ** 2 * squares, mean_deg)


def fit_scatter(fractures: pd.DataFrame, common_deg: Array) -> Array | None:
    """Variance a tangent direction that reading adds to each fracture of a fit, (n,), radians².

    None unless an error is stated for every one: κ of the rock would be a mixture of κ as read and
    κ without errors. `fractures` and `common_deg` as for `reading_error`, of all sets together.
    """
    found = reading_error(fractures, common_deg)
    return None if found.total_deg is None else found.scatter


def widened_cone_deg(cone_deg: float, error_deg: float, confidence: float) -> float:
    """Confidence cone of a mean that errors common to whole holes may have turned.

    The errors are taken as all in one direction, which makes the cone a little too wide where they
    are not.

    `cone_deg`: half-angle from the scatter alone; `error_deg`: root mean square turn of the mean.
    Gives half-angle, degrees, at most 90.
    """
    return float(min(np.hypot(cone_deg, ndtri(0.5 * (1.0 + confidence)) * error_deg), 90.0))
