"""What of a source is not read: listed, or a fault where it could change an orientation or a depth."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches

from jointstats.errors import Fault
from jointstats.schema import TABLES
from jointstats.tables.raw_table import RawTable

#: Two names as alike as this differ by a slip of the pen, or by a plural.
_ALIKE = 0.8
#: In a name of so few letters two that changed places leave little alike.
_SHORT = 4
#: Words of the trade about directions and depths, by how they begin. A heading with one of them
#: may be meant to turn or to move something, whatever else it says.
_STEMS = (
    *("rotat", "toolface", "survey", "deviat", "traject", "referenc", "orient", "declin"),
    *("converg", "magnet", "azim", "bearing", "trend", "plung", "inclin", "alpha", "beta"),
    *("strik", "stretch", "offset", "shift", "depth", "calibr", "mirror", "direct", "roll"),
)
#: The same, as whole words: short ones, and what is often written for them.
_WORDS = frozenset(
    "north grid side tie ties dip dips dipdir az azi incl inc dec decl ref dev tf hs ls feet run "
    "runs looking ring rings fold folds bedding".split()
)
#: Words that mean a place down the hole where a heading says nothing else.
_ALONE = frozenset("from to top bottom base start end unit units method tool".split())
#: What a unit is written as, at the end of a heading.
_UNIT_WORDS = frozenset("deg degree degrees m mm metres meters".split())
#: Files that may hold a table or settings; others are plans, pictures and letters.
_OF_DATA = ("csv", "tsv", "txt", "dat", "xlsx", "xls", "xlsm", "ods", "ags", "toml", "")
#: So many files that hold no table are named.
_MOST = 8
#: A table that `jointstats orient` wrote is not meant to be read again.
_OUR_OUTPUT = "oriented_from"


@dataclass(frozen=True)
class Other:
    """A file or sheet that is no input table, and the cells of its first row."""

    name: str
    header: tuple[str, ...] = ()


def nearest(name: str, found: Iterable[object], where: str = "there") -> str:
    """A clause that names the most similar of the names found; empty if none is similar."""
    close = most_similar(name, found)
    return f"; the nearest {where} is {close!r}" if close else ""


def most_similar(name: str, found: Iterable[object]) -> str:
    """The most similar of the names found; empty if none is similar."""
    names = sorted(str(one) for one in found)
    lowered = {one.lower(): one for one in reversed(names)}
    close = get_close_matches(name.lower(), sorted(lowered), n=1, cutoff=0.5)
    return lowered[close[0]] if close else ""


def _words_of(name: str) -> list[str]:
    """The words of a heading or file name, in lower case, without its unit."""
    apart = re.sub(r"(?<=[a-zα-ω])(?=[A-ZΑ-Ω])", " ", name)
    words = re.sub(r"[\W_]+", " ", apart.lower()).split()
    while len(words) > 1 and words[-1] in _UNIT_WORDS:
        words.pop()
    return words


def _plain(name: str) -> str:
    return "".join(_words_of(name))


def _is_near(name: str, known: str) -> bool:
    one, two = _plain(name), _plain(known)
    if not one or not two:
        return False
    if len(one) <= _SHORT and sorted(one) == sorted(two):
        return True  # two letters of a short name changed places
    begins = min(len(one), len(two)) >= 3 and (one.startswith(two) or two.startswith(one))
    return begins or SequenceMatcher(None, one, two).ratio() >= _ALIKE


def _nearest_of(name: str, known: Iterable[str]) -> str | None:
    """The one of some names that a name is near to, the most alike first."""
    near = [one for one in known if _is_near(name, one)]
    alike = {one: SequenceMatcher(None, _plain(name), _plain(one)).ratio() for one in near}
    return max(near, key=lambda one: alike[one]) if near else None


def _of_the_trade(name: str) -> bool:
    words = _words_of(name)
    told = any(word in _WORDS or word.startswith(_STEMS) for word in words)
    return told or (bool(words) and _ALONE.issuperset(words))


def _turning(key: str | None = None) -> list[str]:
    """Columns that can change an orientation or a depth: of a table first, then of the others."""
    own = TABLES[key].columns if key else ()
    others = [column for form in TABLES.values() for column in form.columns]
    return list(dict.fromkeys(column.name for column in (*own, *others) if column.turns))


def _ignored(ignore: tuple[str, ...], *names: str) -> bool:
    plain = {one.strip().lower() for one in ignore}
    return any(name.lower() in plain for name in names)


_WAYS_OUT = "rename it or map it, or name it in ignore of site.toml if it is not meant"


def unread_columns(
    key: str, table: RawTable, ignore: tuple[str, ...], told: list[Fault]
) -> tuple[list[Fault], list[str]]:
    """Columns of an input table that are not read: faults, and sentences on the rest.

    A heading that one of the faults `told` already speaks of is left to that fault.
    """
    known, faults, listed = TABLES[key].names, [], []
    absent = [name for name in known if name not in table.cells]
    spoken = " ".join(
        f"{fault.rule} {fault.column!r}" for fault in told if fault.row == table.header_line
    )
    for name in (str(one) for one in table.cells if one not in known):
        if _ignored(ignore, name, f"{key}.{name}") or repr(name) in spoken:
            continue
        missing = [one for one in absent if repr(one) not in spoken]
        meant = _meant(key, name, table, missing)
        if meant is None:
            listed.append(
                f"{table.file}, column {name} is not read" + nearest(name, absent, "known name")
            )
            continue
        rule = f"is not read, and {meant}; {_WAYS_OUT}"
        faults.append(Fault(table.file, table.header_line, name, name, rule))
    return faults, listed


def _meant(key: str, name: str, table: RawTable, absent: list[str]) -> str | None:
    """Why a column may be meant to change an orientation or a depth; None if it may not."""
    near = _nearest_of(name, _turning(key))
    other = _nearest_of(name, (one for one in absent if one not in _turning(key)))
    if near and not (other and _plain(other) == _plain(name)):
        place = next(one for one in (key, *TABLES) if near in TABLES[one].names)
        where = "" if place == key else f" of {place}"
        return f"is near to {near}{where}, which could change an orientation or a depth"
    if _of_the_trade(name):
        return "by its name could change an orientation or a depth"
    words = {str(word).strip().lower() for word in table.cells[name].unique()} - {"", "nan"}
    for column in TABLES[key].columns:
        if column.among and column.name in absent and words and words <= set(column.among):
            return f"holds the words of {column.name}, which could change an orientation"
    return None


def unread_files(
    others: list[Other], present: Iterable[str], ignore: tuple[str, ...]
) -> tuple[list[Fault], list[str]]:
    """Files or sheets that are not read: faults, and sentences on the rest."""
    absent = [key for key in (*TABLES, "site") if key not in set(present)]
    faults, listed, plain = [], [], []
    for other in others:
        stem, _, suffix = other.name.partition(".")
        if not stem or _ignored(ignore, other.name, stem):
            continue
        if suffix.lower() not in _OF_DATA:
            plain.append(other.name)
            continue
        meant = _table_meant(stem, other.header, absent)
        if meant is None:
            listed.append(f"{other.name} is not read" + nearest(stem, absent, "known name"))
        else:
            rule = f"is not read, and {meant}; {_WAYS_OUT}"
            faults.append(Fault(other.name, None, None, "", rule))
    if plain:
        more = f" and {len(plain) - _MOST} more" if len(plain) > _MOST else ""
        listed.append(f"not read, as no table: {', '.join(plain[:_MOST])}{more}")
    return faults, listed


def _table_meant(stem: str, header: tuple[str, ...], absent: list[str]) -> str | None:
    if _OUR_OUTPUT in header:
        return None
    near = _nearest_of(stem, (*absent, *TABLES))
    if near:
        return f"its name is near to {near}"
    if _of_the_trade(stem):
        return "by its name could change an orientation or a depth"
    found = {_plain(name) for name in header}
    shared = ("hole", "depth_m", "fracture", "length_m", "method", "run")
    for key, form in TABLES.items():
        own = [column.name for column in form.columns if column.turns and column.name not in shared]
        held = [name for name in own if _plain(name) in found]
        if held:
            return f"it has the column {held[0]}, as {key} has"
    return None
