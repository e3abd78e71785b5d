"""Thick holes and discs: what they meet, and the size that whole and partial traces tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import jointstats as js
from jointstats.errors import InputError
from jointstats.observed.fracture_size import size_from_traces, whole_share
from jointstats.sphere.zonal import met_by_hole
from tests.observed.discs import discs_met


def _poles_at(cosine: float, n: int, random: np.random.Generator) -> np.ndarray:
    turn = random.uniform(0.0, 2.0 * np.pi, n)
    level = np.sqrt(1.0 - cosine**2)
    return np.column_stack([level * np.cos(turn), level * np.sin(turn), np.full(n, cosine)])


@pytest.mark.parametrize("girth", [0.1, 1 / 3])
@pytest.mark.parametrize("cosine", [0.2, 0.6, 0.95])
def test_discs_are_met_and_whole_as_often_as_by_brute_force(girth: float, cosine: float) -> None:
    """Discs thrown at a cylinder meet it, and leave whole traces, at the rates of the formulas."""
    random = np.random.default_rng(1)
    n = 40_000
    met, whole, area = discs_met(_poles_at(cosine, n, random), np.ones(n), girth, random)
    rate = met.mean() * area[0] / np.pi
    error = area[0] / np.pi * np.sqrt(met.mean() * (1 - met.mean()) / n)
    assert abs(rate - met_by_hole(cosine, girth)) < 4 * error
    share = whole[met].mean()
    assert abs(share - whole_share([cosine], girth)[0]) < 4 * np.sqrt(0.25 / met.sum())


def test_radius_comes_back_from_traces() -> None:
    """From 200 traces each the radius is right on average within 5 %, and its interval holds it."""
    ratios, held = [], 0
    for seed in range(16):
        random = np.random.default_rng(seed)
        normal = random.normal(size=(4000, 3))
        poles = normal / np.linalg.norm(normal, axis=1, keepdims=True)
        met, whole, _ = discs_met(poles, np.full(4000, 0.5), 0.1, random)
        seen = np.flatnonzero(met & (np.abs(poles[:, 2]) > np.sin(np.radians(10))))[:200]
        found = size_from_traces(np.abs(poles[seen, 2]), whole[seen], 0.1)
        ratios.append(found.radius_m / 0.5)
        high = np.inf if found.interval_m[1] is None else found.interval_m[1]
        held += found.interval_m[0] < 0.5 < high
    assert np.exp(np.mean(np.log(ratios))) == pytest.approx(1.0, abs=0.05)
    # At 95 % 16 such intervals hold 13 or more with probability .99.
    assert held >= 13


def test_a_site_of_small_discs_gives_its_p32() -> None:
    """With radius and diameter stated P32 of discs in a cylinder is right; a line has it far too high."""
    found = {"line": [], "hole": []}
    for seed in range(6):
        site = _disc_site(0.5, seed)
        for name, radius in (("line", None), ("hole", 0.5)):
            settings = replace(site.settings, fracture_radius_m=radius)
            result = js.analyse(replace(site, settings=settings), n_sets=1, shape="round")
            found[name].append(result.sets[0].p32_per_m)
    assert np.mean(found["hole"]) == pytest.approx(2.0, rel=0.08)
    assert np.mean(found["line"]) > 1.25 * np.mean(found["hole"])


def _disc_site(radius: float, seed: int, traces: bool = False) -> js.Site:
    """A vertical hole of 200 mm and 60 m through one set of discs, dip 40°, P32 2."""
    random = np.random.default_rng(seed)
    hole = js.simulate_site(holes=[(0, 90, 60)], random_state=seed).holes[0]
    mean = js.poles_from_dip(40.0, 90.0)[0]
    number = random.poisson(2.0 / (np.pi * radius**2) * 4 * (radius + 0.1) ** 2 * 60.0)
    poles = js.sphere.AxialFisher(mean, 40.0).rvs(number, random_state=random)
    met, whole, _ = discs_met(poles, np.full(number, radius), 0.1, random)
    dip, direction = js.dip_from_poles(poles[met])
    frame = js.simulate_site(holes=[(0, 90, 60)], random_state=0).fractures.iloc[:0]
    frame = frame.reindex(range(int(met.sum())))
    frame["hole"], frame["method"] = hole.name, "image"
    frame["depth_m"] = np.sort(random.uniform(0, 60, met.sum()))
    frame["dip_deg"], frame["dip_direction_deg"] = dip, direction
    if traces:
        frame["wall_trace"] = np.where(whole[met], "whole", "partial")
    site = js.simulate_site(holes=[(0, 90, 60)], random_state=0)
    return replace(site, holes=(replace(hole, diameter_mm=200.0),), fractures=frame)


def test_traces_give_the_size_and_its_error_widens_p32() -> None:
    """A column of whole and partial traces gives the radius; the interval of P32 allows for its error."""
    told = js.analyse(_disc_site(0.5, 3, traces=True), n_sets=1, shape="round")
    size = told.observation.size
    assert size is not None and size.n_partial > 5
    assert size.interval_m[0] < 0.5 < (size.interval_m[1] or np.inf)
    site = _disc_site(0.5, 3)
    given = replace(site.settings, fracture_radius_m=size.radius_m)
    known = js.analyse(replace(site, settings=given), n_sets=1, shape="round")
    assert told.sets[0].p32_per_m == pytest.approx(known.sets[0].p32_per_m, rel=1e-6)
    assert np.ptp(told.sets[0].p32_even_interval) > np.ptp(known.sets[0].p32_even_interval)
    assert any("discs of radius" in one.text for one in told.cautions)


def test_large_discs_are_met_as_by_a_line() -> None:
    """Beyond fifty times the radius of the hole, a hole square to the planes is a line to a few per cent."""
    thick = js.LineExposure([[0, 0, -1]], [10.0], girths=[1 / 400])
    line = js.LineExposure([[0, 0, -1]], [10.0])
    mean = js.poles_from_dip(30, 0)[0]
    assert thick.of_set(mean, 40.0) == pytest.approx(line.of_set(mean, 40.0), rel=0.01)


def test_sizes_that_can_not_be_told_are_refused() -> None:
    """Only partial traces bound the size from above alone."""
    with pytest.raises(InputError, match="no trace is whole"):
        size_from_traces([0.5, 0.7], [False, False], 0.1)
    with pytest.raises(InputError, match="one value a cosine"):
        size_from_traces([0.5, 0.7], [True], 0.1)
