"""The holes and fractures of a result in space: what has a place, and values that every format knows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from jointstats.borehole.hole import PLACE_COLUMNS
from jointstats.errors import InputError

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis


def placed(result: SiteAnalysis) -> pd.DataFrame:
    """The fractures whose place is known; an InputError where none is."""
    if not hasattr(result, "site"):
        raise InputError(
            f"result must be what analyse gave; got {type(result).__name__}: poles alone have no place"
        )
    known = result.fractures[result.fractures[list(PLACE_COLUMNS)].notna().all(axis=1)]
    if not len(known):
        raise InputError(
            "no fracture has a place; give easting_m, northing_m and elevation_m of the collars in holes"
        )
    return known


def left_out_sentence(result: SiteAnalysis) -> str:
    """Which holes are not in a file of places; empty where all are."""
    missing = [hole.name for hole in result.site.holes if hole.collar is None]
    if not missing:
        return ""
    return f"Holes without a known collar are left out, with their fractures: {', '.join(missing)}."


def plain_value(value: object) -> object:
    """A cell in types that JSON knows, every digit kept; None where it is empty or not finite."""
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, (np.integer, int)):
        return int(value)
    if isinstance(value, (np.floating, float)):
        return float(value) if math.isfinite(value) else None
    return None if pd.isna(value) else str(value)
