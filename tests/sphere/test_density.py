"""The density of poles: brute force, its integral, the fast sums, and the peaks."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats import InputError, axis_angles_deg, pole_density
from jointstats.sphere import AxialFisher, peak_pvalues
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.density import KERNEL_KAPPA_RANGE
from jointstats.sphere.kernel_sum import TOLERANCE, gather, kernel_sum


def _mixed(n: int, seed: int = 0) -> np.ndarray:
    parts = [([0, 0, -1.0], 30.0), ([1.0, 0, -0.1], 60.0), ([0, 1.0, -1.0], 0.0)]
    return np.vstack(
        [AxialFisher(m, k).rvs(n // 3, random_state=seed + i) for i, (m, k) in enumerate(parts)]
    )


def _brute(poles: np.ndarray, weights: np.ndarray, kappa: float, at: np.ndarray) -> np.ndarray:
    values = [AxialFisher(p, kappa).pdf(at) for p in poles]
    return 2 * np.pi * weights @ np.array(values) / weights.sum()


@pytest.mark.parametrize("kappa", [0.0, 0.5, 20.0, 300.0])
def test_agrees_with_brute_force(kappa: float) -> None:
    """The weighted density is the sum of axial Fisher densities, in multiples of uniform."""
    poles, at = _mixed(60), _mixed(30, seed=9)
    weights = np.linspace(1, 5, len(poles))
    density = pole_density(-poles, weights, kappa=kappa, grid_size=5)
    np.testing.assert_allclose(density.at(at), _brute(poles, weights, kappa, at), rtol=1e-10)


@pytest.mark.parametrize("kappa", [0.5, 10.0, 45.0, 300.0, 1000.0])
def test_fast_sums_keep_their_tolerance(kappa: float) -> None:
    """Sums over 30,000 poles differ from brute force by less than the stated tolerance."""
    poles, at = _mixed(30_000), _mixed(60, seed=9)
    source = kernel_sum(poles, np.ones(len(poles)), kappa)
    assert len(source.rows) < len(poles) or source.truncated
    brute = np.array([2 * np.pi * AxialFisher(a, kappa).pdf(poles).mean() for a in at])
    assert np.abs(source.at(at) - brute).max() < 2 * TOLERANCE * source.height


def test_gathering_keeps_smooth_sums() -> None:
    """The net keeps the mass and the orientation tensor of the poles."""
    poles = _mixed(3000)
    nodes, shares = gather(poles, np.ones(len(poles)), 0.1)
    assert shares.sum() == pytest.approx(len(poles), rel=1e-12)
    tensor = (nodes * shares[:, np.newaxis]).T @ nodes
    np.testing.assert_allclose(tensor, poles.T @ poles, atol=1e-5 * len(poles))


def test_mean_over_the_hemisphere_is_one() -> None:
    """On the equal-area grid the density averages to one."""
    density = pole_density(_mixed(300), kappa=15.0, grid_size=161)
    assert density.values[density.inside].mean() == pytest.approx(1.0, abs=0.01)
    assert density.values.min() >= 0 and np.isfinite(density.values).all()


def test_peaks_are_found_where_they_are() -> None:
    """Two sets, one astride the horizon, give two peaks near their means."""
    poles = np.vstack(
        [
            AxialFisher([0, 0, -1.0], 40.0).rvs(150, random_state=1),
            AxialFisher([1.0, 0.2, 0.0], 40.0).rvs(100, random_state=2),
        ]
    )
    density = pole_density(poles, kappa=40.0)
    assert len(density.peaks) == 2
    assert axis_angles_deg(density.peaks[0], [0, 0, 1.0])[0] < 3
    assert axis_angles_deg(density.peaks[1], [1.0, 0.2, 0])[0] < 3
    np.testing.assert_allclose(density.peak_values, density.at(density.peaks), rtol=1e-9)
    assert list(density.to_frame().columns) == ["density", "dip_deg", "dip_direction_deg"]
    assert (peak_pvalues(density, draws=99) <= 0.01).all()


def test_width_does_not_depend_on_order_or_frame() -> None:
    """Flipping, reordering and turning the poles leaves the chosen width alone."""
    poles = _mixed(1200)
    base = pole_density(poles, grid_size=5).kappa
    order = np.random.default_rng(0).permutation(len(poles))
    turn = rotation_about([0.1, 0.5, 0.3], 1.0)
    assert pole_density(-poles[order], grid_size=5).kappa == pytest.approx(base, rel=1e-6)
    assert pole_density(poles @ turn.T, grid_size=5).kappa == pytest.approx(base, rel=1e-6)
    assert KERNEL_KAPPA_RANGE[0] <= base <= KERNEL_KAPPA_RANGE[1]


def test_peaks_of_uniform_poles_are_chance() -> None:
    """The highest peak of uniform poles is not called significant (fixed draw, p > 0.05)."""
    rows = np.random.default_rng(5).standard_normal((60, 3))
    assert peak_pvalues(pole_density(rows, kappa=20.0), draws=99)[0] > 0.05


def test_bad_arguments_are_named() -> None:
    """Grids too small, widths that are not one number, and no poles are refused."""
    with pytest.raises(InputError, match="grid_size must be 5 or more"):
        pole_density(np.eye(3), grid_size=4)
    with pytest.raises(InputError, match="kappa must be one number"):
        pole_density(np.eye(3), kappa=[1.0, 2.0])  # type: ignore[arg-type]
    with pytest.raises(InputError, match="kappa must be finite"):
        pole_density(np.eye(3), kappa=float("nan"))
    with pytest.raises(InputError, match="at least 1 rows"):
        pole_density([])
    with pytest.raises(InputError, match="draws must be 99 or more"):
        peak_pvalues(pole_density(np.eye(3)), draws=5)
