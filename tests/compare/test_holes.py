"""Comparing holes: one rock told from two, parts against general-purpose libraries, domains."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import jointstats as js
from jointstats.recipe.recipe import Recipe, Step
from jointstats.compare.condition import permutation_test
from jointstats.compare.counts import counts_by_set, expected_counts, poisson_ratio_test
from jointstats.compare.log_rank import gaps_between, log_rank_test
from jointstats.compare.set_matching import explained_absence
from jointstats.fit.likelihood import RoundSets
from jointstats.intervals import holm

ROCK = ((30.0, 100.0, 40.0, 1.2), (80.0, 200.0, 40.0, 0.9))
#: The same sets turned by 25° in dip.
OTHER = ((55.0, 100.0, 40.0, 1.2), (55.0, 200.0, 40.0, 0.9))


def joined(first: js.Site, second: js.Site) -> js.Site:
    """Two sites as one; the holes of the second are renamed."""
    names = {hole.name: f"K{i}" for i, hole in enumerate(second.holes, start=1)}
    holes = tuple(replace(hole, name=names[hole.name]) for hole in second.holes)
    table = second.fractures.assign(hole=second.fractures["hole"].map(names))
    whole = pd.concat([first.fractures, table], ignore_index=True)
    return replace(first, holes=first.holes + holes, fractures=whole)


@pytest.fixture(scope="module")
def two_domains() -> js.Site:
    """Two holes in one rock and two, of other directions, in another."""
    first = js.simulate_site(ROCK, [(0, 90, 40), (100, 50, 40)], random_state=3)
    return joined(first, js.simulate_site(OTHER, [(0, 80, 40), (20, 40, 40)], random_state=4))


@pytest.fixture(scope="module")
def compared(two_domains: js.Site) -> js.HoleComparison:
    """Their comparison."""
    return js.compare_holes(two_domains)


def test_two_rocks_are_told_apart(compared: js.HoleComparison) -> None:
    """Holes of two rocks are contradicted overall, and sorted into the two domains they are of."""
    assert compared.overall.pvalue <= 0.05
    assert compared.domains == (("H1", "H2"), ("K1", "K2"))
    matrix = compared.matrix()
    assert compared.matrix("pvalue").loc[["H1", "H2"], ["K1", "K2"]].to_numpy().max() < 0.05
    assert min(matrix.loc["H1", "H2"], matrix.loc["K1", "K2"]) > 0.05
    assert (matrix.to_numpy() == matrix.to_numpy().T).all()


def test_tables_account_for_every_fracture(compared: js.HoleComparison) -> None:
    """Counts sum to the fractures in the fit, and every set has a finding for every hole."""
    counts = compared.analysis.counts
    assert compared.counts["n"].sum() == counts.in_a_set + counts.unassigned
    matched = compared.matches[compared.matches["set"] != ""]
    assert len(matched) == len(compared.groups) * len(compared.analysis.sets)
    assert (compared.parts["pvalue_holm"] >= compared.parts["pvalue"]).all()
    assert len(compared.to_frame()) == 1 + len(compared.parts) + len(compared.pairs)
    assert "domains" in repr(compared)
    assert "<table" in compared._repr_html_()
    low, high = compared.estimates["p32_low_per_m"], compared.estimates["p32_high_per_m"]
    assert (low <= high).all()


def test_one_rock_in_holes_of_any_direction() -> None:
    """Three holes at right angles through one rock are not told apart, though counts differ."""
    site = js.simulate_site(ROCK, [(0, 90, 60), (90, 5, 60), (0, 5, 60)], random_state=1)
    found = js.compare_holes(site, draws=99)
    assert found.overall.pvalue > 0.05
    assert found.domains == (("H1", "H2", "H3"),)
    plain = found.counts.pivot(index="hole", columns="set", values="n").iloc[:, :2]
    assert stats.chi2_contingency(plain).pvalue < 0.001


def test_depth_intervals_take_the_place_of_holes(two_domains: js.Site) -> None:
    """One hole that passes from one rock into the other is cut where the domain ends."""
    holes = {hole.name: hole for hole in two_domains.holes}
    upper = two_domains.fractures[two_domains.fractures["hole"] == "H1"]
    path = holes["H1"].path
    rock = [(js.sphere.AxialFisher(js.poles_from_dip(d, w)[0], k), p) for d, w, k, p in OTHER]
    lower = js.borehole.simulate_fractures(path, [(40, 80)], rock, random_state=1)
    table = pd.concat([upper, lower.assign(hole="H1", method="image")], ignore_index=True)
    hole = replace(holes["H1"], length_m=80.0, logged=(js.borehole.LoggedInterval(0, 80, "image"),))
    site = replace(two_domains, holes=(hole,), fractures=table)
    found = js.compare_holes(site, cuts_m={"H1": [20, 40, 60]}, draws=19)
    assert found.domains == (("H1 0–20 m", "H1 20–40 m"), ("H1 40–60 m", "H1 60–80 m"))
    with pytest.raises(js.InputError, match="1 logged hole to compare"):
        js.compare_holes(site)


def test_flipped_and_reordered_rows_change_nothing(two_domains: js.Site) -> None:
    """The order of the fractures does not enter the statistic."""
    shuffled = two_domains.fractures.sample(frac=1.0, random_state=1).reset_index(drop=True)
    found = [
        js.compare_holes(one, draws=19).overall.statistic
        for one in (two_domains, replace(two_domains, fractures=shuffled))
    ]
    assert found[0] == pytest.approx(found[1], rel=0.02)


def test_expected_counts_by_simulation() -> None:
    """Expected counts of sorted fractures agree with the mean of simulated, sorted logs."""
    level, steep = js.poles_from_dip([5, 45], [0, 90])
    rock = RoundSets(np.array([level, steep]), np.array([15.0, 10.0]), np.array([2, 1.0]), 0.4)
    hole = js.LineExposure([js.lines_from_trend(40, 50)[0]], [50.0])
    sets = [(js.sphere.AxialFisher(level, 15.0), 2.0), (js.sphere.AxialFisher(steep, 10.0), 1.0)]
    path, generator = js.HolePath([0.0], [40.0], [50.0]), np.random.default_rng(1)
    logs = []
    for _ in range(400):
        table = js.borehole.simulate_fractures(
            path, [(0, 50)], sets, background_per_m=0.4, random_state=generator
        )
        poles = js.poles_from_dip(table["dip_deg"], table["dip_direction_deg"])
        logs.append(poles[hole.at(poles) > 0])
    counts = counts_by_set(logs, rock)
    error = counts.std(axis=0) / 20.0
    assert (np.abs(counts.mean(axis=0) - expected_counts(rock, [hole])[0]) < 4 * error).all()


def test_poisson_ratio_against_scipy() -> None:
    """Two counts: the exact binomial; three: near the chi-square of a large table."""
    expected = stats.binomtest(7, 27, 1 / 3).pvalue
    assert poisson_ratio_test([7, 20], [1.0, 2.0])[1] == pytest.approx(expected, rel=1e-12)
    statistic, p = poisson_ratio_test([210, 170, 200], [1.0, 1.0, 1.0])
    g = stats.power_divergence([210, 170, 200], lambda_="log-likelihood")
    assert statistic == pytest.approx(g.statistic, rel=1e-12)
    assert p == pytest.approx(g.pvalue, abs=0.015)
    assert poisson_ratio_test([0, 0], [1.0, 1.0]) == (0.0, 1.0)
    with pytest.raises(js.InputError, match="as many exposures as counts"):
        poisson_ratio_test([1], [1.0, 2.0])
    with pytest.raises(js.InputError, match="exposure of zero"):
        poisson_ratio_test([1, 1], [0.0, 1.0])


def test_log_rank_against_scipy() -> None:
    """Two samples with cut lengths: scipy's log-rank test, squared."""
    generator = np.random.default_rng(1)
    first, second = generator.exponential(1.0, 30), generator.exponential(1.6, 25)
    cut = generator.exponential(1.0, 8)
    found = log_rank_test([(first, cut), (second, [])])
    judge = stats.logrank(stats.CensoredData(first, right=cut), stats.CensoredData(second))
    assert found[0] == pytest.approx(judge.statistic**2, rel=1e-9)
    assert found[2] == pytest.approx(judge.pvalue, rel=1e-9)
    assert log_rank_test([([], []), ([1.0], [])]) == (0.0, 0, 1.0)
    with pytest.raises(js.InputError, match="at least one sample"):
        log_rank_test([])
    assert gaps_between([], [(0, 5)], 1.0)[0].size == 0


def test_permutation_against_scipy() -> None:
    """Words: the statistic is scipy's chi-square; numbers: Kruskal and Wallis's H."""
    generator = np.random.default_rng(2)
    words = generator.choice(["clay", "calcite", "none"], 90)
    holes = generator.choice(["A", "B", "C"], 90)
    table = pd.crosstab(words, holes)
    statistic, p = permutation_test(list(words), list(holes))
    judge = stats.chi2_contingency(table, correction=False)
    assert statistic == pytest.approx(judge.statistic, rel=1e-9)
    assert p == pytest.approx(judge.pvalue, abs=0.04)
    sizes = generator.gamma(2.0, 1.0, 90)
    statistic, p = permutation_test(sizes, list(holes))
    judge = stats.kruskal(*(sizes[holes == name] for name in "ABC"))
    assert statistic == pytest.approx(judge.statistic * 90 / 89, rel=1e-9)
    assert p == pytest.approx(judge.pvalue, abs=0.04)
    assert permutation_test(["a"] * 4, list("ABAB")) == (0.0, 1.0)
    with pytest.raises(js.InputError, match="of one length"):
        permutation_test(["a"], ["A", "B"])


def test_holm_by_hand() -> None:
    """The smallest p-value is multiplied by their number, and none passes one before it."""
    assert holm([0.5, 0.01, 0.02]).tolist() == pytest.approx([0.5, 0.03, 0.04])
    assert len(holm([])) == 0


def test_absence_is_explained() -> None:
    """Each reason for a set that a hole does not show has its own words."""
    assert "nearly blind" in explained_absence(0, 0.2, 0.1)
    assert "too little was logged" in explained_absence(0, 0.2, 0.9)
    assert "scarce here" in explained_absence(1, 12.0, 1.0)
    assert "too few to show alone" in explained_absence(3, 4.0, 1.0)
    assert "not told from its neighbours" in explained_absence(11, 12.0, 1.0)


def test_holes_without_fractures_or_sets() -> None:
    """Empty holes, and rock without sets, give a result and no error."""
    site = js.simulate_site(ROCK[:1], [(0, 90, 30), (100, 50, 30)], random_state=1)
    kept = site.fractures[site.fractures["hole"] == "H1"].reset_index(drop=True)
    found = js.compare_holes(replace(site, fractures=kept), draws=19)
    assert found.domains == (("H1", "H2"),)
    assert any("Fewer than 20" in note for note in found.notes)
    few = js.compare_holes(replace(site, fractures=kept.iloc[:1]), draws=19)
    assert 0 <= few.overall.pvalue <= 1
    none = js.compare_holes(replace(site, fractures=kept.iloc[:0]), draws=19)
    assert none.overall.pvalue == 1.0


def test_refusals(two_domains: js.Site) -> None:
    """Arguments out of range are named."""
    with pytest.raises(js.InputError, match="draws must be a whole number"):
        js.compare_holes(two_domains, draws=3)
    with pytest.raises(js.InputError, match="cuts_m of hole H1 must lie between"):
        js.compare_holes(two_domains, cuts_m={"H1": [400]})


def test_matrix_column_is_checked(compared: js.HoleComparison) -> None:
    """A column that is not there is refused."""
    with pytest.raises(js.InputError, match='column must be "pvalue_holm"'):
        compared.matrix("p")


def test_decisions_of_the_analyst_are_those_of_the_comparison() -> None:
    """A recipe with a set removed leaves the others, round; settings beside it are refused."""
    site = js.simulate_site(random_state=1)
    recipe = Recipe(confidence=0.9, domains="none", steps=[Step("remove", ("J3",))])
    found = js.compare_holes(site, recipe, draws=19)
    assert [one.name for one in found.analysis.sets] == ["J1", "J2"]
    assert found.analysis.settings["confidence"] == 0.9
    decided = js.analyse(site, recipe)
    for one, two in zip(found.analysis.sets, decided.sets, strict=True):
        assert js.axis_angles_deg(one.mean, two.mean)[0] < 1.0
    with pytest.raises(js.InputError, match="a recipe says all settings"):
        js.compare_holes(site, recipe, confidence=0.9)
