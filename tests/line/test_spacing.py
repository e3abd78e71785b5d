"""Spacing of a set along its mean normal, with what the ends of the log cut."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import chi2

import jointstats as js
from jointstats.errors import InputError
from jointstats.line.spacing import SpacingStatistics, pool_spacings, set_spacing
from jointstats.line.spacing_fits import simulate_spacings
from jointstats.line.spacing_terms import spacing_term
from jointstats.sphere.axes import rotation_about
from tests.references import ISRM_SPACING_TERMS

DOWN = [0.0, 0.0, -1.0]


def _by_points(depth: np.ndarray, direction: np.ndarray, mean: np.ndarray) -> list[float]:
    """Distance between the planes through neighbouring points of a straight hole, one by one."""
    points = [z * direction for z in sorted(depth)]
    return [abs(float(np.dot(b - a, mean))) for a, b in pairwise(points)]


def test_spacing_is_the_distance_between_planes() -> None:
    """The spacing is the distance between parallel planes through neighbouring fractures."""
    rng = np.random.default_rng(1)
    depth = rng.uniform(0, 30, 20)
    direction = js.lines_from_trend(40, 55)[0]
    mean = js.poles_from_dip(62, 135)[0]
    found = set_spacing(depth, direction, mean)
    np.testing.assert_allclose(found.spacings_m, _by_points(depth, direction, mean), rtol=1e-12)


def test_curved_hole_by_positions() -> None:
    """In a curved hole the spacing is the distance along the normal between positions in space."""
    path = js.HolePath([0.0, 40.0, 80.0], [10.0, 30.0, 60.0], [80.0, 60.0, 45.0])
    depth = np.array([5.0, 12.0, 33.0, 51.0, 78.0])
    mean = js.poles_from_dip(35, 200)[0]
    along = np.abs(np.diff(path.position(depth) @ mean))
    exact = set_spacing(depth, path.direction, mean).spacings_m
    np.testing.assert_allclose(exact, along, rtol=1e-3)
    rows = set_spacing(depth, path.direction(depth), mean).spacings_m
    np.testing.assert_allclose(rows, along, rtol=0.01)


def test_gaps_break_the_sequence_and_touching_lengths_do_not() -> None:
    """A gap ends a spacing; two lengths that touch are one."""
    gap = set_spacing([1, 2, 8, 9], DOWN, DOWN, logged=[(0, 4), (6, 10)])
    np.testing.assert_allclose(gap.spacings_m, [1, 1])
    np.testing.assert_allclose(gap.censored_m, [1, 2, 2, 1])
    joined = set_spacing([1, 2, 8, 9], DOWN, DOWN, logged=[(5, 10), (0, 5)])
    np.testing.assert_allclose(joined.spacings_m, [1, 6, 1])
    np.testing.assert_allclose(joined.lengths_m, [10])


def test_empty_lengths_are_kept() -> None:
    """A logged length without a fracture of the set counts as an empty length."""
    found = set_spacing([1, 3], DOWN, DOWN, logged=[(0, 4), (6, 11)])
    assert found.empty_m.tolist() == [5.0]
    assert found.n_censored == 3
    assert found.total_m == pytest.approx(9.0)
    assert found.mean_m == pytest.approx(9.0 / 3.0)


@pytest.mark.parametrize(
    ("depth", "mean", "censored"), [([], None, 10.0), ([4.0], None, 5.0), ([4.0, 4.0], 0.0, 10 / 3)]
)
def test_few_fractures(depth: list[float], mean: float | None, censored: float) -> None:
    """With no or one fracture the plain figures are None; the logged length still bounds them."""
    found = set_spacing(depth, DOWN, DOWN, logged=[(0, 10)])
    assert found.mean_complete_m == mean
    assert found.median_m == mean
    assert found.mean_m == pytest.approx(censored)
    low, high = found.mean_interval_m
    assert 0 < low < 10
    assert (high is None) == (len(depth) == 0)
    assert len(found.to_frame()) == 1
    assert "SpacingStatistics(" in repr(found)


def test_nothing_at_all() -> None:
    """Without fractures and logged lengths every figure is None."""
    found = set_spacing([], np.empty((0, 3)), DOWN)
    for name in ("mean_m", "mean_complete_m", "median_m", "smallest_m", "largest_m", "term"):
        assert getattr(found, name) is None
    assert found.mean_interval_m is None
    assert set_spacing([], np.empty((0, 3)), DOWN, logged=[(0, 5)]).total_m == 0
    assert pool_spacings([]).n == 0


def test_hole_along_the_planes_measures_nothing() -> None:
    """A hole that lies in the planes of the set gives no spacing, rather than zeros."""
    found = set_spacing([1, 2, 3], DOWN, [1.0, 0.0, 0.0], logged=[(0, 5)])
    assert found.n == 0
    assert found.mean_m is None


def test_invariance() -> None:
    """Reordering, flipping ends and turning everything together leave the spacings alone."""
    rng = np.random.default_rng(3)
    depth = rng.uniform(0, 20, 12)
    directions = js.lines_from_trend(rng.uniform(0, 20, 12), 60)
    mean = js.poles_from_dip(50, 80)[0]
    first = set_spacing(depth, directions, mean, logged=[(0, 20)])
    order = rng.permutation(12)
    flips = rng.choice([-1.0, 1.0], (12, 1))
    turn = rotation_about([1.0, 2.0, 0.5], 1.1)
    second = set_spacing(
        depth[order], (flips * directions)[order] @ turn.T, -mean @ turn.T, logged=[(0, 20)]
    )
    np.testing.assert_allclose(second.spacings_m, first.spacings_m, rtol=1e-9)
    np.testing.assert_allclose(second.censored_m, first.censored_m, rtol=1e-9)


def test_censored_mean_has_the_stated_expectation() -> None:
    """The censored mean of one hole has expectation μ(1 − e^(−L/μ)); the plain one is far off."""
    rng = np.random.default_rng(11)
    logs = [simulate_spacings("exponential", [1.0], [5.0], rng) for _ in range(4000)]
    censored = np.array([one.mean_m for one in logs])
    error = censored.std() / np.sqrt(len(censored))
    assert abs(censored.mean() - (1 - np.exp(-5.0))) < 4 * error
    assert error < 0.012
    plain = np.mean([one.mean_complete_m for one in logs if one.n])
    assert plain < 0.95


@pytest.mark.parametrize("law", [("exponential", [1.0]), ("gamma", [0.25, 4.0])])
def test_pooled_censored_mean_is_unbiased_in_short_holes(law: tuple[str, list[float]]) -> None:
    """Pooled over holes only five spacings long the censored mean is within 2 % of the truth."""
    pooled = simulate_spacings(*law, np.full(3000, 5.0), random_state=12)
    assert pooled.mean_m == pytest.approx(1.0, abs=0.02)
    assert pooled.mean_complete_m < 0.95


def test_interval_covers() -> None:
    """The 95 % interval of the mean covers the truth in 93.5 to 96.5 % of holes, on average."""
    rng = np.random.default_rng(13)
    hits = []
    # Lengths spread over a range: at a single one the coverage of any interval of a count jumps.
    for length in rng.uniform(10, 40, 3000):
        low, high = simulate_spacings("exponential", [1.0], [length], rng).mean_interval_m
        hits.append(low <= 1.0 <= high)
    assert 0.935 < np.mean(hits) < 0.965


def test_interval_without_known_ends_is_the_exact_chi_square() -> None:
    """Where the ends are not known, 2 n x̄ / μ is χ² with 2n degrees of freedom."""
    found = set_spacing([0, 1, 3, 4.5], DOWN, DOWN, confidence=0.9)
    low, high = 2 * 4.5 / chi2.ppf([0.95, 0.05], 6)
    assert found.mean_interval_m == pytest.approx((low, high))


@pytest.mark.parametrize(("edge", "term"), ISRM_SPACING_TERMS)
def test_terms(edge: float, term: str) -> None:
    """Each ISRM term holds up to its edge; the edge itself is in the wider class."""
    assert spacing_term(0.999 * edge) == term
    assert spacing_term(edge) != term


def test_widest_term_and_term_of_the_mean() -> None:
    """Beyond six metres is extremely wide; a result carries the term of its mean."""
    assert spacing_term(6.001) == "extremely wide"
    assert set_spacing([0, 0.3, 0.6], DOWN, DOWN).term == "moderate"


def test_pooling() -> None:
    """Pooling holes puts their pieces together and keeps the confidence of the first."""
    one = set_spacing([1, 2], DOWN, DOWN, logged=[(0, 5)], confidence=0.8)
    two = set_spacing([3], DOWN, DOWN, logged=[(0, 5)])
    both = pool_spacings([one, two])
    assert (both.n, both.n_censored, both.n_fractures, both.confidence) == (1, 4, 3, 0.8)
    assert both.mean_m == pytest.approx(10 / 4)


def test_errors() -> None:
    """Every wrong argument is named."""
    with pytest.raises(InputError, match="outside every logged length"):
        set_spacing([6], DOWN, DOWN, logged=[(0, 5)])
    with pytest.raises(InputError, match="directions must have one row"):
        set_spacing([1, 2, 3], [DOWN, DOWN], DOWN)
    with pytest.raises(InputError, match="to_m must lie beyond from_m"):
        set_spacing([1], DOWN, DOWN, logged=[(5, 5)])
    with pytest.raises(InputError, match="confidence must lie between 0 and 1"):
        set_spacing([1], DOWN, DOWN, confidence=95)
    with pytest.raises(InputError, match="depth_m must be finite"):
        set_spacing([1, np.nan], DOWN, DOWN)
    with pytest.raises(InputError, match="depth_m must be numbers"):
        set_spacing(["deep"], DOWN, DOWN)
    with pytest.raises(InputError, match="depth_m must be one-dimensional"):
        set_spacing([[1.0]], DOWN, DOWN)
    with pytest.raises(InputError, match="spacing_m must be finite and at least 0"):
        spacing_term(-0.1)
    with pytest.raises(InputError, match="spacing_m must be one number"):
        spacing_term([0.1])  # type: ignore[arg-type]
    known = set_spacing([1, 2], DOWN, DOWN, logged=[(0, 5)])
    with pytest.raises(InputError, match="with logged lengths and some without"):
        pool_spacings([known, SpacingStatistics(np.array([1.0]))])
