"""The parts of a comparison: P32, orientation, κ, spacing and condition of each set."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import UNASSIGNED, Fractures
from jointstats.compare.condition import permutation_test
from jointstats.compare.counts import counts_by_set, expected_counts, poisson_ratio_test
from jointstats.compare.groups import SampledGroup, together
from jointstats.compare.log_rank import gaps_between, log_rank_test
from jointstats.fit.block_fits import fit_blocks
from jointstats.fit.certainty import certainty_of
from jointstats.fit.data import FitData
from jointstats.fit.likelihood import RoundSets
from jointstats.fit.one_rock import set_tests
from jointstats.intervals import holm
from jointstats.sphere.angles import dip_from_poles
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

__all__ = ["count_table", "estimate_table", "part_table"]


#: Columns of the tables that tell of the condition of a fracture, and whether they are numbers.
CONDITION = {
    "type": False,
    "infilling": False,
    "oxidation": False,
    "roughness": False,
    "aperture_mm": True,
}
_METHODS = {
    "P32": "exact Poisson ratio, given the total and what each hole was exposed to",
    "orientation": "scores of each hole, its P32 and κ free; logs simulated with its own P32",
    "kappa": "scores of each hole, its P32 free; logs simulated with its own P32",
    "spacing": "log-rank, censored ends included, on gaps scaled by the mean |n · d| of the set",
}


def set_name(k: int) -> str:
    """Name of the k-th set, counting from 0.

    >>> set_name(0)
    'J1'
    """
    return f"J{k + 1}"


def count_table(
    groups: Sequence[SampledGroup], rock: RoundSets
) -> tuple[pd.DataFrame, NDArray[np.intp], Array]:
    """Observed and expected count of each set in each hole: a table, and both arrays (G, K + 1).

    Columns: hole, set, n, n_expected, residual (n − expected over the root of expected), exposure_m,
    seen_share.
    """
    counts = counts_by_set([one.poles for one in groups], rock)
    expected = expected_counts(rock, [one.exposure for one in groups])
    rows = []
    for g, one in enumerate(groups):
        for k in range(len(rock.kappas) + 1):
            background = k == len(rock.kappas)
            shape = (
                (np.array([0.0, 0.0, 1.0]), 0.0)
                if background
                else (rock.means[k], float(rock.kappas[k]))
            )
            apart = counts[g, k] - expected[g, k]
            rows.append(
                {
                    "hole": one.name,
                    "set": UNASSIGNED if background else set_name(k),
                    "n": int(counts[g, k]),
                    "n_expected": float(expected[g, k]),
                    "residual": float(apart / np.sqrt(max(expected[g, k], 1e-9))),
                    "exposure_m": one.exposure.of_set(*shape),
                    "seen_share": one.exposure.seen_share(*shape),
                }
            )
    return pd.DataFrame(rows), counts, expected


def part_table(
    result: SiteAnalysis,
    groups: Sequence[SampledGroup],
    rock: RoundSets,
    counted: tuple[NDArray[np.intp], Array],
    *,
    draws: int,
    generator: np.random.Generator,
) -> pd.DataFrame:
    """One test a row, for each set in turn, of the `counted` and expected fractures (G, K + 1).

    Columns: part, set, statistic, pvalue, pvalue_holm (for the number of tests in this table), n (of
    each hole), holes, method.
    """
    names = [one.name for one in groups]
    rows = []
    data = together(groups)
    common = fit_blocks(data, np.ones((1, len(groups)), bool), rock)
    for part, k, *told, used in set_tests(data, common, draws=draws, generator=generator):
        sizes = np.rint(common.members[0, used, k]).astype(int)
        rows.append(_row(part, k, (told[0], told[1]), [names[g] for g in used], sizes))
    counts, expected = counted
    for k in range(len(result.sets)):
        seen = expected[:, k] > 1e-6
        found = poisson_ratio_test(counts[seen, k], expected[seen, k])
        own = [name for name, there in zip(names, seen, strict=True) if there]
        rows.append(_row("P32", k, found, own, counts[seen, k]))
        rows += _of_spacing(result, groups, k)
        rows += _of_condition(result, groups, k)
    order = {part: i for i, part in enumerate([*_METHODS, *CONDITION])}
    rows.sort(key=lambda row: (row["set"], order[str(row["part"])]))
    columns = ["part", "set", "statistic", "pvalue", "n", "holes", "method"]
    table = pd.DataFrame(rows, columns=columns)
    table.insert(4, "pvalue_holm", holm(table["pvalue"].to_numpy(float)))
    return table


def _row(
    part: str,
    k: int,
    found: tuple[float, float],
    holes: Sequence[str],
    sizes: Sequence[int],
) -> dict[str, object]:
    return {
        "part": part,
        "set": set_name(k),
        "statistic": float(found[0]),
        "pvalue": float(found[1]),
        "n": ", ".join(str(size) for size in sizes),
        "holes": ", ".join(holes),
        "method": _METHODS.get(part, "shuffles of the fractures among the holes"),
    }


def _rows_of(result: SiteAnalysis, group: SampledGroup, k: int) -> pd.DataFrame:
    return Fractures(result.fractures.iloc[group.index]).of_set(set_name(k)).table


def _of_spacing(
    result: SiteAnalysis, groups: Sequence[SampledGroup], k: int
) -> list[dict[str, object]]:
    mean, kappa = result.mixture.means_[k], float(result.mixture.kappas_[k])
    samples, names, sizes = [], [], []
    for one in groups:
        depth = _rows_of(result, one, k)["depth_m"].to_numpy(float)
        scale = one.exposure.of_set(mean, kappa) / one.exposure.total_m
        gaps = gaps_between(depth, one.line.spans.pairs, scale)
        if len(gaps[0]):
            samples.append(gaps)
            names.append(one.name)
            sizes.append(len(gaps[0]))
    if len(samples) < 2:
        return []
    statistic, _, pvalue = log_rank_test(samples)
    return [_row("spacing", k, (statistic, pvalue), names, sizes)]


def _of_condition(
    result: SiteAnalysis, groups: Sequence[SampledGroup], k: int
) -> list[dict[str, object]]:
    rows = []
    tables = [_rows_of(result, one, k) for one in groups]
    for column, is_number in CONDITION.items():
        if column not in result.fractures:
            continue
        values, holes = [], []
        for one, table in zip(groups, tables, strict=True):
            cells = table[column]
            cells = cells.dropna() if is_number else cells[cells.fillna("") != ""].astype(str)
            values += list(cells)
            holes += [one.name] * len(cells)
        if len(set(holes)) < 2:
            continue
        names = list(dict.fromkeys(holes))
        sizes = [holes.count(name) for name in names]
        rows.append(_row(column, k, permutation_test(values, holes), names, sizes))
    return rows


def estimate_table(
    groups: Sequence[SampledGroup], rock: RoundSets, *, confidence: float
) -> pd.DataFrame:
    """What each hole by itself says of each set, with intervals.

    Columns: hole, set, n (memberships), dip_deg, dip_direction_deg, cone_deg, kappa, kappa_low,
    kappa_high, p32_per_m, p32_low_per_m, p32_high_per_m. κ is held within a factor of three of that of
    all holes. Where the hole has less than one fracture of the set only the P32 is given.
    """
    rows = []
    fits = fit_blocks(together(groups), np.eye(len(groups), dtype=bool), rock, fewest=0.0)
    for g, one in enumerate(groups):
        p32 = fits.members[g, g] / np.maximum(fits.exposures[g, g], 1e-9)
        own = RoundSets(fits.means[g], fits.kappas[g], p32[:-1], float(p32[-1]))
        certainty = certainty_of(
            FitData(one.poles, np.ones(one.n), one.exposure), own.rock(), confidence
        )
        for k in range(len(own.kappas)):
            n = float(fits.members[g, g, k])
            row = {"hole": one.name, "set": set_name(k), "n": n}
            low, high = certainty.intensity_interval(k)
            if n < 1.0:
                met = max(one.exposure.of_set(rock.means[k], float(rock.kappas[k])), 1e-9)
                low, high = 0.0, -float(np.log(0.5 * (1.0 - confidence))) / met
            else:
                dip, direction = dip_from_poles(own.means[k])
                kappa_low, kappa_high = certainty.kappa_interval(k)
                row |= {
                    "dip_deg": float(dip[0]),
                    "dip_direction_deg": float(direction[0]),
                    "cone_deg": certainty.cone_deg(k),
                    "kappa": float(own.kappas[k]),
                    "kappa_low": kappa_low,
                    "kappa_high": kappa_high,
                }
            row |= {
                "p32_per_m": float(own.intensities[k]),
                "p32_low_per_m": low,
                "p32_high_per_m": high,
            }
            rows.append(row)
    columns = ["hole", "set", "n", "dip_deg", "dip_direction_deg", "cone_deg", "kappa"]
    columns += ["kappa_low", "kappa_high", "p32_per_m", "p32_low_per_m", "p32_high_per_m"]
    return pd.DataFrame(rows, columns=columns)
