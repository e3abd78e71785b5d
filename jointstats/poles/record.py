"""The sets of poles for other programs, and what made them."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING

from jointstats import __version__
from jointstats.sets.record import plain, reading_entry

if TYPE_CHECKING:
    from jointstats.poles.result import PolesAnalysis

#: Version of the layout of the sets.json of poles.
POLES_JSON_VERSION = "1.0"


def poles_json(result: PolesAnalysis) -> str:
    """Sets, readings, counts and settings as JSON; it has no key that would need a sampling.

    >>> import jointstats as js
    >>> poles = js.sphere.AxialFisher([0, 0, -1], 50.0).rvs(80, random_state=1)
    >>> json.loads(poles_json(js.analyse_poles(poles)))["format"]
    'jointstats sets of poles'
    """
    total = result.mixture.data_.total
    whole = {
        "format": "jointstats sets of poles",
        "version": POLES_JSON_VERSION,
        "name": result.name,
        "settings": dict(result.settings),
        "counts": asdict(result.counts),
        "n_effective": total,
        "background_share": result.background_share,
        "background_share_interval": list(result.background_interval),
        "sets": [
            {
                **one.to_row(),
                "mean_pole": None if one.mean is None else [float(value) for value in one.mean],
                "interval_level": one.confidence,
                "confidence": result.confidence_in(one.name),
            }
            for one in result.sets
        ],
        "readings": [reading_entry(one, "share", total) for one in result.readings],
        "cautions": [{"about": one.about, "text": one.text} for one in result.cautions],
        "notice": result.notice,
        "made_by": dict(poles_run(result)),
        "notes": list(result.notes),
    }
    return json.dumps(plain(whole), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def poles_run(result: PolesAnalysis) -> list[tuple[str, str]]:
    """What made a result, as names and words: version, settings, and the file read."""
    rows = [("Program", f"jointstats {__version__}")]
    for name, value in result.settings.items():
        told = json.dumps(plain(value), ensure_ascii=False)
        rows.append((name.replace("_", " "), told.strip('"')))
    return [*rows, *((f"SHA-256 of {name}", digest) for name, digest in result.digests)]
