"""The terms of the condition of fractures: words that mean each, scales in their order, classes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from jointstats.errors import InputError

__all__ = [
    "ALL_CLASSES",
    "CLASSES",
    "NATURAL_CLASSES",
    "NOT_STATED",
    "SCALES",
    "TYPE_CLASSES",
    "WORDS",
    "checked_classes",
    "class_interval",
    "classed",
    "classes_of",
    "interval_columns",
    "type_class",
]

#: Word in a table (lower case) → term, by column. A user may add to it in the table terms.
#: Roughness: ISRM (1978), three steps of shape by three of surface; from memory.
WORDS: dict[str, dict[str, str]] = {
    "oxidation": {
        **dict.fromkeys(("no", "none", "fresh", "-"), "none"),
        **dict.fromkeys(("weak", "slight", "slightly", "stained", "staining"), "slight"),
        **dict.fromkeys(("moderate", "moderately", "medium"), "moderate"),
        **dict.fromkeys(("strong", "strongly", "high", "heavy"), "strong"),
        **dict.fromkeys(("complete", "completely"), "complete"),
    },
    "infilling": {
        **dict.fromkeys(("no", "none", "clean", "-"), "none"),
        **dict.fromkeys(("calcite", "carbonate"), "calcite"),
        **dict.fromkeys(("iron oxide", "limonite"), "iron oxide"),
        **{one: one for one in ("quartz", "clay", "gouge", "silt", "sand", "chlorite")},
    },
    "roughness": {
        f"{surface}{joint}{shape}": f"{surface} {shape}"
        for surface in ("rough", "smooth", "slickensided")
        for shape in ("stepped", "undulating", "planar")
        for joint in (" ", ", ", " and ", "/")
    }
    | {one: one for one in ("rough", "smooth", "slickensided", "stepped", "undulating", "planar")},
}
#: Upper end of each class and its term, by column; a value at an end belongs to the class above.
#: Aperture: ISRM (1978), whose first five ISO 14689 has too; from memory.
#: Persistence: ISRM (1978), in Brady & Brown p. 54.
CLASSES: dict[str, tuple[tuple[float, str], ...]] = {
    "aperture_mm": (
        (0.1, "very tight"),
        (0.25, "tight"),
        (0.5, "partly open"),
        (2.5, "open"),
        (10.0, "moderately wide"),
        (100.0, "very wide"),
        (1000.0, "extremely wide"),
        (np.inf, "cavernous"),
    ),
    "persistence_m": (
        (1.0, "very low"),
        (3.0, "low"),
        (10.0, "medium"),
        (20.0, "high"),
        (np.inf, "very high"),
    ),
}
#: Terms that have an order, from least to most.
SCALES: dict[str, tuple[str, ...]] = {
    "oxidation": ("none", "slight", "moderate", "strong", "complete"),
    **{column: tuple(term for _, term in classes) for column, classes in CLASSES.items()},
}
#: What a discontinuity is, and words within a type that say so; the first that fits counts.
TYPE_CLASSES: dict[str, tuple[str, ...]] = {
    "drilling-induced": ("drill", "induced", "mechanical", "handling", "disking", "machine"),
    "vein": ("vein",),
    "shear": ("shear", "fault", "gouge"),
    "bedding": ("bedding", "stratification"),
    "foliation": ("foliation", "schistosity", "cleavage", "gneissosity", "band", "fabric"),
    "joint": ("joint", "fracture", "fissure", "crack"),
}
#: The class of a type that no word fits, and that of an empty cell.
OTHER, NOT_STATED = "other", "not stated"
#: Every class that a fracture may have.
ALL_CLASSES = ("joint", *(one for one in TYPE_CLASSES if one != "joint"), OTHER, NOT_STATED)
#: Those that the rock has of itself: all but what drilling made.
NATURAL_CLASSES = tuple(one for one in ALL_CLASSES if one != "drilling-induced")


def type_class(word: str) -> str:
    """The class of a type; "other" where none fits, empty where the type is.

    >>> [type_class(word) for word in ("Quartz vein", "minor shear-zone", "lamina", "")]
    ['vein', 'shear', 'other', '']
    """
    plain = word.strip().lower()
    if plain in ("", *TYPE_CLASSES):
        return plain
    fits = (one for one, words in TYPE_CLASSES.items() if any(part in plain for part in words))
    return next(fits, OTHER)


def classes_of(
    table: pd.DataFrame, words: Mapping[str, Mapping[str, str]]
) -> NDArray[np.object_]:
    """The class of each fracture of a table, by its type and the words of the site; shape (n,)."""
    if "type" not in table:
        return np.full(len(table), NOT_STATED, dtype=object)
    own = words.get("type", {})
    plain = [
        "" if pd.isna(one) else " ".join(str(one).lower().split()) for one in table["type"]
    ]
    named = [type_class(own.get(one, one)) or NOT_STATED for one in plain]
    return np.array(named, dtype=object)


def checked_classes(include: Sequence[str] | None) -> tuple[str, ...]:
    """The classes that enter an analysis, in their order: those asked for, else all natural ones."""
    if include is None:
        return NATURAL_CLASSES
    known = f"a class is one of {', '.join(ALL_CLASSES)}"
    if isinstance(include, str) or not include:
        raise InputError(f"include must be a list of classes, one or more; got {include!r}; {known}")
    strange = [one for one in include if one not in ALL_CLASSES]
    if strange:
        raise InputError(f"include names {strange[0]!r}; {known}")
    return tuple(one for one in ALL_CLASSES if one in include)


def class_interval(column: str, term: str) -> tuple[float, float] | None:
    """The two ends of a class of numbers; None if the column has no such class."""
    low = 0.0
    for high, name in CLASSES[column]:
        if name == term:
            return low, high
        low = high
    return None


def interval_columns(column: str) -> tuple[str, str]:
    """The columns that hold the ends of what is only known to lie between two numbers.

    >>> interval_columns("aperture_mm")
    ('aperture_low_mm', 'aperture_high_mm')
    """
    stem, unit = column.rsplit("_", 1)
    return f"{stem}_low_{unit}", f"{stem}_high_{unit}"


def classed(column: str, value: float) -> str:
    """The class that a number lies in."""
    return next(term for end, term in CLASSES[column] if value < end or end == np.inf)
