"""The grades follow the limits that the report prints."""

from __future__ import annotations

import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from jointstats.line.spacing import SpacingStatistics
from scipy.stats import binomtest

from jointstats.sets.reliability import (
    ALL_QUANTITIES,
    ALL_SETS,
    Caution,
    evenness_phrase,
    evidence_of,
    lowest,
    rules,
    sets_of_one_hole,
)
from jointstats.sphere.angles import poles_from_dip


def _set(**changes: object) -> SimpleNamespace:
    spacing = SpacingStatistics(np.ones(changes.pop("spacings", 40)))
    counts, angles = changes.pop("holes", ((20, 40), (15.0, 70.0)))
    plain = {
        "name": "J1",
        "n": 60,
        "mean": poles_from_dip(60.0, 90.0)[0],
        "cone_deg": 3.0,
        "p32_per_m": 1.2,
        "p32_interval": (1.0, 1.4),
        "seen_share": 0.95,
        "presence": 1.0,
        "spacing": spacing,
        "spacing_interval_m": (0.8, 1.2),
        "holes": {"n": np.array(counts), "angle_deg": np.array(angles)},
    }
    return SimpleNamespace(**(plain | changes))


@pytest.mark.parametrize(
    ("changes", "grades"),
    [
        ({}, ["high", "high", "high"]),
        ({"n": 30, "cone_deg": 10.0, "p32_interval": (0.8, 1.8), "seen_share": 0.8}, ["high"] * 3),
        ({"n": 29}, ["moderate", "high", "high"]),
        ({"cone_deg": 10.1}, ["moderate", "high", "high"]),
        ({"n": 14}, ["low", "high", "high"]),
        ({"cone_deg": 20.1}, ["low", "high", "high"]),
        ({"p32_interval": (1.0, 1.81)}, ["high", "moderate", "high"]),
        ({"p32_interval": (0.79, 1.4)}, ["high", "moderate", "high"]),
        ({"p32_interval": (1.0, 3.01)}, ["high", "low", "high"]),
        ({"presence": 0.94}, ["moderate"] * 3),
        ({"presence": 0.79}, ["low"] * 3),
        ({"seen_share": 0.79}, ["high", "moderate", "high"]),
        ({"p32_interval": (0.0, 1.0)}, ["high", "low", "high"]),
        ({"seen_share": 0.49}, ["high", "low", "high"]),
        ({"spacings": 29}, ["high", "high", "moderate"]),
        ({"spacings": 9}, ["high", "high", "low"]),
        ({"spacing_interval_m": (0.8, 1.51)}, ["high", "high", "moderate"]),
        ({"spacing_interval_m": (0.3, 1.2)}, ["high", "high", "low"]),
        ({"spacing_interval_m": (0.8, None)}, ["high", "high", "low"]),
        ({"holes": ((31, 29), (29.0, 30.0))}, ["high", "high", "moderate"]),
        ({"holes": ((30, 30), (29.0, 30.0))}, ["high", "high", "high"]),
        ({"mean": None}, ["high", "high"]),
    ],
)
def test_grades_follow_the_limits(changes: dict[str, object], grades: list[str]) -> None:
    """Each limit decides, and the limit itself passes; a girdle has no spacing to grade."""
    assert [one.confidence for one in evidence_of(_set(**changes))] == grades


def test_rules_print_the_limits_in_use() -> None:
    """The numbers in the printed rule are those that decide."""
    printed = [float(n) for n in re.findall(r"(?<!P)\b\d+", rules())]
    assert printed == [30, 10, 15, 20, 1, 5, 80, 2, 5, 50, 30, 30, 30, 1, 5, 10, 2, 5, 95, 80]


def test_a_caution_takes_its_quantity_to_moderate_at_best() -> None:
    """What touches a quantity lowers it and stands against it, for one set or for all."""
    own = Caution("J1", "Text.", "P32", "uneven between holes", "compare the holes")
    every = Caution(ALL_SETS, "Text.", "spacing", "one hole")
    other = Caution("J2", "Text.", "orientation", "few")
    orientation, p32, spacing = evidence_of(_set(), [own, every, other])
    assert (orientation.confidence, orientation.against) == ("high", ())
    assert (p32.confidence, p32.against) == ("moderate", ("uneven between holes",))
    assert p32.mend == ("compare the holes",)
    assert (spacing.confidence, spacing.against) == ("moderate", ("one hole",))
    assert evidence_of(_set(seen_share=0.1), [own])[1].confidence == "low"
    whole = Caution("J1", "Text.", ALL_QUANTITIES, "there with probability 60 %")
    assert [one.confidence for one in evidence_of(_set(), [whole])] == ["moderate"] * 3
    misread = Caution(ALL_SETS, "Text.", ALL_QUANTITIES, "H6 at odds with the rest", most="low")
    assert [one.confidence for one in evidence_of(_set(), [misread])] == ["low"] * 3


def test_what_would_mend_it_is_a_length_and_a_direction() -> None:
    """20 more spacings of a set of P32 1.2 need about 17 m square to its planes."""
    spacing = evidence_of(_set(spacings=10))[2]
    assert spacing.mend[0].startswith("about 17 m more of hole (square to it: trend 270°, plunge 30°")


def test_the_lowest_grade_counts() -> None:
    """One low grade makes a low set."""
    assert lowest(["high", "moderate", "high"]) == "moderate"
    assert lowest(["moderate", "low"]) == "low"


@pytest.mark.parametrize(
    ("chances", "told"),
    [
        ((0.01, 0.9), "uneven between the holes"),
        ((0.9, 0.01), "uneven in swarms along the holes"),
        ((0.2, 0.2), "uneven between the holes and in swarms along the holes"),
        ((0.6, 0.7), "perhaps uneven between the holes or along them"),
        ((0.9, 0.9), "consistent with an even rock"),
    ],
)
def test_the_kind_of_unevenness_is_told(chances: tuple[float, float], told: str) -> None:
    """Holes that differ, and swarms, are named only where the counts speak for them."""
    one = SimpleNamespace(even_probabilities=chances, even_probability=chances[0] * chances[1])
    assert evenness_phrase(one) == told


@pytest.mark.parametrize(("n", "alone"), [((9, 0, 0), True), ((4, 0, 0), False), ((9, 3, 0), False)])
def test_a_set_of_one_hole_is_told(n: tuple[int, ...], alone: bool) -> None:
    """One hole has all but alone what chance would share out, by scipy's binomial test of one hole."""
    one = _set(holes=(n, (60.0, 60.0, 60.0)))
    one.holes = pd.DataFrame({"hole": ["A", "B", "C"], "n": n, "n_expected": [3.0, 3.0, 3.0]})
    found = sets_of_one_hole([one])
    chance = binomtest(n[0], sum(n), 1 / 3, alternative="greater").pvalue
    assert bool(found) == alone
    assert alone == (3 * chance < 0.01 and n[0] >= 0.85 * sum(n))
    if alone:
        assert "A has 9 of the 9 fractures of J1; an even rock would put 6.0 of them" in found[0].sentence
