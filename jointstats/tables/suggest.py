"""A mapping drafted from the files, headings and words of others, for the user to confirm."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from jointstats.borehole.terms import CLASSES
from jointstats.schema import TABLES
from jointstats.tables.cells import numbers_from_text
from jointstats.tables.conditions import odd_words, written_words
from jointstats.tables.csv_text import csv_of
from jointstats.tables.found import MAX_MB, Found, bytes_of
from jointstats.tables.output import check_unedited, output_file, write_file
from jointstats.tables.parse import parse_table
from jointstats.tables.raw_table import RawTable
from jointstats.tables.read import found_in
from jointstats.tables.units import ours_of
from jointstats.tables.unread import nearest
from jointstats.tables.workbook import read_sheets, table_of_sheet

#: How others head a column, in lower case without unit and marks, by our name without its unit.
_HEADINGS: dict[str, str] = {
    "hole": "hole id|hole no|hole name|holeid|bhid|bh|bh id|borehole|borehole id|boring|drillhole|"
    "drill hole|well|id",
    "depth": "measured depth|depth md|md|depth along hole|position|at|depth from collar|hole depth",
    "easting": "east|x|e|collar x",
    "northing": "north|n|y|collar y",
    "elevation": "rl|z|level|collar z|collar rl|ground level|collar elevation|altitude",
    "length": "total depth|td|eoh|end of hole|final depth|max depth|depth|hole length|drilled length",
    "trend": "azimuth|azi|bearing|hole azimuth|hole bearing|direction|az|hole trend",
    "plunge": "dip|hole dip|incl|hole plunge|dip of hole|hole angle",
    "inclination": "inclination|incl from vertical|angle from vertical|zenith angle|deviation",
    "diameter": "dia|hole dia|hole size|hole diameter|bore|size",
    "from": "top|start|depth from|from depth|begin|interval from",
    "to": "base|bottom|end|depth to|to depth|interval to",
    "dip": "true dip|plane dip|dip angle",
    "dip_direction": "dip dir|dipdir|dip azimuth|dip azi|true dip direction|dd|dip dirn|ddr|azimuth|"
    "dip bearing|true azimuth",
    "alpha": "α|angle to core axis|core angle|tca|alpha angle|angle to axis",
    "beta": "β|beta angle",
    "image_dip": "apparent dip|relative dip|dip to hole|app dip",
    "image_azimuth": "apparent azimuth|relative azimuth|app azimuth|apparent dip direction",
    "aperture": "opening|apt|aper|gap|joint width",
    "infilling": "infill|filling|fill|coating|infill type|mineral fill|mineral|infilling type",
    "oxidation": "weathering|staining|oxidized|oxidised|rust|alteration|ox|discoloration",
    "roughness": "surface|rgh|surface roughness|joint roughness|shape",
    "persistence": "trace length|extent|continuity",
    "type": "structure|structure type|feature|feature type|discontinuity|discontinuity type|class|"
    "kind|defect|defect type|fracture type",
    "remark": "remarks|comment|comments|notes|note|description|observation|observations",
    "photo": "picture|image file|photograph|photo no|photo file|photo id",
    "run": "run no|core run|run number|run id",
    "reference": "reference line|ref line|ref|orientation line|line position|reference mark",
    "looking": "looked|read looking|direction of view|view",
    "method": "source|seen by|log type|logged by|data source|log",
    "roll": "tool rotation|rotation|tool roll|toolface|tool face|camera rotation|camera roll|"
    "relative bearing",
    "recovery": "tcr|core recovery|rec|recovered|total core recovery",
    "condition": "state|remarks|description|rock condition",
    "kind": "zone|zone type|type",
    "beta_offset": "offset|line offset|beta correction|offset of line|orientation offset",
    "fracture": "trace|trace id|feature id|frac id|pick id|fracture id|fracture no|joint id",
    "angle": "angle round wall|angle around|pick angle|position angle|wall angle",
    "core_depth": "depth core|depth in core|core",
    "image_depth": "depth image|depth in image|image|camera depth",
    "stretch": "stretch",
    "offset": "shift|depth shift",
}
#: The same for tables, by file or sheet.
_SHEETS: dict[str, str] = {
    "holes": "collar|collars|borehole|boreholes|drillholes|hole list|locations|hole",
    "surveys": "survey|deviation|trajectory|gyro|hole survey|downhole survey|orientation survey",
    "rolls": "roll|tool rotation|rotation|toolface|camera rotation|tool roll",
    "runs": "run|core runs|drill runs|run sheet",
    "ties": "tie|depth ties|depth match|tie points",
    "logged": "logged lengths|intervals|logged intervals|coverage|recovery|log",
    "traces": "trace|trace picks|wall picks|picks",
    "rings": "ring|ring picks",
    "mirrors": "mirror|calibration",
    "faces": "face|windows|mapping windows|mapped faces|face list",
    "face_traces": "face mapping|face traces|window mapping|trace map",
    "bedding": "beds|bedding planes",
    "zones": "zone|broken zones|fault zones|shear zones|lost core|core loss|weak zones",
    "terms": "dictionary|codes|term|legend",
    "fractures": "fracture|discontinuities|discontinuity|joints|joint|structures|structure|defects|"
    "fracture log|structural log|structural|features|picks",
}
#: Words of others for the words that a column may hold.
_WORDS: dict[str, str] = {
    "image": "otv|optv|atv|bhtv|btv|optical|televiewer|camera|photo|imager|bips|video|acoustic|img|i",
    "core": "c|ddh|drill core|core log|cored|logged core",
    "high side": "hs|high|top|top of core|toc|high-side|highside|upper side|th",
    "low side": "ls|low|bottom|bottom of core|boc|low-side|lowside|boh|bottom of hole|lower side",
    "north": "n|mn|magnetic north|mag north|true north|tn",
    "down": "downhole|down hole|d|downward|downwards",
    "up": "uphole|up hole|u|upward|upwards",
    "yes": "y|true|1|x|ja|oui|si",
    "no": "n|false|0|nein|non",
    "marked": "yes|y|good|ok|line",
    "none": "no|n|lost|no line|not marked|-",
    "clockwise": "cw",
    "anticlockwise": "ccw|counterclockwise|counter-clockwise|acw",
}
_UNITS = {
    **dict.fromkeys(("ft", "feet", "foot", "'"), "ft"),
    **dict.fromkeys(("in", "inch", "inches", '"'), "in"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("mm", "millimetres"), "mm"),
    **dict.fromkeys(("cm", "centimetres"), "cm"),
    **dict.fromkeys(("deg", "degs", "degree", "degrees", "°", "º"), "deg"),
    **dict.fromkeys(("%", "percent", "pct"), "percent"),
}
_ALIKE = 0.75  # of two words that differ by a slip
_LAST = re.compile(r"[\s_(\[,.:/-]*([a-z]+|[°º%'\"])[\s)\].]*$")
_COLUMNS = TABLES["mapping"].names
#: Columns of fractures whose words have terms.
_OF_TERMS = next(one.among for one in TABLES["terms"].columns if one.name == "column")


class _Theirs(NamedTuple):
    """A table of theirs: what it is called, which of ours it is, and its cells."""

    name: str
    key: str
    table: RawTable
    renamed: bool


def suggest_mapping(path: str | os.PathLike[str], *, max_mb: float = MAX_MB) -> pd.DataFrame:
    """Draft a mapping: a row for each file, heading and word of others that may be one of ours.

    `path`: a directory or workbook. Gives the columns of the table mapping; no row is confirmed.
    """
    source = Path(os.fsdecode(path))
    found = found_in(source, max_mb)
    rows: list[dict[str, object]] = []
    tables, words = _tables(found, source, max_mb), written_words(found.tables)
    feet = any(_split(str(name))[1] == "ft" for one in tables for name in one.table.cells)
    feet |= found.settings.values.get("depth_unit") == "ft"
    for one in tables:
        if one.renamed:
            rows.append({"table": one.key, "sheet": one.name, "note": "is it this table?"})
        headings = _heading_rows(one, feet)
        rows += headings
        ours = {str(name): ours_of(str(name)) for name in one.table.cells}
        ours |= {str(row["heading"]): ours_of(str(row["column"])) for row in headings}
        rows += _word_rows(one, ours, words)
    filled = [{name: row.get(name, "") for name in _COLUMNS} for row in rows]
    return pd.DataFrame(filled, columns=list(_COLUMNS), dtype=object)


def write_suggestion(path: str | os.PathLike[str], output: str, max_mb: float = MAX_MB) -> str:
    """Write the draft of a mapping where there is any; gives what to say of it."""
    draft = suggest_mapping(path, max_mb=max_mb)
    if draft.empty:
        return "nothing to map: no file, heading or word is near to one that is known"
    file = output_file(output, [path])
    check_unedited(file, csv_of(draft), "give it with --mapping")
    write_file(file, csv_of(draft))
    return (
        f"{len(draft)} rows drafted in {file}: put yes or no in confirmed, mend what is wrong, and "
        f"give it back with --mapping {file}, or as the table mapping of the site"
    )


def _tables(found: Found, source: Path, max_mb: float) -> list[_Theirs]:
    """The tables under our names, and the files or sheets that may be others of ours."""
    made = [_Theirs(table.file, key, table, False) for key, table in found.tables.items()]
    sheets = {} if source.is_dir() else read_sheets(source, max_mb, None)
    taken = set(found.tables)
    for other in found.others:
        key = _table_for(other.name, other.header, set(TABLES) - taken - {"mapping", "terms"})
        if key is None:
            continue
        if source.is_dir():
            table, _ = parse_table(other.name, bytes_of(source / other.name, max_mb), set(), set())
        else:
            sheet = sheets[other.name.strip().lower()]
            table, _ = table_of_sheet(key, sheet, sheet.title)
        if table is not None:
            taken.add(key)
            made.append(_Theirs(other.name, key, table, True))
    return made


def _plain(name: str) -> str:
    """A heading in lower case, its marks as blanks."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return " ".join(re.sub(r"[\W_]+", " ", apart.lower()).split())


def _split(heading: str) -> tuple[str, str]:
    """A heading without its unit, and the unit; empty where it says none."""
    last = _LAST.search(heading.lower())
    if last is None or last[1] not in _UNITS or not _plain(heading[: last.start()]):
        return _plain(heading), ""
    return _plain(heading[: last.start()]), _UNITS[last[1]]


def _stem(name: str) -> str:
    return re.sub(r"_(deg|mm_per_m|mm|m|percent)$", "", name)


def _fits(plain: str, name: str) -> float:
    """How well a plain heading names a column or table of ours: 1 the name itself, 0 not at all."""
    stem = _stem(name)
    if plain in (stem.replace("_", " "), stem.replace("_", "")):
        return 1.0
    others = (_HEADINGS | _SHEETS).get(stem, "").split("|")
    if plain in others:
        return 0.9 - 0.01 * others.index(plain)
    close = nearest(plain, [stem.replace("_", " ")])
    words = set(plain.split())
    if stem.replace("_", " ") in plain and len(stem) > 3:
        return 0.6 - 0.02 * len(words)
    return 0.5 if close and abs(len(plain) - len(stem)) <= 1 and len(stem) > 4 else 0.0


def _is_of(name: str, unit: str) -> bool:
    """Whether a column of ours may be in a unit that a heading says: an angle in no unit of length."""
    kinds = {"deg": ("deg",), "percent": ("percent",)}
    own = name.rsplit("_", 1)[-1]
    return not unit or (own in ("m", "mm") if unit not in kinds else own in kinds[unit])


def _table_for(name: str, header: Sequence[str], free: set[str]) -> str | None:
    """The table of ours that a file or sheet may be, by its name and its headings."""
    stem = _plain(re.sub(r"\.\w+$", "", name))
    scores = {}
    for key in sorted(free):
        named = _fits(stem, key)
        heads = [max(_fits(_split(one)[0], own) for own in TABLES[key].names) for one in header]
        needed = [one.name for one in TABLES[key].columns if one.required]
        met = [any(_fits(_split(one)[0], own) >= 0.5 for one in header) for own in needed]
        known = sum(one >= 0.5 for one in heads) / max(len(heads), 1)
        scores[key] = 2 * named + known + (np.mean(met) if met else 0.0) if all(met) else named
    best = max(scores, key=lambda key: scores[key], default=None)
    return best if best is not None and scores[best] >= 0.85 else None


def _heading_rows(one: _Theirs, feet: bool) -> list[dict[str, object]]:
    names = [str(name) for name in one.table.cells]
    known = {ours_of(name) for name in names} & set(TABLES[one.key].names)
    free = [name for name in TABLES[one.key].names if name not in known]
    odd = [name for name in names if ours_of(name) not in TABLES[one.key].names and name]
    if {"trend_deg", "plunge_deg"} & known:
        free = [name for name in free if name not in ("azimuth_deg", "inclination_deg")]
    ranked = sorted(
        (
            (_fits(_split(name)[0], own), name, own)
            for name in odd
            for own in free
            if _is_of(own, _split(name)[1])
        ),
        key=lambda found: -found[0],
    )
    chosen: dict[str, str] = {}
    for score, name, own in ranked:
        if score > 0 and name not in chosen and own not in chosen.values():
            chosen[name] = own
    rows = [_heading_row(one, name, chosen[name], feet) for name in odd if name in chosen]
    for name in odd:
        if name not in chosen and _split(name)[0].startswith("strike") and "dip_direction_deg" in free:
            note = "is the dip to the right of the strike? then its direction is the strike plus 90"
            rows.append(_row(one.key, name, "dip_direction_deg", note) | {"plus": 90})
    return _directions(rows)


def _directions(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Azimuth goes with an inclination from vertical, and trend with a plunge."""
    steep = any(row["column"] == "inclination_deg" for row in rows)
    names = {"trend_deg": "azimuth_deg"} if steep else {"azimuth_deg": "trend_deg"}
    for row in rows:
        row["column"] = names.get(str(row["column"]), row["column"])
        if row["column"] == "inclination_deg":
            row["note"] = "is 0 straight down? if 0 is level, it is plunge_deg"
    return rows


def _row(key: str, heading: str, column: str, note: str = "") -> dict[str, object]:
    return {"table": key, "heading": heading, "column": column, "note": note}


def _heading_row(one: _Theirs, heading: str, ours: str, feet: bool) -> dict[str, object]:
    """A heading with our column, in the unit that it says, and what is doubtful about it."""
    unit = _split(heading)[1]
    ending = {"m": ("m", "ft", "cm"), "mm": ("mm", "in", "cm", "m", "ft")}
    column, notes, times = ours, [], None
    own = ours.rsplit("_", 1)[-1]
    if own in ("m", "mm") and "_per_" not in ours:
        along = next(one for one in TABLES[one.key].columns if one.name == ours).is_along
        said = unit or ("ft" if feet and along else own)
        if said not in ending[own] or (said, own) in (("m", "mm"), ("ft", "mm"), ("cm", "m")):
            notes.append(f"its unit is {said}: say by times what makes it {own}")
        else:
            column = f"{ours.removesuffix(own)}{said}"
        if not unit:
            notes.append(f"the heading says no unit: {said}?")
    if ours == "plunge_deg":
        values, _ = numbers_from_text(one.table.cells[heading], one.table.decimal)
        known = values[~np.isnan(values)]
        if len(known) and np.median(known) < 0:
            times = -1
            notes.append("most are below 0: times −1, if theirs falls downward")
    if ours in ("image_dip_deg", "image_azimuth_deg"):
        notes.append("relative to the hole? if true, it is dip_deg or dip_direction_deg")
    made = _row(one.key, heading, column, "; ".join(notes))
    return made if times is None else made | {"times": times}


def _word_rows(
    one: _Theirs, ours: dict[str, str], words: Mapping[str, Mapping[str, str]]
) -> list[dict[str, object]]:
    """Words of theirs in columns that hold words of a list, or of condition; `means` may be empty."""
    known = {column.name: column.among for column in TABLES[one.key].columns if column.among}
    rows: list[dict[str, object]] = []
    for name, column in ours.items():
        if name not in one.table.cells or one.key == "mapping":
            continue
        cells = ["" if pd.isna(cell) else cell for cell in one.table.cells[name]]
        means = {}
        if column in known:
            plain = dict.fromkeys(str(cell).strip() for cell in cells)
            odd = [word for word in plain if word and word.lower() not in known[column]]
            means = {word: _listed(word, known[column]) for word in odd}
        elif one.key == "fractures" and column in _OF_TERMS:
            # A word of condition without a term near to it may stay as one of its own.
            odd_ones = odd_words(column, cells, words.get(column, {})).items()
            near = {word: term if _is_sure(word, term) else "" for word, term in odd_ones}
            means = {word: term for word, term in near.items() if term or column in CLASSES}
        rows += [
            {"table": one.key, "column": column, "word": word, "means": ours_is}
            for word, ours_is in means.items()
        ]
    return rows


def _is_sure(word: str, term: str) -> bool:
    """Whether a word may be drafted as a term: its beginning, or all but a slip of the pen."""
    plain = word.rstrip(".")
    begins = len(plain) >= 3 and term.startswith(plain)
    return begins or SequenceMatcher(None, plain, term).ratio() >= _ALIKE


def _listed(word: str, known: Sequence[str]) -> str:
    """The word of a list that one of theirs stands for; empty where none is known to."""
    means = (own for own in known if word.lower() in _WORDS.get(own, "").split("|"))
    return next(means, "")
