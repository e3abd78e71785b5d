"""Score and information: exact forms against finite differences of the likelihood."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.fit.information import score_and_information, tangent_frames, turned
from jointstats.fit.likelihood import RoundSets, log_likelihood, log_prior

PARAMETERS = RoundSets(
    js.poles_from_dip([62, 80, 15], [135, 20, 300]),
    np.array([12.0, 30.0, 6.0]),
    np.array([1.1, 0.7, 0.4]),
    0.3,
)
FRAMES = tangent_frames(PARAMETERS.means)


@pytest.fixture(scope="module")
def rows() -> np.ndarray:
    values = np.random.default_rng(3).normal(size=(90, 3))
    return values / np.linalg.norm(values, axis=1, keepdims=True)


WEIGHTS = np.random.default_rng(4).uniform(0.2, 2.0, 90)


@pytest.mark.parametrize(
    "exposure",
    [None, js.LineExposure(js.lines_from_trend([0, 315], [90, 50]), [60.0, 40.0])],
    ids=["none", "two holes"],
)
def test_score_and_information_are_derivatives(rows: np.ndarray, exposure: object) -> None:
    """The score is the slope of likelihood and prior, the information minus that of the score."""

    def value(change: np.ndarray) -> float:
        moved = turned(PARAMETERS, FRAMES, change)
        return log_likelihood(rows, WEIGHTS, moved, exposure) + log_prior(moved, exposure)

    score, information = score_and_information(rows, WEIGHTS, PARAMETERS, exposure, FRAMES)
    size, h = len(score), 2e-3
    steps = h * np.eye(size)
    slope = [(value(step) - value(-step)) / (2 * h) for step in steps]
    np.testing.assert_allclose(score, slope, rtol=1e-3, atol=2e-3)
    curve = np.array(
        [[value(a + b) - value(a - b) - value(b - a) + value(-a - b) for b in steps] for a in steps]
    ) / (4 * h * h)
    np.testing.assert_allclose(information, -curve, rtol=2e-3, atol=0.05)


def test_blocks_of_rows_add_up(rows: np.ndarray) -> None:
    """More rows than one block holds give the sum over all rows."""
    many = np.tile(rows, (100, 1))
    once = score_and_information(rows, np.ones(90), PARAMETERS, None, FRAMES)
    often = score_and_information(many, np.ones(9000), PARAMETERS, None, FRAMES)
    none = score_and_information(rows[:0], np.ones(0), PARAMETERS, None, FRAMES)
    for one, hundred, zero in zip(once, often, none, strict=True):
        np.testing.assert_allclose(hundred - zero, 100 * (one - zero), rtol=1e-9, atol=1e-8)
