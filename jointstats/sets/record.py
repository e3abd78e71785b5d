"""The files for scripts that stand beside the page: sets.csv, fractures.csv and sets.json."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from numbers import Integral
from typing import TYPE_CHECKING

from jointstats import __version__
from jointstats.borehole.fractures import POLE_COLUMNS
from jointstats.borehole.hole import PLACE_COLUMNS
from jointstats.borehole.settings import SiteSettings
from jointstats.sphere.angles import dip_from_poles, trend_from_lines
from jointstats.tables.csv_text import csv_of
from jointstats.tables.units import figures_in_feet_too, with_feet
from jointstats.types import Array
from jointstats.words import NOTICE

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.exposure import LineExposure
    from jointstats.fit.hole_agreement import HoleAgreement
    from jointstats.fit.odds import Reading
    from jointstats.fit.rocks import Rocks
    from jointstats.sets.fitted import HasSets, Reported
    from jointstats.sets.joint_set import JointSet
    from jointstats.sets.on_faces import FaceBeside
    from jointstats.sets.result import SiteAnalysis

#: Version of the layout of sets.json: the first number changes when a reader must change.
JSON_VERSION = "3.4"
#: Rocks kept for scripts, as many as a figure with an interval asks for, and their seed.
_ROCKS, _SEED = 400, 0

_DECIMALS = {
    "true_dip_deg": 2,
    "true_dip_direction_deg": 2,
    "hole_angle_deg": 2,
    **dict.fromkeys(POLE_COLUMNS, 6),
    "membership": 4,
    **dict.fromkeys(PLACE_COLUMNS, 3),
}


def sets_csv(result: Reported) -> str:
    """One row a set, six significant digits; its confidence, its cautions and the notice at the end."""
    table = result.to_frame()
    if hasattr(result, "site"):  # poles have none
        table = figures_in_feet_too(table, result.site.settings.figures_in)
    told = [
        " ".join(found.text for found in result.cautions if found.about == one.name)
        for one in result.sets
    ]
    table["confidence"] = [result.confidence_in(one.name) for one in result.sets]
    table["cautions"] = told
    table["notice"] = NOTICE
    return csv_of(table, "%.6g")


def fractures_csv(result: HasSets) -> str:
    """One row a fracture in the order of the input: its columns, then orientation and set.

    The last column is the notice, in the first row only.
    """
    kept = {name: n for name, n in _DECIMALS.items() if name in result.fractures}
    table = result.fractures.round(kept)
    if hasattr(result, "site"):  # poles have none
        table = with_feet(table, result.site.settings.depth_unit)
    table["notice"] = [NOTICE if place == 0 else "" for place in range(len(table))]
    return csv_of(table)


def sets_json(result: SiteAnalysis) -> str:
    """Sets, random fractures, counts and settings as `sets.schema.json` describes; null: not known."""
    whole = {
        "format": "jointstats sets",
        "version": JSON_VERSION,
        "site": result.site.name,
        "settings": dict(result.settings),
        "counts": asdict(result.counts),
        "logged_m": result.sampling.logged_m,
        "exposure": _exposure_entry(result.exposure) if result.sampling.logged_m > 0 else None,
        "observation": result.observation.to_record(),
        "blind_share": result.sampling.blind_share,
        **_p32_of_all(result),
        "sets": [_set_entry(result, one) for one in result.sets],
        "readings": [reading_entry(one) for one in result.readings],
        "agreement": _agreement_entry(result.agreement),
        "left_out": None if result.left_out is None else _rows(result.left_out.to_frame()),
        "faces": [face_entry(one) for one in result.faces],
        "cautions": [{"about": one.about, "text": one.text} for one in result.cautions],
        "notice": result.notice,
        "made_by": {name: value for name, value in run_record(result)},
        "notes": list(result.notes),
    }
    text = json.dumps(plain(whole), indent=2, ensure_ascii=False, allow_nan=False)
    return f'{text[:-2]},\n  "rocks": {_rocks_text(result.draws(_ROCKS, _SEED))}\n}}\n'


def _p32_of_all(result: SiteAnalysis) -> dict[str, object]:
    """P32 of the random fractures and of all, with intervals; null where nothing is oriented."""
    random, total = result.background_interval, result.total_p32
    found: dict[str, object] = {
        "background_p32_per_m": result.background_per_m,
        "background_p32_interval_per_m": list(random),
        "total_p32_per_m": float(total.estimate),
        "total_p32_interval_per_m": [float(end) for end in total.interval],
    }
    if not result.unoriented:
        return found
    return {name: [None, None] if isinstance(one, list) else None for name, one in found.items()}


def _rocks_text(rocks: Rocks) -> str:
    """Rocks as JSON with a rock a line, where an indent would take a line for each number."""

    def compact(value: object) -> str:
        return json.dumps(plain(value), ensure_ascii=False, allow_nan=False)

    record = rocks.to_record()
    drawn = ",\n      ".join(compact(one) for one in record.pop("drawn"))
    rest = ",\n".join(f'    "{key}": {compact(value)}' for key, value in record.items())
    return f'{{\n{rest},\n    "drawn": [\n      {drawn}\n    ]\n  }}'


def _exposure_entry(exposure: LineExposure) -> dict[str, object]:
    return {
        "directions": exposure.directions.tolist(),
        "lengths_m": exposure.lengths_m.tolist(),
        "girths": exposure.girths.tolist(),
        "blind_angle_deg": exposure.blind_angle_deg,
        "log_error": exposure.log_error,
    }


def face_entry(one: FaceBeside) -> dict[str, object]:
    """A mapped face: its traces, each counted once, what it gives of each set, and mean trace length."""
    face, size = one.mapped.face, one.length
    length = None
    if size is not None:
        length = {
            "mean_m": size.mean_m,
            "mean_interval_m": list(size.mean_interval),
            "pahl_m": size.pahl_m,
            "both_ends_seen": size.n_both,
            "one_end_seen": size.n_one,
            "no_end_seen": size.n_none,
        }
    return {
        "face": face.name,
        "dip_deg": face.dip_deg,
        "dip_direction_deg": face.dip_direction_deg,
        "area_m2": face.area_m2,
        "traces": len(one.mapped.length_m),
        "not_oriented": len(one.mapped.length_m) - one.n_oriented,
        "below_blind_angle": one.n_blind,
        "sets": _rows(one.to_frame().drop(columns="face")),
        "trace_length": length,
    }


def _agreement_entry(found: HoleAgreement | None) -> dict[str, object] | None:
    """Whether the holes see one rock; null where they were not compared."""
    if found is None:
        return None
    faults = [
        {"hole": found.hole_names[one.hole], "cause": one.cause, "turn_deg": one.turn_deg}
        for one in found.faults
    ]
    domains = [
        {
            "name": one.name,
            "lengths": [{"hole": hole, "from_m": a, "to_m": b} for hole, a, b in one.lengths],
        }
        for one in found.domains
    ]
    return {
        "pvalue": found.pvalue,
        "one_rock": found.one_rock,
        "sentences": list(found.sentences),
        "faults": faults,
        "domains": domains,
    }


def reading_entry(
    reading: Reading, amount: str = "p32_per_m", whole: float = 1.0
) -> dict[str, object]:
    """A reading with its sets; what each amounts to stands under `amount`, as a part of `whole`."""
    sets = []
    for density, p32 in reading.rock.sets:
        plane = (None, None) if density.mean is None else dip_from_poles(density.mean)
        axis = trend_from_lines(density.frame[0]) if density.mean is None else (None, None)
        sets.append(
            {
                "shape": density.shape,
                "dip_deg": _first(plane[0]),
                "dip_direction_deg": _first(plane[1]),
                "fold_axis_trend_deg": _first(axis[0]),
                "fold_axis_plunge_deg": _first(axis[1]),
                "axial_ratio": density.axial_ratio,
                "tail_freedom": density.tail_freedom,
                amount: p32 / whole,
            }
        )
    return {"probability": reading.probability, "bic": reading.bic, "sets": sets}


def _rows(frame: pd.DataFrame) -> list[dict[str, object]]:
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


def _first(values: Array | None) -> float | None:
    return None if values is None else float(values[0])


def _set_entry(result: SiteAnalysis, one: JointSet) -> dict[str, object]:
    interval = one.spacing_interval_m
    own = [found for found in result.evidence if found.about == one.name]
    return {
        **one.to_row(),
        "mean_pole": None if one.mean is None else [float(value) for value in one.mean],
        "interval_level": one.confidence,
        "spacing_mean_interval_m": list(interval) if interval else None,
        "confidence": result.confidence_in(one.name),
        "evidence": {
            found.quantity: {
                "confidence": found.confidence,
                "rests_on": found.rests_on,
                "against": found.against,
                "mend": found.mend,
            }
            for found in own
        },
    }


def run_record(result: SiteAnalysis) -> list[tuple[str, str]]:
    """What made a result, as names and words: version, settings, and which of them are defaults."""
    rows = [(name.replace("_", " ").capitalize(), told) for name, told in result.site.settings.title]
    rows.append(("Program", f"jointstats {__version__}"))
    for name, value in result.settings.items():
        told = json.dumps(plain(value), ensure_ascii=False)
        rows.append((name.replace("_", " "), told.strip('"')))
    standard = SiteSettings()
    for one in fields(result.site.settings):
        value = getattr(result.site.settings, one.name)
        if one.name == "title":
            continue
        if one.name == "errors":
            stated = {k: v for k, v in asdict(value).items() if v is not None}
            told = ", ".join(f"{name} {number:g}" for name, number in stated.items()) or "not stated"
        else:
            told = json.dumps(plain(value), ensure_ascii=False).strip('"')
        default = " (as by default)" if value == getattr(standard, one.name) else ""
        rows.append((f"site: {one.name.replace('_', ' ')}", f"{told}{default}"))
    if result.site.mapped:
        rows.append(("Mapping of headings and words", "; ".join(result.site.mapped)))
    return [*rows, *((f"SHA-256 of {name}", digest) for name, digest in result.site.digests)]


def plain(value: object) -> object:
    """The same in types that JSON knows, floats to eight digits, nothing that is not a number."""
    if is_dataclass(value):
        value = {one.name: getattr(value, one.name) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        items = [plain(item) for item in value]
        return sorted(items, key=str) if isinstance(value, (set, frozenset)) else items
    if isinstance(value, (str, bool)) or value is None:
        return value
    if isinstance(value, Integral):
        return int(value)
    number = float(value)  # type: ignore[arg-type]  # of numpy too
    return float(f"{number:.8g}") if math.isfinite(number) else None
