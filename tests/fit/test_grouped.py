"""Poles by group: exposures, joining, turning."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.grouped import WeightedExposure, grouped_poles
from jointstats.sphere.axes import rotation_about
from tests.fit.rock_arrays import simulated, truth


def test_exposures_are_those_of_each_hole() -> None:
    """Gathered exposures agree with the exact series, hole by hole, and joined ones with sums."""
    arrays, rock = simulated(1), truth()
    data = arrays.grouped()
    exact = [
        [one.of_set(mean, kappa) for mean, kappa in zip(rock.means, rock.kappas, strict=True)]
        for one in arrays.exposures
    ]
    np.testing.assert_allclose(data.of_sets(rock.means, rock.kappas), exact, atol=1e-4)
    np.testing.assert_allclose(data.of_uniform(), [one.of_uniform() for one in arrays.exposures])
    np.testing.assert_allclose(data.at(rock.means)[2], arrays.exposures[2].at(rock.means))
    joined = data.taken_together(np.array([0, 0, 1, 1]))
    np.testing.assert_allclose(joined.of_uniform()[0], data.of_uniform()[:2].sum())
    assert joined.sizes.tolist() == [data.sizes[:2].sum(), data.sizes[2:].sum()]
    weighted = WeightedExposure(data, np.tile(data.lengths_m[1], (3, 1)))
    np.testing.assert_allclose(
        weighted.of_sets(rock.means, rock.kappas), np.array(exact)[1], atol=1e-4
    )


def test_a_hole_turned_with_its_poles_keeps_its_angles() -> None:
    """Angles of poles to their hole stay when both are turned; other holes stay as they are."""
    data = simulated(1).grouped()
    matrix = rotation_about([0, 0, 1.0], 0.5)
    turned = data.turned(np.array([False, True, False, False]), matrix)
    own = data.group == 1
    np.testing.assert_allclose(turned.poles[~own], data.poles[~own])
    there = data.at(data.poles[own])[1], turned.at(turned.poles[own])[1]
    np.testing.assert_allclose(*there)


def test_refusals() -> None:
    """Numbers of groups that do not fit, and two blind angles."""
    hole = js.LineExposure([[0, 0, -1]], [10.0])
    with pytest.raises(js.InputError, match="one whole number a pole"):
        grouped_poles(np.eye(3), [0, 0], [hole])
    with pytest.raises(js.InputError, match="group must lie between 0 and 0"):
        grouped_poles(np.eye(3), [0, 0, 1], [hole])
    other = js.LineExposure([[0, 0, -1]], [10.0], blind_angle_deg=20.0)
    with pytest.raises(js.InputError, match="must share one blind angle"):
        grouped_poles(np.eye(3), [0, 0, 1], [hole, other])
