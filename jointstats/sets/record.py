"""The files for scripts that stand beside the page: sets.csv, fractures.csv and sets.json."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from numbers import Integral
from typing import TYPE_CHECKING

from jointstats.borehole.fractures import POLE_COLUMNS
from jointstats.sets.reliability import how_sure, uses_of

if TYPE_CHECKING:
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.result import SiteAnalysis

__all__ = ["JSON_VERSION", "fractures_csv", "sets_csv", "sets_json"]

#: Version of the layout of sets.json: the first number changes when a reader must change.
JSON_VERSION = "2.0"

_DECIMALS = {
    "true_dip_deg": 2,
    "true_dip_direction_deg": 2,
    "hole_angle_deg": 2,
    **dict.fromkeys(POLE_COLUMNS, 6),
    "membership": 4,
}


def sets_csv(result: SiteAnalysis) -> str:
    """One row a set, six significant digits.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> sets_csv(js.analyse(js.simulate_site(random_state=1), n_sets=3)).splitlines()[0][:33]
    'set,dip_deg,dip_direction_deg,con'
    """
    return result.to_frame().to_csv(index=False, float_format="%.6g", lineterminator="\n")


def fractures_csv(result: SiteAnalysis) -> str:
    """One row a fracture in the order of the input: its columns, then orientation and set.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str

    Examples
    --------
    >>> import jointstats as js
    >>> result = js.analyse(js.simulate_site(random_state=1), n_sets=3)
    >>> len(fractures_csv(result).splitlines()) == result.counts.total + 1
    True
    """
    kept = {name: n for name, n in _DECIMALS.items() if name in result.fractures}
    return result.fractures.round(kept).to_csv(index=False, lineterminator="\n")


def sets_json(result: SiteAnalysis) -> str:
    """Sets, background, counts and settings for other programs; null where nothing is known.

    Parameters
    ----------
    result : SiteAnalysis

    Returns
    -------
    str
        JSON as `sets.schema.json` describes it.

    Examples
    --------
    >>> import jointstats as js
    >>> found = json.loads(sets_json(js.analyse(js.simulate_site(random_state=1), n_sets=3)))
    >>> found["version"], len(found["sets"])
    ('2.0', 3)
    """
    whole = {
        "format": "jointstats sets",
        "version": JSON_VERSION,
        "site": result.site.name,
        "settings": dict(result.settings),
        "counts": asdict(result.counts),
        "logged_m": result.exposure.total_m,
        "blind_share": result.sampling.blind_share,
        "background_p32_per_m": result.background_per_m,
        "background_p32_interval_per_m": list(result.background_interval),
        "sets": [_set_entry(one) for one in result.sets],
        "notes": list(result.notes),
    }
    return json.dumps(_plain(whole), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _set_entry(one: JointSet) -> dict[str, object]:
    interval = one.spacing.mean_interval_m
    return {
        **one.to_row(),
        "mean_pole": None if one.mean is None else [float(value) for value in one.mean],
        "confidence": one.confidence,
        "spacing_mean_interval_m": list(interval) if interval else None,
        "sure": how_sure(one),
        "use_for_design": {use.what: use.verdict for use in uses_of(one)},
    }


def _plain(value: object) -> object:
    """The same in types that JSON knows, floats to eight digits, nothing that is not a number."""
    if is_dataclass(value):
        value = {one.name: getattr(value, one.name) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        items = [_plain(item) for item in value]
        return sorted(items, key=str) if isinstance(value, (set, frozenset)) else items
    if isinstance(value, (str, bool)) or value is None:
        return value
    if isinstance(value, Integral):
        return int(value)
    number = float(value)  # type: ignore[arg-type]  # of numpy too
    return float(f"{number:.8g}") if math.isfinite(number) else None
