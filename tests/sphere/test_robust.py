"""Medians, trimmed means, and cones by other methods."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from jointstats import InputError, axis_angles_deg, fisher_statistics
from jointstats.sphere import AxialFisher, mean_cone, spherical_median, trimmed_mean
from jointstats.sphere.axes import rotation_about


def test_median_is_the_least_sum_of_angles() -> None:
    """No axis has a smaller weighted sum of angles to the poles (scipy's minimiser)."""
    poles = AxialFisher([0.5, 0.1, -1.0], 6.0).rvs(25, random_state=2)
    weights = np.linspace(1, 3, 25)

    def loss(at: np.ndarray) -> float:
        return float(weights @ axis_angles_deg(poles, at))

    got = spherical_median(poles, weights)
    best = minimize(loss, got + 0.05, method="Nelder-Mead", options={"fatol": 1e-10})
    assert loss(got) <= best.fun + 1e-6


def test_stray_poles_hardly_move_median_and_trimmed_mean() -> None:
    """A tenth of strays moves the mean by degrees, the median and the trimmed mean less."""
    poles = AxialFisher([0, 0, -1.0], 80.0).rvs(90, random_state=1)
    strays = AxialFisher([1.0, 0, -0.6], 200.0).rvs(10, random_state=2)
    both = np.vstack([poles, strays])
    moved = axis_angles_deg(fisher_statistics(both).mean, fisher_statistics(poles).mean)[0]
    for centre in (spherical_median, trimmed_mean):
        assert axis_angles_deg(centre(both), centre(poles))[0] < 0.5 * moved


@pytest.mark.parametrize("centre", [spherical_median, trimmed_mean])
def test_centres_turn_with_the_poles(centre: object) -> None:
    """Flipping and reordering change nothing; turning turns the centre."""
    poles = AxialFisher([1.0, 0.1, 0], 10.0).rvs(30, random_state=4)
    turn = rotation_about([0.5, 0.2, 0.1], 2.2)
    base, turned = centre(poles), centre(-poles[::-1] @ turn.T)  # type: ignore[operator]
    assert axis_angles_deg(turned, turn @ base)[0] < 1e-5


def test_bootstrap_and_known_kappa_cones() -> None:
    """For a large fair set the three cones agree within a tenth; the seed makes them repeat."""
    poles = AxialFisher([0, 0.3, -1.0], 25.0).rvs(150, random_state=5)
    estimated = mean_cone(poles).cone_deg
    assert estimated == fisher_statistics(poles).cone_deg
    boot = mean_cone(poles, method="bootstrap")
    known = mean_cone(poles, method="known kappa", kappa=25.0)
    assert boot.cone_deg == pytest.approx(estimated, rel=0.1)
    assert known.cone_deg == pytest.approx(estimated, rel=0.1)
    assert mean_cone(poles, method="bootstrap").cone_deg == boot.cone_deg
    assert "bootstrap" in repr(boot) and len(known.to_frame()) == 1


@pytest.mark.parametrize(("method", "kappa"), [("bootstrap", None), ("known kappa", 12.0)])
def test_other_cones_cover(method: str, kappa: float | None) -> None:
    """Bootstrap and known-κ cones cover the truth (300 sets of 25, 3 standard errors)."""
    generator, hits = np.random.default_rng(6), 0
    law = AxialFisher([0, 0.3, -1.0], 12.0)
    for _ in range(300):
        cone = mean_cone(
            law.rvs(25, generator), method=method, kappa=kappa, draws=199, random_state=generator
        )
        hits += axis_angles_deg(cone.mean, law.mean)[0] <= cone.cone_deg
    assert hits / 300 == pytest.approx(0.95, abs=0.038)


def test_bad_arguments_are_named() -> None:
    """Methods, draws and shares out of range are refused."""
    with pytest.raises(InputError, match="method must be one of"):
        mean_cone(np.eye(3), method="guess")
    with pytest.raises(InputError, match="kappa goes with method 'known kappa'"):
        mean_cone(np.eye(3), kappa=3.0)
    with pytest.raises(InputError, match="draws must be 99 or more"):
        mean_cone(np.eye(3), method="bootstrap", draws=9)
    with pytest.raises(InputError, match="share must lie between 0 and 0.5"):
        trimmed_mean(np.eye(3), share=0.7)
    with pytest.raises(InputError, match="at least 1 rows"):
        spherical_median([])
