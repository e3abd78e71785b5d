"""Precision of a mean spacing and the number it needs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jointstats.errors import InputError, JointStatsWarning
from jointstats.line.precision import spacing_precision, spacings_needed
from tests.references import (
    FREQUENCY_LIMITS,
    SPACING_LIMITS,
    SPACING_PRECISION,
    SPACINGS_NEEDED,
    SPACINGS_NEEDED_ROUNDED_UP,
    Reference,
)


@pytest.mark.parametrize(("asked", "printed"), SPACINGS_NEEDED)
def test_number_needed(asked: tuple[float, float], printed: Reference) -> None:
    """The number needed agrees with the printed one."""
    assert spacings_needed(asked[1], asked[0]) == pytest.approx(printed.value, abs=0.5)


@pytest.mark.parametrize(("asked", "printed"), SPACINGS_NEEDED_ROUNDED_UP)
def test_number_needed_rounded_up(asked: tuple[float, float], printed: Reference) -> None:
    """Rounded up, the number needed is the printed one."""
    assert math.ceil(spacings_needed(asked[1], asked[0])) == printed.value


def test_precision_of_a_published_scanline() -> None:
    """Precision, spacing and frequency limits agree with the printed ones."""
    found = spacing_precision(128, 0.215, 0.80)
    assert found.precision == pytest.approx(
        SPACING_PRECISION.value, abs=SPACING_PRECISION.tolerance
    )
    np.testing.assert_allclose(
        found.spacing_interval_m, SPACING_LIMITS.value, rtol=0, atol=SPACING_LIMITS.tolerance
    )
    # The source takes reciprocals of the spacings it has rounded to a millimetre.
    rounded = [1.0 / round(limit, 3) for limit in found.spacing_interval_m[::-1]]
    np.testing.assert_allclose(
        rounded, FREQUENCY_LIMITS.value, rtol=0, atol=FREQUENCY_LIMITS.tolerance
    )
    np.testing.assert_allclose(
        found.frequency_interval_per_m, 1.0 / np.array(found.spacing_interval_m[::-1])
    )
    assert found.to_frame().shape == (1, 8)


def test_the_two_are_inverse() -> None:
    """Measuring the number needed gives the precision asked for."""
    needed = spacings_needed(0.25, 0.9, deviation=0.7)
    assert spacing_precision(needed, 1.0, 0.9, deviation=0.7).precision == pytest.approx(0.25)  # type: ignore[arg-type]


def test_few_spacings_leave_no_upper_frequency() -> None:
    """Where the interval reaches zero there is no upper frequency; few spacings are warned of."""
    with pytest.warns(JointStatsWarning, match="at least 20 spacings; got 2"):
        assert spacing_precision(2, 1.0).frequency_interval_per_m[1] is None


def test_errors() -> None:
    """Numbers out of range are named."""
    with pytest.raises(InputError, match="precision must lie between 0 and 1"):
        spacings_needed(10.0)
    with pytest.raises(InputError, match="n must be finite and at least 1"):
        spacing_precision(0, 1.0)
