"""Each set as each hole alone gives it, beside the whole fit; the set of any plane."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.borehole.exposure import terzaghi_weights
from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.intervals import poisson_interval
from jointstats.sphere.angles import poles_from_dip
from jointstats.sphere.axes import axis_angles_deg
from jointstats.sphere.fisher import fisher_statistics

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

#: A mean of fewer fractures has a cone that says nothing.
FEWEST_FOR_MEAN = 5


def set_by_hole(result: SiteAnalysis, one: JointSet) -> pd.DataFrame:
    """P32 and mean of one set as each hole alone gives them.

    Gives hole; n, fractures of the set in the fit; exposure_m, the equivalent length square to
    the set; p32_per_m, p32_low_per_m and p32_high_per_m, count over that length with its Poisson
    interval (NaN without exposure); angle_deg from the mean of the whole fit to the Terzaghi-
    weighted mean of the hole, and cone_deg of the latter (NaN below five fractures, or for a set
    without a mean).
    """
    fitted = Fractures(result.fractures).of_set(one.name).fitted
    rows = []
    for hole, expected in zip(one.holes["hole"], one.holes["n_expected"], strict=True):
        own = fitted.in_hole(hole)
        exposure = expected / one.p32_per_m if one.p32_per_m > 0 else 0.0
        low, high = poisson_interval(len(own), one.confidence)
        p32 = np.array([len(own), low, high]) / exposure if exposure > 0 else [np.nan] * 3
        rows.append([hole, len(own), exposure, *p32, *_mean(result, one, own)])
    columns = ["hole", "n", "exposure_m", "p32_per_m", "p32_low_per_m", "p32_high_per_m"]
    return pd.DataFrame(rows, columns=[*columns, "angle_deg", "cone_deg"])


def _mean(result: SiteAnalysis, one: JointSet, own: Fractures) -> tuple[float, float]:
    """Angle to the mean of the whole fit, and the cone, of the fractures of one hole."""
    if len(own) < FEWEST_FOR_MEAN or one.mean is None:
        return np.nan, np.nan
    hole = result.site.hole(own.table["hole"].iloc[0])
    along = np.asarray(hole.path.direction(own.depth_m)).reshape(-1, 3)
    blind = max(result.exposure.blind_angle_deg, 1e-3)
    weights = terzaghi_weights(own.poles, along, blind_angle_deg=blind)
    found = fisher_statistics(own.poles, weights, confidence=one.confidence)
    return float(axis_angles_deg(found.mean, one.mean)[0]), found.cone_deg


def set_of_plane(result: SiteAnalysis, dip_deg: float, dip_direction_deg: float) -> str:
    """The set that a plane of true orientation would most probably be of; "unassigned" for none."""
    shares = result.mixture.predict_proba(poles_from_dip(dip_deg, dip_direction_deg))[0]
    names = [*(one.name for one in result.sets), UNASSIGNED]
    return names[int(np.argmax(shares))]
