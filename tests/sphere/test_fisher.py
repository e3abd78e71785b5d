"""Fisher statistics: printed values, scipy, coverage of the cone, and every symmetry."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import directional_stats, vonmises_fisher

from jointstats import (
    InputError,
    axis_angles_deg,
    fisher_statistics,
    lines_from_trend,
    poles_from_dip,
    trend_from_lines,
)
from jointstats.sphere import AxialFisher
from jointstats.sphere.axes import rotation_about
from jointstats.sphere.fisher import KAPPA_CAP
from tests import references as ref


def _lines(pairs: tuple[tuple[float, float], ...]) -> np.ndarray:
    return lines_from_trend(*np.array(pairs).T)


@pytest.mark.parametrize("axial", [True, False])
def test_fisher_nine_directions(axial: bool) -> None:
    """Fisher's own nine directions give the printed mean, R, κ and cone, as axes too."""
    found = fisher_statistics(_lines(ref.FISHER_NINE), axial=axial)
    north_east_down = found.mean[[1, 0, 2]] * [1, 1, -1]
    for got, printed in (
        (north_east_down, ref.FISHER_NINE_MEAN),
        (found.resultant_length, ref.FISHER_NINE_RESULTANT),
        (found.kappa, ref.FISHER_NINE_KAPPA),
        (found.kappa_mle, ref.FISHER_NINE_KAPPA_MLE),
        (found.cone_deg, ref.FISHER_NINE_CONE),
    ):
        assert got == pytest.approx(printed.value, abs=printed.tolerance)


def test_ten_directions() -> None:
    """Ten directions give a documented output of another library to its last digit."""
    found = fisher_statistics(_lines(ref.TEN_DIRECTIONS))
    trend, plunge = trend_from_lines(found.mean)
    for got, printed in (
        (trend[0], ref.TEN_DECLINATION),
        (plunge[0], ref.TEN_INCLINATION),
        (found.resultant_length, ref.TEN_RESULTANT),
        (found.kappa, ref.TEN_KAPPA),
        (found.cone_deg, ref.TEN_CONE),
    ):
        assert got == pytest.approx(printed.value, abs=printed.tolerance)


def test_weighted_mean_of_one_borehole() -> None:
    """Six planes weighted for one hole give the printed weighted mean, R and κ."""
    poles = poles_from_dip(*np.array(ref.HARRISON_PLANES, dtype=float)[:, ::-1].T)
    weights = 1.0 / np.abs(poles @ lines_from_trend(*ref.HARRISON_HOLE)[0])
    plain, weighted = fisher_statistics(poles), fisher_statistics(poles, weights)
    printed = ref.HARRISON_WEIGHTED_MEAN
    # Printed as the upward normal, north, east, up rounded: compare size by size.
    assert np.sort(np.abs(weighted.mean)) == pytest.approx(
        np.sort(printed.value), abs=printed.tolerance
    )
    assert (plain.kappa, weighted.kappa) == pytest.approx(
        ref.HARRISON_KAPPA.value, abs=ref.HARRISON_KAPPA.tolerance
    )
    assert (plain.resultant_length, weighted.resultant_length) == pytest.approx(
        ref.HARRISON_RESULTANT.value, abs=ref.HARRISON_RESULTANT.tolerance
    )


def test_agrees_with_scipy() -> None:
    """Mean, R and the likeliest κ of directed data are those of scipy."""
    rows = vonmises_fisher([0.2, -0.4, 0.6] / np.linalg.norm([0.2, -0.4, 0.6]), 7.0).rvs(
        80, random_state=2
    )
    found = fisher_statistics(rows, axial=False)
    theirs = directional_stats(rows)
    mean, kappa = vonmises_fisher.fit(rows)
    np.testing.assert_allclose(found.mean, theirs.mean_direction, atol=1e-12)
    assert found.mean_resultant == pytest.approx(theirs.mean_resultant_length, abs=1e-12)
    np.testing.assert_allclose(found.mean, mean, atol=1e-12)
    assert found.kappa_mle == pytest.approx(kappa, rel=1e-8)


@pytest.mark.parametrize("weighted", [False, True])
def test_symmetries(weighted: bool) -> None:
    """Flipping, reordering and scaling weights change nothing; turning turns the mean."""
    generator = np.random.default_rng(4)
    poles = AxialFisher([1.0, 0.1, 0.0], 8.0).rvs(40, random_state=1)
    weights = generator.uniform(1, 5, 40) if weighted else None
    base = fisher_statistics(poles, weights)
    order = generator.permutation(40)
    again = fisher_statistics(
        (poles * generator.choice([-1.0, 1.0], (40, 1)))[order],
        None if weights is None else 7.0 * weights[order],
    )
    turn = rotation_about([0.3, 0.2, -0.8], 2.0)
    turned = fisher_statistics(poles @ turn.T, weights)
    for other in (again, turned):
        assert other.kappa == pytest.approx(base.kappa, rel=1e-10)
        assert other.cone_deg == pytest.approx(base.cone_deg, rel=1e-9)
        assert other.n_effective == pytest.approx(base.n_effective, rel=1e-12)
    assert axis_angles_deg(again.mean, base.mean)[0] < 1e-6
    assert axis_angles_deg(turned.mean, turn @ base.mean)[0] < 1e-6


def test_set_astride_the_horizon() -> None:
    """A set of near-vertical planes has one mean, though its poles lie at both edges."""
    poles = AxialFisher([1.0, 0, 0], 60.0).rvs(200, random_state=0)
    assert (poles[:, 0] > 0).any() and (poles[:, 0] < 0).any()
    found = fisher_statistics(poles)
    assert axis_angles_deg(found.mean, [1.0, 0, 0])[0] < 2.0
    assert found.kappa == pytest.approx(60.0, rel=0.15)


def test_whole_weights_are_repeated_rows_but_for_the_cone() -> None:
    """Weights of 1, 2, 3 give the mean resultant of rows repeated so often."""
    poles = AxialFisher([0, 0.5, -1.0], 20.0).rvs(9, random_state=3)
    weights = np.tile([1, 2, 3], 3)
    once = fisher_statistics(poles, weights)
    repeated = fisher_statistics(np.repeat(poles, weights, axis=0))
    assert once.mean_resultant == pytest.approx(repeated.mean_resultant, rel=1e-12)
    assert once.cone_deg > repeated.cone_deg


def test_kappa_bias_is_as_stated() -> None:
    """At n 10 and κ 50 the three estimates of κ are too large by the stated ratios."""
    generator = np.random.default_rng(0)
    found = [
        fisher_statistics(AxialFisher([0, 0, -1.0], 50.0).rvs(10, generator)) for _ in range(600)
    ]
    ratios = np.array([[f.kappa, f.kappa_unbiased, f.kappa_mle] for f in found]) / 50.0
    error = ratios.std(axis=0) / np.sqrt(600)
    assert (np.abs(ratios.mean(axis=0) - ref.KAPPA_BIAS.value) < 4 * error).all()


def _coverage(kappa: float, n: int, hole: list[float] | None, seed: int) -> float:
    generator, mean, hits = np.random.default_rng(seed), np.array([0.6, 0, 0.8]), 0
    law = vonmises_fisher(mean, kappa)
    for _ in range(500):
        rows = law.rvs(n if hole is None else 5 * n, random_state=generator)
        weights = None
        if hole is not None:
            rate = np.maximum(np.abs(rows @ np.array(hole)), np.sin(np.radians(10)))
            rows = rows[generator.random(len(rows)) < rate][:n]
            weights = 1 / np.maximum(np.abs(rows @ np.array(hole)), np.sin(np.radians(10)))
        found = fisher_statistics(rows, weights)
        hits += axis_angles_deg(found.mean, mean)[0] <= found.cone_deg
    return hits / 500


@pytest.mark.parametrize(("kappa", "n"), [(5.0, 10), (50.0, 30)])
def test_cone_covers(kappa: float, n: int) -> None:
    """The 95% cone covers the truth 95 times in 100 (500 draws, standard error 1%)."""
    assert abs(_coverage(kappa, n, None, 8) - 0.95) < 0.03


@pytest.mark.parametrize("hole", [[0, 0, 1.0], [0.8, 0, -0.6]])
def test_weighted_cone_covers(hole: list[float]) -> None:
    """So it does with Terzaghi weights, hole at 37° to the mean pole or square to it."""
    assert abs(_coverage(20.0, 15, hole, 9) - 0.95) < 0.03


def test_identical_and_single_poles() -> None:
    """Identical poles have the largest κ and no cone; one pole has κ 0 and the widest cone."""
    same = fisher_statistics([[0, 0, 1.0], [0, 0, -1.0], [0, 0, 2.0]])
    assert (same.kappa, same.cone_deg) == (KAPPA_CAP, 0.0)
    one = fisher_statistics([[0, 0, 1.0]])
    assert (one.kappa, one.kappa_unbiased, one.kappa_mle, one.n) == (0.0, 0.0, 0.0, 1)
    assert one.cone_deg == pytest.approx(90.0)


def test_weights_of_zero_leave_rows_out() -> None:
    """A row of weight zero counts for nothing, n included."""
    poles = AxialFisher([0, 0, -1.0], 20.0).rvs(5, random_state=3)
    found = fisher_statistics(np.vstack([poles, [1.0, 0, 0]]), [1, 1, 1, 1, 1, 0])
    assert found.n == 5
    assert found.kappa == pytest.approx(fisher_statistics(poles).kappa)


def test_variability_cone_holds_its_share() -> None:
    """The variability cone holds half of a large set when asked for half."""
    poles = AxialFisher([0, 0, -1.0], 30.0).rvs(4000, random_state=3)
    found = fisher_statistics(poles, share=0.5)
    inside = axis_angles_deg(poles, found.mean) <= found.spread_cone_deg
    assert inside.mean() == pytest.approx(0.5, abs=0.02)


def test_frame_and_repr() -> None:
    """The table has one row with units in its names; the repr reads as a sentence."""
    found = fisher_statistics(_lines(ref.FISHER_NINE))
    frame = found.to_frame()
    assert frame.shape[0] == 1
    assert {"cone_deg", "mean_east", "n_effective"} <= set(frame.columns)
    assert "kappa=35.1" in repr(found)
    assert "<table" in found._repr_html_()


def test_bad_arguments_are_named() -> None:
    """No poles, levels out of range and bad weights are refused with their rule."""
    with pytest.raises(InputError, match="poles needs at least 1 rows with a weight above zero"):
        fisher_statistics([])
    with pytest.raises(InputError, match="confidence must lie between 0 and 1"):
        fisher_statistics([[0, 0, 1.0]], confidence=95)
    with pytest.raises(InputError, match="share must be numbers"):
        fisher_statistics([[0, 0, 1.0]], share="half")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="weights must have shape"):
        fisher_statistics([[0, 0, 1.0]], [1.0, 2.0])
