"""Values of a wrong kind, wherever they are given: one InputError that says what was given."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

import jointstats as js

POLES = js.poles_from_dip(np.linspace(20, 80, 12), np.linspace(0, 300, 12))
ONES = np.ones(12)
SITE = js.simulate_site(holes=[(0, 60, 30)], random_state=1)
HOLES = pd.DataFrame({"hole": ["B"], "trend_deg": [1.0], "plunge_deg": [60.0], "length_m": [9.0]})
ROWS = pd.DataFrame({"hole": ["B"], "depth_m": [1.0]})
POLE_FUNCTIONS: list[Callable[[object], object]] = [
    js.fisher_statistics,
    js.orientation_tensor,
    js.pole_density,
    js.dip_from_poles,
    js.trend_from_lines,
    js.sphere.uniformity_test,
    js.sphere.fisher_fit_test,
    js.sphere.fit_watson,
    js.sphere.fit_bingham,
    js.sphere.fit_kent,
    lambda poles: js.terzaghi_weights(poles, POLES[0]),
    lambda poles: js.tilt_correct(poles, 10, 20),
    lambda poles: js.LineExposure(poles, ONES),
    lambda poles: js.sphere.common_mean_test(poles, POLES),
    lambda poles: js.JointSetMixture(1).fit(poles),
]
WRONG_POLES = {
    "masked": np.ma.masked_array(POLES, mask=np.arange(36).reshape(12, 3) % 5 == 0),
    "complex": POLES + 0j,
    "text": "poles",
    "numbers as text": [["1", "0", "0"], ["0", "1", "0"]],
    "dates": np.full((3, 3), np.datetime64("2020-01-01")),
    "a dict": {"dip": 3},
    "nothing": None,
    "ragged": [[1, 0, 0], [1, 0]],
}


@pytest.mark.parametrize("what", WRONG_POLES)
@pytest.mark.parametrize("function", POLE_FUNCTIONS, ids=lambda one: one.__name__)
def test_what_are_no_poles_are_refused(function: Callable[[object], object], what: str) -> None:
    """Masked, complex or text values are told, not cast, filled in or passed on."""
    with pytest.raises(js.InputError) as caught:
        function(WRONG_POLES[what])
    assert len(str(caught.value)) < 400


NO_NUMBERS = {"masked": np.ma.masked_array(ONES, mask=ONES == 1), "complex": ONES * 1j, "text": "x"}


@pytest.mark.parametrize("what", NO_NUMBERS)
@pytest.mark.parametrize(
    "function",
    [
        lambda x: js.poles_from_dip(x, ONES),
        lambda x: js.lines_from_trend(ONES, x),
        lambda x: js.orient_core(x, ONES, ONES, ONES, reference="low side"),
        lambda x: js.HolePath(x, ONES, ONES),
        lambda x: js.LineExposure(POLES, x),
        lambda x: js.fisher_statistics(POLES, x),
        lambda x: js.line.volumetric_joint_count(x),
        lambda x: js.tilt_correct(POLES, x, ONES),
    ],
    ids=range(8),
)
def test_what_are_no_numbers_are_refused(function: Callable[[object], object], what: str) -> None:
    """The same of angles, depths, lengths and weights."""
    with pytest.raises(js.InputError, match="must be numbers|masked values"):
        function(NO_NUMBERS[what])


@pytest.mark.parametrize(
    "call",
    [
        lambda: js.analyse({"holes": 1}),
        lambda: js.analyse("examples/dam_site"),
        lambda: js.analyse(SITE, 1, confidence="95"),
        lambda: js.analyse(SITE, 1, blind_angle_deg="10"),
        lambda: js.analyse(SITE, 1, blind_angle_deg=89.999),
        lambda: js.analyse(SITE, 2.5),
        lambda: js.compare_holes("site"),
        lambda: js.match_core_to_image(None, "H1"),
        lambda: js.analyse_many(3),
        lambda: js.analyse_many(SITE, n_jobs=0),
        lambda: js.analyse_many(SITE, n_jobs="all"),
        lambda: js.simulate_site(holes="H1"),
        lambda: js.simulate_site(sets=[(1, 2)]),
        lambda: js.read_site(None),
        lambda: js.read_site(3),
        lambda: js.read_site("a\0b"),
        lambda: js.read_site("a" * 5000),
        lambda: js.write_report("result", "out"),
        lambda: js.write_report(js.analyse(SITE, 1), None),
        lambda: js.Site.from_frames({"hole": ["B"]}, {"hole": ["B"]}),
        lambda: js.Site.from_frames(None, None),
        lambda: js.Site.from_frames(HOLES, ROWS, settings={"north": "grid"}),
        lambda: js.Site.from_frames(HOLES, ROWS, name=3),
        lambda: js.Site.from_frames(HOLES, ROWS.assign(depth_m=[[1, 2]])),
        lambda: js.Site.from_frames(HOLES, ROWS.assign(depth_m=1 + 1j)),
        lambda: js.Site.from_frames(HOLES, ROWS.assign(depth_m=pd.Timestamp("2020-01-01"))),
    ],
    ids=range(26),
)
def test_a_wrong_argument_is_one_short_error(call: Callable[[], object]) -> None:
    """Whatever is no site, no frame, no path or no number gives one error of ours."""
    with pytest.raises(js.InputError) as caught:
        call()
    assert 10 < len(str(caught.value)) < 400


@pytest.mark.parametrize(
    "state",
    [0, None, np.int64(3), [1, 2], *(make(5) for make in (
        np.random.default_rng, np.random.RandomState, np.random.SeedSequence, np.random.PCG64))],
    ids=lambda one: type(one).__name__,
)
def test_every_kind_of_random_state_makes_a_record(state: object) -> None:
    """A seed, or a source of random numbers of any kind, is taken by the main job."""
    result = js.analyse(SITE, 1, random_state=state)
    seed = result.settings["random_state"]
    assert seed is None or isinstance(seed, int)
    if seed is not None:
        assert js.analyse(SITE, 1, random_state=seed).to_frame().equals(result.to_frame())


@pytest.mark.parametrize("state", ["x", -1, 1.5, object(), 2**40])
def test_what_is_no_random_state_is_refused(state: object) -> None:
    """Text, negative and broken numbers are refused in the words of the package."""
    with pytest.raises(js.InputError, match="random_state must be"):
        js.JointSetMixture(1, random_state=state).fit(POLES)
