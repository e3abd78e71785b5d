"""P32 by three estimators, and unoriented fractures shared out."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.sets.intensity import p32_estimates
from jointstats.sphere.axes import rotation_about


def _met(
    rng: np.random.Generator, mean: np.ndarray, kappa: float, p32: float, holes: list[tuple]
) -> tuple[np.ndarray, np.ndarray]:
    """Poles met by holes, by chance |n · d|, and the hole direction at each."""
    poles, lines = [], []
    for line, length in holes:
        drawn = js.sphere.AxialFisher(mean, kappa).rvs(rng.poisson(p32 * length), rng)
        hit = rng.random(len(drawn)) < np.abs(drawn @ line)
        poles.append(drawn[hit])
        lines.append(np.repeat(line[np.newaxis], int(hit.sum()), axis=0))
    return np.vstack(poles), np.vstack(lines)


HOLES = [(js.lines_from_trend(0, 90)[0], 80.0), (js.lines_from_trend(270, 60)[0], 60.0)]
EXPOSURE = js.LineExposure([line for line, _ in HOLES], [length for _, length in HOLES])


def test_well_seen_set_by_all_three() -> None:
    """For a set that every hole sees well the three estimators are unbiased and cover."""
    rng = np.random.default_rng(1)
    mean, values, hits = js.poles_from_dip(30, 100)[0], [], []
    for _ in range(40):
        poles, lines = _met(rng, mean, 60.0, 1.0, HOLES)
        found = p32_estimates(poles, lines, EXPOSURE)
        values.append([one.p32_per_m for one in found.estimates])
        hits.append([one.interval[0] <= 1 <= one.interval[1] for one in found.estimates])
    error = np.std(values, axis=0) / np.sqrt(40)
    assert (np.abs(np.mean(values, axis=0) - 1) < 3.5 * error).all()
    assert (np.mean(hits, axis=0) > 0.85).all()


def test_set_in_the_blind_zone() -> None:
    """For a set half hidden from one hole the likelihood is right and the weights are not."""
    rng = np.random.default_rng(2)
    mean, values = js.poles_from_dip(86, 90)[0], []
    for _ in range(30):
        poles, lines = _met(rng, mean, 40.0, 1.2, HOLES)
        found = p32_estimates(poles, lines, EXPOSURE)
        values.append([one.p32_per_m / 1.2 for one in found.estimates])
    bias = np.mean(values, axis=0) - 1
    error = np.std(values, axis=0) / np.sqrt(30)
    assert abs(bias[2]) < 0.08 + 2 * error[2]
    assert bias[0] < -0.1
    assert found.recommended == "likelihood"
    assert found.best.p32_per_m == found.estimates[2].p32_per_m
    assert "above the blind angle" in found.reason
    assert found.to_frame()["recommended"].sum() == 1


def test_invariance() -> None:
    """Flipping, reordering and turning everything together keep the estimates."""
    rng = np.random.default_rng(3)
    poles, lines = _met(rng, js.poles_from_dip(50, 10)[0], 40.0, 1.0, HOLES)
    turn, order = rotation_about([1, 2, 3], 0.6), rng.permutation(len(poles))
    first = p32_estimates(poles, lines, EXPOSURE)
    turned = js.LineExposure(EXPOSURE.directions @ turn.T, EXPOSURE.lengths_m)
    second = p32_estimates(-poles[order] @ turn.T, lines[order] @ turn.T, turned)
    for one, two in zip(first.estimates, second.estimates, strict=True):
        assert two.p32_per_m == pytest.approx(one.p32_per_m, rel=1e-4)


def test_errors() -> None:
    """Too few fractures are named."""
    with pytest.raises(InputError, match="at least 3 fractures above the blind angle of 10°"):
        p32_estimates([[0, 0, 1]], [[0, 0, 1]], EXPOSURE)
