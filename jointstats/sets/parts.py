"""Parts of a set that matter to a design, and how far its figures hang on the analyst's choices."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import Fractures
from jointstats.errors import InputError
from jointstats.fit.data import FitData
from jointstats.fit.rock import Rock
from jointstats.fit.shaped import fit_shaped
from jointstats.sets.reading_error import common_error_deg, fit_scatter
from jointstats.sets.result import SiteAnalysis

_DRAWS, _SEED = 4000, 5
_NOTHING = 1e-12  # 1/m
#: Blind angles that are tried, degrees.
BLIND_ANGLES_DEG = (5.0, 10.0, 15.0, 20.0)


def p32_of_parts(result: SiteAnalysis, column: str, terms: Collection[str]) -> pd.DataFrame:
    """P32 of the fractures of each set that a condition names: the open, the clay-filled, the oxidised.

    Parameters
    ----------
    result : SiteAnalysis
    column : str
        A column of the condition, as `SiteAnalysis.condition` has it.
    terms : collection of str
        Terms that count as the part.

    Returns
    -------
    pandas.DataFrame
        One row a set that is described: set, n (of the part), described, share, p32_per_m, p32_low_per_m,
        p32_high_per_m, spacing_m (1 / P32: of parallel persistent fractures).

    Raises
    ------
    InputError
        If nothing is described in the column, or no fracture has a term.

    Notes
    -----
    The described fractures are taken to stand for all of their set. The interval joins that of the
    set's P32 with that of the share (Jeffreys' beta).

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.simulate_site(random_state=1)
    >>> filled = site.fractures.assign(infilling="clay")
    >>> from dataclasses import replace
    >>> result = js.analyse(replace(site, fractures=filled))
    >>> table = js.sets.p32_of_parts(result, "infilling", ["clay"])
    >>> bool((table["share"] == 1.0).all())
    True
    """
    known = result.condition
    known = known[known["column"] == column]
    if known.empty:
        raise InputError(f"no fracture is described in {column!r}")
    missing = [term for term in terms if term not in set(known["term"])]
    if missing:
        raise InputError(
            f"no fracture is {missing[0]!r} in {column!r}; it has {', '.join(known['term'].unique())}"
        )
    rows = []
    tail = 0.5 * (1.0 - float(result.mixture.confidence))
    rng = np.random.default_rng(_SEED)
    for one in result.sets:
        own = known[known["set"] == one.name]
        if own.empty:
            continue
        described = int(own["described"].iloc[0])
        n = int(own.loc[own["term"].isin(list(terms)), "n"].sum())
        low, high = np.log(one.p32_interval)
        whole = np.exp(rng.normal(0.5 * (low + high), (high - low) / 3.92, _DRAWS))
        drawn = whole * rng.beta(n + 0.5, described - n + 0.5, _DRAWS)
        p32 = one.p32_per_m * n / described
        ends = np.quantile(drawn, [tail, 1.0 - tail])
        rows.append(
            {
                "set": one.name,
                "n": n,
                "described": described,
                "share": n / described,
                "p32_per_m": p32,
                "p32_low_per_m": min(float(ends[0]), p32),
                "p32_high_per_m": max(float(ends[1]), p32),
                "spacing_m": 1.0 / p32 if p32 > 0 else None,
            }
        )
    return pd.DataFrame(rows)


def sensitivity(result: SiteAnalysis) -> pd.DataFrame:
    """P32 of each set under other blind angles, and without random fractures.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    pandas.DataFrame
        One row a choice: choice, then the P32 of each set, 1/m. The sets keep their number and
        shapes, and settle anew from where they are.

    Examples
    --------
    >>> import jointstats as js
    >>> table = js.sets.sensitivity(js.analyse(js.simulate_site(random_state=1)))
    >>> table["choice"].tolist()[:2]
    ['as analysed', 'blind angle 5°']
    """
    own = result.sampling.blind_angle_deg
    tried = [("as analysed", own, result.rock)]
    tried += [(f"blind angle {angle:g}°", angle, result.rock) for angle in BLIND_ANGLES_DEG]
    # A background that holds less than a twentieth of a fracture stays as it is.
    tried.append(("no random fractures", own, replace(result.rock, background_per_m=_NOTHING)))
    return pd.DataFrame(
        [{"choice": choice} | _refitted(result, angle, rock) for choice, angle, rock in tried]
    )


def _refitted(result: SiteAnalysis, blind_angle_deg: float, start: Rock) -> dict[str, float]:
    """P32 of each set from a start, with the fractures that stand above another blind angle."""
    whole, rules = result.exposure, result.mixture.data_
    exposure = whole.with_blind_angle(blind_angle_deg)
    oriented = Fractures(result.fractures).counted.oriented
    common = pd.Series(common_error_deg(result.site, result.fractures), result.fractures.index)
    above = oriented.table["hole_angle_deg"].to_numpy(float) >= blind_angle_deg
    kept = oriented.where(above)
    scatter = fit_scatter(kept.table, common[kept.table.index].to_numpy())
    data = FitData(
        kept.poles, np.ones(len(kept)), exposure, held=rules.held, scatter=scatter
    )
    fit = fit_shaped(replace(data, kappa_bounds=rules.kappa_bounds), start)
    names = [one.name for one in result.sets]
    return dict(zip(names, fit.rock.intensities.tolist(), strict=True))
