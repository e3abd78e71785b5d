"""RQD measured and theoretical, the volumetric joint count, and its interval."""

from __future__ import annotations

import numpy as np
import pytest

from jointstats.errors import InputError, JointStatsWarning
from jointstats.line.quality import (
    rqd_from_depths,
    rqd_from_frequency,
    rqd_from_volumetric_count,
    rqd_linear,
    volumetric_joint_count,
    volumetric_joint_count_interval,
)
from tests.references import RQD_OF_FREQUENCY


@pytest.mark.parametrize(("frequency", "theory", "linear"), RQD_OF_FREQUENCY.value)
def test_published_formulas(frequency: float, theory: float, linear: float) -> None:
    """The theoretical and the linear RQD have their published values."""
    assert rqd_from_frequency(frequency) == pytest.approx(theory, abs=RQD_OF_FREQUENCY.tolerance)
    assert rqd_linear(frequency) == pytest.approx(linear, abs=0.005)


def test_line_touches_the_curve_at_ten() -> None:
    """The linear rule is the tangent at ten per metre."""
    slope = (rqd_from_frequency(10.001) - rqd_from_frequency(9.999)) / 0.002
    assert slope == pytest.approx(-3.68, abs=0.005)


@pytest.mark.parametrize("threshold", [0.1, 0.3])
def test_measured_meets_theory_on_random_fractures(threshold: float) -> None:
    """Along a long line of random fractures the measured RQD is the theoretical one."""
    rng = np.random.default_rng(1)
    depth = rng.uniform(0, 4000, rng.poisson(4000 * 7.0))
    measured = rqd_from_depths(depth, 0, 4000, threshold)
    assert measured == pytest.approx(rqd_from_frequency(7.0, threshold), abs=2.0)


def test_measured_by_hand() -> None:
    """Pieces count from the threshold up; the ends of the length are breaks; order is free."""
    assert rqd_from_depths([0.3, 0.1, 0.35], 0.0, 1.0) == pytest.approx(95.0)
    assert rqd_from_depths([], 2.0, 5.0) == 100.0
    assert rqd_from_depths([0.05, 7.0], 0.0, 0.1) == 0.0
    assert rqd_from_depths([0.1, 0.2], 0.0, 0.3) == pytest.approx(100.0)
    assert rqd_from_depths([0.1, 0.2], 0.0, 0.3, 0.2) == 0.0


def test_extreme_frequencies() -> None:
    """No fractures give 100, very many give 0, arrays give arrays."""
    np.testing.assert_allclose(rqd_from_frequency([0.0, 1e300]), [100.0, 0.0])
    assert isinstance(rqd_from_frequency(3.0), float)


def test_volumetric_count() -> None:
    """The count is the sum of the reciprocal spacings."""
    assert volumetric_joint_count([0.25]) == 4.0
    assert volumetric_joint_count([0.5, 0.5]) == 4.0


def test_rules_from_the_volumetric_count() -> None:
    """Both linear rules; a value they put beyond 0 or 100 is cut with a warning."""
    assert rqd_from_volumetric_count(10.0) == pytest.approx(85.0)
    assert rqd_from_volumetric_count(10.0, slope=3.3) == pytest.approx(82.0)
    with pytest.warns(JointStatsWarning, match="holds between 0 and 100"):
        assert rqd_from_volumetric_count(60.0) == 0.0
    with pytest.warns(JointStatsWarning, match="6 to 16 fractures per metre"):
        assert rqd_linear(1.0) == 100.0


def test_interval_of_the_volumetric_count_covers() -> None:
    """The interval of a sum of three sets covers the truth in 93.5 to 97 % of cases."""
    rng = np.random.default_rng(2)
    from jointstats.intervals import poisson_interval

    truth, metres, hits = np.array([1.0, 0.7, 0.4]), 60.0, []
    for counts in rng.poisson(truth * metres, (1500, 3)):
        limits = np.array([poisson_interval(int(n), method="mid-p") for n in counts]) / metres
        _, (low, high) = volumetric_joint_count_interval(counts / metres, limits)
        hits.append(low <= truth.sum() <= high)
    assert 0.935 < np.mean(hits) < 0.97


def test_errors() -> None:
    """Numbers out of range are named."""
    with pytest.raises(InputError, match="frequency_per_m must be finite and at least 0"):
        rqd_from_frequency(-1.0)
    with pytest.raises(InputError, match="to_m must lie beyond from_m"):
        rqd_from_depths([1], 2, 1)
    with pytest.raises(InputError, match="spacings_m must be finite and above 0"):
        volumetric_joint_count([1.0, 0.0])
    with pytest.raises(InputError, match="spacings_m needs at least 1 values"):
        volumetric_joint_count([])
    with pytest.raises(InputError, match=r"slope must be 2\.5 or 3\.3"):
        rqd_from_volumetric_count(10.0, slope=3.0)
    with pytest.raises(InputError, match="lower and an upper limit for each"):
        volumetric_joint_count_interval([1.0, 2.0], [[0.5, 1.5]])
    with pytest.raises(InputError, match="within its interval"):
        volumetric_joint_count_interval([1.0], [[1.2, 1.5]])


def test_lost_core_counts_in_the_length_and_in_no_piece() -> None:
    """By hand: of 10 m, 2 m lost and a rubble of 0.3 m leave 7.7 m in pieces: 77 %."""
    depths = [1.0, 4.05, 4.1, 4.15, 4.2, 4.25, 4.3, 4.35]
    sound = rqd_from_depths(depths, 0, 10, lost=[(6, 8)])
    assert sound == pytest.approx(100 * (4.05 + 1.65 + 2.0) / 10)
    # A loss that reaches past the end counts only within, and none at all changes nothing.
    assert rqd_from_depths([], 0, 10, lost=[(9, 12)]) == pytest.approx(90)
    assert rqd_from_depths(depths, 0, 10, lost=[]) == rqd_from_depths(depths, 0, 10)
