"""What P32 is multiplied by if a set lost its orientation more often than the rest."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.errors import InputError
from jointstats.observed.loss import loss_factors


@pytest.mark.parametrize("times", [1 / 3, 1.0, 3.0])
def test_factors_undo_a_loss_that_is_known(times: float) -> None:
    """From counts made by the chances of loss the true ratio of P32 comes back."""
    true, chance = np.array([30.0, 70.0]), 0.2
    kept = true * [1 - times * chance, 1 - chance]
    lost = 1 - kept.sum() / true.sum()
    by_chance = kept[0] / (1 - lost)
    factor = loss_factors([kept[0] / kept.sum()], lost, times)[0]
    assert by_chance * factor == pytest.approx(true[0])


def test_nothing_lost_moves_nothing() -> None:
    """Without a loss every factor is one; a loss of all, or a ratio of nought, is refused."""
    assert loss_factors([0.0, 0.4, 1.0], 0.0).tolist() == [1.0, 1.0, 1.0]
    assert loss_factors([1.0], 0.5)[0] == pytest.approx(1.0)
    for lost, times in ((1.0, 3.0), (0.5, 0.0)):
        with pytest.raises(InputError, match="lost must lie"):
            loss_factors([0.5], lost, times)
