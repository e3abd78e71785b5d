"""Checks of arguments."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.checks import as_generator, check_choice, check_count
from jointstats.errors import InputError
from jointstats.sphere import AxialFisher


def test_every_form_of_random_state() -> None:
    """A seed repeats; a generator and a RandomState go on; None draws anew."""
    assert as_generator(3).random() == as_generator(3).random()
    generator = np.random.default_rng(3)
    assert as_generator(generator) is generator
    old = np.random.RandomState(3)
    first, second = as_generator(old).random(), as_generator(old).random()
    assert first != second
    assert first == as_generator(np.random.RandomState(3)).random()
    assert as_generator(None).random() != as_generator(None).random()


def test_a_wrong_random_state_is_named() -> None:
    """What is none of the four forms is said."""
    for wrong in ("seed", 1.5, -1):
        with pytest.raises(InputError, match="random_state must be a whole number"):
            as_generator(wrong)  # type: ignore[arg-type]


def test_draws_repeat_by_default() -> None:
    """A function that draws gives the same draws when it is told nothing."""
    one = AxialFisher([0, 0, 1], 20.0)
    assert np.array_equal(one.rvs(5), one.rvs(5))


def test_counts_and_choices() -> None:
    """A count is whole and large enough; a word is one of those listed."""
    assert check_count(np.int64(3), "draws", 3) == 3
    with pytest.raises(InputError, match="draws must be 4 or more; got 3"):
        check_count(3, "draws", 4)
    with pytest.raises(InputError, match="draws must be a whole number; got 3.5"):
        check_count(3.5, "draws", 1)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="kind must be one of a, b; got 'c'"):
        check_choice("c", "kind", ("a", "b"))
