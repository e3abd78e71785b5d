"""What holds whatever the input: geometry, exposure, fit, spacing, tables and pages."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

import jointstats as js
from jointstats.fit.data import FitData
from jointstats.fit.fitting import run_em
from jointstats.fit.likelihood import RoundSets, log_prior

SEEDS = st.integers(0, 2**31)
few = settings(max_examples=25, deadline=None, derandomize=True)


def _axes(seed: int, n: int) -> np.ndarray:
    rows = np.random.default_rng(seed).normal(size=(n, 3))
    return rows / np.linalg.norm(rows, axis=1, keepdims=True)


@few
@given(SEEDS, st.floats(0, 60), st.floats(0, 25))
def test_exposure_adds_up_and_never_grows_with_the_blind_angle(
    seed: int, blind: float, more: float
) -> None:
    """Exposure of two lots of pieces is the sum of both, scales with length, and falls with ψ."""
    rng = np.random.default_rng(seed)
    directions, lengths, poles = _axes(seed, 5), rng.uniform(1, 80, 5), _axes(seed + 1, 40)
    whole = js.LineExposure(directions, lengths, blind_angle_deg=blind)
    parts = [
        js.LineExposure(directions[own], lengths[own], blind_angle_deg=blind)
        for own in (slice(0, 2), slice(2, 5))
    ]
    np.testing.assert_allclose(whole.at(poles), sum(one.at(poles) for one in parts), rtol=1e-12)
    set_mean, kappa = poles[0], float(rng.uniform(5, 200))
    together = sum(one.of_set(set_mean, kappa) for one in parts)
    assert whole.of_set(set_mean, kappa) == pytest.approx(together, rel=1e-9)
    twice = js.LineExposure(directions, 2 * lengths, blind_angle_deg=blind)
    np.testing.assert_allclose(twice.at(poles), 2 * whole.at(poles), rtol=1e-12)
    narrower = js.LineExposure(directions, lengths, blind_angle_deg=blind + more)
    assert (narrower.at(poles) <= whole.at(poles) + 1e-12).all()


@few
@given(SEEDS, st.floats(1, 89), st.floats(0, 359), st.floats(-80, 80))
def test_a_core_reading_turns_with_the_hole(
    seed: int, alpha: float, beta: float, plunge: float
) -> None:
    """Turning the hole about the vertical turns the plane; α is its angle to the hole."""
    turn = float(np.random.default_rng(seed).uniform(0, 360))
    first, second = (
        js.orient_core(alpha, beta, trend % 360, plunge, "low side")[0] for trend in (70, 70 + turn)
    )
    turned = Rotation.from_rotvec([0, 0, -np.radians(turn)]).apply(first)
    assert abs(turned @ second) == pytest.approx(1.0, abs=1e-9)
    hole = js.lines_from_trend(70, plunge)[0]
    assert np.degrees(np.arcsin(min(abs(first @ hole), 1.0))) == pytest.approx(alpha, abs=1e-6)


@few
@given(SEEDS, st.floats(0, 89), st.floats(0, 359))
def test_levelling_the_bedding_keeps_angles(seed: int, dip: float, direction: float) -> None:
    """Bringing the bedding to level is a turn: angles between planes stay, the bedding is level."""
    poles = _axes(seed, 6)
    level = js.tilt_correct(poles, dip, direction)
    np.testing.assert_allclose(np.abs(level @ level.T), np.abs(poles @ poles.T), atol=1e-12)
    bed = js.tilt_correct(js.poles_from_dip(dip, direction), dip, direction)[0]
    assert abs(bed[2]) == pytest.approx(1.0, abs=1e-12)


@few
@given(SEEDS, st.integers(1, 4))
def test_the_likelihood_never_falls(seed: int, sets: int) -> None:
    """From any start each step of EM raises the likelihood with its prior, or leaves it."""
    rng = np.random.default_rng(seed)
    exposure = js.LineExposure(_axes(seed, 3), rng.uniform(20, 80, 3), blind_angle_deg=10.0)
    rows = _axes(seed + 1, 400)
    rows = rows[rng.uniform(size=400) < exposure.at(rows) / exposure.total_m]
    data = FitData(rows, np.ones(len(rows)), exposure)
    at = RoundSets(_axes(seed + 2, sets), rng.uniform(5, 60, sets), np.full(sets, 0.2), 0.3)
    values = []
    for _ in range(6):
        fit = run_em(data, at, max_iter=1, tol=0.0)
        at = fit.parameters
        values.append(fit.log_likelihood + log_prior(at, exposure))
    assert (np.diff(values) >= -1e-8 * max(abs(values[0]), 1.0)).all()


@few
@given(SEEDS, st.integers(0, 12), st.floats(-500, 500))
def test_spacings_make_up_the_log(seed: int, n: int, shift: float) -> None:
    """Complete, censored and empty lengths sum to the log, wherever it begins; order is nothing."""
    rng = np.random.default_rng(seed)
    logged = [(0.0, 10.0), (14.0, 40.0)]
    depth = np.concatenate([rng.uniform(0, 10, n // 2), rng.uniform(14, 40, n - n // 2)])
    mean, hole = _axes(seed, 1)[0], _axes(seed + 1, 1)[0]
    found = js.line.set_spacing(depth, hole, mean, logged=logged)
    parts = (found.spacings_m, found.censored_m, found.empty_m)
    assert sum(one.sum() for one in parts) == pytest.approx(36.0 * abs(mean @ hole), rel=1e-9)
    moved = js.line.set_spacing(
        rng.permutation(depth) + shift + 600, hole, mean,
        logged=[(low + shift + 600, high + shift + 600) for low, high in logged],
    )
    np.testing.assert_allclose(moved.spacings_m, found.spacings_m, atol=1e-9)


_words = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Zs")), min_size=1, max_size=12
)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(SEEDS, st.lists(_words, min_size=1, max_size=6), st.sampled_from(["csv", "xlsx"]))
def test_a_written_site_reads_back(
    tmp_path_factory: pytest.TempPathFactory, seed: int, remarks: list[str], kind: str
) -> None:
    """Names, words and digits of any kind come back from CSV and from a workbook; so does each row."""
    rng, n = np.random.default_rng(seed), len(remarks)
    holes = pd.DataFrame({"hole": ["B"], "length_m": 60.0, "trend_deg": 12.0, "plunge_deg": 80.0})
    fractures = pd.DataFrame(
        {
            "hole": "B",
            "depth_m": np.sort(rng.uniform(0, 60, n)),
            "dip_deg": rng.uniform(0, 90, n),
            "dip_direction_deg": rng.uniform(0, 360, n),
            "remark": remarks,
        }
    )
    site = js.Site.from_frames(holes, fractures)
    again = js.read_site(js.write_site(site, tmp_path_factory.mktemp("site") / f"out.{kind}"))
    assert len(again.fractures) == n
    pd.testing.assert_frame_equal(again.fractures, site.fractures, check_dtype=False)


def test_figures_of_the_page_are_those_of_the_record(tmp_path: Path) -> None:
    """P32, dip, direction and number of each set on the first screen are those of sets.json."""
    page = js.write_report(js.analyse(js.simulate_site(random_state=2)), tmp_path)
    record = json.loads((tmp_path / "sets.json").read_text(encoding="utf-8"))
    text = page.read_text(encoding="utf-8")
    table = text[text.index('aria-label="The sets"') :]
    rows = re.findall(r"<tr role=\"row\" data-slot.*?</tr>", table[: table.index("</table>")], re.S)
    assert len(rows) == len(record["sets"])
    for row, one in zip(rows, record["sets"], strict=True):
        main = [unescape(cell) for cell in re.findall(r"<b>(.*?)</b>", row)]
        dip, direction = re.findall(r"[\d.]+", main[0])
        assert float(dip) == pytest.approx(one["dip_deg"], abs=0.5)
        assert float(direction) % 360 == pytest.approx(one["dip_direction_deg"] % 360, abs=0.5)
        assert float(main[1]) == pytest.approx(one["p32_per_m"], rel=0.05)
        assert int(main[4]) == one["n"]
