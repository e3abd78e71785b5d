"""Merging, splitting and taking out sets."""

from __future__ import annotations

import numpy as np
import pytest

import jointstats as js

RESULT = js.analyse(js.simulate_site(random_state=1), domains="none")


def test_a_set_split_and_merged_again_is_the_same_set() -> None:
    """The two halves of a set, merged, have its mean, κ and P32 again."""
    halves = js.split_set(RESULT, "J1")
    assert len(halves.sets) == 4
    mean = RESULT.sets[0].mean
    near = sorted(halves.sets, key=lambda one: js.axis_angles_deg(one.mean, mean)[0])[:2]
    whole = js.merge_sets(halves, near[0].name, near[1].name)
    for one, other in zip(RESULT.sets, whole.sets, strict=True):
        assert js.axis_angles_deg(one.mean, other.mean)[0] < 0.1
        assert one.p32_per_m == pytest.approx(other.p32_per_m, rel=0.01)
        assert one.kappa == pytest.approx(other.kappa, rel=0.02)


def test_two_true_sets_under_one_are_parted() -> None:
    """Two sets 30° apart that were fitted as one come apart where they are."""
    truth = [(60.0, 100.0, 60.0, 1.2), (60.0, 135.0, 60.0, 1.0)]
    site = js.simulate_site(truth, random_state=3)
    one = js.analyse(site, 1, domains="none")
    parted = js.split_set(one, "J1")
    means = js.poles_from_dip([60.0, 60.0], [100.0, 135.0])
    away = [min(js.axis_angles_deg(mean, found.mean)[0] for found in parted.sets) for mean in means]
    assert max(away) < 4.0


def test_a_result_after_a_step_reports_like_any_other() -> None:
    """Fractures, counts, draws and cautions are there, and every fracture is counted once."""
    less = js.refit_without(RESULT, "J2")
    assert less.counts.total == len(less.fractures) == RESULT.counts.total
    assert len(less.draws(3)) == 3 and less.settings["steps"] == ("remove J2",)
    assert np.isfinite(less.to_frame()["p32_per_m"]).all()


def test_what_can_not_be_done_is_refused() -> None:
    """Sets that are not there, one set merged with itself, and a set of few fractures."""
    with pytest.raises(js.InputError, match="no set 'J7'; the sets are J1, J2, J3"):
        js.merge_sets(RESULT, "J1", "J7")
    with pytest.raises(js.InputError, match="merge takes 2"):
        js.merge_sets(RESULT, "J1", "J1")
    few = js.simulate_site([(30, 20, 40, 0.3)], [(0, 90, 15)], random_state=4)
    small = js.analyse(few, 1, domains="none")
    assert small.sets[0].n < 6
    with pytest.raises(js.InputError, match="to be split it needs 6"):
        js.split_set(small, "J1")
