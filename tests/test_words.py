"""Numbers and intervals in words."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.words import GLOSSARY, listed, number, p_value, within


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (1.0, 3, "1.00"),
        (0.999, 2, "1.0"),
        (123456.0, 3, "123000"),
        (0.000123456, 2, "0.00012"),
        (-2.5, 2, "-2.5"),
        (0.0, 3, "0"),
        (None, 3, "–"),
        (np.nan, 3, "–"),
        (np.inf, 3, "–"),
    ],
)
def test_number_keeps_digits_and_hides_nothing_else(
    value: float | None, digits: int, text: str
) -> None:
    """So many significant digits, never an exponent, a dash for what is not known."""
    assert number(value, digits) == text


def test_lists_and_intervals() -> None:
    """Words are joined as in a sentence, intervals as from to."""
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert within((1.0, np.inf)) == "over 1.0"
    assert within((None, 2.0)) == "up to 2.0"
    assert within((None, None)) == "–"


def test_small_chances_are_not_written_as_zero() -> None:
    """A p value keeps two digits down to 0.0001."""
    assert p_value(0.0) == "p below 0.0001"
    assert p_value(0.034) == "p 0.034"


def test_glossary_is_short_and_closed() -> None:
    """Every term has one plain definition, at most 40 words, that ends as a sentence."""
    for term, meaning in GLOSSARY.items():
        assert len(meaning.split()) <= 40, term
        assert meaning.endswith("."), term
