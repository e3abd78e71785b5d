"""Shares and quantiles of spacings without a law."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

import jointstats as js
from jointstats.errors import InputError
from jointstats.line.spacing import SpacingStatistics
from jointstats.line.spacing_fits import simulate_spacings
from jointstats.line.spacing_survival import spacing_classes, spacing_curve


def test_curve_of_complete_spacings_is_the_empirical_one() -> None:
    """Without cut pieces the curve is scipy's empirical survival function."""
    x = np.array([0.3, 0.1, 0.3, 0.9, 0.5])
    judge = stats.ecdf(x).sf
    curve = spacing_curve(SpacingStatistics(x))
    np.testing.assert_allclose(curve.spacing_m, judge.quantiles)
    np.testing.assert_allclose(curve.wider, judge.probabilities, atol=1e-12)


def test_curve_with_cut_pieces_is_the_mean_of_two_censored_ones() -> None:
    """Where each cut piece occurs twice the curve is scipy's product-limit estimate."""
    complete, cut = np.array([0.2, 0.4, 0.4, 1.0, 1.5]), np.array([0.3, 1.2])
    judge = stats.ecdf(stats.CensoredData(complete, right=cut)).sf
    curve = spacing_curve(SpacingStatistics(complete, np.repeat(cut, 2)))
    np.testing.assert_allclose(curve.share_wider(complete), judge.evaluate(complete), atol=1e-12)


def test_curve_is_right_in_short_holes() -> None:
    """In holes five spacings long the curve finds the true shares, where plain shares do not."""
    log = simulate_spacings("gamma", [0.5, 2.0], np.full(3000, 5.0), random_state=1)
    x = np.array([0.5, 1.0, 2.0, 3.0])
    truth = stats.gamma(2.0, scale=0.5).sf(x)
    np.testing.assert_allclose(spacing_curve(log).share_wider(x), truth, atol=0.02)
    plain = (log.spacings_m[:, np.newaxis] > x).mean(axis=0)
    assert plain[2] < truth[2] - 0.02


def test_interval_of_the_median_covers() -> None:
    """The 90 % interval of the median covers it in 86 to 94 % of logs."""
    rng = np.random.default_rng(2)
    hits = []
    for _ in range(600):
        log = simulate_spacings("lognormal", [1.0, 0.7], [15.0] * 4, rng, confidence=0.9)
        found = spacing_curve(log).quantile(0.5)
        hits.append(found.low_m <= 1.0 <= found.high_m)
    assert 0.86 < np.mean(hits) < 0.94


def test_quantile_that_the_log_can_not_show_is_none() -> None:
    """Few spacings leave the upper limit of a high quantile open."""
    found = spacing_curve(SpacingStatistics(np.array([0.1, 0.2]), np.array([3.0, 3.0])))
    assert found.quantile(0.95).spacing_m is None
    assert found.quantile(0.3).spacing_m == pytest.approx(0.1)
    assert found.to_frame().shape == (2, 2)


def test_classes() -> None:
    """Each spacing stands in its ISRM class, one at an edge in the wider; shares sum to one."""
    data = js.line.set_spacing([0.1, 0.15, 0.45, 1.45], [0, 0, 1], [0, 0, 1], logged=[(0, 10)])
    table = spacing_classes(data).set_index("term")
    assert table.loc["very close", "n"] == 1
    assert table.loc["moderate", "n"] == table.loc["wide", "n"] == 1
    assert spacing_classes(SpacingStatistics(np.array([0.2])))["n"].tolist() == [
        0,
        0,
        0,
        1,
        0,
        0,
        0,
    ]
    for column in ("share", "share_corrected", "share_of_length"):
        assert table[column].astype(float).sum() == pytest.approx(1.0)
    empty = spacing_classes(SpacingStatistics(np.empty(0)))
    assert empty["n"].sum() == 0
    assert empty["share"].isna().all()


def test_errors() -> None:
    """No spacing and shares out of range are named."""
    with pytest.raises(InputError, match="no complete spacing"):
        spacing_curve(SpacingStatistics(np.empty(0)))
    with pytest.raises(InputError, match="share must lie between 0 and 1"):
        spacing_curve(SpacingStatistics(np.ones(3))).quantile(1.0)
