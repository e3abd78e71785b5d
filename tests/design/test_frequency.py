"""Counts with their intervals, and frequency along lines, on faces and over all directions."""

from __future__ import annotations

from types import SimpleNamespace as Set

import numpy as np
import pytest
from scipy.stats import chi2, poisson, vonmises_fisher

import jointstats as js
from jointstats.design.extremes import frequency_extremes, rqd_along
from jointstats.design.faces import trace_intensity_on_face
from jointstats.design.frequency import (
    frequency_along,
    frequency_by_set,
)
from jointstats.errors import InputError
from jointstats.intervals import poisson_interval
from jointstats.sphere.axes import hemisphere_grid, rotation_about
from jointstats.sphere.zonal import fisher_mean_of_cosine

SETS = [
    Set(mean=js.poles_from_dip(62, 135)[0], kappa=40.0, p32_per_m=1.2),
    Set(mean=js.poles_from_dip(78, 20)[0], kappa=15.0, p32_per_m=0.8),
    Set(mean=js.poles_from_dip(12, 300)[0], kappa=90.0, p32_per_m=0.6),
]


def _turned(matrix: np.ndarray, sign: float = 1.0) -> list[Set]:
    return [
        Set(mean=sign * matrix @ one.mean, kappa=one.kappa, p32_per_m=one.p32_per_m) for one in SETS
    ]


@pytest.mark.parametrize("count", [0, 1, 7, 400])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_exact_interval(count: int, confidence: float) -> None:
    """The exact interval is the chi-square one, and each limit has its tail of the Poisson law."""
    low, high = poisson_interval(count, confidence)
    tail = 0.5 * (1 - confidence)
    assert high == pytest.approx(0.5 * chi2.ppf(1 - tail, 2 * count + 2))
    assert poisson.cdf(count, high) == pytest.approx(tail)
    if count:
        assert poisson.sf(count - 1, low) == pytest.approx(tail)
    else:
        assert low == 0


def test_exact_interval_covers_and_mid_p_is_close() -> None:
    """Exactly summed coverage: never below the level; mid-p within 93.5 to 96.5 % on average."""
    counts = np.arange(200)
    exact = np.array([poisson_interval(n) for n in counts])
    middle = np.array([poisson_interval(n, method="mid-p") for n in counts])
    cover = {"exact": [], "mid-p": []}
    for mean in np.linspace(2, 80, 300):
        chance = poisson.pmf(counts, mean)
        for name, limits in (("exact", exact), ("mid-p", middle)):
            inside = (limits[:, 0] <= mean) & (mean <= limits[:, 1])
            cover[name].append(chance[inside].sum())
    assert min(cover["exact"]) >= 0.95 - 1e-9
    assert 0.935 < np.mean(cover["mid-p"]) < 0.965
    assert np.mean(cover["mid-p"]) < np.mean(cover["exact"])


def test_frequency_along_is_the_mean_over_drawn_sets() -> None:
    """Frequency along a line is P32 times the mean cosine of poles drawn by scipy."""
    lines = js.lines_from_trend([10, 200, 315], [80, 10, -35])
    found = frequency_by_set(SETS, lines)
    for one, row in zip(SETS, found, strict=True):
        poles = vonmises_fisher(one.mean, one.kappa).rvs(40000, random_state=1)
        cosine = np.abs(poles @ lines.T)
        error = cosine.std(axis=0) / 200
        assert (np.abs(row / one.p32_per_m - cosine.mean(axis=0)) < 4 * error).all()
    np.testing.assert_allclose(
        frequency_along(SETS, lines, background_per_m=0.4), found.sum(axis=0) + 0.2
    )


def test_frequency_without_dispersion_is_the_classical_sum() -> None:
    """For sets without dispersion the frequency is Σ λ |cos θ| (Hudson & Priest)."""
    tight = [Set(mean=one.mean, kappa=4e4, p32_per_m=one.p32_per_m) for one in SETS]
    lines = js.lines_from_trend([0, 45], [30, 60])
    classical = sum(one.p32_per_m * np.abs(lines @ one.mean) for one in SETS)
    np.testing.assert_allclose(frequency_along(tight, lines), classical, rtol=2e-4)


@pytest.mark.parametrize("kappa", [100.0, 3e3, 4e4])
def test_closed_form_and_series_meet(kappa: float) -> None:
    """Where the closed form takes over from the series the two agree."""
    cosine = np.sqrt(80.0 / kappa) * np.array([0.999, 1.001])
    lines = np.column_stack([cosine, np.sqrt(1 - cosine**2), 0 * cosine])
    found = frequency_along([Set(mean=[1, 0, 0], kappa=kappa, p32_per_m=1.0)], lines)
    np.testing.assert_allclose(found, fisher_mean_of_cosine(cosine, kappa), rtol=1e-9)


def test_extremes_against_a_fine_grid() -> None:
    """No direction of a fine grid beats the extremes, and the values are those at the places."""
    found = frequency_extremes(SETS, background_per_m=0.1)
    grid = frequency_along(SETS, hemisphere_grid(5000), background_per_m=0.1)
    assert grid.max() <= found.largest_per_m + 1e-9
    assert grid.min() >= found.smallest_per_m - 1e-9
    assert grid.max() == pytest.approx(found.largest_per_m, rel=1e-3)
    assert grid.min() == pytest.approx(found.smallest_per_m, rel=1e-2)
    there = frequency_along(
        SETS, [found.largest_direction, found.smallest_direction], background_per_m=0.1
    )
    np.testing.assert_allclose(there, [found.largest_per_m, found.smallest_per_m])
    assert found.to_frame()["plunge_deg"].between(0, 90).all()


def test_extremes_turn_with_the_rock() -> None:
    """Turning the sets turns the directions of the extremes and keeps their values."""
    turn = rotation_about([0.3, -1.0, 0.4], 0.8)
    first, second = frequency_extremes(SETS), frequency_extremes(_turned(turn, -1.0)[::-1])
    assert second.largest_per_m == pytest.approx(first.largest_per_m)
    assert second.smallest_per_m == pytest.approx(first.smallest_per_m)
    turned = turn @ first.largest_direction
    assert js.axis_angles_deg(second.largest_direction, turned)[0] < 0.1


@pytest.mark.parametrize("kappa", [0.0, 3.0, 40.0, 800.0])
def test_traces_on_a_face_against_drawn_sets(kappa: float) -> None:
    """P21 is P32 times the mean sine between drawn normals and the face's."""
    mean = js.poles_from_dip(50, 70)[0]
    faces = np.vstack([js.poles_from_dip([0, 90, 45], [0, 160, 250]), mean])
    found = trace_intensity_on_face([Set(mean=mean, kappa=kappa, p32_per_m=2.0)], faces)
    poles = js.sphere.AxialFisher(mean, kappa).rvs(40000, random_state=2)
    sine = np.sqrt(np.clip(1 - (poles @ faces.T) ** 2, 0, None))
    error = sine.std(axis=0) / 200
    assert (np.abs(found / 2.0 - sine.mean(axis=0)) < 4 * error + 1e-6).all()


def test_traces_of_the_background() -> None:
    """A face shows π/4 of the fractures of any orientation."""
    none = Set(mean=[0, 0, 1], kappa=0.0, p32_per_m=1.0)
    found = trace_intensity_on_face([none], [[1, 0, 0]], background_per_m=1.0)
    np.testing.assert_allclose(found, 0.5 * np.pi, rtol=1e-9)


def test_traces_of_discs_cut_by_a_face() -> None:
    """Trace length per area of simulated discs cut by a plane is the P21 expected."""
    rng = np.random.default_rng(3)
    mean, side, radius = js.poles_from_dip(60, 30)[0], 60.0, 1.5
    number = 60000
    normals = js.sphere.AxialFisher(mean, 25.0).rvs(number, rng)
    height = rng.uniform(-0.5 * side, 0.5 * side, number)
    # Level face at height 0; a disc of half-height r sin θ is cut along a chord.
    sine = np.sqrt(1 - normals[:, 2] ** 2)
    away = height / np.maximum(sine, 1e-12)
    chord = 2 * np.sqrt(np.clip(radius**2 - away**2, 0, None))
    p32 = number * np.pi * radius**2 / side**3
    expected = trace_intensity_on_face([Set(mean=mean, kappa=25.0, p32_per_m=p32)], [[0, 0, 1]])
    assert chord.sum() / side**2 == pytest.approx(expected[0], rel=0.02)


def test_rqd_along() -> None:
    """RQD along a line is the theoretical one of the frequency along it."""
    lines = js.lines_from_trend([0, 90], [90, 0])
    frequency = frequency_along(SETS, lines)
    np.testing.assert_allclose(
        rqd_along(SETS, lines, threshold_m=0.5), js.line.rqd_from_frequency(frequency, 0.5)
    )


def test_no_sets() -> None:
    """Without sets the frequency is that of the background."""
    assert frequency_along([], [0, 0, 1], background_per_m=1.0).tolist() == [0.5]


def test_errors() -> None:
    """Arguments out of range are named."""
    with pytest.raises(InputError, match="count must be finite and at least 0"):
        poisson_interval(-1)
    with pytest.raises(InputError, match="confidence must lie between 0 and 1"):
        poisson_interval(3, 1.0)
    with pytest.raises(InputError, match='method must be "exact" or "mid-p"'):
        poisson_interval(3, method="wald")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="needs a whole count"):
        poisson_interval(3.5, method="mid-p")
    with pytest.raises(InputError, match="background_per_m must be finite and at least 0"):
        frequency_along(SETS, [0, 0, 1], background_per_m=-1)
    with pytest.raises(InputError, match="sets is empty"):
        frequency_extremes([])
    with pytest.raises(InputError, match="n_grid must be finite and at least 100"):
        frequency_extremes(SETS, n_grid=5)
    with pytest.raises(InputError, match="kappa must be finite and not negative"):
        trace_intensity_on_face([Set(mean=[0, 0, 1], kappa=-1.0, p32_per_m=1.0)], [0, 0, 1])
