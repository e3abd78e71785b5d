"""Fractures observed and expected by their angle to the hole: the check of the law of sampling."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import chdtrc

from jointstats.borehole.fractures import Fractures
from jointstats.intervals import poisson_interval
from jointstats.line.placing import SMALL_P
from jointstats.sphere.axes import hemisphere_grid
from jointstats.sphere.zonal import met_by_hole
from jointstats.types import Array
from jointstats.words import p_value

if TYPE_CHECKING:
    from jointstats.borehole.sampling import Sampling

#: Ends of the classes of angle between plane and hole, degrees, beyond the blind angle.
EDGES_DEG = (10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0)
_GRID, _FEWEST = 20_000, 5.0


def counts_by_angle(
    fractures: pd.DataFrame, sampling: Sampling, log_rate: Array, confidence: float = 0.95
) -> pd.DataFrame:
    """Fractures of the fit by angle to their hole, beside what the fit expects there.

    `log_rate`: of the rock at the axes of `law_grid`. Gives one row a class: from_deg, to_deg, n, low
    and high (Poisson interval), expected, and pvalue of all classes, by the chi-square of those that
    expect five or more; the fit has followed the counts, so it is a little large.
    """
    grid = law_grid()
    weight = np.exp(log_rate) * (2.0 * np.pi / len(grid))
    edges = np.unique([sampling.blind_angle_deg, *EDGES_DEG])
    edges = edges[edges >= sampling.blind_angle_deg]
    expected = np.zeros(len(edges) - 1)
    whole = sampling.exposure
    for direction, metres, girth in zip(whole.directions, whole.lengths_m, whole.girths, strict=True):
        cosine = np.minimum(np.abs(grid @ direction), 1.0)
        met = metres * weight * (met_by_hole(cosine, girth) if girth else cosine)
        expected += np.histogram(np.degrees(np.arcsin(cosine)), edges, weights=met)[0]
    angle = Fractures(fractures).fitted.table["hole_angle_deg"].to_numpy(float)
    n = np.histogram(angle, edges)[0]
    limits = np.array([poisson_interval(int(k), confidence) for k in n]).reshape(-1, 2)
    large = expected >= _FEWEST
    chi = float((((n - expected) ** 2)[large] / expected[large]).sum())
    return pd.DataFrame(
        {
            "from_deg": edges[:-1],
            "to_deg": edges[1:],
            "n": n,
            "low": limits[:, 0],
            "high": limits[:, 1],
            "expected": expected,
            "pvalue": float(chdtrc(max(int(large.sum()) - 1, 1), chi)),
        }
    )


def law_sentence(table: pd.DataFrame) -> str:
    """Whether the counts follow the law of sampling, and where they part from it most."""
    pvalue = float(table["pvalue"].iloc[0])
    outside = table[(table["expected"] < table["low"]) | (table["expected"] > table["high"])]
    if pvalue >= SMALL_P:
        return f"By angle to their hole the counts are consistent with the law of sampling ({p_value(pvalue)})."
    each = [
        f"{row['n']:.0f} at {row['from_deg']:g} to {row['to_deg']:g}°, {row['expected']:.0f} expected"
        for row in outside.to_dict("records")
    ]
    return (
        f"By angle to their hole the counts depart from the law of sampling ({p_value(pvalue)}): "
        f"{'; '.join(each) or 'in many classes a little'}. Uneven rock, a thick hole, detection that "
        "falls off at small angles and sets of another shape all look so, and counts alone don't tell "
        "which; P32 of sets that were met at those angles is doubtful."
    )


def law_grid() -> Array:
    """Evenly spread axes at which the rock is asked, (n, 3)."""
    return hemisphere_grid(_GRID)
