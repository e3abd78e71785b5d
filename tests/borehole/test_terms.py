"""Terms of condition: their order, their classes, and what a discontinuity is."""

from __future__ import annotations

import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.terms import (
    CLASSES,
    NATURAL_CLASSES,
    SCALES,
    WORDS,
    checked_classes,
    class_interval,
    classed,
    classes_of,
    type_class,
)
from jointstats.errors import InputError


def test_oxidation_has_its_order_and_complete_is_the_most() -> None:
    """Every word of oxidation stands for a term of the scale; complete is beyond strong."""
    assert set(WORDS["oxidation"].values()) == set(SCALES["oxidation"])
    assert SCALES["oxidation"][-2:] == ("strong", "complete")


def test_gouge_is_not_clay() -> None:
    """Gouge keeps its own term."""
    assert js.borehole.condition_terms(["gouge", "clay"], "infilling").tolist() == ["gouge", "clay"]


@pytest.mark.parametrize("column", CLASSES)
def test_classes_follow_one_another_without_a_gap(column: str) -> None:
    """Each class begins where the one before ends, and a number in it is of it."""
    at = 0.0
    for term in SCALES[column]:
        low, high = class_interval(column, term) or (-1.0, -1.0)
        assert low == at < high
        assert classed(column, low) == term
        at = high
    assert class_interval(column, "odd") is None


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("Joint", "joint"),
        ("quartz vein", "vein"),
        ("minor ductile shear-zone", "shear"),
        ("faulted vein", "vein"),
        ("handling break", "drilling-induced"),
        ("Biotite banding", "foliation"),
        ("", ""),
        ("contact", "other"),
    ],
)
def test_types_fall_into_classes(word: str, kind: str) -> None:
    """The class is read from the words of the type."""
    assert type_class(word) == kind


def test_types_are_of_classes_and_the_analyst_says_which_enter() -> None:
    """Words within a type give its class, the user's own first; a list of classes is checked."""
    table = pd.DataFrame({"type": ["Quartz vein", "biotite band", "qz", "drill break", "dyke", ""]})
    words = {"type": {"qz": "vein"}}
    assert classes_of(table, words).tolist() == [
        *("vein", "foliation", "vein", "drilling-induced", "other", "not stated")
    ]
    assert classes_of(table[[]], {}).tolist() == ["not stated"] * 6
    assert checked_classes(None) == NATURAL_CLASSES
    assert "drilling-induced" not in NATURAL_CLASSES
    assert checked_classes(["vein", "joint"]) == ("joint", "vein")
    with pytest.raises(InputError, match="include names 'joints'; a class is one of joint, drill"):
        checked_classes(["joints"])
    for wrong in ("joint", []):
        with pytest.raises(InputError, match="include must be a list of classes, one or more"):
            checked_classes(wrong)
