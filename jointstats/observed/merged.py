"""Core and image of one length made one list: each fracture once, with what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import POLE_COLUMNS, Fractures, Mask
from jointstats.borehole.sampling import BOTH, SampledLength, Sampling
from jointstats.borehole.site import Site
from jointstats.borehole.spans import Spans
from jointstats.observed.detection import BothLogs, Detection
from jointstats.pairs.core_image import CoreMatch, NothingShared, match_core_to_image
from jointstats.pairs.match_tables import FIRST_ROW

#: Pairs of a hole, and scatter of their depths in metres, that a list of both logs asks for.
FEWEST_PAIRS, WIDEST_M = 8, 0.2
#: Largest error, degrees, of the turn of a run whose core fractures it may orient.
TURN_ERROR_DEG = 10.0
_FROM_RUN, _FROM_PAIR = "run turned to the image", "its pair"
_DIPS = ["true_dip_deg", "true_dip_direction_deg"]
#: Row of the other fracture of a pair as in the file, and the probability of the pair.
PAIR_COLUMNS = ["pair_row", "pair_probability"]


class Merged(NamedTuple):
    """Fractures with core and image paired."""

    fractures: pd.DataFrame
    yields: Mask  # (n,) of a pair, the row that is not used
    detection: Detection | None
    notes: tuple[str, ...]


def merge_logs(site: Site, fractures: pd.DataFrame, sampling: Sampling, counts: Mask) -> Merged:
    """Pair core and image in every hole that both logged; `counts` (n,) marks rows that may count.

    Where a match rests on little the preferred method alone counts.
    """
    yields, logs, notes = np.zeros(len(fractures), dtype=bool), [], []
    for line in sampling.lines:
        spans = _of_both(line.logged_by)
        found = _matched(site, line.name) if spans else None
        if found is None:
            continue
        if len(found.pairs) < FEWEST_PAIRS or not _scatter(found) < WIDEST_M:
            notes.append(
                f"Core and image of {line.name} do not pair well enough to count as one log: where "
                "both logged, the image alone counts."
            )
            continue
        fractures = _turned(fractures, found)
        core, image = (found.pairs[f"{one}_row"].to_numpy(int) for one in ("core", "image"))
        both = counts[core] & counts[image]
        fractures, gone = _paired(fractures, core[both], image[both], found.pairs[both])
        yields[gone] = True
        logs.append(_counted(found, spans, counts, int(both.sum())))
    return Merged(fractures, yields, Detection(tuple(logs)) if logs else None, tuple(notes))


def _turned(fractures: pd.DataFrame, found: CoreMatch) -> pd.DataFrame:
    """Orientations of core fractures that the turn of their run gives them."""
    told = found.runs.loc[found.runs["rotation_error_deg"] <= TURN_ERROR_DEG, "run"]
    own = found.oriented[found.oriented["run"].isin(told) & found.oriented["dip_deg"].notna()]
    rows = own["row"].to_numpy(int)
    new = ~Fractures(fractures).is_oriented[rows]
    at = fractures.index[rows[new]]
    table = fractures.copy()
    table.loc[at, _DIPS] = own[["dip_deg", "dip_direction_deg"]].to_numpy()[new]
    table.loc[at, POLE_COLUMNS] = own[POLE_COLUMNS].to_numpy()[new]
    table.loc[at, "oriented_from"] = _FROM_RUN
    return table


def _paired(
    fractures: pd.DataFrame, core: NDArray[np.intp], image: NDArray[np.intp], pairs: pd.DataFrame
) -> tuple[pd.DataFrame, NDArray[np.intp]]:
    """The table with its pairs, and the rows that yield: core, or an image without orientation.

    A row that yields takes the orientation of the other if it has none.
    """
    table = fractures.copy()
    oriented = Fractures(table).is_oriented
    by_core = oriented[core] & ~oriented[image]
    gone, used = np.where(by_core, image, core), np.where(by_core, core, image)
    for name in PAIR_COLUMNS:
        if name not in table:
            table[name] = np.nan
    for rows, others in ((core, image), (image, core)):
        table.loc[table.index[rows], PAIR_COLUMNS] = np.column_stack(
            [others + FIRST_ROW, pairs["chance"]]
        )
    taken = oriented[used] & ~oriented[gone]
    names = [*_DIPS, *POLE_COLUMNS, "hole_angle_deg"]
    at, of = table.index[gone[taken]], table.index[used[taken]]
    table.loc[at, names] = table.loc[of, names].to_numpy()
    table.loc[at, "oriented_from"] = _FROM_PAIR
    return table, gone


def _counted(found: CoreMatch, spans: Spans, counts: Mask, n_pairs: int) -> BothLogs:
    """Numbers of the fractures of both logs that count."""
    core = found.oriented[counts[found.oriented["row"].to_numpy(int)]]
    image = [found.pairs["image_row"], found.image_only["row"]]
    chance = core["chance_paired"].to_numpy(float)
    n_image = int(counts[np.concatenate(image).astype(int)].sum())
    return BothLogs(
        hole=found.hole,
        metres=spans.total_m,
        n_core=len(core),
        n_image=n_image,
        n_both=min(float(chance.sum()), float(n_image)),
        n_pairs=n_pairs,
        doubt=float((chance * (1.0 - chance)).sum()),
    )


def merged_lengths(sampling: Sampling, detection: Detection | None) -> tuple[SampledLength, ...]:
    """The lengths that count, those of both logs as one method, with the share detected of each."""
    if detection is None:
        return sampling.lengths
    paired = {one.hole for one in detection.logs}
    shares = detection.shares([line.name for line in sampling.lines])
    found: list[SampledLength] = []
    for line in sampling.lines:
        core, image = shares[line.name]
        seen = {"core": core, "image": image}
        seen[BOTH] = (1.0 - (1.0 - core) * (1.0 - image)) * detection.listed_over_seen(line.name)
        both = _of_both(line.logged_by) if line.name in paired else Spans()
        for one in line.lengths:
            for method, part in _parted(one, both):
                # What the image shows there does not hang on what came out of the hole.
                came = 1.0 if method == BOTH else one.detected
                share = came * seen.get(method, 1.0)
                found.append(replace(one.clip(*part), method=method, detected=share))
    return tuple(found)


def log_error(lengths: tuple[SampledLength, ...], detection: Detection | None) -> float:
    """Standard error of the log of P32 from the shares detected, each length by what it sees."""
    if detection is None:
        return 0.0
    known = ("core", "image", BOTH)
    errors = [detection.log_error(one.method) if one.method in known else 0.0 for one in lengths]
    return float(np.average(errors, weights=[one.length_m * one.seen for one in lengths]))


def _of_both(logged_by: Mapping[str, Spans]) -> Spans:
    return logged_by.get("core", Spans()).both(logged_by.get("image", Spans()))


def _matched(site: Site, hole: str) -> CoreMatch | None:
    try:
        return match_core_to_image(site, hole)
    except NothingShared:
        return None


def _scatter(found: CoreMatch) -> float:
    scatter = found.agreement["depth_scatter_m"]
    return scatter if isinstance(scatter, float) else np.inf


def _parted(one: SampledLength, both: Spans) -> list[tuple[str, tuple[float, float]]]:
    """The parts of a length by depth, those that both logged by that name."""
    whole = Spans([(one.from_m, one.to_m)])
    parts = [(BOTH, part) for part in whole.both(both)]
    parts += [(one.method, part) for part in whole.minus(both)]
    return sorted(parts, key=lambda part: part[1])
