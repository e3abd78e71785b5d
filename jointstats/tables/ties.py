"""Depths of core and image brought together: by features found in both, or by stretch and offset."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from jointstats.borehole.depth import stretched_depth, tied_depth
from jointstats.borehole.settings import SiteSettings
from jointstats.errors import Fault
from jointstats.tables.raw_table import RawTable
from jointstats.types import Array

_PAIR = {"core": "core_depth_m", "image": "image_depth_m"}


def apply_ties(
    tables: dict[str, RawTable], settings: SiteSettings, file: str
) -> tuple[list[Fault], list[str]]:
    """Move depths of fractures and logged lengths to those of the log that they follow.

    Stretch and offset come first, then the tie points between logs. Faults, and notes on what was
    moved and where it had to go beyond the outermost tie. `file`: what holds the settings.
    """
    ties = tables.get("ties")
    if ties is None or ties.wrong().any() or not ties.has("hole"):
        return [], []
    faults = _tie_faults(ties, settings, file)
    fractures = tables.get("fractures")
    if fractures is not None and not faults:
        faults += _methodless(fractures, ties)
    if faults:
        return faults, []
    notes = []
    for key, columns in (("fractures", ("depth_m",)), ("logged", ("from_m", "to_m"))):
        table = tables.get(key)
        if table is None or not table.has("hole", "method", *columns):
            continue
        for column in columns:
            moved = _moved(table, column, ties, settings.depths_follow)
            apart = np.abs(moved - table.numbers(column))
            if key == "fractures" and np.nanmax(apart, initial=0.0) > 0:
                number = int((apart > 0).sum())
                notes.append(
                    f"Depths of {number} fractures were moved by ties, by up to "
                    f"{_told(table, column, float(np.nanmax(apart)))}."
                )
            table.move(column, moved)
    return faults, notes + _beyond(fractures, ties, settings.depths_follow)


def _told(table: RawTable, column: str, metres: float) -> str:
    """A length in the unit of the file."""
    return f"{metres:.3g} m" if column not in table.factor else table.told(column, metres)


def _is_pair(ties: RawTable) -> NDArray[np.bool_]:
    return ~np.isnan(ties.numbers("core_depth_m")) | ~np.isnan(ties.numbers("image_depth_m"))


def _tie_faults(ties: RawTable, settings: SiteSettings, file: str) -> list[Fault]:
    pair, faults = _is_pair(ties), []
    core, image = ties.numbers("core_depth_m"), ties.numbers("image_depth_m")
    stretched = ~np.isnan(ties.numbers("stretch_mm_per_m")) | ~np.isnan(ties.numbers("offset_m"))
    method = ties.words("method")
    both = "a row holds core_depth_m and image_depth_m, or method with stretch_mm_per_m or offset_m"
    for row in np.flatnonzero(np.isnan(core + image) & pair | (pair == stretched)):
        faults.append(ties.fault(int(row), "hole", ties.words("hole")[row], both))
    for row in np.flatnonzero(stretched & ~pair & (method == "")):
        faults.append(ties.fault(int(row), "method", "", "the cell is empty; " + both))
    if pair.any() and settings.depths_follow is None:
        rule = (
            f"the setting is missing, and {ties.file} ties depths of core and image together; "
            'state the log whose depths stand: "core" or "image"'
        )
        faults.append(Fault(file, None, "depths_follow", "", rule))
    for hole in dict.fromkeys(ties.words("hole")):
        own = np.flatnonzero((ties.words("hole") == hole) & pair)
        own = own[np.argsort(core[own], kind="stable")]
        for step in np.flatnonzero((np.diff(core[own]) <= 0) | (np.diff(image[own]) <= 0)):
            rule = (
                f"ties of a hole rise in both logs, and row {ties.lines[own[step]]} ties "
                f"{ties.told('core_depth_m', core[own[step]])} to "
                f"{ties.told('image_depth_m', image[own[step]])}"
            )
            at = int(own[step + 1])
            faults.append(ties.fault(at, "image_depth_m", float(image[at]), rule))
    return faults


def _methodless(fractures: RawTable, ties: RawTable) -> list[Fault]:
    """Fractures of a tied hole must say which log their depth is of."""
    tied = np.isin(fractures.words("hole"), np.unique(ties.words("hole")))
    rows = np.flatnonzero(tied & (fractures.words("method") == ""))
    if not len(rows):
        return []
    rule = f"is empty, and {ties.file} moves depths of this hole: say which log the depth is of"
    return [fractures.fault(int(rows[0]), "method", "", rule)]


def _moved(table: RawTable, column: str, ties: RawTable, follow: str | None) -> Array:
    depth, holes, methods = table.numbers(column).copy(), table.words("hole"), table.words("method")
    pair = _is_pair(ties)
    for hole in dict.fromkeys(ties.words("hole")):
        own = ties.words("hole") == hole
        for method in _PAIR:
            rows = (holes == hole) & (methods == method) & ~np.isnan(depth)
            depth[rows] = _stretched(
                depth[rows], ties, np.flatnonzero(own & ~pair & (ties.words("method") == method))
            )
            tied = np.flatnonzero(own & pair)
            if len(tied) and follow is not None and method != follow:
                tied = tied[np.argsort(ties.numbers(_PAIR[method])[tied])]
                depth[rows] = tied_depth(
                    depth[rows],
                    ties.numbers(_PAIR[method])[tied],
                    ties.numbers(_PAIR[follow])[tied],
                )
    return depth


def _stretched(depth: Array, ties: RawTable, runs: NDArray[np.intp]) -> Array:
    result = depth.copy()
    for row in runs:
        low, high = ties.numbers("from_m")[row], ties.numbers("to_m")[row]
        rows = ~(depth < low) & ~(depth > high)  # an empty end reaches all the way
        result[rows] = stretched_depth(
            depth[rows],
            stretch_mm_per_m=float(np.nan_to_num(ties.numbers("stretch_mm_per_m")[row])),
            offset_m=float(np.nan_to_num(ties.numbers("offset_m")[row])),
        )
    return result


def _beyond(fractures: RawTable | None, ties: RawTable, follow: str | None) -> list[str]:
    """A note where depths lie beyond the outermost tie of their hole, where the shift stays."""
    if fractures is None or follow is None:
        return []
    method = next(one for one in _PAIR if one != follow)
    number = 0
    for hole in dict.fromkeys(ties.words("hole")):
        known = ties.numbers(_PAIR[method])[(ties.words("hole") == hole) & _is_pair(ties)]
        rows = (fractures.words("hole") == hole) & (fractures.words("method") == method)
        depth = fractures.given.get("depth_m", fractures.numbers("depth_m"))[rows]
        if len(known):
            number += int(((depth < known.min()) | (depth > known.max())).sum())
    if not number:
        return []
    return [
        f"{number} fractures lie beyond the outermost tie of their hole; its shift is kept there."
    ]
