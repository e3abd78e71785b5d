"""The whole answer: what it says of one rock, of domains, of a faulty hole."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.faulty_holes import _half_turn
from jointstats.fit.hole_agreement import HoleAgreement, Stretch, hole_agreement
from jointstats.sphere.angles import turn_in_azimuth
from tests.fit.rock_arrays import OTHER, ROCK, Arrays, fitted_sets, simulated, truth


def agreement(arrays: Arrays, declination: float | None = None) -> HoleAgreement:
    """The answer for four whole holes."""
    holes = [Stretch(f"H{g + 1}", 0.0, 50.0, one) for g, one in enumerate(arrays.exposures)]
    return hole_agreement(
        arrays.poles,
        arrays.group,
        holes,
        fitted_sets(arrays),
        lines=arrays.lines,
        declination_deg=declination,
        draws=99,
    )


def test_one_rock_is_said_in_one_sentence() -> None:
    """Even rock: one domain, no fault, one sentence."""
    found = agreement(simulated(2))
    assert found.one_rock
    assert len(found.domains) == 1
    assert len(found.sentences) == 1


def test_two_domains_are_listed_with_their_lengths() -> None:
    """Two rocks: both domains are named in the words."""
    found = agreement(simulated(2, (ROCK, ROCK, OTHER, OTHER)))
    assert [one.groups for one in found.domains] == [(0, 1), (2, 3)]
    assert found.delta_bic < 0
    assert "A: H1 0–50 m, H2 0–50 m; B: H3 0–50 m" in found.sentences[-1]


def test_a_fault_is_put_right_before_domains_are_sought() -> None:
    """β turned by 180° in one hole: named, and with it put right the holes agree."""
    arrays = simulated(2)
    own = arrays.group == 2
    poles = arrays.poles.copy()
    poles[own] = _half_turn(poles[own], arrays.lines[own])
    found = agreement(arrays._replace(poles=poles))
    assert [(found.hole_names[one.hole], one.cause) for one in found.faults] == [("H3", "beta_180")]
    assert found.pvalue_put_right is not None
    assert found.pvalue_put_right > 0.05
    assert len(found.domains) == 1
    assert any("H3 does not agree" in one for one in found.sentences)


@pytest.mark.parametrize(
    ("declination", "said"),
    [(20.0, "magnetic azimuths taken for true"), (10.0, "wrong sign"), (50.0, None)],
)
def test_an_azimuth_off_by_the_declination_is_told(declination: float, said: str | None) -> None:
    """The azimuth of one hole 20° too small: once the declination, twice it, or neither."""
    arrays = simulated(7)
    own, matrix = arrays.group == 1, turn_in_azimuth(-20.0)
    poles, lines, exposures = arrays.poles.copy(), arrays.lines.copy(), list(arrays.exposures)
    poles[own], lines[own] = poles[own] @ matrix.T, lines[own] @ matrix.T
    exposures[1] = js.LineExposure(exposures[1].directions @ matrix.T, exposures[1].lengths_m)
    found = agreement(Arrays(poles, arrays.group, exposures, lines), declination)
    text = " ".join(found.sentences)
    assert "H2 does not agree" in text
    assert (said in text) if said else ("declination" not in text)


def test_a_single_hole_sees_one_rock() -> None:
    """With one hole there is nothing to compare."""
    arrays = simulated(2)
    own = arrays.group == 0
    hole = Stretch("H1", 0.0, 50.0, arrays.exposures[0])
    found = hole_agreement(arrays.poles[own], arrays.group[own], [hole], truth())
    assert found.one_rock
    assert found.pvalue == 1.0


def test_refusals() -> None:
    """Lines of another number than the poles, and holes that are not in order."""
    line = js.LineExposure([[0, 0, -1]], [10.0])
    holes = [Stretch("A", 0, 10, line), Stretch("B", 0, 10, line), Stretch("A", 10, 20, line)]
    with pytest.raises(js.InputError, match="hole by hole"):
        hole_agreement(np.eye(3), np.array([0, 1, 2]), holes, truth())
    with pytest.raises(js.InputError, match="lines must have one row a pole"):
        hole_agreement(np.eye(3), np.array([0, 0, 1]), holes[:2], truth(), lines=np.eye(3)[:2])
