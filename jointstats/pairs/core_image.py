"""Core and image of one hole: which fracture on the one is which on the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import orient_fractures
from jointstats.borehole.sampling import Sampling
from jointstats.borehole.site import check_site
from jointstats.borehole.spans import Spans
from jointstats.checks import check_confidence
from jointstats.errors import InputError
from jointstats.pairs.alignment import Alignment, TwoLogs, align
from jointstats.pairs.evidence import Log
from jointstats.pairs.match_tables import (
    FIRST_ROW,
    Matched,
    SetOf,
    agreement_of,
    detection_table,
    pair_tables,
)
from jointstats.pairs.reference_line import ReferenceLine, line_of
from jointstats.results import Result
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.hole import Hole
    from jointstats.borehole.site import Site


_RUN_BETA = "run_beta_deg"
_SPUN_UNSAID = 0.15  # chance that a run called oriented was spun after all
_CERTAIN = 300.0  # log odds of a pair that is given
_SURE_MIRRORED = 5.0  # log odds by which the mirrored reading must be better to be told of


class NothingShared(InputError):
    """A hole has no length, or no fractures, to match."""


class CoreMatch(Result):
    """What `match_core_to_image` found in one hole.

    Attributes
    ----------
    hole : str
    pairs : pandas.DataFrame
        One row a pair: core_row, image_row (rows of the site's fractures), run, core_depth_m,
        image_depth_m, difference_m (image less aligned core), angle_deg (between the two planes),
        chance, ambiguous (chance below 0.9).
    core_only, image_only : pandas.DataFrame
        What one method alone has: row, depth_m, image_depth_m (where it lies on the image),
        chance_alone, reading.
    runs : pandas.DataFrame
        One row a run of core: run, from_m, to_m, n, n_pairs, shift_m (at its middle), stretch,
        rotation_deg (to add to β, for β from the line named in `settings`), rotation_error_deg (one
        standard error; both empty where nothing tells), spun_probability, disagrees (whether a run
        called oriented is turned all the same).
    oriented : pandas.DataFrame
        Every core fracture with the orientation that its run or its pair now gives it: row, run,
        depth_m, image_depth_m, chance_paired (that it stands on the image too), dip_deg,
        dip_direction_deg, beta_deg (from the line named in
        `settings`), turned (whether that is new), pole_east, pole_north, pole_up.
    agreement : dict
        n, depth_bias_m, depth_scatter_m, angle_mean_deg, kappa, alpha_bias_deg, rotation_bias_deg,
        mirrored, mirrored_log_odds.
    detection : pandas.DataFrame
        Detection rate of each method with its interval and the number of all fractures: whole,
        by set and by depth.
    settings : dict
    notes : tuple of str

    Examples
    --------
    >>> import jointstats as js
    >>> site = js.pairs.simulate_core_and_image(random_state=1)
    >>> found = js.match_core_to_image(site, "H1")
    >>> true = site.fractures["true_fracture"].to_numpy()
    >>> right = true[found.pairs["core_row"]] == true[found.pairs["image_row"]]
    >>> bool(right.mean() > 0.9)
    True
    """

    hole: str
    pairs: pd.DataFrame
    core_only: pd.DataFrame
    image_only: pd.DataFrame
    runs: pd.DataFrame
    oriented: pd.DataFrame
    agreement: dict[str, object]
    detection: pd.DataFrame
    settings: dict[str, object]
    notes: tuple[str, ...]

    @property
    def ambiguous(self) -> pd.DataFrame:
        """Pairs of which another reading is not unlikely."""
        return self.pairs[self.pairs["ambiguous"]]

    def to_frame(self) -> pd.DataFrame:
        """Every fracture of both logs once: pairs, then core alone, then image alone, by depth."""
        parts = [
            self.pairs.assign(found="both"),
            self.core_only.rename(columns={"row": "core_row", "depth_m": "core_depth_m"}).assign(
                found="core only"
            ),
            self.image_only.rename(columns={"row": "image_row"}).assign(found="image only"),
        ]
        columns = ["found", "core_row", "image_row", "core_depth_m", "image_depth_m", "angle_deg"]
        columns += ["chance", "ambiguous", "chance_alone", "reading"]
        whole = pd.concat(
            [one.reindex(columns=columns) for one in parts if len(one)]
            or [pd.DataFrame(columns=columns)]
        )
        whole = whole.astype({"core_row": "Int64", "image_row": "Int64", "ambiguous": "boolean"})
        return whole.sort_values("image_depth_m", kind="stable", ignore_index=True)

    def __repr__(self) -> str:
        return (
            f"CoreMatch({self.hole}: {len(self.pairs)} pairs, {len(self.ambiguous)} of them "
            f"ambiguous; {len(self.core_only)} on the core alone, {len(self.image_only)} on the "
            f"image alone; {len(self.runs)} runs)"
        )

    def _repr_html_(self) -> str:
        return f"<p>{self!r}</p>" + self.detection.round(2).to_html(index=False, border=0)


def match_core_to_image(
    site: Site,
    hole: str,
    *,
    run_column: str = "run",
    find_rotation: bool | None = None,
    given: pd.DataFrame | None = None,
    set_of: SetOf | None = None,
    zone_m: float = 20.0,
    confidence: float = 0.95,
) -> CoreMatch:
    """Pair the fractures of the core of a hole with those of its image.

    Every way of pairing them in order of depth (neighbours may change places) is weighed by depth,
    orientation or α, type and aperture, and summed; a pair is taken where its chance is above one
    half. Depths are corrected by a stretch of the whole log and a shift and stretch of each run,
    and each run of core that was spun is turned to the angle its pairs agree on.

    Parameters
    ----------
    site : Site
        With fractures of the methods "core" and "image" in that hole. Core fractures have
        alpha_deg and beta_deg, or alpha_deg alone, or a true orientation; on core that was spun,
        alpha_deg, an empty beta_deg, and run_beta_deg: β from a line drawn on that run and no
        more.
    hole : str
    run_column : str
        Column of the fracture table that names the run of core. Without it the core is taken in
        lengths of 3 m for the depths, and as one piece for its turn; a note says so.
    find_rotation : bool or None
        Whether each run has a turn of its own. None: where run_beta_deg is given; a run that is
        called oriented but disagrees with the image is then named.
    given : pandas.DataFrame or None
        Pairs that are known, with core_row and image_row as in `pairs`: they are the pairs, and no
        other is looked for.
    set_of : callable or None
        Sorts the detection rates by set: takes poles (n, 3), gives the number of each one's set,
        0, 1, …, −1 for none; `result.mixture.predict` of an analysis.
    zone_m : float
        Length of the depth zones of the detection rates, metres.
    confidence : float

    Returns
    -------
    CoreMatch

    Raises
    ------
    InputError
        If the hole has no fracture of one of the methods, no length that both logged, a
        run_beta_deg out of range, or `given` names a row that is not a fracture of its method
        there, or one twice.

    Notes
    -----
    The likelihood is stated at the head of `jointstats.pairs.evidence`.

    Examples
    --------
    Two logs of one hole, the core spun run by run, from which 30 in 100 are lost:

    >>> import jointstats as js
    >>> site = js.pairs.simulate_core_and_image(30.0, random_state=1)
    >>> whole = js.match_core_to_image(site, "H1").detection.iloc[0]
    >>> bool(whole["core_low"] < 0.7 < whole["core_high"])
    True
    """
    check_site(site)
    level = check_confidence(confidence)
    if not zone_m > 0:
        raise InputError(f"zone_m must be more than 0; got {zone_m!r}")
    drilled = site.hole(hole)
    spans = _seen_by_both(site, hole)
    run_beta = _run_beta(site, hole)
    core, image, line = _logs(site, drilled, spans, run_beta)
    runs, names = _runs(site, core, run_column)
    by_run = np.isfinite(run_beta[core.row])
    if by_run.any() and run_column not in site.fractures:
        runs, names = np.zeros(len(core.depth), dtype=np.intp), ["whole core"]
    spun = _spun_beforehand(by_run, runs, find_rotation)
    logs = TwoLogs(core, image, runs, spans.total_m, spun, _given_odds(given, core, image))
    found, other = align(logs), align(logs._replace(core=core.mirrored()))
    mirrored = bool(other.odds > found.odds + _SURE_MIRRORED)
    log_odds = float(other.odds - found.odds)
    if mirrored:
        core, found = core.mirrored(), other
    matched = Matched(site, drilled, core, image, runs, names, found, line, spun, mirrored)
    tables = pair_tables(matched)
    agreement = agreement_of(matched) | {"mirrored": mirrored, "mirrored_log_odds": log_odds}
    settings: dict[str, object] = {
        "run_column": run_column,
        "find_rotation": find_rotation,
        "line": line.name,
        "zone_m": zone_m,
        "confidence": level,
    }
    detection = detection_table(matched, set_of, spans, zone_m, level)
    notes = _notes(agreement, tables[3], found, spun, run_column in site.fractures)
    return CoreMatch(hole, *tables, agreement, detection, settings, notes)


def _spun_beforehand(
    by_run: NDArray[np.bool_], runs: NDArray[np.intp], find_rotation: bool | None
) -> Array:
    """Chance of each run (R,) to be turned, before core and image are compared."""
    number = int(runs.max()) + 1
    if find_rotation is not None:
        return np.full(number, float(find_rotation))
    own_line = np.array([by_run[runs == r].any() for r in range(number)])
    return np.where(own_line, 1.0, _SPUN_UNSAID)


def _given_odds(given: pd.DataFrame | None, core: Log, image: Log) -> Array:
    """Log odds (I, J) that hold to the pairs given, and to no other."""
    odds = np.zeros((len(core.depth), len(image.depth)))
    if given is None:
        return odds
    odds -= _CERTAIN
    for column, log in (("core_row", core), ("image_row", image)):
        rows = given[column].to_numpy()
        wrong = [row for row in rows if row not in log.row]
        if wrong or len(set(rows)) < len(rows):
            what = f"not so: {wrong}" if wrong else "one stands twice"
            raise InputError(
                f"{column} of the pairs given must be fractures of that method in the lengths that "
                f"both logged, each once; {what}"
            )
    i = np.searchsorted(core.row[(order := np.argsort(core.row))], given["core_row"])
    j = np.searchsorted(image.row[(other := np.argsort(image.row))], given["image_row"])
    odds[order[i], other[j]] = _CERTAIN
    return odds


def _seen_by_both(site: Site, hole: str) -> Spans:
    logged_by = Sampling.of(site).line(hole).logged_by
    spans = logged_by.get("core", Spans()).both(logged_by.get("image", Spans()))
    if not spans:
        raise NothingShared(
            f"hole {hole} has no length that both core and image logged; see logged.csv"
        )
    if "method" not in site.fractures:
        raise NothingShared("fractures need the column method: which saw each, core or image")
    return spans


def _run_beta(site: Site, hole: str) -> Array:
    """β from the line drawn on each run of core, degrees; NaN where not given."""
    table = site.fractures
    if _RUN_BETA not in table:
        return np.full(len(table), np.nan)
    cells = table[_RUN_BETA]
    beta = pd.to_numeric(cells, errors="coerce").to_numpy(float)
    own = ((table["hole"] == hole) & (table["method"] == "core")).to_numpy()
    given = own & (cells.notna() & (cells.astype(str).str.strip() != "")).to_numpy()
    wrong = np.flatnonzero(given & ~((beta >= 0) & (beta <= 360)))
    if len(wrong):
        raise InputError(
            f"{_RUN_BETA} must lie between 0 and 360 degrees; row {wrong[0] + FIRST_ROW} of the "
            f"fractures has {cells.iloc[wrong[0]]!r}"
        )
    return np.where(own, beta, np.nan)


def _logs(site: Site, hole: Hole, spans: Spans, run_beta: Array) -> tuple[Log, Log, ReferenceLine]:
    table, oriented = site.fractures, orient_fractures(site)
    line = line_of(hole)
    logs = []
    for method in ("core", "image"):
        own = ((table["hole"] == hole.name) & (table["method"] == method)).to_numpy()
        depth = table["depth_m"].to_numpy(float)
        inside = spans.holds(depth)
        rows = np.flatnonzero(own & inside)
        rows = rows[np.argsort(depth[rows], kind="stable")]
        if not len(rows):
            raise NothingShared(
                f"hole {hole.name} has no {method} fracture in the lengths that both logged"
            )
        logs.append(_log(oriented, rows, hole, line))
    core, image = logs
    beta = np.radians(run_beta[core.row])
    return core._replace(beta=np.where(np.isnan(beta), core.beta, beta)), image, line


def _log(oriented: pd.DataFrame, rows: NDArray[np.intp], hole: Hole, line: ReferenceLine) -> Log:
    own = oriented.iloc[rows]
    depth = own["depth_m"].to_numpy(float)
    poles = Fractures(own).poles
    directions, reference = line.along(hole, depth)
    along = (poles * directions).sum(axis=1)
    # u, from the axis to the lowest point of the ellipse: against the part of the pole across.
    across = -np.sign(along)[:, np.newaxis] * (poles - along[:, np.newaxis] * directions)
    sideways = (across * np.cross(directions, reference)).sum(axis=1)
    beta = np.arctan2(sideways, (across * reference).sum(axis=1))
    alpha = np.radians(own["hole_angle_deg"].to_numpy(float))
    words, aperture = np.full(len(rows), "", dtype=object), np.full(len(rows), np.nan)
    if "type" in own:
        words = own["type"].fillna("").to_numpy(object)
    if "aperture_mm" in own:
        aperture = own["aperture_mm"].to_numpy(float)
    return Log(rows, depth, alpha, np.where(np.isnan(alpha), np.nan, beta), words, aperture)


def _runs(site: Site, core: Log, run_column: str) -> tuple[NDArray[np.intp], list[str]]:
    if run_column in site.fractures:
        # Numbers beside empty cells are read as floats: run 3, not 3.0.
        names = np.array([f"{one:g}" if isinstance(one, float) else str(one)
                          for one in site.fractures[run_column]], dtype=object)[core.row]
    else:
        low = 3.0 * np.floor(core.depth / 3.0)
        names = np.array([f"{start:g}–{start + 3:g} m" for start in low], dtype=object)
    order = list(dict.fromkeys(names))
    return np.array([order.index(name) for name in names], dtype=np.intp), order


def _notes(
    agreement: dict[str, object],
    runs: pd.DataFrame,
    found: Alignment,
    spun: Array,
    runs_named: bool,
) -> tuple[str, ...]:
    notes = [
        "Detection rates hold where a fracture seen by one method is no likelier to be seen by "
        "the other, and where nothing on the core alone was made by drilling: such breaks lower "
        "the rate of the image.",
    ]
    if not runs_named:
        notes.append(
            "No column names the run of core, so it was taken in lengths of 3 m for the depths, "
            "and where each run was spun, as one piece for its turn."
        )
    if agreement["mirrored"]:
        notes.append(
            "The logs agree better with β counted the other way round (log odds "
            f"{agreement['mirrored_log_odds']:.0f}), and were paired so: check how β was read."
        )
    if runs["disagrees"].any():
        told = "; ".join(
            f"{row['run']} (by {row['rotation_deg']:.0f}° ± {row['rotation_error_deg']:.0f}°)"
            for row in runs[runs["disagrees"]].to_dict("records")
        )
        notes.append(f"Runs turned against the line their β was read from: {told}.")
    few = runs[(spun == 1.0) & (runs["n_pairs"] < 3) & runs["rotation_deg"].notna()]
    if len(few):
        names = ", ".join(few["run"].astype(str))
        notes.append(f"Fewer than three pairs, so the turn is weakly known, in runs {names}.")
    if found.reading.depth_spread > 0.2:
        notes.append(
            f"Depths of the pairs differ by {found.reading.depth_spread:.2f} m (one standard "
            "deviation) after alignment; the match rests on little."
        )
    return tuple(notes)
