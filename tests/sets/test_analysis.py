"""The main job on known truth: every fracture accounted for, every figure in its place."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import jointstats as js
from jointstats.borehole.hole import Hole, LoggedInterval
from jointstats.errors import InputError
from jointstats.sphere.axes import rotation_about

DEMO = Path(__file__).resolve().parents[2] / "examples" / "dam_site"


@pytest.fixture(scope="module")
def demo() -> js.SiteAnalysis:
    return js.analyse(js.read_site(DEMO), random_state=0)


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))


def test_demo_sets_lie_within_their_intervals(demo: js.SiteAnalysis, truth: dict) -> None:
    """Each true set of the invented site is found, with mean, κ and P32 in the 95 % intervals."""
    assert len(demo.sets) == len(truth["sets"])
    for true in truth["sets"]:
        pole = js.poles_from_dip(true["dip_deg"], true["dip_direction_deg"])[0]
        angles = [js.axis_angles_deg(one.mean, pole)[0] for one in demo.sets]
        found = demo.sets[int(np.argmin(angles))]
        assert min(angles) < found.cone_deg
        assert found.kappa_interval[0] < true["kappa"] < found.kappa_interval[1]
        assert found.p32_interval[0] < true["p32_per_m"] < found.p32_interval[1]
    low, high = demo.background_interval
    assert low < truth["background_p32_per_m"] < high


def test_every_fracture_is_accounted_for_once(demo: js.SiteAnalysis) -> None:
    """The five fates add up to the number of rows, and agree with the table."""
    counts = demo.counts
    fates = [
        counts.in_a_set,
        counts.unassigned,
        counts.below_blind_angle,
        counts.not_oriented,
        counts.other_method,
        counts.paired,
        counts.not_included,
    ]
    assert sum(fates) == counts.total == len(demo.fractures) == len(demo.site.fractures)
    status = demo.fractures["status"].value_counts()
    assert status["in a set"] == counts.in_a_set == sum(one.n for one in demo.sets)
    assert status["not oriented"] == counts.not_oriented > 0


def test_input_columns_are_kept(demo: js.SiteAnalysis) -> None:
    """The fracture table keeps its columns and order, and adds orientation, set and membership."""
    given = demo.site.fractures
    pd.testing.assert_frame_equal(demo.fractures[list(given.columns)], given)
    member = demo.fractures["membership"].dropna()
    assert ((member >= 0) & (member <= 1)).all()


def test_sets_are_in_order_of_p32(demo: js.SiteAnalysis) -> None:
    """J1 has the largest P32, and the frame has one row a set."""
    p32 = [one.p32_per_m for one in demo.sets]
    assert p32 == sorted(p32, reverse=True)
    assert [one.name for one in demo.sets] == ["J1", "J2", "J3"]
    assert demo.to_frame()["p32_per_m"].tolist() == p32


def test_hole_figures_come_from_plain_counts(demo: js.SiteAnalysis) -> None:
    """P10 is every counted fracture over the logged length; sets and rest add up to the count."""
    core = demo.holes.set_index("hole").loc["D3"]
    assert core["logged_m"] == pytest.approx(29.0 + 30.5)
    rows = demo.fractures[demo.fractures["hole"] == "D3"]
    assert core["n"] == len(rows)
    assert core["p10_per_m"] == pytest.approx(len(rows) / 59.5)
    assert core["p10_low_per_m"] < core["p10_per_m"] < core["p10_high_per_m"]
    in_sets = sum(int(one.holes.set_index("hole").loc["D3", "n"]) for one in demo.sets)
    assert in_sets == (rows["set"].str.startswith("J")).sum()


def test_lost_core_breaks_the_spacings(demo: js.SiteAnalysis) -> None:
    """No spacing of the cored hole bridges the lost length: they are fewer than neighbours."""
    for one in demo.sets:
        own = demo.fractures[demo.fractures["set"] == one.name]
        runs = 0
        for hole, rows in own.groupby("hole"):
            depth = rows["depth_m"].to_numpy()
            parts = [depth[depth < 33], depth[depth > 33]] if hole == "D3" else [depth]
            runs += sum(max(len(part) - 1, 0) for part in parts)
        assert one.spacing.n == runs


def test_classical_and_likelihood_p32_agree_away_from_the_blind_zone(demo: js.SiteAnalysis) -> None:
    """For a set that all holes cross well, Terzaghi weights give nearly the same P32."""
    first = demo.sets[0]
    assert first.seen_share > 0.99
    assert first.p32_weighted_per_m == pytest.approx(first.p32_per_m, rel=0.1)


def test_rotation_of_everything_turns_the_answer() -> None:
    """Holes and rock turned together about the vertical give the same sets, turned."""
    holes = ((0.0, 90.0, 80.0), (315.0, 55.0, 70.0), (200.0, 50.0, 70.0))
    site = js.simulate_site(holes=holes, random_state=3)
    fractures = site.fractures.assign(
        dip_direction_deg=(site.fractures["dip_direction_deg"] + 40.0) % 360
    )
    paths = [js.HolePath([0.0], [(trend + 40) % 360], [plunge]) for trend, plunge, _ in holes]
    turned = tuple(replace(hole, path=path) for hole, path in zip(site.holes, paths, strict=True))
    base = js.analyse(site)
    other = js.analyse(replace(site, holes=turned, fractures=fractures))
    matrix = rotation_about([0, 0, 1.0], np.radians(-40))
    for one, two in zip(base.sets, other.sets, strict=True):
        assert js.axis_angles_deg(matrix @ one.mean, two.mean)[0] < 1e-3
        assert two.p32_per_m == pytest.approx(one.p32_per_m, rel=1e-4)


def test_a_fracture_that_two_methods_saw_counts_once() -> None:
    """A length logged twice alike gives the sets of one log, and each pair its second row."""
    site = js.simulate_site(random_state=5)
    first = site.holes[0]
    both = replace(first, logged=first.logged + (LoggedInterval(0.0, 80.0, "core"),))
    again = site.fractures[site.fractures["hole"] == first.name].assign(method="core")
    fractures = pd.concat([site.fractures, again], ignore_index=True)
    twice = js.analyse(replace(site, holes=(both, *site.holes[1:]), fractures=fractures))
    once = js.analyse(site)
    assert twice.counts.paired == len(again)
    assert twice.sampling.logged_m == once.sampling.logged_m
    for one, two in zip(once.sets, twice.sets, strict=True):
        # A pair is taken by its probability, and so is what neither saw.
        assert two.p32_per_m == pytest.approx(one.p32_per_m, rel=0.01)


@pytest.mark.parametrize("n", [0, 1, 2])
def test_few_fractures_give_an_answer(n: int) -> None:
    """No, one or two fractures give a result without a set, and finite figures."""
    site = js.simulate_site(random_state=2)
    result = js.analyse(replace(site, fractures=site.fractures.iloc[:n].reset_index(drop=True)))
    assert len(result.sets) == 0
    assert result.counts.total == n
    assert np.isfinite(result.background_per_m)
    assert len(result.to_frame()) == 0


def test_results_show_what_they_hold(demo: js.SiteAnalysis) -> None:
    """The repr and the notebook view name the sets and what became of the fractures."""
    assert "3 sets" in repr(demo) and "not oriented" in repr(demo)
    assert "J1: round, dip 35" in repr(demo.sets[0])
    assert "<table" in demo._repr_html_()
    assert demo.sets[0].to_frame().shape[0] == 1


def test_a_fit_that_stops_early_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the iteration ends before it has converged, a note says so."""
    fit = js.JointSetMixture.fit

    def stopped(self: js.JointSetMixture, *args: object, **kwargs: object) -> js.JointSetMixture:
        fit(self, *args, **kwargs)
        self.converged_ = False
        return self

    monkeypatch.setattr(js.JointSetMixture, "fit", stopped)
    assert any(
        "before it had converged" in note
        for note in js.analyse(js.simulate_site(random_state=1)).notes
    )


def test_a_site_without_logged_lengths_is_refused() -> None:
    """Where nothing was logged, nothing was sampled."""
    site = js.simulate_site(random_state=1)
    holes: tuple[Hole, ...] = tuple(replace(hole, logged=()) for hole in site.holes)
    with pytest.raises(InputError, match="has no logged length, so nothing was sampled"):
        js.analyse(replace(site, holes=holes))


def test_the_analyst_names_and_holds_a_set() -> None:
    """A given set keeps its name and its mean; the others are found beside it."""
    site = js.simulate_site(random_state=1)
    bedding = js.GivenSet(14, 295, name="bedding", hold=True)
    result = js.analyse(site, given=[bedding])
    own = next(one for one in result.sets if one.name == "bedding")
    assert (own.dip_deg, own.dip_direction_deg) == pytest.approx((14, 295))
    assert len(result.sets) == 3
    assert set(result.fractures["set"]) <= {"bedding", "J1", "J2", "J3", "unassigned", ""}


def test_only_fractures_of_a_kind_join_a_given_set() -> None:
    """Where a given set takes one type only, no fracture of another type is in it."""
    site = js.simulate_site(random_state=1)
    kinds = np.where(np.arange(len(site.fractures)) % 2, "bedding", "joint")
    site = replace(site, fractures=site.fractures.assign(type=kinds))
    beds = js.GivenSet(12, 300, name="beds", only={"type": ["bedding"]})
    result = js.analyse(site, 1, given=[beds])
    own = result.fractures[result.fractures["set"] == "beds"]
    assert set(own["type"]) == {"bedding"} and len(own) > 10


def test_a_given_set_that_nothing_can_join_is_refused() -> None:
    """A place, an unknown value, or values that never meet leave a given set with nothing to say."""
    site = js.simulate_site(random_state=1)
    kinds = ["bedding", *["joint"] * (len(site.fractures) - 1)]
    site = replace(site, fractures=site.fractures.assign(type=kinds, infilling="clay"))
    for only, rule in (
        ({"hole": ["H1"]}, "exposure of that part alone"),
        ({"type": ["vein"]}, "type 'vein' only, which no fracture has"),
    ):
        with pytest.raises(InputError, match=rule):
            js.analyse(site, given=[js.GivenSet(35, 150, only=only)])


def test_a_given_set_of_no_fracture_lies_in_its_own_interval() -> None:
    """P32 of a set that hardly a fracture joins is inside the interval that is given for it."""
    result = js.analyse(js.simulate_site(random_state=1), given=[js.GivenSet(88, 10, hold=True)])
    for one in result.sets:
        assert one.p32_interval[0] <= one.p32_per_m <= one.p32_interval[1]


def test_a_set_can_be_taken_out() -> None:
    """The fit without one set has the others, and refuses a set that is not there."""
    result = js.analyse(js.simulate_site(random_state=1))
    less = js.refit_without(result, "J2")
    assert len(less.sets) == 2
    assert js.axis_angles_deg(less.sets[0].mean, result.sets[0].mean)[0] < 5
    with pytest.raises(InputError, match="there is no set 'J9'; the sets are J1, J2, J3"):
        js.refit_without(result, "J9")


def test_a_column_that_is_not_there_is_named() -> None:
    """A given set that asks for an unknown column says which columns there are."""
    site = js.simulate_site(random_state=1)
    with pytest.raises(InputError, match="names the column 'kind', which the fracture table lacks"):
        js.analyse(site, given=[js.GivenSet(12, 300, only={"kind": ["bed"]})])


def test_unlogged_lengths_hide_fractures_in_proportion() -> None:
    """Half of a hole left unlogged hides as many fractures as the logged half is expected to show."""
    site = js.simulate_site(holes=[(0.0, 90.0, 80.0), (90.0, 45.0, 80.0)], random_state=4)
    holes = tuple(
        replace(hole, logged=(LoggedInterval(0.0, 40.0, "image"),)) for hole in site.holes
    )
    upper = site.fractures[site.fractures["depth_m"] <= 40].reset_index(drop=True)
    result = js.analyse(replace(site, holes=holes, fractures=upper), blind_angle_deg=0.0)
    for one in result.sets:
        assert one.n_unlogged == pytest.approx(one.n_expected, rel=1e-6)


def test_spacing_is_as_uncertain_as_the_rock_is_uneven(result: js.SiteAnalysis) -> None:
    """The interval of the mean spacing is widened as that of P32 is against even rock."""
    one = replace(result.sets[0], p32_interval=(0.5, 2.0), p32_even_interval=(1.0, 1.6))
    low, high = one.spacing.mean_interval_m
    assert one.spacing_interval_m == pytest.approx((low * 1.6 / 2.0, high * 1.0 / 0.5))
    even = replace(one, p32_interval=one.p32_even_interval)
    assert even.spacing_interval_m == pytest.approx((low, high))
