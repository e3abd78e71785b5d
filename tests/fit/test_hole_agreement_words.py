"""What the answer says, from results made by hand; lengths that touch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.faulty_holes import FaultyHole
from jointstats.fit.hole_agreement import (
    LEVEL,
    Domain,
    HoleAgreement,
    Stretch,
    _joined,
    _lines,
    _tests,
)
from tests.fit.rock_arrays import simulated, truth

SETS = truth()
WHOLE = Domain("A", (("H1", 0.0, 50.0), ("H2", 0.0, 40.0)), (0, 1), SETS)
ONE = HoleAgreement(0.5, {}, (), None, (WHOLE,), 0.0, ("H1", "H2"), None)
FAULT = FaultyHole(
    hole=1,
    cause="azimuth",
    turn_deg=12.0,
    turn_error_deg=1.5,
    gain=20.4,
    delta_bic=-35.2,
    gains={"azimuth": 20.4, "as it is": -300.0},
)


def test_holes_differ_at_the_level() -> None:
    """At p = .02 they differ, above it not; the p-value is told in two digits."""
    assert LEVEL == 0.02
    assert replace(ONE, pvalue=0.0201).one_rock and not replace(ONE, pvalue=0.02).one_rock
    (sentence,) = ONE.sentences
    assert "(p 0.5, the limit being 0.02)" in sentence
    told = replace(ONE, pvalue=0.0123).sentences
    assert told[0] == "The holes differ in orientation (p 0.012)."
    assert "too small, or too spread out" in told[1] and len(told) == 2
    assert not replace(ONE, faults=(FAULT,)).one_rock
    assert not replace(ONE, domains=(WHOLE, WHOLE)).one_rock


def test_domains_are_told_with_their_criterion() -> None:
    """How many, where, and by how much they are the better description."""
    parts = Domain("A", (("H1", 0.0, 50.0),), (0,), SETS), Domain("B", (("H2", 0.0, 40.0),), (1,), SETS)
    told = replace(ONE, domains=parts, delta_bic=-12.6).sentences
    assert told == (
        "The holes are best described as 2 domains (A: H1 0–50 m; B: H2 0–40 m), each with sets of its "
        "own (BIC 13 below one rock; 10 is strong evidence).",
    )


def test_a_fault_is_told_with_its_gain() -> None:
    """Name, cause, standard error, log likelihood and BIC; and what is as likely."""
    (text,) = replace(ONE, faults=(FAULT,)).sentences
    assert text == (
        "H2 does not agree with the other holes. Likely cause: the azimuth of the hole, or of its "
        "readings, is logged 12° too small (standard error 1.5°); it would raise the log likelihood "
        "by 20 and lower the BIC by 35. Check the reading before the sets are used."
    )
    assert "too large" in replace(FAULT, turn_deg=-12.0).told
    mirror = replace(FAULT, cause="beta_mirrored", turn_deg=None, turn_error_deg=None)
    assert mirror.told == "β counted the other way round"
    also = replace(mirror, also=((0, "azimuth"), (1, "beta_180"), (0, "azimuth")))
    first, second = replace(
        ONE, pvalue=0.01, faults=(also,), pvalue_put_right=0.021
    ).sentences[1:]
    assert " Not told apart from it: H1, azimuth off; H2, β turned by 180°." in first.replace(
        "off, H2", "off; H2"
    )
    assert "standard error" not in first
    assert second == "With that put right the holes agree (p 0.021)."
    bad = replace(ONE, pvalue=0.01, faults=(also,), pvalue_put_right=0.02)
    assert "the holes still differ (p 0.02)" in bad.sentences[2]


@pytest.mark.parametrize(
    ("declination", "turn", "said"),
    [
        (12.0, 15.0, "magnetic azimuths taken for true ones"),
        (12.0, 15.1, None),
        (-12.0, 11.0, "a declination added to azimuths that were true already"),
        (6.0, 12.0, "a declination taken with the wrong sign"),
        (3.0, 3.0, "magnetic"),
        (2.9, 3.0, None),
        (None, 3.0, None),
    ],
)
def test_a_confusion_of_north_is_named(declination: float, turn: float, said: str | None) -> None:
    """Within two standard errors (of 1.5° each), where the declination itself is as large."""
    fault = replace(FAULT, turn_deg=turn)
    (text,) = replace(ONE, faults=(fault,), declination_deg=declination).sentences
    assert (said in text) if said else ("The angle is that of" not in text)


def test_stretches_that_touch_are_one_length() -> None:
    """Of one hole, in order; a gap parts them."""
    line = js.LineExposure([[0, 0, -1]], [10.0])
    rows = [("A", 0, 10), ("A", 10, 20), ("A", 21, 30), ("B", 30, 40), ("A", 40, 50)]
    stretches = [Stretch(name, float(low), float(high), line) for name, low, high in rows]
    assert _joined(stretches, range(5)) == (
        ("A", 0.0, 20.0), ("A", 21.0, 30.0), ("B", 30.0, 40.0), ("A", 40.0, 50.0)
    )  # fmt: skip
    assert _joined(stretches, [1, 3]) == (("A", 10.0, 20.0), ("B", 30.0, 40.0))


def test_lines_are_those_nearest_to_a_whole_stretch() -> None:
    """Where none are given: the direction of the most metres of each one's stretch."""
    hole = js.LineExposure(js.lines_from_trend([0, 90], [90, 10]), [10.0, 30.0])
    other = js.LineExposure(js.lines_from_trend([180], [45]), [9.0])
    data = simulated(1).grouped()
    bent = replace(
        data,
        poles=np.eye(3),
        group=np.array([1, 0, 0]),
        directions=np.vstack([hole.directions, other.directions]),
        lengths_m=np.array([[10.0, 30.0, 0.0], [0.0, 0.0, 9.0]]),
    )
    expected = [other.directions[0], hole.directions[1], hole.directions[1]]
    np.testing.assert_allclose(_lines(bent, None), expected)


def test_two_levels_of_a_test_share_its_chance() -> None:
    """Holes and stretches both tested: twice the smaller p-value, at most 1."""
    data = simulated(2).grouped()
    tests, p = _tests(data, np.array([0, 0, 1, 1]), SETS, 19, np.random.default_rng(0))
    assert set(tests) == {"holes", "stretches"}
    assert p == min(1.0, 2 * min(one.pvalue for one in tests.values()))
    tests, p = _tests(data, np.arange(4), SETS, 19, np.random.default_rng(0))
    assert set(tests) == {"holes"} and p == tests["holes"].pvalue
    tests, p = _tests(data, np.zeros(4, int), SETS, 19, np.random.default_rng(0))
    assert set(tests) == {"stretches"} and p == tests["stretches"].pvalue
    alone = _tests(data.only([0]), np.zeros(1, int), SETS, 19, np.random.default_rng(0))
    assert alone == ({}, 1.0)
