"""Each caution appears when the data call for it, and not otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.sets.result import SiteAnalysis


def _texts(result: SiteAnalysis, about: str | None = None) -> str:
    found = result.cautions
    return " ".join(one.text for one in found if about is None or one.about == about)


def _with_set(result: SiteAnalysis, **changes: object) -> SiteAnalysis:
    first, *rest = result.sets
    return replace(result, sets=(replace(first, **changes), *rest))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"n": 14}, "Rests on 14 fractures"),
        ({"seen_share": 0.6}, "60 % of what the holes intersected is observable"),
        ({"p32_weighted_per_m": 0.01}, "outside the interval"),
    ],
)
def test_figures_of_a_set_call_for_a_caution(
    result: SiteAnalysis, changes: dict[str, object], words: str
) -> None:
    """Few fractures, a share unseen, oblique holes and disagreeing weights are each told."""
    assert words not in _texts(result, "J1")
    assert words in _texts(_with_set(result, **changes), "J1")


def test_unlogged_lengths_and_missing_orientations_are_told(result: SiteAnalysis) -> None:
    """The gap of the first hole and the fractures without orientation appear with their figures."""
    told = _texts(result)
    assert "8.00 of 80.0 m (0 to 3.00 and 40.0 to 45.0)" in told
    assert f"{result.counts.not_oriented} of {result.counts.total} fractures" in told


def test_single_and_parallel_holes_are_told(vertical: SiteAnalysis) -> None:
    """One hole, or several of one direction, are said to share one blind zone."""
    assert "One hole:" in _texts(vertical)
    near = js.simulate_site(holes=[(0.0, 80.0, 60.0), (0.0, 75.0, 60.0)], random_state=3)
    parallel = js.analyse(near, n_sets=2, random_state=0)
    assert "All holes lie within 5° of one another" in _texts(parallel)


def test_elliptical_set_taken_as_round_is_told(result: SiteAnalysis) -> None:
    """A set that the test finds elliptical carries the finding and what it does to the cone."""
    first = result.sets[0]
    drawn = replace(
        first, elliptical_test=replace(first.elliptical_test, elliptical=True, pvalue=1e-5)
    )
    assert "takes it as round" not in _texts(result, "J1")
    said = _texts(replace(result, sets=(drawn, *result.sets[1:])), "J1")
    assert "Elliptical: a round set is contradicted (p < 0.001" in said
    assert "takes it as round" in said


def test_uneven_counts_are_told(result: SiteAnalysis) -> None:
    """A set that is probably uneven carries both intervals, and loses its high grade."""
    for chance, word in ((0.099, True), (0.101, False)):
        found = _with_set(result, even_probabilities=(chance, 1.0))
        assert ("which takes it as even, is too narrow" in _texts(found, "J1")) == word
        p32 = next(e for e in found.evidence if (e.about, e.quantity) == ("J1", "P32"))
        assert any("uneven" in one for one in p32.against) == word
        assert not word or p32.confidence != "high"


def test_other_readings_are_told(result: SiteAnalysis) -> None:
    """A second reading is told; it lowers no grade of a set that it has too."""
    first = result.readings[0]
    both = (first._replace(probability=0.7), first._replace(probability=0.3))
    found = replace(result, readings=both)
    assert "can be read in 2 ways: those not shown have a probability of 30 %" in _texts(found)
    grades = [[e.confidence for e in one.evidence] for one in (found, result)]
    assert grades[0] == grades[1]
    assert "can be read in" not in _texts(replace(result, readings=(first,)))


def test_holes_that_differ_are_told(result: SiteAnalysis) -> None:
    """Holes that differ take every quantity to moderate at best; holes that agree do not."""
    assert result.agreement is not None and result.agreement.one_rock
    assert "differ in orientation" not in _texts(result)
    found = replace(result, agreement=replace(result.agreement, pvalue=0.001))
    assert "The holes differ in orientation (p 0.001)." in _texts(found)
    assert {e.confidence for e in found.evidence} <= {"moderate", "low"}
    assert all("holes differ" in e.against for e in found.evidence)


def test_a_set_that_may_not_be_there_is_told(result: SiteAnalysis) -> None:
    """Below 95 % the presence of a set stands among the cautions."""
    assert "probability of 94 % only" in _texts(_with_set(result, presence=0.94), "J1")
    assert "It is there in readings" not in _texts(_with_set(result, presence=0.95), "J1")


def test_notes_of_the_tables_are_passed_on(result: SiteAnalysis) -> None:
    """What the tables or the fit want known stands among the cautions word for word."""
    noted = replace(result, notes=("The whole of H2 was taken as logged.",))
    assert "The whole of H2 was taken as logged." in _texts(noted, "the tables")


def test_next_to_nothing_still_gives_cautions(scant: SiteAnalysis, empty: SiteAnalysis) -> None:
    """Three fractures, or none, give finite sentences and no error."""
    for result in (scant, empty):
        assert "nan" not in _texts(result)


def test_overlapping_sets_are_told(result: SiteAnalysis) -> None:
    """Sets whose fractures could as well belong to a neighbour may be parts of one."""
    assert "parts of one" not in _texts(result, "J1")
    vague = result.fractures.assign(membership=0.6)
    assert "parts of one" in _texts(replace(result, fractures=vague), "J1")


@pytest.mark.parametrize(("shape", "clustered"), [(0.5, True), (1.0, False), (4.0, False)])
def test_clustered_spacings_are_told(result: SiteAnalysis, shape: float, clustered: bool) -> None:
    """Gamma spacings of a shape below 1 come in clusters; exponential and regular ones do not."""
    from jointstats.line.spacing import SpacingStatistics

    spacings = SpacingStatistics(np.random.default_rng(8).gamma(shape, 1.0, 200))
    told = _texts(_with_set(result, spacing=spacings), "J1")
    assert ("come in clusters" in told) == clustered


def test_north_that_was_not_turned_is_told(result: SiteAnalysis) -> None:
    """Magnetic north without a declination is a caution; with one it is not."""
    for declination, told in ((0.0, True), (3.5, False)):
        settings = replace(result.site.settings, north="magnetic", declination_deg=declination)
        other = replace(result, site=replace(result.site, settings=settings))
        assert ("were not turned to true north" in _texts(other)) == told
