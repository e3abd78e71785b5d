"""Block volumes: geometry, exact means, and blocks made plane by plane."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from scipy.stats import gamma

import jointstats as js
from jointstats.design.block_sizes import (
    block_shape,
    mean_block_volume,
    simulate_blocks,
)
from jointstats.design.blocks import block_volume
from jointstats.errors import InputError, JointStatsWarning
from jointstats.fit.rock import Rock, RockSet
from jointstats.line.spacing import SpacingStatistics
from jointstats.line.spacing_fits import fit_spacings
from jointstats.sphere.axes import hemisphere_grid, rotation_about
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity

CUBE = Rock.of_round(np.eye(3), np.full(3, 4e4), [1.0, 2.0, 0.5])


def test_volume_of_a_parallelepiped() -> None:
    """The formula is the volume spanned by the edges that the planes cut out."""
    normals = js.poles_from_dip([80, 70, 15], [10, 100, 220])
    spacing = np.array([0.4, 0.9, 1.7])
    # An edge of the block lies in two of the planes and crosses the spacing of the third.
    edges = []
    for k in range(3):
        line = np.cross(normals[k - 1], normals[k - 2])
        edges.append(line * spacing[k] / (line @ normals[k]))
    assert block_volume(spacing, normals) == pytest.approx(abs(np.linalg.det(edges)))


def test_volume_is_invariant() -> None:
    """Flipping, reordering and turning the normals keep the volume."""
    normals = js.poles_from_dip([80, 70, 15], [10, 100, 220])
    first = block_volume([0.4, 0.9, 1.7], normals)
    turned = (normals * [[1], [-1], [1]] @ rotation_about([1, 1, 0], 0.7).T)[::-1]
    assert block_volume([1.7, 0.9, 0.4], turned) == pytest.approx(first)


def test_simulated_blocks_have_the_exact_mean() -> None:
    """Square sets: blocks found at random points are eight times the product of the spacings."""
    blocks = simulate_blocks(CUBE, 300, random_state=1)
    error = blocks.volumes_m3.std() / np.sqrt(blocks.n)
    assert blocks.volumes_m3.mean() == pytest.approx(8.0, abs=4 * error)
    assert error < 1.2
    assert blocks.open_share == 0
    assert mean_block_volume(CUBE, by="volume") == pytest.approx(8.0, rel=0.01)
    assert mean_block_volume(CUBE) == pytest.approx(1.0, rel=0.04)


def test_volumes_of_square_blocks_follow_their_law() -> None:
    """Square sets: the median is that of a product of three spacings, each in proportion."""
    product = gamma(2.0).rvs((200000, 3), random_state=2).prod(axis=1)
    blocks = simulate_blocks(CUBE, 300, random_state=3)
    below = float((product < blocks.quantile(0.5)).mean())
    assert abs(below - 0.5) < 4 * 0.5 / np.sqrt(blocks.n)
    assert blocks.quantile(0.5, by="number") < blocks.quantile(0.5)
    assert blocks.to_frame().shape == (5, 3)


def test_dispersed_sets_and_background() -> None:
    """With dispersion and background the mean at random points is 2 ∫ λ(u)⁻³ du."""
    rock = Rock.of_round(np.eye(3), np.full(3, 20.0), np.ones(3), 0.3)
    blocks = simulate_blocks(rock, 300, random_state=4)
    expected = mean_block_volume(rock, by="volume")
    error = blocks.volumes_m3.std() / np.sqrt(blocks.n)
    assert blocks.volumes_m3.mean() == pytest.approx(expected, abs=4 * error)
    assert "half of the rock" in repr(blocks)
    assert sum(blocks.shape_shares.values()) == pytest.approx(1.0)


def test_shaped_sets_cut_blocks() -> None:
    """Of an elliptical set and a girdle the mean is 2 ∫ λ(u)⁻³ du, λ from poles drawn."""
    long = EllipticalDensity(np.eye(3), 20.0, 7.0)
    fold = GirdleDensity(np.eye(3)[[0, 2, 1]], 25.0, 3.0)
    rock = Rock((RockSet(long, 1.2), RockSet(fold, 2.0)), 0.0)
    ways = hemisphere_grid(1000)
    met = sum(p32 * np.abs(ways @ one.sample(4000, 5).T).mean(axis=1) for one, p32 in rock.sets)
    blocks = simulate_blocks(rock, 300, random_state=11)
    error = blocks.volumes_m3.std() / np.sqrt(blocks.n)
    expected = 8 * np.pi * (met**-3.0).mean()
    assert mean_block_volume(rock, by="volume") == pytest.approx(expected, rel=0.04)
    assert blocks.open_share == 0
    assert blocks.volumes_m3.mean() == pytest.approx(expected, abs=4 * error)
    assert error < 0.2 * expected


def test_isotropic_planes() -> None:
    """Planes of any orientation: 48 / (π λ³) by number, 8π·8 / λ³ by volume (Miles)."""
    assert mean_block_volume(Rock((), 2.0)) == pytest.approx(6 / np.pi, rel=0.02)
    assert mean_block_volume(Rock((), 1.0), by="volume") == pytest.approx(64 * np.pi)


def test_blocks_per_volume_are_corners_per_volume() -> None:
    """The mean by number is the reciprocal of the corners counted in a ball."""
    rng = np.random.default_rng(5)
    rock = Rock.of_round(np.eye(3), np.full(3, 20.0), np.ones(3))
    corners, radius = 0, 3.0
    for _ in range(150):
        normals, at = [], []
        for mean, kappa in zip(rock.means, rock.kappas, strict=True):
            number = rng.poisson(2 * radius)
            normals.append(js.sphere.AxialFisher(mean, kappa).rvs(number, rng))
            at.append(rng.uniform(-radius, radius, number))
        rows, place = np.vstack(normals), np.concatenate(at)
        three = np.array(list(combinations(range(len(place)), 3)))
        points = np.linalg.solve(rows[three], place[three][..., np.newaxis])[..., 0]
        corners += int((np.linalg.norm(points, axis=1) < radius).sum())
    volume = 150 * 4 / 3 * np.pi * radius**3
    assert mean_block_volume(rock) == pytest.approx(volume / corners, rel=0.05)


def test_laws_of_spacing_count() -> None:
    """Regular spacings give blocks nearer to one size than random ones."""
    regular = fit_spacings(SpacingStatistics(np.linspace(0.9, 1.1, 30)), ["gamma"], n_bootstrap=0)
    even = simulate_blocks(CUBE, 60, laws=[regular.best] * 3, random_state=6)
    assert even.volumes_m3.mean() == pytest.approx(1.0, rel=0.15)
    assert even.volumes_m3.std() < 0.5


def test_open_blocks_are_left_out_with_a_warning() -> None:
    """Two sets close no block: every point is open, and the result says so."""
    with pytest.warns(JointStatsWarning, match="do not close"):
        blocks = simulate_blocks(CUBE.take([0, 1]), 10, random_state=7)
    assert blocks.n == 0
    assert blocks.mean_m3 is None or blocks.mean_m3 > 0
    assert blocks.quantile(0.5) is None
    assert repr(blocks).startswith("BlockSizes(n=0, ")


def test_same_state_same_blocks() -> None:
    """A random state fixes the result."""
    one, two = (simulate_blocks(CUBE, 20, random_state=8).volumes_m3 for _ in range(2))
    np.testing.assert_array_equal(one, two)


@pytest.mark.parametrize(
    ("dimensions", "shape"),
    [([1, 2, 2.9], "blocky"), ([3, 1, 3.2], "tabular"), ([1, 1.1, 4], "columnar")],
)
def test_shapes(dimensions: list[float], shape: str) -> None:
    """One dimension a third of the others is tabular, one three times the others columnar."""
    assert block_shape(dimensions) == shape


def test_errors() -> None:
    """Wrong numbers, sets that close no block and unknown words are named."""
    with pytest.raises(InputError, match="three spacings and three normals"):
        block_volume([1, 2], np.eye(3))
    with pytest.raises(InputError, match="lie in one plane"):
        block_volume([1, 1, 1], [[1, 0, 0], [0, 1, 0], [1, 1, 0]])
    with pytest.raises(InputError, match="three dimensions; got 2"):
        block_shape([1, 2])
    with pytest.raises(InputError, match="laws must have one entry a set"):
        simulate_blocks(CUBE, 5, laws=[None])
    with pytest.raises(InputError, match="nothing cuts a block"):
        simulate_blocks(Rock((), 0.0), 5)
    with pytest.raises(InputError, match="n_points must be finite and at least 1"):
        simulate_blocks(CUBE, 0)
    with pytest.raises(InputError, match='by must be one of number, volume'):
        mean_block_volume(CUBE, by="weight")
    blocks = simulate_blocks(CUBE, 5, random_state=9)
    with pytest.raises(InputError, match='by must be one of volume, number'):
        blocks.quantile(0.5, by="weight")
    with pytest.raises(InputError, match="share must lie between 0 and 1"):
        blocks.quantile(2)
