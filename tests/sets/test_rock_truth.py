"""Small version of the truth benchmark: rock of discs, whose truth is counted in the rock."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from benchmarks.rock_truth import Rock, make_rock, meet, true_spacing


def test_line_meets_the_disc_it_should() -> None:
    """A line meets a disc where it crosses its plane within its radius, in repeats of the cube too."""
    rock = Rock(
        10.0,
        np.array([[5.0, 5.0, 5.0], [5.0, 8.0, 2.0]]),
        np.array([[0.0, 0.6, 0.8], [0.0, 0.0, 1.0]]),
        np.array([1.0, 1.0]),
        np.array([0, 1]),
    )
    depth, index = meet(rock, np.array([5.0, 5.4, 0.0]), np.array([0.0, 0.0, 1.0]), 20.0)
    np.testing.assert_allclose(depth, [4.7, 14.7])
    assert index.tolist() == [0, 0]


def test_count_along_lines_is_p32_times_the_mean_cosine() -> None:
    """Discs met per metre of line are P32, summed over the discs, times the mean cosine."""
    rng = np.random.default_rng(1)
    mean = js.poles_from_dip(40, 70)[0]
    rock = make_rock([(mean, 30.0, 1.0)], 0.0, 40.0, rng)
    line, number = js.lines_from_trend(10, 65)[0], 0
    for _ in range(40):
        number += len(meet(rock, rng.uniform(0, 40, 3), line, 39.0)[0])
    frequency = rock.p32(0) * np.abs(rock.normals @ line).mean()
    # About a thousand discs are met, some of them by neighbouring lines.
    assert number / (40 * 39.0) == pytest.approx(frequency, rel=0.12)


def test_p32_and_spacing_of_the_rock_come_back() -> None:
    """From holes through discs the likelihood gives P32, and pooled short holes the spacing."""
    rng = np.random.default_rng(2)
    mean, ratio, pieces = js.poles_from_dip(35, 120)[0], [], []
    lines = js.lines_from_trend([0, 300], [90, 50])
    exposure = js.LineExposure(lines, [39.0, 39.0])
    for _ in range(12):
        rock = make_rock([(mean, 60.0, 1.2)], 0.0, 40.0, rng)
        poles, at = [], []
        for line in lines:
            depth, index = meet(rock, rng.uniform(0, 40, 3), line, 39.0)
            poles.append(rock.normals[index])
            at.append(np.repeat(line[np.newaxis], len(index), axis=0))
        found = js.sets.p32_estimates(np.vstack(poles), np.vstack(at), exposure)
        ratio.append(found.best.p32_per_m / rock.p32(0))
        truth = true_spacing(rock, 0, mean, rng)
        for _ in range(20):
            depth, _ = meet(rock, rng.uniform(0, 40, 3), mean, 5.0 * truth)
            log = js.line.set_spacing(depth / truth, mean, mean, logged=[(0, 5.0)])
            pieces.append(log)
    assert abs(np.mean(ratio) - 1) < 3.5 * np.std(ratio) / np.sqrt(12)
    pooled = js.line.pool_spacings(pieces)
    assert pooled.mean_m == pytest.approx(1.0, rel=3.5 / np.sqrt(pooled.n_fractures))
    assert pooled.mean_complete_m < 0.9
