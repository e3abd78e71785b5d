"""Figures along a line at their limits and by hand: warnings, guesses, boundaries, classes."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.special import gammaln

from jointstats.errors import InputError, JointStatsWarning
from jointstats.line.precision import spacing_precision, spacings_needed
from jointstats.line.quality import (
    rqd_from_depths,
    rqd_from_frequency,
    rqd_from_volumetric_count,
    rqd_linear,
    volumetric_joint_count_interval,
)
from jointstats.line.sampling_law import law_sentence
from jointstats.line.spacing import SpacingStatistics
from jointstats.line.spacing_fits import fit_spacings
from jointstats.line.spacing_kinds import MembershipSpacing, membership_spacing
from jointstats.line.spacing_laws import LAWS
from jointstats.line.spacing_survival import SpacingCurve, spacing_curve
from jointstats.line.windows import frequency_in_windows, hole_frequency
from jointstats.line.zones import (
    _best_split,
    _cost,
    _grid,
    _interval,
    _log_marginal,
    _split_into,
    default_penalty,
    frequency_zones,
)


@pytest.mark.parametrize(("slope", "low", "high"), [(2.5, "4", "44"), (3.3, "4.55", "34.8")])
def test_a_rule_says_where_it_holds(slope: float, low: str, high: str) -> None:
    """The counts at which a rule gives 100 and 0 %: (a − 100) / b and a / b."""
    with pytest.warns(JointStatsWarning, match=f"Jv {low} to {high} /m"):
        np.testing.assert_allclose(rqd_from_volumetric_count([0.0, 50.0], slope=slope), [100.0, 0.0])
    inside = float(low) + 0.01, float(high) - 0.06
    assert np.ptp(rqd_from_volumetric_count(inside, slope=slope)) > 99.0
    with pytest.warns(JointStatsWarning, match="holds between"):
        rqd_from_volumetric_count([float(low) - 0.01, 10.0], slope=slope)


def test_the_linear_rule_holds_from_six_to_sixteen() -> None:
    """Both ends belong to it; 110.4 − 3.68 λ."""
    np.testing.assert_allclose(rqd_linear([6.0, 16.0]), [110.4 - 22.08, 110.4 - 58.88])
    for outside in (5.99, 16.01):
        with pytest.warns(JointStatsWarning, match="6 to 16"):
            rqd_linear(outside)


def test_pieces_at_the_threshold_count() -> None:
    """Within a millionth of a millimetre; a piece in lost core does not, whatever its length."""
    assert rqd_from_depths([0.1 - 5e-10], 0.0, 1.0) == pytest.approx(100.0)
    assert rqd_from_depths([0.1 - 2e-9], 0.0, 1.0) == pytest.approx(90.0)
    assert rqd_from_depths([], 1.0, 3.0, lost=[(1.5, 2.0)]) == pytest.approx(75.0)
    assert rqd_from_frequency(4.0, 0.25) == pytest.approx(100 * stats.gamma(2).sf(1.0))
    # Where every piece is 25 m the threshold never matters; a thousand of them leave nothing.
    assert rqd_from_frequency(999.0, 1.0) == pytest.approx(0.0, abs=1e-9)


def test_squared_distances_of_an_interval_add_up() -> None:
    """Each side by itself; limits at the frequency itself are allowed."""
    count, (low, high) = volumetric_joint_count_interval([2.0, 1.0], [[1.7, 2.0], [0.6, 1.8]])
    assert (count, low, high) == pytest.approx((3.0, 2.5, 3.8))
    with pytest.raises(InputError, match="within its interval"):
        volumetric_joint_count_interval([2.0], [[1.0, 1.9]])


def test_precision_at_its_limits() -> None:
    """Twenty spacings are enough, nineteen are not; an interval that reaches zero has no frequency."""
    assert spacing_precision(20, 1.0).n == 20
    with pytest.warns(JointStatsWarning, match="got 19"):
        spacing_precision(19, 1.0)
    wide = spacing_precision(25, 2.0, deviation=3.0)
    assert wide.spacing_interval_m[0] == 0.0 and wide.frequency_interval_per_m[1] is None
    z = stats.norm.ppf(0.975)
    assert wide.spacing_interval_m[1] == pytest.approx(2.0 * (1 + z * 3 / 5))
    assert spacings_needed(0.99) == pytest.approx((z / 0.99) ** 2)
    with pytest.raises(InputError, match="precision must lie between 0 and 1"):
        spacings_needed(1.0)
    with pytest.warns(JointStatsWarning, match="got 1"):
        assert spacing_precision(1, 1.0, deviation=0.1).precision == pytest.approx(0.1 * z)


@pytest.mark.parametrize(
    ("name", "judge"),
    [
        ("exponential", lambda p: stats.expon(scale=p[0])),
        ("lognormal", lambda p: stats.lognorm(p[1], scale=p[0])),
        ("gamma", lambda p: stats.gamma(p[1], scale=p[0])),
        ("Weibull", lambda p: stats.weibull_min(p[1], scale=p[0])),
    ],
)
def test_guesses_have_about_the_moments_asked_for(name: str, judge: object) -> None:
    """Mean exactly, deviation over mean within 8 % (an exponential has 1)."""
    for deviation in (0.3, 0.8, 1.5):
        law = judge(LAWS[name].guess(0.7, deviation))  # type: ignore[operator]
        assert law.mean() == pytest.approx(0.7)
        wanted = 1.0 if name == "exponential" else deviation
        assert law.std() / law.mean() == pytest.approx(wanted, rel=0.08)
    low, high = (LAWS[name].shapes or ((0.5, 2.0),))[0]
    assert low < 0.5 and high >= 4.0 or name == "exponential"


def test_tiny_survivals_are_written_down() -> None:
    """Far out a gamma's log survival is finite."""
    law = LAWS["gamma"]
    assert np.isfinite(law.log_survival(np.array([1e4]), np.array([0.3, 0.6]))).all()
    p = np.array([0.3, 2.0])
    assert law.log_survival(np.array([30.0]), p)[0] == pytest.approx(stats.gamma(2, scale=0.3).logsf(30.0))


def test_fits_without_simulated_logs() -> None:
    """None drawn, no p-value; one drawn, no interval wider than a point."""
    data = SpacingStatistics(np.array([0.2, 0.5, 0.9, 0.4, 1.2, 0.3]))
    plain = fit_spacings(data, ["exponential"], n_bootstrap=0).fits[0]
    assert (plain.statistic, plain.pvalue, plain.mean_interval_m) == (None, None, None)
    assert len(plain.means_m) == 0
    one = fit_spacings(data, ["exponential"], n_bootstrap=1).fits[0]
    assert one.pvalue in (0.5, 1.0)
    assert one.mean_interval_m == (one.mean_m, one.mean_m)
    two = fit_spacings(data, ["exponential"], n_bootstrap=3).fits[0]
    spread = np.log(two.means_m).std(ddof=1) * stats.t(2).ppf(0.975)
    expected = two.mean_m * np.exp([-spread, spread])
    np.testing.assert_allclose(two.mean_interval_m, expected)
    assert two.median_m == pytest.approx(np.log(2) * two.mean_m)


def _judge_of_marginal(n: float, metres: float, rate: float) -> float:
    """Log of ∫ λⁿ exp(−λ ℓ) prior dλ, but what is the same for all: a gamma integral."""
    return float(gammaln(n + 0.5) - (n + 0.5) * np.log(metres + 0.5 / rate))


def test_the_interval_of_a_boundary_is_its_posterior() -> None:
    """Chances of every cell between the neighbours, written out."""
    counts = np.array([1, 0, 1, 1, 0, 5, 4, 6, 5, 3, 1, 0.0])
    total, cell, left, right = np.concatenate([[0.0], np.cumsum(counts)]), 0.5, 1, 10
    rate = counts.sum() / (12 * cell)
    logs = [
        _judge_of_marginal(total[i] - total[left], (i - left) * cell, rate)
        + _judge_of_marginal(total[right] - total[i], (right - i) * cell, rate)
        for i in range(2, 10)
    ]
    chance = np.exp(np.array(logs) - max(logs))
    below = np.cumsum(chance) / chance.sum()
    for confidence in (0.5, 0.9, 0.99):
        tail = (1 - confidence) / 2
        low = 2 + int((below < tail).sum())
        high = min(2 + int((below < 1 - tail).sum()), 9)
        assert _interval(total, cell, left, right, confidence) == (low, high)
    found = _log_marginal(np.array([3.0]), np.array([2.0]), 1.7)[0]
    assert found == pytest.approx(_judge_of_marginal(3.0, 2.0, 1.7))


def test_costs_and_penalties() -> None:
    """n − n log(n / ℓ), nothing without a fracture; 2 + 0.6 log n."""
    np.testing.assert_allclose(_cost(np.array([0.0, 6.0]), np.array([3.0, 2.0])), [0.0, 6 - 6 * np.log(3)])
    assert default_penalty(100) == pytest.approx(2 + 0.6 * np.log(100))
    assert default_penalty(0) == 2.0


def test_cells_and_shortest_zones() -> None:
    """A fifth of the mean spacing, within a 200th and a 2000th; five spacings, within a quarter."""
    assert _grid(100.0, 400, None, None) == pytest.approx((0.05, 1.25))
    assert _grid(100.0, 1000, None, None) == pytest.approx((0.05, 0.5))
    assert _grid(100.0, 250, None, None)[0] == pytest.approx(0.08)
    assert _grid(100.0, 10, None, None) == pytest.approx((0.5, 25.0))
    assert _grid(100.0, 0, None, None) == pytest.approx((0.5, 25.0))
    assert _grid(100.0, 10, 0.005, 3.0) == (0.005, 3.0)
    with pytest.raises(InputError, match="makes more than 20000 cells"):
        _grid(100.0, 10, 0.00499, 3.0)


def test_no_zone_is_shorter_than_the_shortest() -> None:
    """A spike of two cells makes a zone of three where three are asked for."""
    counts = np.array([1, 1, 1, 1, 1, 30, 30, 1, 1, 1, 1, 1.0])
    for shortest in (1, 2, 3):
        for edges in (_best_split(counts, 1.0, 2.0, shortest), _split_into(counts, 1.0, 3, shortest)):
            assert np.diff(edges).min() == max(shortest, 2)
            assert edges[0] == 0 and edges[-1] == 12 and len(edges) == 4
    assert _split_into(counts, 1.0, 4, 3) == [0, 3, 6, 9, 12]
    with pytest.raises(InputError, match="at most 4; got 5"):
        frequency_zones([1.0, 2.0], [(0, 12)], n_zones=5, shortest_m=3.0, cell_m=1.0)
    zones = frequency_zones([1.0, 2.0], [(0, 12)], n_zones=4, shortest_m=3.0, cell_m=1.0).zones
    assert len(zones) == 4


def test_zones_have_the_interval_of_their_count() -> None:
    """Exact Poisson limits over the logged metres; a fracture zone exceeds three times the rest."""
    depth = np.concatenate([np.arange(0.5, 20, 1.0), np.arange(20.025, 25, 0.05)])
    found = frequency_zones(depth, [(0, 25)], n_zones=2)
    for zone in found.zones:
        low, high = stats.chi2.ppf(0.025, 2 * zone.n) / 2, stats.chi2.ppf(0.975, 2 * zone.n + 2) / 2
        assert (zone.low_per_m, zone.high_per_m) == pytest.approx((low / zone.logged_m, high / zone.logged_m))
        assert zone.p10_per_m == pytest.approx(zone.n / zone.logged_m)
    assert [one.kind for one in found.zones] == ["zone", "fracture zone"]
    limit = found.zones[1].low_per_m
    assert limit is not None and found.zones[0].p10_per_m is not None
    for factor, kind in ((limit - 0.05, "fracture zone"), (limit + 0.05, "zone")):
        ratio = factor / found.zones[0].p10_per_m
        again = frequency_zones(depth, [(0, 25)], n_zones=2, fracture_zone_factor=ratio)
        assert again.zones[1].kind == kind


def test_figures_of_spacings_by_chance() -> None:
    """Logged metres over one more than the fractures; the median by half of the chance."""
    found = MembershipSpacing(np.array([3.0, 1.0, 2.0]), np.array([0.5, 0.3, 0.2]), 2.5, 14.0)
    assert found.n == pytest.approx(1.0)
    assert found.mean_m == pytest.approx(4.0)
    assert found.mean_complete_m == pytest.approx(1.5 + 0.3 + 0.4)
    assert found.median_m == 2.0
    lean = MembershipSpacing(np.array([3.0, 1.0]), np.array([0.6, 0.4]), 2.5, None)
    assert lean.median_m == 3.0 and lean.mean_m == pytest.approx(2.2)
    none = MembershipSpacing(np.empty(0), np.empty(0), 0.0, 14.0)
    assert (none.median_m, none.mean_complete_m, none.term) == (None, None, None)
    assert none.mean_m == 14.0


def test_limits_of_shares_are_log_log() -> None:
    """exp(−exp(log(−log S) ± z s)); where no error is known from 0 to 1."""
    curve = SpacingCurve(np.array([1.0, 2.0, 3.0]), np.array([0.8, 0.4, 0.0]), np.array([0.2, 0.3, np.inf]), 0.9)
    z = stats.norm.ppf(0.95)
    low, high = curve.limits()
    shares, spread = np.array([0.8, 0.4]), np.array([0.2, 0.3])
    np.testing.assert_allclose(low[:2], shares ** np.exp(z * spread))
    np.testing.assert_allclose(high[:2], shares ** np.exp(-z * spread))
    assert (low[2], high[2]) == (0.0, 1.0)
    np.testing.assert_allclose(curve.share_wider([0.0, 0.999, 1.0, 2.5, 9.0]), [1, 1, 0.8, 0.4, 0.0])
    assert curve.quantile(0.6).spacing_m == 2.0
    assert curve.quantile(0.61).spacing_m == 3.0
    for bad in (0.0, 1.0):
        with pytest.raises(InputError, match="between 0 and 1"):
            curve.quantile(bad)


def test_errors_of_the_curve_are_greenwoods() -> None:
    """Σ d / n (n − d) over the square of log S, where no piece is cut."""
    x = np.array([0.1, 0.2, 0.2, 0.5, 0.9])
    curve = spacing_curve(SpacingStatistics(x))
    at_risk, falls = np.array([5, 4, 2, 1]), np.array([1, 2, 1, 1])
    with np.errstate(divide="ignore"):
        variance = np.cumsum(falls / (at_risk * (at_risk - falls)))[:3]
    np.testing.assert_allclose(curve.spread[:3], np.sqrt(variance) / -np.log(curve.wider[:3]))


def test_counts_off_the_law_are_told_by_class() -> None:
    """Those whose expectation lies outside the interval of the count; p-values at the limit pass."""
    table = pd.DataFrame(
        {
            "from_deg": [10.0, 30.0, 60.0],
            "to_deg": [30.0, 60.0, 90.0],
            "n": [4, 20, 33],
            "low": [1.0, 12.0, 23.0],
            "high": [10.0, 31.0, 46.0],
            "expected": [10.0, 11.9, 46.4],
            "pvalue": 0.001,
        }
    )
    text = law_sentence(table)
    assert "20 at 30 to 60°, 12 expected; 33 at 60 to 90°, 46 expected" in text
    assert "at 10 to 30°" not in text
    within = table.assign(expected=[1.0, 12.0, 46.0])
    assert "in many classes a little" in law_sentence(within)
    assert "consistent with the law" in law_sentence(table.assign(pvalue=0.2))


def test_warnings_point_at_the_caller() -> None:
    """The line named is that of the script, not one of the package."""
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        rqd_from_volumetric_count(90.0)
        rqd_linear(1.0)
        spacing_precision(2, 1.0)
    assert [one.filename for one in told] == [__file__] * 3


def test_a_gap_at_the_end_of_a_log_moves_no_boundary() -> None:
    """A gap nearer to the end, or the start, than to a boundary leaves it; one beside it takes it."""
    depth = np.concatenate([np.arange(0.5, 10, 1.0), np.arange(10.02, 19.5, 0.1)])
    plain = frequency_zones(depth, [(0, 20)], n_zones=2, cell_m=0.1).boundaries[0].depth_m
    for ends in ([(0, 19.5), (19.8, 20.3)], [(-0.8, -0.5), (0, 20)]):
        found = frequency_zones(depth, ends, n_zones=2, cell_m=0.1).boundaries[0]
        assert found.depth_m == pytest.approx(plain, abs=0.11)
    beside = frequency_zones(
        np.where(depth > 9.99, depth + 3.0, depth), [(0, 9.99), (12.99, 23)], n_zones=2, cell_m=0.1
    )
    assert beside.boundaries[0].depth_m == 12.99


def test_fractures_at_the_ends_of_a_length_are_of_it() -> None:
    """At the first and at the last logged metre, for sets by chance and for windows."""
    down = [0.0, 0.0, -1.0]
    found = membership_spacing([1.0, 4.0, 9.0], [1.0, 1.0, 1.0], down, down, logged=[(1.0, 9.0)])
    np.testing.assert_allclose(found.spacings_m, [3.0, 5.0])
    assert found.n == pytest.approx(2.0) and found.total_m == pytest.approx(8.0)


def test_windows_have_the_exact_interval() -> None:
    """Poisson limits by scipy's chi-square, over the metres of the window."""
    table = frequency_in_windows([1.0, 2.0, 7.0], [(0, 10)], window_m=5.0)
    for row in table.itertuples():
        low = stats.chi2.ppf(0.025, 2 * row.n) / 2
        high = stats.chi2.ppf(0.975, 2 * row.n + 2) / 2
        assert (row.p10_low_per_m, row.p10_high_per_m) == pytest.approx((low / 5, high / 5))
        assert row.p10_per_m == row.n / 5
    whole = hole_frequency([1.0, 2.0, 7.0], [(0, 10)])
    assert whole.p10_interval_per_m[1] == pytest.approx(stats.chi2.ppf(0.975, 8) / 20)
