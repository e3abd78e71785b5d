"""The orientation tensor: closed cases, a loop, and limits."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats import InputError, orientation_tensor
from jointstats.sphere import AxialFisher
from jointstats.sphere.tensor import SHAPE_CAP


def test_agrees_with_a_loop() -> None:
    """The eigenvalues and axes are those of the weighted mean of outer products."""
    poles = AxialFisher([0.2, 0.4, -0.5], 4.0).rvs(30, random_state=1)
    weights = np.linspace(1, 4, 30)
    total = sum(w * np.outer(p, p) for w, p in zip(weights, poles, strict=True)) / weights.sum()
    found = orientation_tensor(-poles, 3 * weights)
    rebuilt = (found.axes.T * found.eigenvalues) @ found.axes
    np.testing.assert_allclose(rebuilt, total, atol=1e-14)
    assert (np.diff(found.eigenvalues) <= 0).all()
    assert found.cluster + found.girdle + found.uniform == pytest.approx(1.0)


def test_shape_and_strength_by_hand() -> None:
    """Eigenvalues in the ratio 16 : 4 : 1 have a shape of 1 and a strength of ln 16."""
    found = orientation_tensor(np.eye(3), [16, 4, 1])
    assert found.shape == pytest.approx(1.0)
    assert found.strength == pytest.approx(np.log(16))


def test_extremes() -> None:
    """Identical poles have the largest shape; a perfect girdle a shape near 0."""
    assert orientation_tensor([[0, 0, 1.0], [0, 0, -1.0]]).shape == SHAPE_CAP
    assert orientation_tensor([[1.0, 0, 0], [0, 1.0, 0]]).shape == pytest.approx(0.0, abs=1e-9)
    assert orientation_tensor(np.eye(3)).strength == 0.0


def test_table_and_refusal() -> None:
    """The table has a row an axis; no poles are refused."""
    assert orientation_tensor(np.eye(3)).to_frame().shape == (3, 3)
    assert "strength" in repr(orientation_tensor(np.eye(3)))
    with pytest.raises(InputError, match="at least 1 rows"):
        orientation_tensor([])
