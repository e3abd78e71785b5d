"""Tables of a match of core and image: pairs, what one log alone has, runs, detection."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.borehole.fractures import pole_columns
from jointstats.borehole.spans import Spans
from jointstats.pairs.capture import detection_rates
from jointstats.pairs.evidence import Log, axes_in_hole
from jointstats.sphere.angles import as_azimuth, dip_from_poles
from jointstats.sphere.axes import axis_angles_deg, lower_hemisphere
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.hole import Hole
    from jointstats.borehole.site import Site
    from jointstats.pairs.alignment import Alignment
    from jointstats.pairs.reference_line import ReferenceLine


#: Sorts poles (n, 3): the number of each one's set, −1 for none.
SetOf = Callable[[Array], NDArray[np.intp]]
#: Rows of a table of fractures as its file counts them, the headings being row 1.
FIRST_ROW = 2
_TAKEN, _SURE, _DISAGREES = 0.5, 0.9, 0.9


def rows_as_in_file(table: pd.DataFrame) -> pd.DataFrame:
    """The same table with its rows of fractures counted as in their file."""
    names = [name for name in ("row", "core_row", "image_row") if name in table]
    return table.assign(**{name: table[name] + FIRST_ROW for name in names})


class Matched(NamedTuple):
    """All that the tables are made from."""

    site: Site
    hole: Hole
    core: Log
    image: Log
    runs: NDArray[np.intp]
    names: list[str]
    found: Alignment
    line: ReferenceLine
    spun: Array  # (R,) chance to be turned, before anything was compared
    mirrored: bool  # whether β was taken the other way round

    @property
    def taken(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Core and image fractures of the pairs, by number in their logs."""
        core, image = np.nonzero(self.found.chances > _TAKEN)
        return core, image

    def core_beta(self) -> Array:
        """β of the core's fractures, radians: of their run as it is turned, else of their pair."""
        beta = self.core.beta + self.found.turn[self.runs]
        i, j = self.taken
        paired = np.full(len(beta), np.nan)
        paired[i] = self.image.beta[j]
        return np.where(np.isnan(beta), paired, beta)

    def core_poles(self) -> Array:
        """Poles of the core's fractures with `core_beta`; NaN where not oriented."""
        return self._poles(self.core._replace(beta=self.core_beta()), self.found.depth)

    def image_poles(self) -> Array:
        """Poles of the image's fractures; NaN where not oriented."""
        return self._poles(self.image, self.image.depth)

    def _poles(self, log: Log, depth: Array) -> Array:
        directions, reference = self.line.along(self.hole, depth)
        parts = axes_in_hole(log.alpha, log.beta)
        frame = np.stack([reference, np.cross(directions, reference), directions], axis=1)
        return np.einsum("ni,nij->nj", parts, frame)


def pair_tables(
    matched: Matched,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Pairs, core alone, image alone, runs, and the core oriented.

    The columns are described at `CoreMatch`.
    """
    core, image, found = matched.core, matched.image, matched.found
    i, j = matched.taken
    here, there = matched.core_poles(), matched.image_poles()
    pairs = pd.DataFrame(
        {
            "core_row": core.row[i],
            "image_row": image.row[j],
            "run": np.array(matched.names, dtype=object)[matched.runs[i]],
            "core_depth_m": core.depth[i],
            "image_depth_m": image.depth[j],
            "difference_m": image.depth[j] - found.depth[i],
            "angle_deg": _pair_angles(matched, here, there),
            "chance": found.chances[i, j],
            "ambiguous": found.chances[i, j] < _SURE,
        }
    )
    return (
        pairs.sort_values("image_depth_m", kind="stable", ignore_index=True),
        _alone(
            core,
            found.depth,
            found.chances.sum(axis=1),
            i,
            "on the core alone: made by drilling, closed, or missed by the image",
        ),
        _alone(
            image,
            image.depth,
            found.chances.sum(axis=0),
            j,
            "on the image alone: lost in drilling, or missed on the core",
        ),
        _run_table(matched),
        _oriented(matched, here),
    )


def _pair_angles(matched: Matched, here: Array, there: Array) -> Array:
    """Angle between the two planes of each pair, degrees; NaN where the core has no β of its own."""
    i, j = matched.taken
    known = ~np.isnan(matched.core.beta[i] + here[i, 0] + there[j, 0])
    angles = np.full(len(i), np.nan)
    if known.any():
        angles[known] = axis_angles_deg(here[i][known], there[j][known])
    return angles


def _alone(
    log: Log, on_image: Array, paired: Array, taken: NDArray[np.intp], reading: str
) -> pd.DataFrame:
    left = np.setdiff1d(np.arange(len(log.depth)), taken)
    return pd.DataFrame(
        {
            "row": log.row[left],
            "depth_m": log.depth[left],
            "image_depth_m": on_image[left],
            "chance_alone": np.clip(1.0 - paired[left], 0.0, 1.0),
            "reading": reading,
        }
    )


def _run_table(matched: Matched) -> pd.DataFrame:
    found, rows = matched.found, []
    i, _ = matched.taken
    for r, name in enumerate(matched.names):
        own = matched.runs == r
        told = found.turn_error[r] < np.pi
        disagrees = bool(told and matched.spun[r] < 1.0 and found.spun[r] > _DISAGREES)
        rows.append(
            {
                "run": name,
                "from_m": float(matched.core.depth[own].min()),
                "to_m": float(matched.core.depth[own].max()),
                "n": int(own.sum()),
                "n_pairs": int((matched.runs[i] == r).sum()),
                "shift_m": float(found.shift[r]),
                "stretch": float(found.stretch[r]),
                "rotation_deg": float(as_azimuth(np.degrees(found.turn[r]))) if told else np.nan,
                "rotation_error_deg": float(np.degrees(found.turn_error[r])) if told else np.nan,
                "spun_probability": float(found.spun[r]) if told else np.nan,
                "disagrees": disagrees,
            }
        )
    return pd.DataFrame(rows)


def _oriented(matched: Matched, poles: Array) -> pd.DataFrame:
    core = matched.core
    known = ~np.isnan(poles[:, 0])
    dip, direction = np.full((2, len(poles)), np.nan)
    poles = poles.copy()
    told = (matched.found.spun > 0.5)[matched.runs]
    if known.any():
        poles[known] = lower_hemisphere(poles[known])
        dip[known], direction[known] = dip_from_poles(poles[known])
    return pd.DataFrame(
        {
            "row": core.row,
            "run": np.array(matched.names, dtype=object)[matched.runs],
            "depth_m": core.depth,
            "image_depth_m": matched.found.depth,
            "chance_paired": np.clip(matched.found.chances.sum(axis=1), 0.0, 1.0),
            "dip_deg": dip,
            "dip_direction_deg": direction,
            "beta_deg": as_azimuth(np.degrees(matched.core_beta())),
            "turned": matched.mirrored | np.isnan(core.beta) | told,
            **pole_columns(poles),
        }
    )


def agreement_of(matched: Matched) -> dict[str, object]:
    """How well the two readings of the pairs agree.

    Keys: n; depth_bias_m and depth_scatter_m after alignment; angle_mean_deg between the planes;
    kappa of the core's about the image's; alpha_bias_deg (core less image); rotation_bias_deg
    (image less core round the hole, where the turn was not fitted).
    """
    i, j = matched.taken
    core, image, found = matched.core, matched.image, matched.found
    apart = image.depth[j] - found.depth[i]
    angles = _pair_angles(matched, matched.core_poles(), matched.image_poles())
    turned = image.beta[j] - core.beta[i] - found.turn[matched.runs[i]]
    weight = np.cos(core.alpha[i]) * np.cos(image.alpha[j])
    mean_turn = np.nansum(weight * np.exp(1j * turned))
    known = np.isfinite(turned).any() and not (matched.spun == 1.0).any()
    return {
        "n": len(i),
        "depth_bias_m": _mean(apart),
        "depth_scatter_m": found.reading.depth_spread,
        "angle_mean_deg": _mean(angles),
        "kappa": found.reading.kappa,
        "alpha_bias_deg": _mean(np.degrees(core.alpha[i] - image.alpha[j])),
        "rotation_bias_deg": float(np.degrees(np.angle(mean_turn))) if known else None,
    }


def _mean(values: Array) -> float | None:
    values = values[np.isfinite(values)]
    return float(values.mean()) if len(values) else None


def detection_table(
    matched: Matched,
    set_of: SetOf | None,
    spans: Spans,
    zone_m: float,
    confidence: float,
) -> pd.DataFrame:
    """Detection rates of both methods: whole, by set and by depth.

    Numbers of pairs are sums of chances, so that a doubtful pair counts in part.

    `spans`: lengths that both logged. Gives part ("whole", "J1", "0–20 m", …), n_core, n_image,
    n_both, core_rate, core_low, core_high, image_rate, image_low, image_high, total, total_low,
    total_high.
    """
    found = matched.found
    inside = Spans([(low - 0.02, high + 0.02) for low, high in spans]).holds(found.depth)
    # Beyond the core's last fracture on the image's depths, the image has nothing to be paired.
    parts = [("whole", inside, np.ones(len(matched.image.depth), bool))]
    if set_of is not None:
        parts += _by_set(matched, set_of, inside)
    start, end = spans.pairs[0][0], spans.pairs[-1][1]
    number = max(int(np.ceil((end - start) / zone_m - 1e-9)), 1)
    for k in range(number if number > 1 else 0):
        low, high = start + k * zone_m, min(start + (k + 1) * zone_m, end)
        core = inside & (found.depth >= low) & (found.depth < high)
        image = (matched.image.depth >= low) & (matched.image.depth < high)
        parts.append((f"{low:g}–{high:g} m", core, image))
    return pd.DataFrame([_detected(found.chances, *part, confidence) for part in parts])


def _by_set(
    matched: Matched, set_of: SetOf, inside: NDArray[np.bool_]
) -> list[tuple[str, NDArray[np.bool_], NDArray[np.bool_]]]:
    labels = []
    for poles in (matched.core_poles(), matched.image_poles()):
        known = ~np.isnan(poles[:, 0])
        own = np.full(len(poles), -2)
        if known.any():
            own[known] = set_of(poles[known])
        labels.append(own)
    # A pair is of the set of its image, which was read in place.
    i, j = matched.taken
    labels[0][i] = np.where(labels[1][j] >= -1, labels[1][j], labels[0][i])
    number = max(one.max(initial=-1) for one in labels) + 1
    return [(f"J{k + 1}", inside & (labels[0] == k), labels[1] == k) for k in range(number)]


def _detected(
    chances: Array,
    part: str,
    core: NDArray[np.bool_],
    image: NDArray[np.bool_],
    confidence: float,
) -> dict[str, object]:
    own = chances[np.ix_(core, image)]
    by_core = own.sum(axis=1)
    both = min(float(own.sum()), float(core.sum()), float(image.sum()))
    doubt = float((np.clip(by_core, 0, 1) * (1 - np.clip(by_core, 0, 1))).sum())
    one = detection_rates(
        int(core.sum()), int(image.sum()), both, doubt=doubt, confidence=confidence
    )
    return {
        "part": part,
        "n_core": int(one.n_first),
        "n_image": int(one.n_second),
        "n_both": one.n_both,
        "core_rate": np.nan if one.first_rate is None else one.first_rate,
        "core_low": one.first_interval[0],
        "core_high": one.first_interval[1],
        "image_rate": np.nan if one.second_rate is None else one.second_rate,
        "image_low": one.second_interval[0],
        "image_high": one.second_interval[1],
        "total": one.total,
        "total_low": one.total_interval[0],
        "total_high": one.total_interval[1],
    }
