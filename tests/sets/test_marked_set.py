"""A set marked as a cone: the truth comes back through the cut, and the cut is told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import vonmises_fisher

import jointstats as js
from jointstats.errors import InputError
from jointstats.sphere.axes import rotation_about

MEAN = js.poles_from_dip(70, 130)[0]


def test_truncation_is_taken_out() -> None:
    """Over simulations κ and number come out right through a narrow cone; the plain κ does not."""
    found = []
    for seed in range(25):
        rng = np.random.default_rng(seed)
        poles = vonmises_fisher(MEAN, 30).rvs(rng.poisson(300), random_state=rng)
        found.append(js.sets.cone_set(poles, MEAN, 14))
    kappa = np.median([one.kappa for one in found])
    assert kappa == pytest.approx(30, rel=0.1)
    assert np.median([one.intensity for one in found]) == pytest.approx(300, rel=0.07)
    assert np.median([one.kappa_untruncated for one in found]) > 60
    covered = [one.kappa_interval[0] < 30 < one.kappa_interval[1] for one in found]
    assert sum(covered) >= 21  # fewer has a chance below 1 in 100 at 95 % coverage
    inside = np.median([one.inside for one in found])
    assert inside == pytest.approx(1 - np.exp(-30 * (1 - np.cos(np.radians(14)))), abs=0.03)


def test_a_wide_cone_gives_the_plain_statistics() -> None:
    """Where the cone cuts nothing, the set is that of the mixture without a background."""
    poles = vonmises_fisher(MEAN, 60).rvs(150, random_state=np.random.default_rng(1))
    cone = js.sets.cone_set(poles, MEAN, 60)
    plain = js.JointSetMixture(1, background=False).fit(poles)
    assert js.axis_angles_deg(cone.mean, plain.means_[0])[0] < 0.05
    assert cone.kappa == pytest.approx(plain.kappas_[0], rel=0.005)
    assert cone.cone_deg == pytest.approx(plain.certainty_.cone_deg(0), rel=0.02)
    assert cone.inside == pytest.approx(1.0, abs=1e-3)


def test_exposure_and_background_are_taken_out() -> None:
    """With an exposure the intensity is P32, and a given background is not counted into it."""
    hole = js.LineExposure(js.lines_from_trend([0, 200], [90, 40]), [150.0, 150.0])
    rng = np.random.default_rng(5)
    draws = vonmises_fisher(MEAN, 40).rvs(rng.poisson(1.5 * 300), random_state=rng)
    noise = rng.normal(size=(rng.poisson(0.5 * 300), 3))
    rows = np.vstack([draws, noise / np.linalg.norm(noise, axis=1, keepdims=True)])
    rows = rows[rng.uniform(size=len(rows)) * 300 < hole.at(rows)]
    found = js.sets.cone_set(rows, MEAN, 20, exposure=hole, background=0.5)
    low, high = found.intensity_interval
    assert low < 1.5 < high
    assert js.axis_angles_deg(found.mean, MEAN)[0] < 2 * found.cone_deg


def test_flips_order_and_rotation() -> None:
    """Ends and order do not matter; everything turned together turns the mean."""
    poles = vonmises_fisher(MEAN, 30).rvs(120, random_state=np.random.default_rng(2))
    turn = rotation_about([1.0, 0.2, 0.4], 0.8)
    base = js.sets.cone_set(poles, MEAN, 25)
    other = js.sets.cone_set(-poles[::-1] @ turn.T, -turn @ MEAN, 25)
    assert js.axis_angles_deg(turn @ base.mean, other.mean)[0] < 0.02
    assert other.kappa == pytest.approx(base.kappa, rel=0.01)
    assert other.to_frame().shape == (1, 11)


def test_refusals() -> None:
    """A cone of no angle, a negative background and a cone with too few poles are refused."""
    poles = np.tile([[0, 0, 1.0]], (4, 1))
    with pytest.raises(InputError, match="half_angle_deg must be above 0, up to 90; got 0"):
        js.sets.cone_set(poles, [0, 0, 1], 0)
    with pytest.raises(InputError, match="background must be finite and not negative"):
        js.sets.cone_set(poles, [0, 0, 1], 20, background=-1)
    with pytest.raises(InputError, match="at least 5 poles must lie in the cone"):
        js.sets.cone_set(poles, [0, 0, 1], 20)


def test_identical_poles_give_finite_figures() -> None:
    """Poles that are all the same give the largest concentration and finite intervals."""
    found = js.sets.cone_set(np.tile([[0, 0, 1.0]], (8, 1)), [0, 0, 1], 20)
    assert np.isfinite(found.to_frame().to_numpy()).all()
