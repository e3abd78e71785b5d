"""Exposure: published weights, brute-force integrals, simulation, invariance, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import vonmises_fisher

import jointstats as js
from jointstats.errors import InputError
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.zonal import FisherMeansSlopes
from tests.references import HARRISON_HUDSON_COSINES, HARRISON_HUDSON_WEIGHTS

HH_POLES = js.poles_from_dip([39, 50, 63, 52, 42, 28], [201, 213, 215, 230, 247, 253])
HH_HOLE = js.lines_from_trend(136, 55)


def test_weights_of_a_published_example() -> None:
    """The cosines and weights of a worked example come out to the printed digits."""
    weights = js.terzaghi_weights(HH_POLES, HH_HOLE)
    np.testing.assert_allclose(
        1 / weights, HARRISON_HUDSON_COSINES.value, atol=HARRISON_HUDSON_COSINES.tolerance
    )
    np.testing.assert_allclose(
        weights, HARRISON_HUDSON_WEIGHTS.value, atol=HARRISON_HUDSON_WEIGHTS.tolerance
    )


def _pieces() -> tuple[np.ndarray, np.ndarray]:
    directions = js.lines_from_trend([0, 120, 300, 45], [90, 60, 5, -30])
    return directions, np.array([40.0, 25.0, 60.0, 12.0])


def test_exposure_of_a_pole_is_the_sum_over_metres() -> None:
    """The exposure equals a loop over every centimetre of every hole."""
    directions, lengths = _pieces()
    pole = js.poles_from_dip(77, 210)[0]
    total = 0.0
    for direction, length in zip(directions, lengths, strict=True):
        for _ in range(int(length)):
            cosine = abs(float(pole @ direction))
            total += cosine if cosine >= np.sin(np.radians(15)) else 0.0
    got = js.LineExposure(directions, lengths, blind_angle_deg=15).at(pole)
    assert got[0] == pytest.approx(total, abs=1e-9)


@pytest.mark.parametrize("kappa", [2.0, 40.0, 400.0])
def test_exposure_of_a_set_agrees_with_simulation(kappa: float) -> None:
    """The closed series lies within four standard errors of a mean over scipy's draws."""
    directions, lengths = _pieces()
    mean = js.poles_from_dip(86, 30)[0]
    exposure = js.LineExposure(directions, lengths, blind_angle_deg=10)
    draws = vonmises_fisher(mean, kappa).rvs(100_000, random_state=np.random.default_rng(5))
    met = exposure.at(draws)
    got = exposure.of_set(mean, kappa)
    assert abs(got - met.mean()) < 4 * met.std() / np.sqrt(len(met))


def test_slopes_agree_with_finite_differences() -> None:
    """First and second derivatives, by free components of the mean and by κ, are right."""
    directions, lengths = _pieces()
    exposure = js.LineExposure(directions, lengths)
    mean = js.poles_from_dip(70, 130)[0]

    def at(pole: np.ndarray, kappa: float) -> FisherMeansSlopes:
        both = exposure.of_sets_slopes(np.array([pole, pole]), np.array([kappa, 10.0]))
        return FisherMeansSlopes(*(part[0] for part in both))

    here = at(mean, 30.0)
    assert here.value == pytest.approx(exposure.of_set(mean, 30.0), abs=1e-4)
    for axis in ([1.0, 0, 0], [0, 1.0, 0]):
        tangent = np.cross(axis, mean)
        up, down = (
            at(rotation_about(axis, 1e-4) @ mean, 30),
            at(rotation_about(axis, -1e-4) @ mean, 30),
        )
        assert here.by_mean @ tangent == pytest.approx((up.value - down.value) / 2e-4, abs=1e-3)
        change = (up.by_mean - down.by_mean) / 2e-4
        np.testing.assert_allclose(here.by_mean_twice @ tangent, change, atol=0.05)
    up, down = at(mean, 30.3), at(mean, 29.7)
    assert here.by_kappa == pytest.approx((up.value - down.value) / 0.6, rel=1e-3)
    assert here.by_kappa_twice == pytest.approx((up.by_kappa - down.by_kappa) / 0.6, rel=1e-2)
    change = (up.by_mean - down.by_mean) / 0.6
    np.testing.assert_allclose(here.by_mean_and_kappa, change, rtol=1e-2, atol=1e-4)


def test_flips_order_and_rotation_change_nothing() -> None:
    """Exposure is a property of axes: ends, order and frame do not matter."""
    directions, lengths = _pieces()
    turn = rotation_about([1.0, 2.0, -0.5], 1.1)
    mean = js.poles_from_dip(62, 250)[0]
    base = js.LineExposure(directions, lengths)
    order = [2, 0, 3, 1]
    other = js.LineExposure(-directions[order] @ turn.T, lengths[order])
    assert other.of_set(-turn @ mean, 20.0) == pytest.approx(base.of_set(mean, 20.0), abs=1e-9)
    np.testing.assert_allclose(other.at(turn @ mean), base.at(-mean), atol=1e-9)


def test_uniform_exposure_is_the_limit_of_no_concentration() -> None:
    """The background's exposure equals that of a set without concentration."""
    directions, lengths = _pieces()
    exposure = js.LineExposure(directions, lengths, blind_angle_deg=20)
    assert exposure.of_uniform() == pytest.approx(exposure.of_set([0, 0, 1], 0.0), rel=1e-7)


def test_seen_share_falls_toward_the_blind_zone() -> None:
    """A set square to the hole is seen whole; one along it is seen in small part."""
    hole = js.LineExposure([[0, 0, -1]], [30.0])
    assert hole.seen_share([0, 0, 1], 50.0) > 0.999
    assert hole.seen_share([1, 0, 0], 50.0) < 0.6


def test_merging_a_curved_hole_changes_little() -> None:
    """Two hundred pieces over a turn of 8° become few, and exposure moves by less than 1e-4."""
    plunge = np.linspace(58, 66, 200)
    exposure = js.LineExposure(js.lines_from_trend(200, plunge), np.full(200, 0.5))
    merged = exposure.merged(0.5)
    assert len(merged.lengths_m) < 20
    assert merged.total_m == pytest.approx(100.0)
    poles = js.poles_from_dip([10, 45, 70], [10, 200, 110])
    np.testing.assert_allclose(merged.at(poles), exposure.at(poles), rtol=1e-4)


def test_results_show_what_they_hold() -> None:
    """The repr names the pieces, the length and the blind angle; equal contents are equal."""
    exposure = js.LineExposure([[0, 0, -1]], [10.0])
    assert repr(exposure) == "LineExposure(1 pieces, 10 m, blind angle 10°)"
    assert exposure == js.LineExposure([[0, 0, -1]], [10.0])
    assert exposure != js.LineExposure([[0, 0, -1]], [11.0])
    assert exposure != "hole"


def test_refusals() -> None:
    """Wrong lengths, angles and shapes are refused with the rule."""
    with pytest.raises(InputError, match="directions needs at least 1 rows"):
        js.LineExposure([], [])
    with pytest.raises(InputError, match="lengths_m must have one value a direction"):
        js.LineExposure([[0, 0, 1]], [1.0, 2.0])
    with pytest.raises(InputError, match="more than zero"):
        js.LineExposure([[0, 0, 1]], [0.0])
    with pytest.raises(InputError, match="blind_angle_deg must lie between"):
        js.LineExposure([[0, 0, 1]], [1.0], blind_angle_deg=-1)
    with pytest.raises(InputError, match="one row, or one a pole"):
        js.terzaghi_weights(HH_POLES, [[0, 0, 1], [1, 0, 0]])
    with pytest.raises(InputError, match="its weight has no bound"):
        js.terzaghi_weights([[1, 0, 0]], [0, 0, 1], blind_angle_deg=0)
