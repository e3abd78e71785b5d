"""What errors of reading do to a set: they widen its scatter, and may turn its mean.

An error drawn anew for each fracture adds to the scatter about the mean: it is already in the
observed κ and in the cone, and can be taken out of κ. An error that all fractures of a hole share
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
from jointstats.sphere.fisher import kappa_from_mean_resultant
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

    def rock_kappa(self, kappa: float) -> float | None:
        """κ with these errors taken out; None if they are not known or explain all of it."""
        return None if self.total_deg is None else rock_kappa(kappa, self.scatter)


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


def rock_kappa(kappa: float, scatter: Array) -> float | None:
    """κ of a set in the rock, from κ as read and the scatter that reading adds.

    A turn of random direction multiplies the mean resultant: A(κ read) = A(κ rock) · A(κ error),
    A(κ) = coth κ − 1/κ, exactly so whatever the distribution about the mean, if round (Mardia &
    Jupp 2000, Directional Statistics, on convolutions; from memory). Taken as Fisher, an error of
    variance σ² a tangent direction has κ = 1/σ². For small errors: 1/κ read = 1/κ rock + σ².

    `kappa`: as read, above zero; `scatter` (n,): variance a tangent direction of each fracture,
    radians². Gives none if the errors explain all of the scatter.
    """
    read = float(_shortfall(np.array([1.0 / kappa]))[0])
    error = float(_shortfall(np.asarray(scatter, dtype=np.float64)).mean())
    if error == 0.0:
        return kappa
    left = (read - error) / (1.0 - error)
    return kappa_from_mean_resultant(left) if left > 0.0 else None


def _shortfall(variance: Array) -> Array:
    """1 − A(κ) at κ = 1 / variance: 1/κ − 2 / (e^2κ − 1)."""
    # Beyond κ = 350 the second term is far below the last bit.
    twice = 2.0 / np.maximum(variance, 1.0 / 350.0)
    return variance - np.where(variance > 1.0 / 350.0, 2.0 / np.expm1(twice), 0.0)


def widened_cone_deg(cone_deg: float, error_deg: float, confidence: float) -> float:
    """Confidence cone of a mean that errors common to whole holes may have turned.

    The errors are taken as all in one direction, which makes the cone a little too wide where they
    are not.

    `cone_deg`: half-angle from the scatter alone; `error_deg`: root mean square turn of the mean.
    Gives half-angle, degrees, at most 90.
    """
    return float(min(np.hypot(cone_deg, ndtri(0.5 * (1.0 + confidence)) * error_deg), 90.0))
