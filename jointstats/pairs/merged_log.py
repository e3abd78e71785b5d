"""One log of core and image: each fracture once, with what both say of it side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.borehole.fractures import Fractures
from jointstats.borehole.orient import orient_fractures
from jointstats.pairs.core_image import CoreMatch
from jointstats.pairs.match_tables import FIRST_ROW, SetOf
from jointstats.sphere.angles import dip_from_poles
from jointstats.types import Array

if TYPE_CHECKING:
    from jointstats.borehole.site import Site

#: What a log says of a fracture besides its place.
_SAID = (
    *("type", "aperture_mm", "infilling", "oxidation", "roughness", "persistence_m"),
    *("photo", "remark"),
)


def merged_log(site: Site, match: CoreMatch, set_of: SetOf | None) -> pd.DataFrame:
    """Every fracture of a hole once, by its depth on the image.

    Columns: hole, depth_m, found, core_row and image_row (as in the file), core_depth_m,
    probability (of the pair), dip_deg, dip_direction_deg, orientation (which log gave it; the
    image's where both do), set where `set_of` is given, and each column of condition twice.
    """
    whole = match.to_frame()
    core, image = (whole[name].to_numpy("float") for name in ("core_row", "image_row"))
    poles = _poles_at(Fractures(orient_fractures(site)).poles, image)
    read = ~np.isnan(poles[:, 0])
    own = match.oriented.set_index("row")
    turned = Fractures(own.reindex(core)).poles
    poles = np.where(read[:, np.newaxis], poles, turned)
    told = {
        f"{method}_{name}": _cells(site.fractures[name], rows)
        for name in _SAID
        if name in site.fractures
        for method, rows in (("core", core), ("image", image))
    }
    return pd.DataFrame(
        {
            "hole": match.hole,
            "depth_m": whole["image_depth_m"],
            "found": whole["found"],
            "core_row": whole["core_row"] + FIRST_ROW,
            "image_row": whole["image_row"] + FIRST_ROW,
            "core_depth_m": whole["core_depth_m"],
            "probability": whole["chance"],
            **_orientation(poles, set_of),
            "orientation": np.where(read, "image", np.where(np.isnan(poles[:, 0]), "", "core")),
            **told,
        }
    )


def lost_fractures(site: Site, match: CoreMatch, set_of: SetOf | None) -> pd.DataFrame:
    """Fractures of the image that the core has not, with what the image says of them.

    Columns: hole, depth_m, image_row (as in the file), probability_alone, dip_deg,
    dip_direction_deg, set where `set_of` is given, and the columns of condition.
    """
    alone = match.image_only
    rows = alone["row"].to_numpy("float")
    poles = _poles_at(Fractures(orient_fractures(site)).poles, rows)
    said = [name for name in _SAID if name in site.fractures]
    return pd.DataFrame(
        {
            "hole": match.hole,
            "depth_m": alone["depth_m"],
            "image_row": alone["row"] + FIRST_ROW,
            "probability_alone": alone["chance_alone"],
            **_orientation(poles, set_of),
            **{name: _cells(site.fractures[name], rows) for name in said},
        }
    )


def _poles_at(poles: Array, rows: Array) -> Array:
    found = np.full((len(rows), 3), np.nan)
    there = ~np.isnan(rows)
    found[there] = poles[rows[there].astype(int)]
    return found


def _cells(column: pd.Series, rows: Array) -> list[object]:
    values = column.to_numpy(object)
    return [None if np.isnan(row) else values[int(row)] for row in rows]


def _orientation(poles: Array, set_of: SetOf | None) -> dict[str, object]:
    known = ~np.isnan(poles[:, 0])
    dip, direction = np.full((2, len(poles)), np.nan)
    if known.any():
        dip[known], direction[known] = dip_from_poles(poles[known])
    columns: dict[str, object] = {"dip_deg": dip, "dip_direction_deg": direction}
    if set_of is not None:
        names = np.full(len(poles), "", dtype=object)
        if known.any():
            number = set_of(poles[known])
            names[known] = [f"J{k + 1}" if k >= 0 else "" for k in number]
        columns["set"] = names
    return columns
