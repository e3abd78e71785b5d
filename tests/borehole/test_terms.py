"""Terms of condition: their order, their classes, and what a discontinuity is."""

from __future__ import annotations

import pytest

import jointstats as js
from jointstats.borehole.terms import (
    CLASSES,
    SCALES,
    WORDS,
    class_interval,
    classed,
    type_class,
)


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
