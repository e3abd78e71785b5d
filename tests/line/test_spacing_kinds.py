"""Spacings with each fracture's own normal, and by membership."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.line.spacing import set_spacing
from jointstats.line.spacing_kinds import membership_spacing, own_normal_spacing

DOWN = [0.0, 0.0, -1.0]


def test_own_normals_of_parallel_planes_give_the_set_spacing() -> None:
    """Where all normals are the mean normal the two spacings are the same."""
    rng = np.random.default_rng(1)
    depth, line, mean = (
        rng.uniform(0, 9, 12),
        js.lines_from_trend(30, 50)[0],
        js.poles_from_dip(40, 99),
    )
    logged = [(0, 4), (4, 6), (7, 9)]
    depth = depth[(depth < 6) | (depth > 7)]
    poles = np.repeat(mean, len(depth), axis=0)
    own = own_normal_spacing(depth, line, poles, logged=logged)
    same = set_spacing(depth, line, mean[0], logged=logged)
    np.testing.assert_allclose(own.spacings_m, same.spacings_m)
    np.testing.assert_allclose(own.censored_m, same.censored_m)


def test_own_normals_by_hand_and_in_any_order() -> None:
    """Each spacing is the depth difference times the mean |cos| of its two fractures."""
    depth, dips = np.array([5.0, 1.0, 3.0]), [0.0, 60.0, 45.0]
    found = own_normal_spacing(depth, DOWN, -js.poles_from_dip(dips, 10.0), logged=[(0, 6)])
    cosine = np.cos(np.radians([60.0, 45.0, 0.0]))
    np.testing.assert_allclose(
        found.spacings_m, [cosine[:2].mean() * 2, cosine[1:].mean() * 2], rtol=1e-12
    )
    np.testing.assert_allclose(found.censored_m, [0.5, 1.0])
    assert own_normal_spacing([], DOWN, np.empty((0, 3))).n == 0


def _all_ways(depth: np.ndarray, chance: np.ndarray) -> tuple[float, float]:
    """Expected number and total of the spacings, over every way to give fractures to the set."""
    number = total = 0.0
    for belongs in product([False, True], repeat=len(depth)):
        weight = np.prod(np.where(belongs, chance, 1 - chance))
        gaps = np.diff(depth[np.array(belongs)])
        number += weight * len(gaps)
        total += weight * gaps.sum()
    return number, total


def test_membership_agrees_with_every_way_to_choose() -> None:
    """Number and mean are the expectations over all ways to give fractures to the set."""
    rng = np.random.default_rng(2)
    depth, chance = np.sort(rng.uniform(0, 8, 9)), rng.uniform(0, 1, 9)
    found = membership_spacing(depth, chance, DOWN, DOWN, logged=[(0, 8)])
    number, total = _all_ways(depth, chance)
    assert found.n == pytest.approx(number, rel=1e-6)
    assert found.mean_complete_m == pytest.approx(total / number, rel=1e-6)
    assert found.mean_m == pytest.approx(8 / (chance.sum() + 1))


def test_sure_members_give_the_plain_spacings() -> None:
    """With memberships of 0 and 1 only the members count, gaps and all."""
    depth = np.array([1.0, 2.0, 3.0, 6.0, 7.0])
    found = membership_spacing(depth, [1, 0, 1, 1, 1], DOWN, DOWN, logged=[(0, 4), (5, 8)])
    plain = set_spacing(depth[[0, 2, 3, 4]], DOWN, DOWN, logged=[(0, 4), (5, 8)])
    np.testing.assert_allclose(found.spacings_m, plain.spacings_m)
    assert found.median_m == pytest.approx(1.0)
    assert found.term == "wide"
    assert found.to_frame().shape == (1, 6)
    assert "expected" in repr(found)


def test_nothing_belongs() -> None:
    """Without members or fractures the figures are None."""
    assert membership_spacing([1, 2], [0, 0], DOWN, DOWN).mean_m is None
    none = membership_spacing([], [], np.empty((0, 3)), DOWN)
    assert (none.median_m, none.term) == (None, None)
    assert repr(none).startswith("MembershipSpacing(n=0, ")


def test_errors() -> None:
    """Numbers that do not match or are out of range are named."""
    with pytest.raises(InputError, match="poles must have one row a fracture"):
        own_normal_spacing([1, 2], DOWN, [DOWN])
    with pytest.raises(InputError, match="memberships must have 2 values"):
        membership_spacing([1, 2], [1], DOWN, DOWN)
    with pytest.raises(InputError, match="memberships must lie between 0 and 1; got 2"):
        membership_spacing([1, 2], [1, 2], DOWN, DOWN)
