"""Counts with their intervals, and frequency along lines, on faces and over all directions."""

from __future__ import annotations

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
from jointstats.fit.rock import Rock, RockSet
from jointstats.intervals import poisson_interval
from jointstats.sphere.axes import frame_about, hemisphere_grid, rotation_about
from jointstats.sphere.set_density import SetDensity
from jointstats.sphere.set_shapes import EllipticalDensity, GirdleDensity
from jointstats.sphere.zonal import fisher_mean_of_cosine

ROCK = Rock.of_round(
    js.poles_from_dip([62, 78, 12], [135, 20, 300]), [40.0, 15.0, 90.0], [1.2, 0.8, 0.6]
)
#: One at the limit of each shape, one tight and one loose of each.
SHAPED = [
    EllipticalDensity(frame_about([0.3, -0.4, 0.8]), 60.0, 25.0),
    EllipticalDensity(frame_about([0.9, 0.1, 0.2]), 8.0, 3.92),
    GirdleDensity(frame_about([0.2, 0.7, 0.1]), 30.0, 5.0),
    GirdleDensity(frame_about([-0.5, 0.2, 0.6]), 6.0, 2.0),
]


def _turned(matrix: np.ndarray, sign: float = 1.0) -> Rock:
    return Rock.of_round(sign * ROCK.means @ matrix.T, ROCK.kappas, ROCK.intensities)


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
    found = frequency_by_set(ROCK, lines)
    for one, row in zip(ROCK.sets, found, strict=True):
        poles = vonmises_fisher(one.density.mean, one.density.kappa).rvs(40000, random_state=1)
        cosine = np.abs(poles @ lines.T)
        error = cosine.std(axis=0) / 200
        assert (np.abs(row / one.p32_per_m - cosine.mean(axis=0)) < 4 * error).all()
    np.testing.assert_allclose(
        frequency_along(ROCK.with_background(0.4), lines), found.sum(axis=0) + 0.2
    )


@pytest.mark.parametrize("density", SHAPED, ids=repr)
def test_shaped_sets_against_drawn_poles(density: SetDensity) -> None:
    """A line and a face meet the mean cosine and the mean sine of the poles drawn."""
    rock, poles = Rock((RockSet(density, 2.0),), 0.0), density.sample(40000, 1)
    ways = np.vstack([density.frame, js.lines_from_trend([10, 200, 315], [80, 10, -35])])
    cosine = np.abs(poles @ ways.T)
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, None))
    for found, drawn in (
        (frequency_along(rock, ways), cosine),
        (trace_intensity_on_face(rock, ways), sine),
    ):
        assert (np.abs(found / 2.0 - drawn.mean(axis=0)) < 4 * drawn.std(axis=0) / 200 + 1e-6).all()


@pytest.mark.parametrize("density", SHAPED, ids=repr)
def test_shaped_sets_against_their_density(density: SetDensity) -> None:
    """Both means are those of the density summed over a fine grid of the hemisphere."""
    grid, rock = hemisphere_grid(200000), Rock((RockSet(density, 1.0),), 0.0)
    share = np.exp(density.log_density(grid)) * 2 * np.pi / len(grid)
    ways = np.vstack([density.frame, js.lines_from_trend([10, 200], [80, 10])])
    cosine = np.abs(grid @ ways.T)
    assert share.sum() == pytest.approx(1.0, abs=1e-4)
    np.testing.assert_allclose(frequency_along(rock, ways), share @ cosine, atol=1e-3)
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, None))
    np.testing.assert_allclose(trace_intensity_on_face(rock, ways), share @ sine, atol=1e-3)


def test_extremes_of_a_girdle() -> None:
    """A tight girdle is met least along its fold axis and most along its densest poles."""
    fold = GirdleDensity(frame_about([0.2, 0.7, 0.1]), 40.0, 8.0)
    found = frequency_extremes(Rock((RockSet(fold, 1.0),), 0.0), n_grid=400)
    assert js.axis_angles_deg(found.smallest_direction, fold.frame[0])[0] < 0.1
    assert js.axis_angles_deg(found.largest_direction, fold.frame[1])[0] < 0.1


def test_frequency_without_dispersion_is_the_classical_sum() -> None:
    """For sets without dispersion the frequency is Σ λ |cos θ| (Hudson & Priest)."""
    tight = Rock.of_round(ROCK.means, np.full(3, 4e4), ROCK.intensities)
    lines = js.lines_from_trend([0, 45], [30, 60])
    classical = np.abs(lines @ ROCK.means.T) @ ROCK.intensities
    np.testing.assert_allclose(frequency_along(tight, lines), classical, rtol=2e-4)


@pytest.mark.parametrize("kappa", [100.0, 3e3, 4e4])
def test_closed_form_and_series_meet(kappa: float) -> None:
    """Where the closed form takes over from the series the two agree."""
    cosine = np.sqrt(80.0 / kappa) * np.array([0.999, 1.001])
    lines = np.column_stack([cosine, np.sqrt(1 - cosine**2), 0 * cosine])
    found = frequency_along(Rock.of_round([[1, 0, 0]], kappa, 1.0), lines)
    np.testing.assert_allclose(found, fisher_mean_of_cosine(cosine, kappa), rtol=1e-9)


def test_extremes_against_a_fine_grid() -> None:
    """No direction of a fine grid beats the extremes, and the values are those at the places."""
    rock = ROCK.with_background(0.1)
    found = frequency_extremes(rock)
    grid = frequency_along(rock, hemisphere_grid(5000))
    assert grid.max() <= found.largest_per_m + 1e-9
    assert grid.min() >= found.smallest_per_m - 1e-9
    assert grid.max() == pytest.approx(found.largest_per_m, rel=1e-3)
    assert grid.min() == pytest.approx(found.smallest_per_m, rel=1e-2)
    there = frequency_along(rock, [found.largest_direction, found.smallest_direction])
    np.testing.assert_allclose(there, [found.largest_per_m, found.smallest_per_m])
    assert found.to_frame()["plunge_deg"].between(0, 90).all()


def test_extremes_turn_with_the_rock() -> None:
    """Turning the sets turns the directions of the extremes and keeps their values."""
    turn = rotation_about([0.3, -1.0, 0.4], 0.8)
    first = frequency_extremes(ROCK)
    second = frequency_extremes(_turned(turn, -1.0).take([2, 1, 0]))
    assert second.largest_per_m == pytest.approx(first.largest_per_m)
    assert second.smallest_per_m == pytest.approx(first.smallest_per_m)
    turned = turn @ first.largest_direction
    assert js.axis_angles_deg(second.largest_direction, turned)[0] < 0.1


@pytest.mark.parametrize("kappa", [0.0, 3.0, 40.0, 800.0])
def test_traces_on_a_face_against_drawn_sets(kappa: float) -> None:
    """P21 is P32 times the mean sine between drawn normals and the face's."""
    mean = js.poles_from_dip(50, 70)[0]
    faces = np.vstack([js.poles_from_dip([0, 90, 45], [0, 160, 250]), mean])
    found = trace_intensity_on_face(Rock.of_round(mean, kappa, 2.0), faces)
    poles = js.sphere.AxialFisher(mean, kappa).rvs(40000, random_state=2)
    sine = np.sqrt(np.clip(1 - (poles @ faces.T) ** 2, 0, None))
    error = sine.std(axis=0) / 200
    assert (np.abs(found / 2.0 - sine.mean(axis=0)) < 4 * error + 1e-6).all()


def test_traces_of_the_background() -> None:
    """A face shows π/4 of the fractures of any orientation."""
    found = trace_intensity_on_face(Rock.of_round([[0, 0, 1]], 0.0, 1.0, 1.0), [[1, 0, 0]])
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
    expected = trace_intensity_on_face(Rock.of_round(mean, 25.0, p32), [[0, 0, 1]])
    assert chord.sum() / side**2 == pytest.approx(expected[0], rel=0.02)


def test_rqd_along() -> None:
    """RQD along a line is the theoretical one of the frequency along it."""
    lines = js.lines_from_trend([0, 90], [90, 0])
    frequency = frequency_along(ROCK, lines)
    np.testing.assert_allclose(
        rqd_along(ROCK, lines, threshold_m=0.5), js.line.rqd_from_frequency(frequency, 0.5)
    )


def test_no_sets() -> None:
    """Without sets the frequency is that of the background."""
    assert frequency_along(Rock((), 1.0), [0, 0, 1]).tolist() == [0.5]


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
    with pytest.raises(InputError, match="must be finite and not negative; got -1"):
        frequency_along(Rock(ROCK.sets, -1.0), [0, 0, 1])
    with pytest.raises(InputError, match="the rock has no set"):
        frequency_extremes(Rock((), 1.0))
    with pytest.raises(InputError, match="n_grid must be finite and at least 100"):
        frequency_extremes(ROCK, n_grid=5)
    with pytest.raises(InputError, match="kappa must be finite and not negative"):
        trace_intensity_on_face(Rock.of_round([[0, 0, 1]], -1.0, 1.0), [0, 0, 1])
