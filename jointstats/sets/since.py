"""What changed since an earlier report: settings, tables, counts and sets, from its sets.json."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointstats.errors import InputError
from jointstats.sets.analysis import analyse
from jointstats.sets.record import run_record
from jointstats.sphere.angles import poles_from_dip
from jointstats.sphere.axes import axis_angles_deg
from jointstats.words import number

if TYPE_CHECKING:
    from jointstats.sets.result import SiteAnalysis

#: Sets farther apart than this are not taken for the same one.
FARTHEST_DEG = 30.0


def read_record(path: str | os.PathLike[str]) -> dict[str, Any]:
    """The sets.json of an earlier report; an InputError if it is none."""
    file = Path(path)
    file = file / "sets.json" if file.is_dir() else file
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        found = None
    if not isinstance(found, dict) or found.get("format") != "jointstats sets":
        raise InputError(f"{file} is not the sets.json of a report; give it, or its directory")
    return found


def changes_since(result: SiteAnalysis, old: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What changed, as names and words; what stayed the same is left out."""
    return [*_of_run(result, old), *_of_counts(result, old), *_of_sets(result, old)]


def against_automatic(result: SiteAnalysis) -> list[tuple[str, str]]:
    """What the decisions of the analyst changed in the sets that the package finds alone."""
    alone = analyse(result.site, domains="none", random_state=result.decided.random_state)
    return _of_sets(result, {"sets": [one.to_row() for one in alone.sets]})


def _of_run(result: SiteAnalysis, old: Mapping[str, Any]) -> list[tuple[str, str]]:
    before, now = dict(old.get("made_by", {})), dict(run_record(result))
    names = dict.fromkeys([*before, *now])
    return [
        (name, f"was {before.get(name, 'not there')}, now {now.get(name, 'not there')}")
        for name in names
        if before.get(name) != now.get(name)
    ]


def _of_counts(result: SiteAnalysis, old: Mapping[str, Any]) -> list[tuple[str, str]]:
    told = []
    for name, before in old.get("counts", {}).items():
        now = getattr(result.counts, name, None)
        if now is not None and now != before:
            told.append((f"fractures {name.replace('_', ' ')}", f"was {before}, now {now}"))
    return told


def _of_sets(result: SiteAnalysis, old: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Each set beside the nearest earlier one that is not taken; sets that came or went."""
    left = {
        one["set"]: one for one in old.get("sets", []) if one.get("dip_deg") is not None
    }
    told = []
    for one in result.sets:
        if one.mean is None:
            continue
        angles = {name: _apart(one.mean, earlier) for name, earlier in left.items()}
        near = min(angles, key=lambda name: angles[name], default=None)
        if near is None or angles[near] > FARTHEST_DEG:
            told.append((one.name, "new"))
            continue
        earlier = left.pop(near)
        was = "" if near == one.name else f"was called {near}; "
        p32 = f"P32 {number(earlier['p32_per_m'], 2)} to {number(one.p32_per_m, 2)} m²/m³"
        if was or angles[near] > 0.05 or p32.split()[1] != p32.split()[3]:
            told.append((one.name, f"{was}mean moved by {angles[near]:.1f}°, {p32}"))
    return [*told, *((name, "gone") for name in left)]


def _apart(mean: Any, earlier: Mapping[str, Any]) -> float:
    pole = poles_from_dip(earlier["dip_deg"], earlier["dip_direction_deg"] % 360.0)
    return float(axis_angles_deg(mean, pole)[0])
